//! Tests of the forward model as a whole.

mod faults;
mod kinematics;
mod repetitions;
mod seen;
mod sweep;
mod written;

use super::*;

/// A recipe without any variation or noise.
fn plain(exercise: Exercise) -> Recipe {
    Recipe {
        exercise,
        variation: 0.0,
        reps: 3,
        ..Recipe::default()
    }
}

fn clip(recipe: &Recipe) -> Clip {
    simulate(recipe).expect("the recipe is sound")
}

fn fault(kind: FaultKind, reps: &[u32], severity: f64) -> Fault {
    Fault {
        kind,
        when: When::Reps(reps.to_vec()),
        severity,
    }
}

fn close(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "found {found}, expected {expected} within {tolerance}"
    );
}
