//! What the clip is, and what is said about its repetitions as a whole.

use super::Provenance;
use super::movement::{moving_side, repetition_signal};
use crate::condition::Conditioned;
use crate::geom::quantiles;
use crate::kinematics::{Kinematics, Linkage, Signal};
use crate::models::Exercise;
use crate::note::Note;
use crate::reps::RepSpan;
use crate::session::{Clip, View};
use crate::track::Track;

pub(super) fn repetition_notes(
    kinematics: &Kinematics,
    spans: &[RepSpan],
    exercise: &Exercise,
) -> Vec<Note> {
    let mut notes = Vec::new();
    match kinematics.signal(repetition_signal(exercise)) {
        Err(why) => notes.push(Note::new(
            "reps/none",
            format!(
                "No repetition can be counted: the {} cannot be measured because {}.",
                repetition_signal(exercise).id(),
                why.text()
            ),
        )),
        Ok(_) if spans.is_empty() => notes.push(Note::new(
            "reps/none",
            format!(
                "No movement of {} degrees or more was found, so there is no repetition.",
                exercise.repetition.min_excursion_deg
            ),
        )),
        Ok(_) => {}
    }
    let incomplete = spans
        .iter()
        .filter(|span| span.incomplete.is_some())
        .count();
    if incomplete > 0 {
        notes.push(Note::new(
            "reps/incomplete",
            format!(
                "{incomplete} of {} repetitions are incomplete and marked so.",
                spans.len()
            ),
        ));
    }
    notes
}

/// Without a complete repetition: what did move, in case another exercise or arm was meant.
pub(super) fn what_moved(
    kinematics: &Kinematics,
    spans: &[RepSpan],
    track: &Track,
) -> Option<Note> {
    if spans.iter().any(|span| span.incomplete.is_none()) {
        return None;
    }
    let travelled = |signal: Signal| {
        let values = &kinematics.signal(signal).ok()?.value;
        let [low, high] = quantiles(values.iter().flatten(), [0.05, 0.95])?;
        Some(format!("{:.0} degrees", high - low))
    };
    let parts: Vec<String> = [
        (Signal::Elevation, "the arm was raised and lowered by"),
        (Signal::ElbowFlexion, "the elbow bent by"),
    ]
    .into_iter()
    .filter_map(|(signal, words)| Some(format!("{words} {}", travelled(signal)?)))
    .collect();
    let moving = moving_side(track);
    let other = (moving != kinematics.side).then(|| {
        format!(
            "the {} arm moved more than the {} one that was measured (--side {})",
            moving.id(),
            kinematics.side.id(),
            moving.id()
        )
    });
    let parts: Vec<String> = parts.into_iter().chain(other).collect();
    (!parts.is_empty()).then(|| {
        Note::new(
            "reps/what-moved",
            format!(
                "There is no complete repetition of this exercise. What moved: {}.",
                parts.join("; ")
            ),
        )
    })
}

pub(super) fn clip(
    conditioned: &Conditioned,
    kinematics: &Kinematics,
    provenance: &Provenance,
    person: String,
) -> Clip {
    let track = &conditioned.track;
    let known = track.timeline.knows_seconds();
    Clip {
        source: provenance.source.clone(),
        sha256: provenance.sha256.clone(),
        reader: provenance.reader.clone(),
        layout: track.layout.clone(),
        space: kinematics.space,
        frames: track.frames() as u64,
        duration_s: Some(track.timeline.duration_s()).filter(|_| known),
        rate_hz: track.timeline.rate_hz().filter(|_| known),
        timing: track.timeline.timing(),
        person,
        view: kinematics.view.map(|view| {
            let half = crate::reading::Z_95 * view.yaw_deg.sd;
            View {
                name: view.name().id().to_string(),
                yaw_deg: view.yaw_deg.value,
                low_deg: view.yaw_deg.value - half,
                high_deg: view.yaw_deg.value + half,
                stated: view.stated,
            }
        }),
        coverage: track
            .joints
            .iter()
            .map(|joint| (joint.id(), track.coverage(*joint)))
            .collect(),
        cutoff_hz: conditioned.cutoff_hz,
    }
}

/// Says where points on the skin over the blade are not trusted, if the arm goes there.
pub(super) fn beyond_trust(
    kinematics: &Kinematics,
    spans: &[RepSpan],
    linkage: &Linkage,
) -> Option<Note> {
    let (Ok(_), Ok(elevation)) = (
        kinematics.signal(Signal::UpwardRotation),
        kinematics.signal(Signal::Elevation),
    ) else {
        return None;
    };
    let trusted = linkage.trusted_to_deg;
    let goes_beyond = |span: &&RepSpan| {
        let mut frames = span.start..=span.end;
        frames.any(|frame| elevation.at(frame).is_some_and(|deg| deg > trusted))
    };
    let beyond = spans.iter().filter(goes_beyond).count();
    (beyond > 0).then(|| {
        Note::new(
            "kinematics/blade-beyond-trust",
            format!(
                "In {beyond} of {} repetitions the arm goes above {trusted:.0} degrees, where the skin no longer follows \
                 the blade: the curve of the blade is shown there, and the rhythm leaves it out.",
                spans.len()
            ),
        )
    })
}
