//! A review that was written before, told from a clip by what is in the file.

use super::refuse::fault;
use crate::note::{Fault, FaultKind, Place};
use crate::session::{FORMAT, Session};
use serde::Deserialize;
use std::io::Read;
use std::path::Path;

/// Largest review, bytes: an hour of repetitions is a tenth of it.
const LARGEST: u64 = 64 << 20;

/// Name of a review in the folder that `scaplane review --out` made.
const IN_FOLDER: &str = "review.json";

/// Beginning of every version's name.
const FAMILY: &str = "scaplane.review/";

/// What a file says of itself.
#[derive(Deserialize)]
struct Head {
    format: Option<String>,
}

/// The review in a file, or in a folder of reports; `None` if it is something else, such as a clip.
///
/// # Errors
/// A review of another version, one that is damaged, or one that cannot be read.
pub fn review_of(path: &Path) -> Result<Option<Session>, Fault> {
    let path = match path.is_dir() {
        true => path.join(IN_FOLDER),
        false => path.to_path_buf(),
    };
    let Ok(about) = std::fs::metadata(&path) else {
        return Ok(None);
    };
    if !about.is_file() || about.len() > LARGEST || !begins_an_object(&path) {
        return Ok(None);
    }
    let place = Place::file(path.display().to_string());
    let bytes = std::fs::read(&path).map_err(|error| {
        Fault::new(
            FaultKind::Io,
            "compare/io",
            format!("the file could not be read: {error}"),
            place.clone(),
            "a file that you may read",
        )
    })?;
    let format = serde_json::from_slice::<Head>(&bytes)
        .ok()
        .and_then(|head| head.format);
    match format {
        Some(format) if format == FORMAT => session(&bytes, place).map(Some),
        Some(format) if format.starts_with(FAMILY) => Err(fault(
            "compare/version",
            format!("the review says `{format}`; this program reads `{FORMAT}`"),
            place.field("format"),
            "reviewing the clip again with this version, or the program that wrote it",
        )),
        _ => Ok(None),
    }
}

fn session(bytes: &[u8], place: Place) -> Result<Session, Fault> {
    serde_json::from_slice(bytes).map_err(|error| {
        Fault::new(
            FaultKind::Malformed,
            "compare/malformed",
            format!("the review is damaged: {error}"),
            place.line(error.line() as u64),
            "reviewing the clip again",
        )
    })
}

/// Whether the first sign of a file is that of a JSON object.
fn begins_an_object(path: &Path) -> bool {
    let mut head = [0; 64];
    let read = std::fs::File::open(path).and_then(|mut file| file.read(&mut head));
    let head = read.ok().and_then(|n| head.get(..n));
    head.is_some_and(|head| head.trim_ascii_start().starts_with(b"{"))
}
