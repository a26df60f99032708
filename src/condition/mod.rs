//! From a raw track to one that may be measured: repaired, filled, evenly timed, low-passed.
//!
//! In: a [`Track`] as assembled. Out: the same track on an even time line, with the noise that is left in it
//! and a note for every change. Points are never invented: a gap longer than [`LONGEST_GAP_S`] stays open.

mod even;
mod exchange;
mod noise;
mod outlier;
mod smooth;

use crate::body::Joint;
use crate::kinematics::Noise;
use crate::note::Note;
use crate::track::{Layer, Timeline, Track};

/// Longest gap that is bridged, seconds. Source: references collected for this project give 0.1 to 0.2 s,
/// from memory, not verified.
pub const LONGEST_GAP_S: f64 = 0.2;

/// A track ready for kinematics.
#[derive(Debug, Clone)]
pub struct Conditioned {
    /// The track.
    pub track: Track,
    /// Noise left in it.
    pub noise: Noise,
    /// Cut-off of the low-pass filter, hertz; `None` if the track was too short to filter.
    pub cutoff_hz: Option<f64>,
    /// What was changed.
    pub notes: Vec<Note>,
}

/// Repairs exchanges, drops outliers, resamples by time, bridges short gaps and low-passes.
///
/// `stated_cutoff_hz` replaces the residual analysis.
pub fn condition(mut track: Track, stated_cutoff_hz: Option<f64>) -> Conditioned {
    let mut notes = Vec::new();
    let joints = track.joints.clone();
    let timeline = &track.timeline;
    let (picture, space) = (track.picture.as_mut(), track.space.as_mut());
    let (of_picture, of_space) = rayon::join(
        || picture.map(|layer| mend(layer, &joints, timeline, "picture")),
        || space.map(|layer| mend(layer, &joints, timeline, "world")),
    );
    notes.extend([of_picture, of_space].into_iter().flatten().flatten());
    let evened = even::resample(&mut track);
    notes.extend(evened);
    let (before, cutoff_hz) = rayon::join(
        || noise::raw(&track),
        || smooth::cutoff_hz(&track, stated_cutoff_hz),
    );
    if let Some(cutoff) = cutoff_hz {
        smooth::low_pass(&mut track, cutoff);
        notes.push(Note::new(
            "condition/cutoff",
            match stated_cutoff_hz {
                Some(_) => format!("Low-pass at {cutoff:.1} Hz as stated."),
                None => format!("Low-pass at {cutoff:.1} Hz, chosen by residual analysis."),
            },
        ));
    }
    let noise = noise::left(&before, cutoff_hz, track.timeline.rate_hz());
    Conditioned {
        track,
        noise,
        cutoff_hz,
        notes,
    }
}

/// Repairs exchanges and drops outliers of a layer; tells what was found.
fn mend(layer: &mut Layer, joints: &[Joint], timeline: &Timeline, name: &str) -> Vec<Note> {
    let mut notes = Vec::new();
    let exchanged = exchange::repair(layer, joints);
    if exchanged > 0 {
        notes.push(Note::new(
            "condition/exchange-repaired",
            format!(
                "Left and right were exchanged in {exchanged} frames of the {name} coordinates and \
                 put back."
            ),
        ));
    }
    let dropped = outlier::drop_outliers(layer, timeline);
    if dropped > 0 {
        notes.push(Note::new(
            "condition/outlier-dropped",
            format!(
                "{dropped} points of the {name} coordinates jumped away for a moment and were dropped."
            ),
        ));
    }
    notes
}
