//! Many seeds of every exercise: nothing breaks, and a clip is quick to make.

use std::time::Instant;

use super::*;

#[test]
fn forty_seeds_of_every_exercise_are_sound() {
    let start = Instant::now();
    let mut clips = 0;
    for exercise in Exercise::ALL {
        for seed in 0..40 {
            let recipe = Recipe {
                exercise,
                seed,
                side: [Working::Left, Working::Right, Working::Both][seed as usize % 3],
                noise: Noise::typical(),
                ..Recipe::default()
            };
            let clip = clip(&recipe);
            clips += 1;
            let mut last = [0.0; 2];
            for rep in &clip.truth.reps {
                let order = [
                    rep.start_s,
                    rep.hold_start_s,
                    rep.peak_s,
                    rep.hold_end_s,
                    rep.end_s,
                ];
                assert!(order.windows(2).all(|w| w[0] < w[1]), "{exercise:?} {seed}");
                let side = usize::from(rep.side == Side::Right);
                assert!(rep.start_s >= last[side]);
                last[side] = rep.end_s;
                assert!(rep.values.values().all(|value| value.is_finite()));
                assert!(rep.value("trunk-lean") < Some(5.0));
            }
        }
    }
    let each = start.elapsed().as_secs_f64() * 1000.0 / f64::from(clips);
    eprintln!("{clips} clips, {each:.1} ms each");
    assert_eq!(clips, 400);
}

#[test]
fn every_fault_that_applies_can_be_planted_at_its_largest() {
    let mut planted = 0;
    for exercise in Exercise::ALL {
        for kind in FaultKind::ALL {
            let mut recipe = plain(exercise);
            recipe.faults = vec![fault(kind, &[2], kind.largest())];
            match simulate(&recipe) {
                Ok(clip) => {
                    planted += 1;
                    let points = clip.truth.frames.iter().map(|f| &f.points);
                    for p in points {
                        assert!(
                            Point::ALL
                                .iter()
                                .all(|q| p[*q].iter().all(|v| v.is_finite()))
                        );
                    }
                }
                Err(error) => {
                    let expected = RecipeError::FaultDoesNotApply { kind, exercise };
                    assert_eq!(error, expected);
                }
            }
        }
    }
    assert!(planted > 70, "{planted}");
}

#[test]
fn wild_but_allowed_recipes_do_not_break() {
    let wild = [0.0, 3.0];
    for exercise in Exercise::ALL {
        for variation in wild {
            for seed in 0..2 {
                let recipe = Recipe {
                    exercise,
                    seed,
                    variation,
                    sets: 2,
                    reps: 3,
                    rest_s: 4.0,
                    still_s: 0.0,
                    rate_hz: 5.0 + 40.0 * variation,
                    width_px: 64,
                    height_px: 64,
                    distance_m: 1.2,
                    view: View::Oblique,
                    noise: Noise {
                        keypoint_px: 200.0,
                        dropped: 0.5,
                        uneven: 0.3,
                        exchanges_per_min: 200.0,
                        gaps_per_min: 200.0,
                        outliers_per_min: 600.0,
                        ..Noise::typical()
                    },
                    extras: Extras {
                        walk_in: true,
                        cut_off_end: true,
                        passer_by: true,
                        shuffle_people: true,
                        skin_dots: true,
                        pause_halfway: Some(1),
                        walk_out: true,
                    },
                    ..Recipe::default()
                };
                let clip = clip(&recipe);
                assert!(clip.frames.windows(2).all(|w| w[0].time_s < w[1].time_s));
                // writing is the slow part: at the low rate only
                for format in Format::ALL.into_iter().filter(|_| variation == 0.0) {
                    assert!(clip.bytes(format).is_ok());
                }
            }
        }
    }
}
