//! Writes a track as a tidy table or as the program's own JSON, so that reading it again gives the same track
//! within the printed precision.
//!
//! In: a [`Track`] as assembled. Out: bytes, or a file that is there whole or not at all. Points that were
//! filled in are not written: a file holds what was seen.
#![allow(clippy::result_large_err)] // a fault ends the work on a file; its size is paid once

mod native;
mod tidy;

use crate::note::{Fault, FaultKind, Place};
use crate::track::Track;
use std::io::{self, Write};
use std::path::Path;

/// What a track can be written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// Long CSV of picture coordinates, pixels, y down from the top left.
    Tidy2d,
    /// Long CSV of world coordinates, metres, x right, y up, z toward the camera.
    Tidy3d,
    /// `scaplane.track/1`.
    Native,
}

impl Target {
    /// Every target.
    pub const ALL: [Target; 3] = [Target::Tidy2d, Target::Tidy3d, Target::Native];

    /// Kebab-case id, as `--to` takes it.
    pub fn id(self) -> &'static str {
        match self {
            Target::Tidy2d => "tidy-2d",
            Target::Tidy3d => "tidy-3d",
            Target::Native => "native",
        }
    }

    /// The target of that id.
    pub fn from_id(id: &str) -> Option<Target> {
        Target::ALL.into_iter().find(|target| target.id() == id)
    }

    /// Usual end of the file's name.
    pub fn extension(self) -> &'static str {
        match self {
            Target::Tidy2d | Target::Tidy3d => "csv",
            Target::Native => "json",
        }
    }
}

/// Writes a track to bytes.
///
/// # Errors
/// The track has no such layer.
pub fn bytes(track: &Track, target: Target) -> Result<Vec<u8>, Fault> {
    let absent = |what: &str, other: &str| {
        Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            format!("the track has no {what} coordinates"),
            Place::default().field("--to"),
            format!("--to {other}"),
        )
    };
    let written = match target {
        Target::Tidy2d => {
            let layer = track
                .picture
                .as_ref()
                .ok_or_else(|| absent("picture", "tidy-3d"))?;
            tidy::picture(track, layer)
        }
        Target::Tidy3d => {
            let layer = track
                .space
                .as_ref()
                .ok_or_else(|| absent("world", "tidy-2d"))?;
            tidy::space(track, layer)
        }
        Target::Native => native::write(track),
    };
    written.map_err(|error| unwritable(&Place::default(), &error))
}

/// Writes a track to a file.
///
/// # Errors
/// The track has no such layer, or the system would not write.
pub fn write(track: &Track, target: Target, path: &Path) -> Result<(), Fault> {
    store(&bytes(track, target)?, path)
}

/// Writes a file: under a temporary name in the same folder, then renamed, so that nobody ever sees half a file.
///
/// # Errors
/// The system would not write.
pub fn store(bytes: &[u8], path: &Path) -> Result<(), Fault> {
    let place = Place::file(path.display().to_string());
    let failed = |error: io::Error| unwritable(&place, &error);
    // A link leads to the file that is meant; a pipe or a device is written to, never replaced.
    let target;
    let path = match std::fs::symlink_metadata(path) {
        Ok(there) if there.is_symlink() => {
            target = path.canonicalize().map_err(failed)?;
            target.as_path()
        }
        _ => path,
    };
    if path.exists() && !path.is_file() {
        let mut open = std::fs::OpenOptions::new();
        let mut file = open.write(true).open(path).map_err(failed)?;
        return file
            .write_all(bytes)
            .and_then(|()| file.flush())
            .map_err(failed);
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".scaplane-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // Temporary files are private by default; this one becomes an ordinary file, subject to the umask.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder).map_err(failed)?;
    file.write_all(bytes).map_err(failed)?;
    file.as_file().sync_all().map_err(failed)?;
    file.persist(path).map_err(|error| failed(error.error))?;
    Ok(())
}

fn unwritable(place: &Place, error: &io::Error) -> Fault {
    Fault::new(
        FaultKind::Io,
        "write/io",
        format!("it could not be written: {error}"),
        place.clone(),
        "checking that the folder exists, may be written to and has room",
    )
}

/// Rounded to so many decimals, without "-0".
fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    let value = (value * scale).round() / scale;
    if value == 0.0 { 0.0 } else { value }
}

/// A score with four decimals, never rounded to the 0 that says missing.
fn score(value: f64) -> f64 {
    rounded(value, 4).max(1e-4)
}

/// Decimals of pixels and metres: a thousandth of a pixel, a hundredth of a millimetre.
const PIXEL_DECIMALS: i32 = 3;
const METRE_DECIMALS: i32 = 5;
/// Decimals of seconds: a microsecond.
const SECOND_DECIMALS: i32 = 6;

/// A picture position as files have it: pixels from the top left, y down.
fn from_top_left(track: &Track, at: nalgebra::Vector2<f64>) -> [f64; 2] {
    let [x, y] = track
        .size
        .map_or([0.0, 0.0], |size| [size.width / 2.0, size.height / 2.0]);
    [
        rounded(at.x + x, PIXEL_DECIMALS),
        rounded(y - at.y, PIXEL_DECIMALS),
    ]
}
