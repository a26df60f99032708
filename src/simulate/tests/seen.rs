//! What the camera and the estimator make of the person.

use super::*;

#[test]
fn without_noise_keypoints_are_projections() {
    let clip = clip(&Recipe {
        view: View::Oblique,
        ..Recipe::default()
    });
    for (frame, truth) in clip.frames.iter().zip(&clip.truth.frames) {
        let person = frame.person().expect("always seen");
        for point in [Point::RightShoulder, Point::LeftElbow, Point::RightHip] {
            let seen = person.image[point];
            let p = truth.points[point];
            // f = 1440 px, 2.7 m, 1.2 m high, written out
            close(seen.x, 960.0 + 1440.0 * p.x / (2.7 - p.z), 1e-9);
            close(seen.y, 540.0 - 1440.0 * (p.y - 1.2) / (2.7 - p.z), 1e-9);
        }
    }
}

#[test]
fn the_world_layer_is_about_mid_hip_with_y_down_and_z_away() {
    let clip = clip(&Recipe::default());
    let frame = &clip.frames[10];
    let person = frame.person().expect("seen");
    let truth = &clip.truth.frames[10].points;
    let world = &person.world;
    assert!((world[Point::LeftHip] + world[Point::RightHip]).norm() < 1e-12);
    assert!(world[Point::Nose].y < 0.0 && world[Point::Nose].z < 0.0);
    let true_arm = truth[Point::RightElbow] - truth[Point::RightShoulder];
    let arm = world[Point::RightElbow] - world[Point::RightShoulder];
    close(arm.x, true_arm.x, 1e-12);
    close(arm.y, -true_arm.y, 1e-12);
    close(arm.z, -true_arm.z, 1e-12);
}

#[test]
fn from_the_side_the_far_arm_is_unsure() {
    let mut recipe = plain(Exercise::ScapularRaise);
    recipe.view = View::Right;
    let clip = clip(&recipe);
    let person = clip.frames[5].person().expect("seen");
    assert!(person.image[Point::RightShoulder].score > 0.85);
    assert!(person.image[Point::LeftShoulder].score < 0.5);
    assert!(person.image[Point::LeftElbow].score < 0.5);
    let mut recipe = plain(Exercise::ScapularRaise);
    recipe.view = View::Back;
    recipe.extras.skin_dots = true;
    let back = super::clip(&recipe);
    let person = back.frames[5].person().expect("seen");
    assert!(person.image[Point::Nose].score < 0.5);
    for point in [Point::LeftShoulder, Point::RightElbow, Point::RightTs] {
        assert!(person.image[point].score > 0.85, "{point:?}");
    }
}

#[test]
fn jitter_has_the_size_and_memory_it_is_given() {
    let mut noise = Noise::none();
    noise.keypoint_px = 4.0;
    noise.memory = 0.6;
    let recipe = Recipe {
        reps: 40,
        noise,
        ..Recipe::default()
    };
    let noisy = clip(&recipe);
    let exact = clip(&Recipe {
        noise: Noise::none(),
        ..recipe
    });
    let x = |clip: &Clip| -> Vec<f64> {
        let people = clip.frames.iter().filter_map(Frame::person);
        people.map(|p| p.image[Point::RightElbow].x).collect()
    };
    let errors: Vec<f64> = x(&noisy)
        .iter()
        .zip(x(&exact))
        .map(|(a, b)| a - b)
        .collect();
    let n = errors.len() as f64;
    let var = errors.iter().map(|e| e * e).sum::<f64>() / n;
    let lagged = errors.windows(2).map(|w| w[0] * w[1]).sum::<f64>() / n;
    close(var.sqrt(), 4.0, 0.3);
    close(lagged / var, 0.6, 0.05);
}

#[test]
fn landmark_offsets_stay_fixed_in_the_segment() {
    let mut noise = Noise::none();
    noise.landmark_m = 0.008;
    noise.hip_landmark_m = 0.012;
    let recipe = Recipe {
        noise,
        ..plain(Exercise::ScapularRaise)
    };
    let clip = clip(&recipe);
    let mut lengths = Vec::new();
    for frame in &clip.frames {
        let world = &frame.person().expect("seen").world;
        let truth = clip.truth.build.upper_arm_m;
        lengths.push((world[Point::RightElbow] - world[Point::RightShoulder]).norm() - truth);
    }
    // never the true length, and never more than a few landmark errors away from it
    assert!(lengths.iter().all(|miss| miss.abs() < 0.05));
    assert!(lengths.iter().any(|miss| miss.abs() > 1e-4));
}

