//! From a file of an estimator to a track, without being told which estimator it was.
//!
//! In: a path (a file, a folder with one file for each frame, or `-`). Out: [`Opened`]: the track, what the
//! file is, and notes of what was assumed. A reader is one file in `formats/` and one line in [`READERS`].
//! Formats are told by content, never by name and never by first match: every reader says how well the file
//! fits, and two that fit equally well are an error that names both. Readers only parse; the person, the axes
//! and the time line are settled once for all by [`crate::track::assemble`].
#![allow(clippy::result_large_err)] // a fault ends the work on a file; its size is paid once

mod array;
mod axis_order;
mod beginning;
mod c3d_head;
mod c3d_parameters;
mod clean;
mod clip;
mod columns;
mod depth_camera;
pub mod formats;
mod gather;
mod growing;
mod hdf5_file;
mod id;
mod image_frames;
mod json;
mod key_columns;
mod landmarks;
mod landmarks_axes;
mod landmarks_nodes;
mod layout;
pub mod limits;
mod open;
mod pandas_columns;
mod pandas_table;
mod parts;
mod pickled_names;
mod plausible;
mod printable;
mod probe;
mod sketch;
mod sleap_tracks;
mod source;
mod stamps;
mod stream;
mod table;
mod unnamed;

pub use layout::{Known, Layout};
pub use open::{Facts, Opened, open, open_source};
pub use probe::{BinaryKind, Probe, Shape};
pub use sketch::Sketch;
pub use source::{FrameFile, Member, Source, is_packed, is_whole};

use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::track::{AssembleOptions, PictureSize, Recording, Up};

/// What the user states about a file; everything is optional.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReadOptions {
    /// Frames a second, if the file does not tell.
    pub fps: Option<f64>,
    /// Size of the picture, if the file does not tell.
    pub size: Option<PictureSize>,
    /// Layout id, if the file has no names.
    pub layout: Option<String>,
    /// Reader id, if the content does not settle it.
    pub format: Option<String>,
    /// Person to be measured: an id of the file, or a number by first appearance.
    pub person: Option<String>,
    /// Whether the video is a mirror image.
    pub mirrored: bool,
    /// Upward axis of world coordinates.
    pub up: Option<Up>,
    /// Which of the two picture coordinates comes first in a file without names.
    pub axis_order: Option<AxisOrder>,
    /// Joints and the names that the file has for them.
    pub map: Vec<(String, String)>,
}

/// Which of the two picture coordinates comes first in a file without names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AxisOrder {
    /// x, then y.
    Xy,
    /// y, then x.
    Yx,
}

impl AxisOrder {
    /// `xy` or `yx`.
    pub fn from_id(id: &str) -> Option<AxisOrder> {
        match id {
            "xy" => Some(AxisOrder::Xy),
            "yx" => Some(AxisOrder::Yx),
            _ => None,
        }
    }

    /// `xy` or `yx`.
    pub fn id(self) -> &'static str {
        match self {
            AxisOrder::Xy => "xy",
            AxisOrder::Yx => "yx",
        }
    }
}

impl ReadOptions {
    /// The part that assembling needs.
    pub fn assemble(&self) -> AssembleOptions {
        AssembleOptions {
            fps: self.fps,
            size: self.size,
            person: self.person.clone(),
            mirrored: self.mirrored,
            up: self.up,
        }
    }
}

/// How well a file fits a format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Degree {
    /// It is something else.
    No,
    /// It could be, if nothing fits better.
    Possible,
    /// It has what only this format has.
    Certain,
}

/// How well a file fits a format, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fit {
    /// How well.
    pub degree: Degree,
    /// What was seen, in a phrase.
    pub reason: String,
}

impl Fit {
    /// It is something else.
    pub fn no(reason: impl Into<String>) -> Fit {
        Fit {
            degree: Degree::No,
            reason: reason.into(),
        }
    }
    /// It could be.
    pub fn possible(reason: impl Into<String>) -> Fit {
        Fit {
            degree: Degree::Possible,
            reason: reason.into(),
        }
    }
    /// It is.
    pub fn certain(reason: impl Into<String>) -> Fit {
        Fit {
            degree: Degree::Certain,
            reason: reason.into(),
        }
    }
}

