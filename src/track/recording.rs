//! What a reader makes: every person in every frame, still in the file's own axes and units.
//!
//! Readers only parse. Choosing the person, flipping axes, units, mirrored video and the time line are
//! done once, for all formats, by [`crate::track::assemble`](crate::track).

use super::{Frames, PictureSize};
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

/// How a file's world axes lie.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum SpaceAxes {
    /// The format states them: rows are the program's u (right in the picture), v (up) and w (toward the
    /// camera) as combinations of the file's x, y, z.
    Known([[f64; 3]; 3]),
    /// Right-handed, but which axis points up is found from the trunk.
    #[default]
    Unknown,
}

impl SpaceAxes {
    /// The program's own axes.
    pub const OWN: SpaceAxes =
        SpaceAxes::Known([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]);
    /// x to the picture's right, y down, z away from the camera.
    pub const CAMERA: SpaceAxes =
        SpaceAxes::Known([[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]]);
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

impl Recording {
    /// A recording without frames, in which nothing beyond reader and layout is known yet.
    pub fn new(reader: &'static str, layout: impl Into<String>, joints: Vec<Joint>) -> Recording {
        Recording {
            reader,
            layout: layout.into(),
            joints,
            layout_by_count: false,
            frames: Frames::default(),
            scale: Scale::Unknown,
            size: None,
            rate_hz: None,
            metres_per_unit: None,
            axes: SpaceAxes::Unknown,
            extrapolates: false,
            mirrored: false,
            measured_depth: false,
            least_score: 0.0,
            unused: Vec::new(),
            notes: Vec::new(),
        }
    }
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
    /// Whether only the number of keypoints spoke for the layout.
    pub layout_by_count: bool,
    /// Frames in the file's order (may be unsorted, with holes or duplicates).
    pub frames: Frames,
    /// Unit of the picture coordinates.
    pub scale: Scale,
    /// Size of the picture, if the file states it.
    pub size: Option<PictureSize>,
    /// Frame rate, if the file states it.
    pub rate_hz: Option<f64>,
    /// Metres per unit of the world coordinates, if the file or format states it.
    pub metres_per_unit: Option<f64>,
    /// How the world axes lie.
    pub axes: SpaceAxes,
    /// Whether the estimator goes on reporting points that lie outside the picture, so that a point there
    /// was not seen but guessed.
    pub extrapolates: bool,
    /// Whether the file says that its picture is mirrored.
    pub mirrored: bool,
    /// Whether world coordinates were measured (markers, depth camera) rather than guessed.
    pub measured_depth: bool,
    /// Score below which a point counts as missing in this format, with 0 always missing.
    pub least_score: f64,
    /// Names of points that no joint is taken from.
    pub unused: Vec<String>,
    /// What the reader had to say.
    pub notes: Vec<Note>,
}
