//! Repetitions, their boundaries and values.

use super::*;

#[test]
fn shares_of_the_published_curve_are_the_published_increments() {
    // Ludewig et al. 2009, scaption: 15.5, 26.0, 34.4, 43.5 at 30, 60, 90, 120 degrees
    let mut recipe = plain(Exercise::ScapularRaise);
    recipe.share_gain = Some(1.0);
    // the exercise's plane is 37; turn it to the table's own plane of 40
    recipe.faults = vec![fault(FaultKind::PlaneTowardFront, &[1, 2, 3], 3.0)];
    for rep in &clip(&recipe).truth.reps {
        for (id, rise) in [("30-60", 10.5), ("60-90", 8.4), ("90-120", 9.1)] {
            for course in ["raise", "lower"] {
                let share = rep
                    .value(&format!("rhythm-share-{course}-{id}"))
                    .expect("a share");
                close(share, rise / 30.0, 1e-6);
            }
        }
        close(
            rep.value("plane-of-elevation").expect("a plane"),
            40.0,
            1e-6,
        );
    }
}

#[test]
fn a_gain_scales_the_share_and_a_table_may_come_down_differently() {
    let mut recipe = plain(Exercise::ScapularRaise);
    recipe.curve = Curve::Table {
        raise: vec![(0.0, 0.0), (160.0, 53.333_333_333)],
        lower: vec![
            (0.0, 0.0),
            (60.0, 12.0),
            (120.0, 39.0),
            (160.0, 53.333_333_333),
        ],
    };
    recipe.share_gain = Some(1.0);
    let rep = clip(&recipe).truth.reps[1].clone();
    close(
        rep.value("rhythm-share-raise-30-60").expect("raise"),
        1.0 / 3.0,
        1e-4,
    );
    close(
        rep.value("rhythm-share-raise-30-top").expect("raise"),
        1.0 / 3.0,
        1e-4,
    );
    close(
        rep.value("rhythm-share-lower-60-90").expect("lower"),
        0.45,
        1e-3,
    );
    close(
        rep.value("rhythm-share-lower-30-60").expect("lower"),
        0.2,
        1e-3,
    );
    recipe.share_gain = Some(0.5);
    let rep = clip(&recipe).truth.reps[1].clone();
    close(
        rep.value("rhythm-share-raise-60-90").expect("raise"),
        1.0 / 6.0,
        1e-3,
    );
}

#[test]
fn boundaries_lie_where_the_speed_passes_five_percent() {
    // one minimum-jerk move of 2.2 s: tau (1 - tau) = sqrt(0.05 * 1.875 / 30), tau = 0.05940
    let clip = clip(&plain(Exercise::ScapularRaise));
    let rep = &clip.truth.reps[0];
    close(rep.start_s, 1.0 + 0.25 + 0.0594 * 2.2, 1e-3);
    close(
        rep.value("raise-time").expect("a time"),
        (1.0 - 2.0 * 0.0594) * 2.2,
        2e-3,
    );
    close(
        rep.value("lower-time").expect("a time"),
        (1.0 - 2.0 * 0.0594) * 2.4,
        2e-3,
    );
    close(rep.value("peak-elevation").expect("an angle"), 152.0, 1e-6);
    let rate = clip.recipe.rate_hz;
    close(rep.peak_frame as f64 / rate, rep.peak_s, 0.5 / rate + 1e-9);
}

#[test]
fn every_exercise_moves_as_described() {
    let values = |exercise| clip(&plain(exercise)).truth.reps[1].clone();
    let check = |rep: &RepTruth, id: &str, low: f64, high: f64| {
        let value = rep.value(id).unwrap_or(f64::NAN);
        assert!(
            (low..=high).contains(&value),
            "{id} is {value}, not {low}..{high}"
        );
    };
    let press = values(Exercise::WallPress);
    check(&press, "elbow-path", 43.0, 50.0);
    check(&press, "elbow-bent-most", 94.0, 96.0);
    check(&press, "elbow-straightest", 4.0, 6.0);
    check(&press, "blade-before-bend", 0.2, 0.8);
    check(&press, "straight-before-protraction", 0.05, 0.5);
    check(&press, "blade-held-lowering", 0.1, 1.5);
    let press = values(Exercise::ForwardPress);
    check(&press, "elbow-path", 44.0, 50.0);
    check(&press, "straight-before-protraction", 0.05, 0.5);
    check(&press, "blade-held-lowering", 0.05, 0.5);
    check(&press, "protraction-travel", 5.0, 60.0);
    let overhead = values(Exercise::OverheadPress);
    check(&overhead, "peak-elevation", 149.0, 151.0);
    check(&overhead, "plane-of-elevation", 34.9, 35.1);
    check(&overhead, "elbow-range", 105.0, 115.0);
    assert_eq!(overhead.value("rhythm-share-raise-30-60"), None);
    let rotation = values(Exercise::OutwardRotation);
    check(&rotation, "outward-rotation-peak", 54.9, 55.1);
    let row = values(Exercise::Row);
    check(&row, "elbow-range", 93.0, 95.0);
    let slide = values(Exercise::WallSlide);
    check(&slide, "elevation-range", 74.0, 76.0);
    let lower = values(Exercise::RotateAndLower);
    check(&lower, "peak-elevation", 131.0, 133.0);
    check(&lower, "blade-held-lowering", 0.05, 0.6);
    assert!(lower.value("plane-of-elevation") > Some(40.0));
    let forward = values(Exercise::ForwardRaise);
    check(&forward, "plane-of-elevation", 85.9, 86.1);
}