#[test]
fn one_seed_one_clip_and_noise_leaves_the_movement_alone() {
    let recipe = Recipe {
        noise: Noise::typical(),
        extras: Extras {
            passer_by: true,
            shuffle_people: true,
            walk_in: true,
            ..Extras::default()
        },
        seed: 11,
        ..Recipe::default()
    };
    let (a, b) = (clip(&recipe), clip(&recipe));
    assert_eq!(a.frames, b.frames);
    assert_eq!(a.truth, b.truth);
    let other = clip(&Recipe {
        seed: 12,
        ..recipe.clone()
    });
    assert_ne!(a.truth.build, other.truth.build);
    let exact = clip(&Recipe {
        noise: Noise::none(),
        ..recipe
    });
    assert_eq!(exact.truth.duration_s, a.truth.duration_s);
    for (noisy, exact) in a.truth.reps.iter().zip(&exact.truth.reps) {
        assert_eq!(noisy.values, exact.values);
    }
}

#[test]
fn typical_damage_is_there_and_time_goes_forward() {
    let recipe = Recipe {
        noise: Noise::typical(),
        reps: 20,
        seed: 5,
        ..Recipe::default()
    };
    let clip = clip(&recipe);
    let even = (clip.truth.duration_s * 30.0).floor() as usize + 1;
    assert!(clip.frames.len() < even && clip.frames.len() > even * 95 / 100);
    assert!(clip.frames.windows(2).all(|w| w[1].time_s > w[0].time_s));
    let lost = clip.frames.iter().filter_map(Frame::person);
    let lost = lost
        .filter(|p| p.image[Point::RightElbow].score < 0.2 || p.image[Point::LeftHip].score < 0.2);
    assert!(lost.count() > 0);
    let exchanged = clip.frames.iter().filter_map(Frame::person);
    // facing the camera, the right shoulder is left of the left one
    let exchanged = exchanged
        .filter(|p| p.image[Point::RightShoulder].x > p.image[Point::LeftShoulder].x + 100.0);
    assert!(exchanged.count() > 0);
}

#[test]
fn a_passer_by_comes_and_goes() {
    let recipe = Recipe {
        extras: Extras {
            passer_by: true,
            shuffle_people: true,
            ..Extras::default()
        },
        ..Recipe::default()
    };
    let clip = clip(&recipe);
    let two = clip.frames.iter().filter(|f| f.people.len() == 2).count();
    let second = clip.frames.iter().filter(|f| f.subject == Some(1)).count();
    assert!((60..=125).contains(&two), "{two}");
    assert!(second > 20 && second < two);
    // the exercising person stays the same one whatever the order
    for (frame, truth) in clip.frames.iter().zip(&clip.truth.frames) {
        let person = frame.person().expect("seen");
        let x = 960.0 + 1440.0 * truth.points[Point::Nose].x / (2.7 - truth.points[Point::Nose].z);
        close(person.image[Point::Nose].x, x, 1e-9);
    }
}

#[test]
fn a_person_at_the_phone_does_not_break_anything() {
    let recipe = Recipe {
        extras: Extras {
            walk_in: true,
            walk_out: true,
            ..Extras::default()
        },
        distance_m: 1.2,
        noise: Noise::typical(),
        ..Recipe::default()
    };
    let clip = clip(&recipe);
    let finite = |person: &Person| {
        Point::ALL.iter().all(|point| {
            let k = person.image[*point];
            k.x.is_finite() && k.y.is_finite() && (0.0..=1.0).contains(&k.score)
        })
    };
    assert!(clip.frames.iter().flat_map(|f| &f.people).all(finite));
}

#[test]
fn what_cannot_be_made_is_refused_with_the_reason() {
    let refused = |change: &dyn Fn(&mut Recipe)| {
        let mut recipe = Recipe::default();
        change(&mut recipe);
        simulate(&recipe).err().map(|error| error.to_string())
    };
    assert_eq!(refused(&|_| {}), None);
    let cases: [&dyn Fn(&mut Recipe); 13] = [
        &|r| r.rate_hz = f64::NAN,
        &|r| r.rate_hz = 0.0,
        &|r| r.reps = 0,
        &|r| r.sets = u32::MAX,
        &|r| r.distance_m = -1.0,
        &|r| r.width_px = 0,
        &|r| r.noise.keypoint_px = f64::INFINITY,
        &|r| r.noise.memory = 1.0,
        &|r| r.extras.pause_halfway = Some(99),
        &|r| r.faults = vec![fault(FaultKind::FlaredElbow, &[1], 10.0)],
        &|r| r.faults = vec![fault(FaultKind::TooFast, &[0], 1.0)],
        &|r| r.faults = vec![fault(FaultKind::TooFast, &[1], f64::NAN)],
        &|r| {
            r.curve = Curve::Table {
                raise: vec![],
                lower: vec![],
            }
        },
    ];
    for (index, case) in cases.iter().enumerate() {
        let message = refused(*case).unwrap_or_else(|| panic!("case {index} was accepted"));
        assert!(message.len() > 15);
    }
    let long = Recipe {
        sets: 10,
        reps: 60,
        rate_hz: 240.0,
        ..Recipe::default()
    };
    assert!(matches!(
        simulate(&long),
        Err(RecipeError::TooManyFrames { .. })
    ));
}
