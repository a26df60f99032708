//! Planted faults: each changes what it is meant to change, by its severity.

use super::*;

/// The values of repetition 2 with a fault planted in it, and of repetition 1 without.
fn with_and_without(exercise: Exercise, kind: FaultKind, severity: f64) -> (RepTruth, RepTruth) {
    let mut recipe = plain(exercise);
    recipe.faults = vec![fault(kind, &[2], severity)];
    let reps = clip(&recipe).truth.reps;
    assert_eq!(reps[1].planted(kind), severity);
    assert!(reps[0].faults.is_empty() && reps[2].faults.is_empty());
    (reps[1].clone(), reps[0].clone())
}

#[test]
fn each_fault_changes_its_own_value_by_its_severity() {
    use Exercise::*;
    use FaultKind::*;
    let cases = [
        (
            ScapularRaise,
            PlaneTowardSide,
            20.0,
            "plane-of-elevation",
            -20.0,
            1e-6,
        ),
        (
            ScapularRaise,
            PlaneTowardFront,
            20.0,
            "plane-of-elevation",
            20.0,
            1e-6,
        ),
        (
            OverheadPress,
            PlaneTowardSide,
            15.0,
            "plane-of-elevation",
            -15.0,
            3.0,
        ),
        (
            ScapularRaise,
            ShortRange,
            40.0,
            "peak-elevation",
            -40.0,
            1e-6,
        ),
        (Row, ShortRange, 40.0, "elbow-range", -40.0, 0.5),
        (
            OutwardRotation,
            ShortRange,
            30.0,
            "outward-rotation-peak",
            -30.0,
            1e-3,
        ),
        (WallPress, FlaredElbow, 35.0, "elbow-path", 30.0, 6.0),
        (WallPress, TuckedElbow, 30.0, "elbow-path", -25.0, 6.0),
        (ForwardPress, FlaredElbow, 35.0, "elbow-path", 30.0, 6.0),
        (
            FrontalRaise,
            EarlyHike,
            10.0,
            "girdle-early-rise",
            10.0,
            2.0,
        ),
        (FrontalRaise, TrunkLeanSide, 12.0, "trunk-lean", 12.0, 1e-6),
        (ForwardRaise, TrunkLeanBack, 12.0, "trunk-lean", 12.0, 1e-6),
        (Row, TrunkTurn, 15.0, "trunk-turn", 15.0, 1e-6),
        (ScapularRaise, TooFast, 1.0, "raise-time", -0.881, 0.01),
        (ScapularRaise, TooFast, 1.0, "lower-time", -0.881, 0.01),
        (ScapularRaise, ElbowBend, 30.0, "elbow-bent-most", 26.0, 0.1),
        (
            WallPress,
            EarlyProtraction,
            0.7,
            "straight-before-protraction",
            -0.7,
            0.02,
        ),
        (
            ForwardPress,
            EarlyProtraction,
            0.7,
            "straight-before-protraction",
            -0.7,
            0.02,
        ),
        (
            WallPress,
            BendBeforeBladeSet,
            0.9,
            "blade-before-bend",
            -0.9,
            0.02,
        ),
        (
            RotateAndLower,
            BendBeforeBladeSet,
            0.9,
            "blade-before-bend",
            -0.9,
            0.02,
        ),
    ];
    for (exercise, kind, severity, id, change, tolerance) in cases {
        let (with, without) = with_and_without(exercise, kind, severity);
        let found = with.value(id).zip(without.value(id)).map(|(a, b)| a - b);
        let found = found.unwrap_or(f64::NAN);
        assert!(
            (found - change).abs() <= tolerance,
            "{exercise:?} {kind:?}: {id} changed by {found}, not {change}"
        );
    }
}

#[test]
fn the_humerus_is_turned_in_through_the_arc() {
    let mut recipe = plain(Exercise::ScapularRaise);
    recipe.faults = vec![fault(FaultKind::InternalRotation, &[2], 40.0)];
    let truth = clip(&recipe).truth;
    let mean = |rep: &RepTruth| {
        let frames = truth.frames[rep.start_frame..rep.end_frame].iter();
        let arc: Vec<f64> = frames
            .filter(|f| (60.0..120.0).contains(&f.right.elevation_deg))
            .map(|f| f.right.axial_deg)
            .collect();
        arc.iter().sum::<f64>() / arc.len() as f64
    };
    // the turn is reached earlier than without the fault, hence a little more
    close(mean(&truth.reps[1]) - mean(&truth.reps[0]), 42.0, 3.0);
}

#[test]
fn a_drift_grows_over_each_set() {
    let recipe = Recipe {
        sets: 2,
        reps: 5,
        variation: 0.0,
        faults: vec![Fault {
            kind: FaultKind::PlaneTowardSide,
            when: When::Drift {
                from_rep: 3,
                per_rep: 4.0,
            },
            severity: 30.0,
        }],
        ..Recipe::default()
    };
    let reps = clip(&recipe).truth.reps;
    let planes: Vec<f64> = reps
        .iter()
        .filter_map(|r| r.value("plane-of-elevation"))
        .collect();
    let expected = [37.0, 37.0, 33.0, 29.0, 25.0];
    for (found, expected) in planes.iter().zip(expected.iter().cycle()) {
        close(*found, *expected, 1e-6);
    }
    assert_eq!(planes.len(), 10);
    assert_eq!(reps.iter().map(|r| r.set).max(), Some(2));
}
