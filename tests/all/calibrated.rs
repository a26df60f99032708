//! The rhythm scaled to two inclinometer readings of this person, against the simulated truth.

use crate::support::{pairs, recipe, reviewed_as};
use scaplane::body::Side as Measured;
use scaplane::pipeline::Ask;
use scaplane::plan::InclinometerReading;
use scaplane::simulate::{Clip, Exercise, Format, Noise, Side, simulate};
use statrs::distribution::{ContinuousCDF, Normal};

/// As high as the error of an inclinometer was published.
const RAISED_DEG: f64 = 120.0;
const VIEWS: [&str; 3] = ["front", "back", "oblique"];
const ID: &str = "rhythm-share-raise-30-top";

/// Evenly spread values of a normal distribution, another row of them for each `step`.
fn normal(seed: u64, step: f64, sd: f64) -> f64 {
    let share = (seed as f64 * step).fract().clamp(0.001, 0.999);
    sd * Normal::standard().inverse_cdf(share)
}

/// Readings of the blade at rest and raised, with the published error of an inclinometer (2.0 degrees at rest, 5.6
/// at 120 degrees).
fn readings(clip: &Clip, seed: u64) -> [InclinometerReading; 2] {
    let rep = &clip.truth.reps[0];
    let arm = |frame: usize| clip.truth.frames[frame].arm(Side::Right);
    let raised = (rep.start_frame..rep.peak_frame)
        .find(|frame| arm(*frame).elevation_deg >= RAISED_DEG)
        .expect("a raise passes it");
    let error = [normal(seed, 0.618_034, 2.0), normal(seed, 0.754_878, 5.6)];
    [(rep.start_frame, error[0]), (raised, error[1])].map(|(frame, error)| InclinometerReading {
        elevation_deg: arm(frame).elevation_deg,
        upward_rotation_deg: arm(frame).upward_rotation_deg + error,
    })
}

struct Told {
    of: usize,
    in_general: usize,
    told: usize,
    held: usize,
}

fn told(noise: &Noise) -> Told {
    let mut sum = Told {
        of: 0,
        in_general: 0,
        told: 0,
        held: 0,
    };
    for seed in 1..=30 {
        let view = VIEWS[seed as usize % VIEWS.len()];
        let recipe = recipe(Exercise::ScapularRaise, view, seed, 4, noise.clone());
        let clip = simulate(&recipe).expect("a sound recipe");
        let in_general = Ask {
            side: Some(Measured::Right),
            ..Ask::default()
        };
        let of_this_person = Ask {
            calibration: Some(readings(&clip, seed)),
            ..in_general
        };
        let review = |ask: &Ask| reviewed_as(&clip, Format::Tidy2d, "scapular-raise", ask);
        let (usual, own) = (review(&in_general), review(&of_this_person));
        let has = |rep: &&scaplane::session::Rep| rep.readings[ID].value.is_some();
        sum.in_general += usual.reps.iter().filter(has).count();
        for (truth, rep) in pairs(&clip, &own) {
            sum.of += 1;
            let row = &rep.readings[ID];
            let (Some(truth), Some(low), Some(high)) = (truth.value(ID), row.low, row.high) else {
                continue;
            };
            sum.told += 1;
            sum.held += usize::from((low..=high).contains(&truth));
        }
    }
    sum
}

/// Where people in general leave the share untold, this person's own readings tell it in a still picture, and
/// the intervals hold the truth as often as they say. Keypoints that jitter as usual leave most of it untold.
#[test]
fn readings_of_the_blade_tell_the_share_and_the_intervals_hold_it() {
    for (name, noise, least) in [
        ("still", Noise::none(), 0.5),
        ("typical", Noise::typical(), 0.0),
    ] {
        let sum = told(&noise);
        println!(
            "{ID}, {name} keypoints: told in {} of {} repetitions ({} without readings), {} hold the truth",
            sum.told, sum.of, sum.in_general, sum.held
        );
        assert!(sum.told as f64 >= least * sum.of as f64, "{name}: untold");
        assert!(
            sum.told >= sum.in_general,
            "{name}: the readings took something away"
        );
        // A share of fewer than ten says nothing.
        assert!(
            sum.told < 10 || sum.held as f64 >= 0.9 * sum.told as f64,
            "{name}: not held"
        );
    }
}
