//! From files of estimators to tracks: what the simulation wrote is read back, bad input is refused in words,
//! and open recordings are read.
//!
//! Everything goes through the public door (`readers::open_source`, or the program itself).
#![allow(clippy::result_large_err)] // as the library

mod broken;
mod choice;
mod converted;
mod damaged;
mod estimated;
mod exports;
mod named;
mod open_data;
mod spelled;
mod stated;
mod written;

use flate2::{Compression, write::GzEncoder};
use scaplane::body::{Joint, Side};
use scaplane::models::Models;
use scaplane::note::Fault;
use scaplane::readers::{Opened, ReadOptions, Source, open_source};
use scaplane::simulate::{Clip, Noise, Point, Recipe, View, simulate};
use scaplane::track::PictureSize;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// The built-in data, read once.
fn models() -> &'static Models {
    static MODELS: OnceLock<Models> = OnceLock::new();
    MODELS.get_or_init(|| Models::embedded().expect("the built-in data are whole"))
}

/// A path below the project's folder.
fn project(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// Frames a second of the clips here: not the rate that is taken when none is known.
const RATE_HZ: f64 = 24.0;

/// A short clip as an estimator sees it: jitter, some lost points, uneven stamps, seen from the corner.
fn recipe() -> Recipe {
    Recipe {
        reps: 1,
        rate_hz: RATE_HZ,
        view: View::Oblique,
        width_px: 1280,
        height_px: 960,
        noise: Noise {
            gaps_per_min: 8.0,
            uneven: 0.05,
            ..Noise::jitter()
        },
        ..Recipe::default()
    }
}

fn size() -> PictureSize {
    PictureSize {
        width: 1280.0,
        height: 960.0,
    }
}

/// The clip of [`recipe`], made once.
fn clip() -> &'static Clip {
    static CLIP: OnceLock<Clip> = OnceLock::new();
    CLIP.get_or_init(|| simulate(&recipe()).expect("the recipe can be made"))
}

/// The points that are compared, as both sides name them.
const PAIRS: [(Point, Joint); 8] = [
    (Point::LeftShoulder, Joint::Shoulder(Side::Left)),
    (Point::RightShoulder, Joint::Shoulder(Side::Right)),
    (Point::LeftElbow, Joint::Elbow(Side::Left)),
    (Point::RightElbow, Joint::Elbow(Side::Right)),
    (Point::LeftWrist, Joint::Wrist(Side::Left)),
    (Point::RightWrist, Joint::Wrist(Side::Right)),
    (Point::LeftHip, Joint::Hip(Side::Left)),
    (Point::RightHip, Joint::Hip(Side::Right)),
];

fn read(name: &str, bytes: Vec<u8>, options: &ReadOptions) -> Result<Opened, Fault> {
    open_source(&Source::from_bytes(name, bytes), options, models())
}

fn gz(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::fast());
    encoder.write_all(bytes).expect("memory takes bytes");
    encoder.finish().expect("memory takes bytes")
}

fn has_note(opened: &Opened, code: &str) -> bool {
    opened.notes.iter().any(|note| note.code == code)
}
