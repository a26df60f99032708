//! A track: one person's joints over time, in the picture, in space, or both.
//!
//! In: what a reader made ([`Recording`]: every person in every frame, in the file's own axes).
//! Out: a [`Track`]: one person, joints instead of keypoints, the program's axes, a checked time line.
//! Nothing here filters, fills or measures.
#![allow(clippy::result_large_err)] // a fault ends the work on a file; its size is paid once

mod assemble;
mod axes;
mod choose;
mod clock;
mod course;
mod frames;
mod kept;
mod layer;
mod people;
mod recording;
mod shelf;
mod timeline;
mod written;

pub use assemble::{AssembleOptions, Assembled, assemble};
pub use axes::Up;
pub use choose::{Chosen, choose};
pub use course::{Course, Presence};
pub use frames::Frames;
pub use layer::Layer;
pub use people::Person;
pub use recording::{Detection, Recording, RecordingFrame, Scale, SpaceAxes};
pub use timeline::{NOMINAL_RATE_HZ, Timeline, Timing};

use crate::body::Joint;

/// Width and height of the picture, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PictureSize {
    /// Pixels across.
    pub width: f64,
    /// Pixels down.
    pub height: f64,
}

impl PictureSize {
    /// From width x height in pixels, such as `1080x1920`.
    pub fn from_text(text: &str) -> Option<PictureSize> {
        let (width, height) = text.split_once('x')?;
        let (width, height) = (width.trim().parse().ok()?, height.trim().parse().ok()?);
        let sound = |side: f64| side > 0.0 && side < 1e5;
        (sound(width) && sound(height)).then_some(PictureSize { width, height })
    }
}

/// One person's joints over time.
///
/// Axes: `picture` is x right, y **up** (flipped once, when the track is assembled), pixels; its origin is
/// the picture's centre where the size is known, else the top-left corner. `space` is right-handed, x to
/// the picture's right, y up, z toward the camera, metres.
#[derive(Debug, Clone)]
pub struct Track {
    /// Layout id of the file it came from.
    pub layout: String,
    /// Joints of the columns of both layers.
    pub joints: Vec<Joint>,
    /// When each frame was.
    pub timeline: Timeline,
    /// Picture coordinates, if the file has them.
    pub picture: Option<Layer>,
    /// World coordinates, if the file has them.
    pub space: Option<Layer>,
    /// Size of the picture, if known.
    pub size: Option<PictureSize>,
    /// Which person of the file this is.
    pub person: String,
    /// Whether the space layer comes from an estimator's guess of depth (true) or from markers or a depth
    /// camera (false).
    pub depth: DepthKind,
}

/// Where the third coordinate of a space layer comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DepthKind {
    /// No space layer.
    None,
    /// Guessed by a network from one picture.
    Guessed,
    /// Measured by markers, several cameras or a depth camera.
    Measured,
}

impl Track {
    /// Column of a joint, if the layout has it.
    pub fn column(&self, joint: Joint) -> Option<usize> {
        self.joints.iter().position(|candidate| *candidate == joint)
    }

    /// Number of frames.
    pub fn frames(&self) -> usize {
        self.timeline.len()
    }

    /// The layer that angles in space come from, else the picture.
    pub fn main_layer(&self) -> Option<&Layer> {
        self.space.as_ref().or(self.picture.as_ref())
    }

    /// Share of the frames with anybody in them in which the joint was seen in the main layer, 0..1; 0 if the
    /// layout lacks it.
    pub fn coverage(&self, joint: Joint) -> f64 {
        match (self.column(joint), self.main_layer()) {
            (Some(column), Some(layer)) => layer.coverage_when_present(column),
            _ => 0.0,
        }
    }
}
