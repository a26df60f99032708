//! The way of the data, in order. Read this file first.

mod assume;
mod calibrate;
mod clip;
mod judgement;
mod movement;
mod order;
pub mod planned;
mod traces;

pub use assume::{assumptions, linkage};
pub use movement::signals;
pub use order::Order;
use planned::planned;

use crate::body::{Side, ViewName};
use crate::condition::condition;
use crate::models::{Exercise, Models};
use crate::note::Note;
use crate::plan::InclinometerReading;
use crate::session::{Compare, FORMAT, Program, Review, Session, Traces};
use crate::track::Track;
use clip::{beyond_trust, clip, repetition_notes, what_moved};
use judgement::{drift_of_sets, judge_all, measure_all, what_was_not_seen};
use movement::{angles, moving_side, repetitions};
use traces::traces;

/// What a reader knows about the file, for the result.
#[derive(Debug, Clone, PartialEq)]
pub struct Provenance {
    /// Name of the file or folder.
    pub source: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// Reader id.
    pub reader: String,
    /// Notes of reading.
    pub notes: Vec<Note>,
}

/// What the user asks for.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Ask {
    /// Side; `None` takes the side whose arm moves more.
    pub side: Option<Side>,
    /// Stated view.
    pub view: Option<ViewName>,
    /// Stated cut-off, hertz.
    pub cutoff_hz: Option<f64>,
    /// Two readings of upward rotation of this person's blade, the lower first.
    pub calibration: Option<[InclinometerReading; 2]>,
    /// Whether nothing will be drawn, so that curves and stick figure are left empty.
    pub numbers_only: bool,
}

/// Reviews one track: condition, measure angles, find repetitions, measure and judge each, look for drift.
pub fn review(
    track: Track,
    provenance: &Provenance,
    exercise: &Exercise,
    models: &Models,
    ask: &Ask,
) -> Review {
    let person = track.person.clone();
    let conditioned = condition(track, ask.cutoff_hz);
    let side = ask.side.unwrap_or_else(|| moving_side(&conditioned.track));
    let kinematics = angles(&conditioned, exercise, models, side, ask.view);
    let spans = repetitions(&kinematics, exercise);
    let (linkage, calibration) = calibrate::linkage_of(&kinematics, &spans, exercise, models, ask);
    let measured = measure_all(&kinematics, &spans, exercise, &linkage);
    let reps = judge_all(&kinematics, &spans, &measured, exercise, models);
    let sets = drift_of_sets(&spans, &measured, &reps, exercise);
    let unseen = what_was_not_seen(kinematics.space, &measured, exercise, models);

    let mut notes = provenance.notes.clone();
    notes.extend(conditioned.notes.iter().cloned());
    notes.extend(kinematics.notes.iter().cloned());
    notes.extend(calibration);
    notes.extend(repetition_notes(&kinematics, &spans, exercise));
    notes.extend(what_moved(&kinematics, &spans, &conditioned.track));
    notes.extend(beyond_trust(&kinematics, &spans, &linkage));
    let session = Session {
        format: FORMAT.to_string(),
        program: Program {
            name: "scaplane".into(),
            version: env!("CARGO_PKG_VERSION").into(),
        },
        clip: clip(&conditioned, &kinematics, provenance, person),
        exercise: exercise.id.clone(),
        side,
        notes,
        reps,
        sets,
        unseen,
        plan: None,
        reported: None,
        compare: Compare::default(),
        cautions: CAUTIONS.iter().map(|text| (*text).to_string()).collect(),
    };
    Review {
        traces: match ask.numbers_only {
            true => Traces::default(),
            false => traces(&conditioned.track, &kinematics),
        },
        session,
    }
}

/// Cautions shown with every result.
pub const CAUTIONS: [&str; 4] = [
    "This measures movement from video. It is no diagnosis and no medical device.",
    "The surgeon's and the therapist's protocol comes first; limits are defaults that the treating \
     clinician may change.",
    "Stop on sharp or rising pain, numbness or a new loss of strength, and call the clinic.",
    "Cannot tell is an answer: what the page could not see is listed with the reason.",
];
