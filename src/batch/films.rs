//! Drawing results on the clips' videos, where the program can.

use super::clip::Clip;
use crate::note::Fault;
use crate::readers::ReadOptions;
use crate::report::Context;
use crate::session::Review;
use std::path::{Path, PathBuf};

/// A result to be drawn.
pub struct Drawn<'a> {
    /// The clip.
    pub clip: &'a Clip,
    /// The clip's video.
    pub video: &'a Path,
    /// How the clip was read.
    pub read: &'a ReadOptions,
    /// Folder of the result's reports.
    pub folder: &'a Path,
    /// The result.
    pub review: &'a Review,
    /// Words.
    pub context: &'a Context,
    /// Whether there is a page, in which the video is to be shown.
    pub page: bool,
}

/// Whoever draws.
pub trait Films: Sync {
    /// Draws a result on its video beside the reports, and gives the files written.
    ///
    /// # Errors
    /// The video is missing, cannot be read, or is not the clip's.
    fn draw(&self, drawn: &Drawn<'_>) -> Result<Vec<PathBuf>, Fault>;
}