#[test]
fn the_row_ends_behind_the_trunk() {
    let clip = clip(&plain(Exercise::Row));
    let rep = &clip.truth.reps[0];
    let peak = &clip.truth.frames[rep.peak_frame].right;
    close(peak.plane_deg, -64.2, 0.5);
    let behind = peak.elevation_deg.to_radians().sin() * peak.plane_deg.to_radians().sin();
    close(behind.asin().to_degrees(), -25.0, 0.1);
}

#[test]
fn angles_never_jump_from_frame_to_frame() {
    for exercise in Exercise::ALL {
        for side in [Working::Left, Working::Both] {
            let recipe = Recipe {
                exercise,
                side,
                sets: 2,
                reps: 3,
                extras: Extras {
                    walk_in: true,
                    walk_out: true,
                    pause_halfway: Some(2),
                    ..Extras::default()
                },
                ..Recipe::default()
            };
            for pair in clip(&recipe).truth.frames.windows(2) {
                for point in Point::ALL {
                    let step = (pair[1].points[*point] - pair[0].points[*point]).norm();
                    // 4 m/s is fast for a wrist
                    assert!(
                        step < 4.0 / 30.0,
                        "{exercise:?} {point:?} {}",
                        pair[1].time_s
                    );
                }
                let (a, b) = (&pair[0].left, &pair[1].left);
                assert!((a.upward_rotation_deg - b.upward_rotation_deg).abs() < 5.0);
                assert!((a.clavicle_protraction_deg - b.clavicle_protraction_deg).abs() < 3.0);
            }
        }
    }
}

#[test]
fn repetitions_vary_naturally_but_stay_themselves() {
    let recipe = Recipe {
        reps: 60,
        seed: 7,
        ..Recipe::default()
    };
    let reps = clip(&recipe).truth.reps;
    let planes: Vec<f64> = reps
        .iter()
        .filter_map(|r| r.value("plane-of-elevation"))
        .collect();
    let mean = planes.iter().sum::<f64>() / 60.0;
    let sd = (planes.iter().map(|p| (p - mean).powi(2)).sum::<f64>() / 59.0).sqrt();
    close(mean, 37.0, 1.5);
    assert!((1.5..4.0).contains(&sd), "{sd}");
}

#[test]
fn extras_make_and_lose_no_repetition() {
    let base = Recipe {
        sets: 2,
        reps: 4,
        ..Recipe::default()
    };
    let with = |extras: Extras| {
        let recipe = Recipe {
            extras,
            ..base.clone()
        };
        clip(&recipe).truth
    };
    let walked = with(Extras {
        walk_in: true,
        walk_out: true,
        pause_halfway: Some(3),
        passer_by: true,
        ..Extras::default()
    });
    assert_eq!(walked.reps.len(), 8);
    assert!(walked.reps.iter().all(|rep| rep.complete));
    let plain = with(Extras::default());
    let time = |truth: &Truth, rep: usize| truth.reps[rep].value("raise-time").unwrap_or(0.0);
    close(time(&walked, 2) - time(&plain, 2), 1.0, 0.15);
    close(time(&walked, 3), time(&plain, 3), 1e-9);
    let cut = with(Extras {
        cut_off_end: true,
        ..Extras::default()
    });
    assert_eq!(cut.reps.len(), 9);
    let last = &cut.reps[8];
    assert!(!last.complete && last.values.is_empty());
    assert_eq!(last.end_s, cut.duration_s);
    assert!(last.start_s < last.end_s - 0.5);
}

#[test]
fn reps_of_both_arms_are_told_apart() {
    let mut recipe = plain(Exercise::OverheadPress);
    recipe.side = Working::Both;
    let truth = clip(&recipe).truth;
    assert_eq!(truth.reps.len(), 6);
    assert_eq!(truth.reps_of(Side::Left).count(), 3);
}
