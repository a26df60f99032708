//! What a reader makes: every person in every frame, still in the file's own axes and units.
//!
//! Readers only parse. Choosing the person, flipping axes, units, mirrored video and the time line are
//! done once, for all formats, by [`crate::track::assemble`](crate::track).

use super::PictureSize;
use crate::body::Joint;
use crate::note::Note;

/// Unit of a file's picture coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Pixels of the source picture.
    Pixels,
    /// x by width, y by height.
    Normalised,
    /// The file does not say; settled by the size of the numbers.
    Unknown,
}

/// One person in one frame. Points are in the order of [`Recording::joints`]; not-finite means missing.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Detection {
    /// Track id given by the file.
    pub id: Option<String>,
    /// `[x, y, score]`, x right, y down; empty if the file has no picture coordinates.
    pub picture: Vec<[f32; 3]>,
    /// `[x, y, z, score]` in the file's own axes; empty if the file has no world coordinates.
    pub space: Vec<[f32; 4]>,
}

/// All people of one frame.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RecordingFrame {
    /// Frame number as in the file.
    pub number: i64,
    /// Time stamp in seconds, if the file has one.
    pub stamp_s: Option<f64>,
    /// People, in the file's order.
    pub people: Vec<Detection>,
}

/// A whole file as read.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// Reader id.
    pub reader: &'static str,
    /// Layout id.
    pub layout: String,
    /// Joints of the points of every detection.
    pub joints: Vec<Joint>,
    /// Frames in the file's order (may be unsorted, with holes or duplicates).
    pub frames: Vec<RecordingFrame>,
    /// Unit of the picture coordinates.
    pub scale: Scale,
    /// Size of the picture, if the file states it.
    pub size: Option<PictureSize>,
    /// Frame rate, if the file states it.
    pub rate_hz: Option<f64>,
    /// Metres per unit of the world coordinates, if the file or format states it.
    pub metres_per_unit: Option<f64>,
    /// Whether world coordinates were measured (markers, depth camera) rather than guessed.
    pub measured_depth: bool,
    /// Score below which a point counts as missing in this format, with 0 always missing.
    pub least_score: f64,
    /// What the reader had to say.
    pub notes: Vec<Note>,
}