/// One file format.
pub trait Reader: Sync {
    /// Kebab-case id, as `--format` takes it.
    fn id(&self) -> &'static str;
    /// Title as shown.
    fn title(&self) -> &'static str;
    /// What files it reads, what is missing in them and what is assumed: the manual of this format.
    fn about(&self) -> &'static str;
    /// How well a file fits.
    fn fit(&self, probe: &Probe, models: &Models) -> Fit;
    /// Whether a file may leave open which picture coordinate comes first.
    fn takes_axis_order(&self) -> bool {
        false
    }
    /// Whether points may have names that the user maps to joints.
    fn takes_names(&self) -> bool {
        true
    }
    /// Reads a file.
    ///
    /// # Errors
    /// Whatever is wrong in the file, with its place.
    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault>;
}

/// Every format. Their order means nothing.
pub static READERS: &[&dyn Reader] = &[
    &formats::openpose::Openpose,
    &formats::hdf5::Hdf5,
    &formats::landmarks33_json::Landmarks33Json,
    &formats::landmarks33_csv::Landmarks33Csv,
    &formats::c3d::C3d,
    &formats::coco_json::CocoJson,
    &formats::mmpose_json::MmposeJson,
    &formats::alphapose_json::AlphaposeJson,
    &formats::yolo_labels::YoloLabels,
    &formats::yolo_json::YoloJson,
    &formats::movenet_json::MovenetJson,
    &formats::tidy_csv::TidyCsv,
    &formats::deeplabcut_csv::DeeplabcutCsv,
    &formats::sleap_csv::SleapCsv,
    &formats::sleap_json::SleapJson,
    &formats::kinect_json::KinectJson,
    &formats::trc::Trc,
    &formats::native_json::NativeJson,
    &formats::npy::Npy,
];

/// One reader's verdict on a file, for `inspect`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verdict {
    /// Reader id.
    pub id: &'static str,
    /// Reader title.
    pub title: &'static str,
    /// Its fit.
    pub fit: Fit,
}

/// Every reader's verdict, best first.
pub fn verdicts(probe: &Probe, models: &Models) -> Vec<Verdict> {
    let mut all: Vec<Verdict> = READERS
        .iter()
        .map(|reader| Verdict {
            id: reader.id(),
            title: reader.title(),
            fit: reader.fit(probe, models),
        })
        .collect();
    all.sort_by_key(|verdict| std::cmp::Reverse(verdict.fit.degree));
    all
}

/// Whether a folder's files are taken for the frames of one clip by any reader. A folder that cannot be read, or
/// that holds no such file, is none.
pub fn is_folder_of_frames(folder: &std::path::Path, models: &Models) -> bool {
    let probe = Source::open(folder).and_then(|source| Probe::of(&source));
    probe.is_ok_and(|probe| {
        READERS
            .iter()
            .any(|reader| reader.fit(&probe, models).degree > Degree::No)
    })
}

/// The reader of that id.
///
/// # Errors
/// There is none.
pub fn named(id: &str) -> Result<&'static dyn Reader, Fault> {
    let found = READERS.iter().find(|reader| reader.id() == id);
    found.copied().ok_or_else(|| {
        let ids: Vec<&str> = READERS.iter().map(|reader| reader.id()).collect();
        Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            format!("there is no format `{id}`"),
            Place::default().field("--format"),
            format!("one of {}", ids.join(", ")),
        )
    })
}

/// The one reader that fits best.
///
/// # Errors
/// None fits, or two fit equally well.
pub fn choose(
    verdicts: &[Verdict],
    probe: &Probe,
    place: Place,
) -> Result<&'static dyn Reader, Fault> {
    let best = verdicts.iter().map(|verdict| verdict.fit.degree).max();
    let fitting: Vec<&Verdict> = verdicts
        .iter()
        .filter(|verdict| Some(verdict.fit.degree) == best && best > Some(Degree::No))
        .collect();
    match fitting.as_slice() {
        [] => {
            let titles: Vec<&str> = READERS.iter().map(|reader| reader.title()).collect();
            Err(Fault::new(
                FaultKind::Unsupported,
                "read/unknown-format",
                format!("no known format: it is {}", probe.describe()),
                place,
                format!("one of: {}", titles.join("; ")),
            ))
        }
        [only] => named(only.id),
        several => {
            let named: Vec<String> = several
                .iter()
                .map(|verdict| format!("{} ({})", verdict.title, verdict.fit.reason))
                .collect();
            let options: Vec<String> = several
                .iter()
                .map(|verdict| format!("--format {}", verdict.id))
                .collect();
            Err(Fault::new(
                FaultKind::Unsupported,
                "read/ambiguous-format",
                format!("it fits equally well as {}", named.join(" and as ")),
                place,
                options.join(" or "),
            ))
        }
    }
}
