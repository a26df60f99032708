//! What a patient is told: true counts, the cue of the commonest fault, praise that was measured.

mod command;
mod contrast;
mod drawn;
mod grade;
mod readable;
mod told;

use crate::support::{MODELS, drawn_bytes, recipe};
use scaplane::body::Side;
use scaplane::patient::{Said, said};
use scaplane::pipeline::Ask;
use scaplane::session::Review;
use scaplane::simulate::{Clip, Exercise, Fault, FaultKind, Format, Noise, When, simulate};
use std::sync::OnceLock;

/// A simulated clip with its review.
pub struct Case {
    /// For messages.
    pub name: String,
    /// The clip with its truth.
    pub clip: Clip,
    /// Its review.
    pub review: Review,
    /// The planted fault with the code that tells it, and the repetitions that have it.
    pub planted: Option<(&'static str, Vec<u32>)>,
}

/// Says a case in a language.
pub fn said_in(case: &Case, language: &str) -> Said {
    let exercise = MODELS
        .exercise(&case.review.session.exercise)
        .expect("an exercise");
    said(
        &case.review,
        exercise,
        MODELS.patient.words(language).expect("a language"),
    )
}

/// An exercise without noise, seen in space or from a view.
fn case(
    exercise: Exercise,
    view: &str,
    format: Format,
    noise: Noise,
    fault: Option<Planted>,
) -> Case {
    let mut recipe = recipe(exercise, view, 7, 6, noise);
    if let Some((kind, severity, reps, _)) = &fault {
        recipe.faults = vec![Fault {
            kind: *kind,
            when: When::Reps(reps.clone()),
            severity: *severity,
        }];
    }
    let clip = simulate(&recipe).expect("a sound recipe");
    let bytes = clip.bytes(format).expect("the clip can be written");
    let ask = Ask {
        side: Some(Side::Right),
        ..Ask::default()
    };
    Case {
        name: format!(
            "{} {view} {:?}",
            exercise.id(),
            fault.as_ref().map(|fault| fault.0)
        ),
        review: drawn_bytes(&clip, format.extension(), bytes, exercise.id(), &ask),
        planted: fault.map(|(_, _, reps, code)| (code, reps)),
        clip,
    }
}

/// Kind, severity, repetitions, code of the finding that tells it.
type Planted = (FaultKind, f64, Vec<u32>, &'static str);

/// Clips with a planted fault, clean ones, noisy ones, and one that can tell little.
pub fn cases() -> &'static [Case] {
    static CASES: OnceLock<Vec<Case>> = OnceLock::new();
    CASES.get_or_init(|| {
        use Exercise as E;
        use FaultKind as F;
        let faulty: [(E, &str, Format, Planted); 9] = [
            (
                E::ScapularRaise,
                "oblique",
                Format::Tidy3d,
                (F::PlaneTowardSide, 30.0, vec![4, 5, 6], "plane-toward-side"),
            ),
            (
                E::ScapularRaise,
                "oblique",
                Format::Tidy3d,
                (F::PlaneTowardFront, 45.0, vec![2, 3], "plane-toward-front"),
            ),
            (
                E::ForwardPress,
                "front",
                Format::Tidy2d,
                (F::FlaredElbow, 45.0, vec![2, 3, 4], "elbow-flared"),
            ),
            (
                E::FrontalRaise,
                "back",
                Format::Tidy2d,
                (F::TrunkLeanSide, 30.0, vec![1, 2, 3, 4, 5], "trunk-leans"),
            ),
            (
                E::ForwardRaise,
                "right",
                Format::Tidy2d,
                (F::ElbowBend, 70.0, vec![1, 2, 6], "elbow-bends"),
            ),
            (
                E::FrontalRaise,
                "front",
                Format::Tidy3d,
                (F::EarlyHike, 25.0, vec![1, 2, 3, 4], "girdle-rises-early"),
            ),
            (
                E::OverheadPress,
                "right",
                Format::Tidy2d,
                (F::ShortRange, 50.0, vec![4, 5, 6], "range-short"),
            ),
            (
                E::Row,
                "right",
                Format::Tidy3d,
                (F::TrunkTurn, 40.0, vec![2, 3], "trunk-turns"),
            ),
            (
                E::ForwardPress,
                "right",
                Format::Tidy3d,
                (
                    F::EarlyProtraction,
                    1.0,
                    vec![2, 3],
                    "reach-before-straight",
                ),
            ),
        ];
        let mut cases: Vec<Case> = faulty
            .into_iter()
            .map(|(exercise, view, format, fault)| {
                case(exercise, view, format, Noise::none(), Some(fault))
            })
            .collect();
        for exercise in [E::WallSlide, E::FrontalRaise, E::Row] {
            cases.push(case(exercise, "front", Format::Tidy3d, Noise::none(), None));
        }
        cases.push(case(
            E::ScapularRaise,
            "front",
            Format::Tidy2d,
            Noise::typical(),
            None,
        ));
        cases.push(case(
            E::ScapularRaise,
            "right",
            Format::Tidy2d,
            Noise::typical(),
            None,
        ));
        cases
    })
}
