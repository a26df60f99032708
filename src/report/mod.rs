//! What people and other tools see of a result. Nothing is computed here.

mod json;
mod text;

use crate::models::{Exercise, Models};
use crate::note::{Fault, FaultKind, Place};
use crate::session::{Review, Session};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Words that are not in the result itself.
pub struct Context {
    title: String,
}

impl Context {
    /// What the data files say about an exercise.
    pub fn of(exercise: &Exercise, _models: &Models) -> Context {
        Context {
            title: exercise.title.clone(),
        }
    }
}

/// The result as JSON text.
pub fn json(session: &Session) -> String {
    json::review(session)
}

/// JSON Schema of the result.
pub fn schema() -> serde_json::Value {
    json::schema()
}

/// The summary for a terminal.
pub fn text(review: &Review, context: &Context, _colour: bool) -> String {
    text::summary(&review.session, &context.title)
}

/// Writes every report into a folder, each as a whole or not at all; returns the paths.
///
/// # Errors
/// When the folder or a file cannot be written.
pub fn write_all(
    folder: &Path,
    review: &Review,
    _context: &Context,
) -> Result<Vec<PathBuf>, Fault> {
    let path = folder.join("review.json");
    let fault = |error: std::io::Error| {
        Fault::new(
            FaultKind::Io,
            "write/io",
            error.to_string(),
            Place::file(path.display().to_string()),
            "another folder",
        )
    };
    std::fs::create_dir_all(folder).map_err(fault)?;
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(fault)?;
    file.write_all(json(&review.session).as_bytes())
        .map_err(fault)?;
    file.persist(&path).map_err(|error| fault(error.error))?;
    Ok(vec![path])
}
