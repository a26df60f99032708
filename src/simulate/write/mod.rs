//! Writes a clip in the layouts of open pose estimators and in plain tables.
//!
//! In: a clip. Out: bytes, or files in a folder. Facts about each layout are beside its
//! writer. Nothing is compressed here, and nothing here is used for reading.

mod body25;
mod coco17;
mod landmarks33;
mod table;
mod trc;

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::clip::Clip;

/// A layout a clip can be written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Format {
    /// 25 body keypoints, one JSON file a frame (as one list when written to bytes).
    Body25,
    /// 33 landmarks, one JSON object with `frames`, `width` and `height`.
    Landmarks33Object,
    /// 33 landmarks, a JSON list with one result a frame.
    Landmarks33List,
    /// 33 landmarks, one CSV row a frame.
    Landmarks33Csv,
    /// 17 keypoints, a JSON list of detections.
    Coco17Results,
    /// 17 keypoints, a JSON object with `images`, `annotations` and `categories`.
    Coco17Annotations,
    /// One CSV row per frame, person and point; pixels.
    Tidy2d,
    /// One CSV row per frame and point; metres, y up.
    Tidy3d,
    /// Tab-separated marker table; millimetres, y up.
    Trc,
}

impl Format {
    /// Every format.
    pub const ALL: [Format; 9] = [
        Format::Body25,
        Format::Landmarks33Object,
        Format::Landmarks33List,
        Format::Landmarks33Csv,
        Format::Coco17Results,
        Format::Coco17Annotations,
        Format::Tidy2d,
        Format::Tidy3d,
        Format::Trc,
    ];

    /// The kebab-case id.
    pub fn id(self) -> &'static str {
        match self {
            Format::Body25 => "body25",
            Format::Landmarks33Object => "landmarks33-object",
            Format::Landmarks33List => "landmarks33-list",
            Format::Landmarks33Csv => "landmarks33-csv",
            Format::Coco17Results => "coco17-results",
            Format::Coco17Annotations => "coco17-annotations",
            Format::Tidy2d => "tidy2d",
            Format::Tidy3d => "tidy3d",
            Format::Trc => "trc",
        }
    }

    /// The format with this id.
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|format| format.id() == id)
    }

    /// File name extension.
    pub fn extension(self) -> &'static str {
        match self {
            Format::Landmarks33Csv | Format::Tidy2d | Format::Tidy3d => "csv",
            Format::Trc => "trc",
            _ => "json",
        }
    }
}

impl Clip {
    /// The clip as the bytes of one file.
    pub fn bytes(&self, format: Format) -> io::Result<Vec<u8>> {
        match format {
            Format::Body25 => body25::list(self),
            Format::Landmarks33Object => landmarks33::object(self),
            Format::Landmarks33List => landmarks33::list(self),
            Format::Landmarks33Csv => landmarks33::wide(self),
            Format::Coco17Results => coco17::results(self),
            Format::Coco17Annotations => coco17::annotations(self),
            Format::Tidy2d => table::tidy2d(self),
            Format::Tidy3d => table::tidy3d(self),
            Format::Trc => Ok(trc::table(self)),
        }
    }

    /// Writes the clip below `folder` (made when missing) and says what a reader is to open:
    /// `<stem>.<extension>`, or the folder `<stem>` of frame files for [`Format::Body25`].
    pub fn write(&self, format: Format, folder: &Path, stem: &str) -> io::Result<PathBuf> {
        if format == Format::Body25 {
            let place = folder.join(stem);
            fs::create_dir_all(&place)?;
            for (index, frame) in self.frames.iter().enumerate() {
                let name = body25::file_name(stem, index);
                fs::write(place.join(name), body25::frame(frame)?)?;
            }
            return Ok(place);
        }
        fs::create_dir_all(folder)?;
        let place = folder.join(format!("{stem}.{}", format.extension()));
        fs::write(&place, self.bytes(format)?)?;
        Ok(place)
    }
}

/// A number with at most this many decimals, as JSON and CSV writers print it.
fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    let value = (value * scale).round() / scale;
    // no "-0"
    if value == 0.0 { 0.0 } else { value }
}
