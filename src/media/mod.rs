//! Video (feature `video`): coloured dots followed through a clip, and a clip with what was measured drawn on it.
//!
//! Data goes one way: file -> [`footage`] (pictures with their times) -> spots -> who is who -> a
//! [`Track`](crate::track::Track) with the points of the shoulder blade; or pictures and a review -> an overlay. Only
//! here is OpenCV used; H.264 is written by the program `ffmpeg`.

mod colour;
mod confidence;
mod dots;
pub mod encode;
pub mod footage;
mod head;
mod identity;
mod learn;
mod matroska;
pub mod overlay;
pub mod register;
mod spots;
pub mod stamps;
mod stickers;
mod trunk;

pub use colour::{Bgr, colour_from_text, colour_names};
pub use confidence::LEAST_CONFIDENCE;
pub use dots::Dot;
pub use stickers::{Asked, DotSeen, Places, Stickers, Told, stickers};

use crate::note::{Fault, FaultKind, Place};
use crate::track::PictureSize;
use footage::Footage;
use opencv::core::Vector;
use opencv::imgcodecs;
use opencv::prelude::*;
use std::path::Path;

/// Size of a video's upright picture.
///
/// # Errors
/// The file cannot be read as a video.
pub fn picture_size(video: &Path) -> Result<PictureSize, Fault> {
    Ok(Footage::open(video)?.size())
}

/// Writes the picture nearest to a time (seconds from the first) as PNG.
///
/// # Errors
/// The video cannot be read, or the file not be written.
pub fn still(video: &Path, at_s: f64, out: &Path) -> Result<(), Fault> {
    let footage = Footage::open(video)?;
    let times_s = footage.expected_times_s();
    is_within(&times_s, at_s)?;
    let mut last = None;
    footage.play(|picture| {
        let next_s = times_s.get(picture.number + 1).copied().unwrap_or(f64::MAX);
        let own_s = times_s.get(picture.number).copied().unwrap_or(f64::MAX);
        let done = at_s <= (own_s + next_s) / 2.0;
        last = Some(picture.mat.try_clone().map_err(broken)?);
        Ok(!done)
    })?;
    let Some(picture) = last else { return Ok(()) };
    let mut bytes = Vector::new();
    imgcodecs::imencode_def(".png", &picture, &mut bytes).map_err(broken)?;
    std::fs::write(out, bytes.as_slice()).map_err(|error| {
        fault(
            FaultKind::Io,
            "write/io",
            format!("the picture could not be written: {error}"),
            Place::file(out.display().to_string()),
            "a folder that is there and may be written to",
        )
    })
}

/// Refuses a moment that the video does not have.
fn is_within(times_s: &[f64], at_s: f64) -> Result<(), Fault> {
    let end_s = times_s.last().copied().unwrap_or(0.0);
    if (0.0..=end_s + 0.5).contains(&at_s) {
        return Ok(());
    }
    Err(fault(
        FaultKind::Usage,
        "video/at-beyond",
        format!("the video has no picture at {at_s:.2} s: it is {end_s:.2} s long"),
        Place::default().field("--at"),
        "a time between 0 and the video's length, in seconds from its first picture",
    ))
}

/// Whoever watches the work on a long video.
pub trait Watch {
    /// Work on so many pictures begins.
    fn begin(&self, pictures: usize);
    /// A picture is done.
    fn step(&self);
    /// The work is done.
    fn end(&self);
    /// Whether the work is to be given up.
    fn is_over(&self) -> bool;
}

/// The user gave up.
fn stopped() -> Fault {
    fault(
        FaultKind::Io,
        "video/stopped",
        "stopped before the end; no part of a video or track was left",
        Place::default(),
        "running again",
    )
}

fn fault(
    kind: FaultKind,
    code: &'static str,
    what: impl Into<String>,
    place: Place,
    remedy: impl Into<String>,
) -> Fault {
    Fault::new(kind, code, what, place, remedy)
}

/// OpenCV refused something that is sound.
fn broken(error: opencv::Error) -> Fault {
    fault(
        FaultKind::Io,
        "video/library",
        format!(
            "OpenCV failed: {}",
            error.message.lines().next().unwrap_or("")
        ),
        Place::default(),
        "running `scripts/video-setup` again and building anew; if it stays, report it",
    )
}
