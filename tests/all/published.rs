//! Published mean curves go in through the simulator and come back as their own rhythm.
//!
//! Ludewig et al. 2009, J Bone Joint Surg Am 91:378-389: upward rotation of the blade at 30, 60, 90 and 120
//! degrees of elevation, bone pins, 12 people; raising.

use crate::support::{recipe, run};
use scaplane::simulate::{Curve, Exercise, Format, Noise};

/// Ratio of the increments: (elevation - rotation) / rotation.
fn ratio(rotation: f64, elevation: f64) -> f64 {
    (elevation - rotation) / rotation
}

#[test]
fn ludewig_2009_comes_back_as_its_own_ratio() {
    let curves = [
        (Exercise::FrontalRaise, [15.6, 26.5, 36.5, 46.4]),
        (Exercise::ScapularRaise, [15.5, 26.0, 34.4, 43.5]),
        (Exercise::ForwardRaise, [15.1, 24.4, 32.9, 43.3]),
    ];
    let mut compared = 0;
    for (exercise, at) in curves {
        let mut recipe = recipe(exercise, "front", 3, 3, Noise::none());
        recipe.share_gain = Some(1.0);
        recipe.curve = Curve::Table {
            raise: std::iter::once((0.0, at[0] - 4.0))
                .chain((1..=4).map(|k| (30.0 * f64::from(k), at[k as usize - 1])))
                .chain(std::iter::once((180.0, at[3] + 15.0)))
                .collect(),
            lower: Vec::new(),
        };
        let (_, session) = run(&recipe, Format::Tidy3d);
        assert_eq!(session.reps.len(), 3, "{exercise:?}");
        for rep in &session.reps {
            for way in ["raise", "lower"] {
                for (window, from) in [("30-60", 0), ("60-90", 1), ("90-120", 2)] {
                    let wanted = ratio(at[from + 1] - at[from], 30.0);
                    let share = &rep.readings[&format!("rhythm-share-{way}-{window}")];
                    let share = share.value.expect("measured");
                    let found = (1.0 - share) / share;
                    assert!(
                        (found - wanted).abs() < 0.02,
                        "{exercise:?} {way} {window}: {found} {wanted}"
                    );
                    compared += 1;
                }
                // Trusted up to 120 degrees, so the top is the published one.
                let wanted = ratio(at[3] - at[0], 90.0);
                let share = rep.readings[&format!("rhythm-share-{way}-30-top")]
                    .value
                    .expect("measured");
                let found = (1.0 - share) / share;
                assert!(
                    (found - wanted).abs() < 0.02,
                    "{exercise:?} {way} 30-120: {found} {wanted}"
                );
                compared += 1;
            }
        }
    }
    println!("{compared} published ratios came back");
    assert_eq!(compared, 3 * 3 * 2 * 4);
}
