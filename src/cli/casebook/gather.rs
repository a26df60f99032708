//! The results that a path stands for: a review.json, a folder with some, or the output folder of a batch, whose
//! batch.csv says whose and of which day each is.

use crate::note::{Fault, FaultKind, Place};
use crate::session::{FORMAT, Session};
use std::path::{Path, PathBuf};

/// Name of a result.
const NAME: &str = "review.json";
/// Table of a batch.
const TABLE: &str = "batch.csv";
/// Greatest size of a result, bytes: an hour of repetitions has a few million.
const LARGEST: u64 = 64 << 20;
/// How deep folders are searched.
const DEEPEST: usize = 8;

/// A result that was found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Found {
    /// Its file.
    pub path: PathBuf,
    /// Whose it is, as the batch says.
    pub person: Option<String>,
    /// Of which day, as the batch says.
    pub date: Option<String>,
}

/// Results below a path, in order.
pub fn gather(path: &Path) -> Result<Vec<Found>, Fault> {
    if !path.is_dir() {
        return Ok(vec![Found {
            path: path.to_path_buf(),
            ..Found::default()
        }]);
    }
    let found = match path.join(TABLE).is_file() {
        true => of_batch(path)?,
        false => {
            let mut found = Vec::new();
            below(path, 0, &mut found);
            found.sort_by(|a, b| a.path.cmp(&b.path));
            found
        }
    };
    match found.is_empty() {
        true => Err(not_a_review(
            path,
            "no review.json is in the folder or below it",
        )),
        false => Ok(found),
    }
}

fn below(folder: &Path, depth: usize, found: &mut Vec<Found>) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        let is_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        if is_folder && depth < DEEPEST {
            below(&path, depth + 1, found);
        } else if entry.file_name() == NAME {
            found.push(Found {
                path,
                ..Found::default()
            });
        }
    }
}

/// The rows of a batch's table.
fn of_batch(folder: &Path) -> Result<Vec<Found>, Fault> {
    let path = folder.join(TABLE);
    let bad = |what: String| not_a_review(&path, &what);
    let mut table = csv::Reader::from_path(&path).map_err(|error| bad(error.to_string()))?;
    let head = table
        .headers()
        .map_err(|error| bad(error.to_string()))?
        .clone();
    let column = |name: &str| head.iter().position(|title| title == name);
    let place = column("folder").ok_or_else(|| bad("the table has no column `folder`".into()))?;
    let (person, date) = (column("person"), column("date"));
    let mut found = Vec::new();
    for row in table.records() {
        let row = row.map_err(|error| bad(error.to_string()))?;
        let cell = |column: Option<usize>| {
            let text = row.get(column?)?.trim();
            (!text.is_empty()).then(|| bare(text).to_string())
        };
        let below = cell(Some(place)).ok_or_else(|| bad("a row has no folder".into()))?;
        found.push(Found {
            path: folder.join(below).join(NAME),
            person: cell(person),
            date: cell(date),
        });
    }
    Ok(found)
}

/// A cell without the apostrophe that keeps it from being a formula.
fn bare(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if rest.starts_with(['=', '+', '-', '@']) => rest,
        _ => cell,
    }
}

/// Text and content of a result.
pub fn read(path: &Path) -> Result<(String, Session), Fault> {
    let name = path.display().to_string();
    let unread = |error: std::io::Error| {
        Fault::new(
            FaultKind::Io,
            "casebook/unread",
            format!("the result could not be read: {error}"),
            Place::file(name.clone()),
            "the review.json that `scaplane review --out` or `scaplane batch` writes",
        )
    };
    let size = std::fs::metadata(path).map_err(unread)?.len();
    if size > LARGEST {
        return Err(not_a_review(
            path,
            &format!("it has {size} bytes, no result has more than {LARGEST}"),
        ));
    }
    let text = std::fs::read_to_string(path).map_err(unread)?;
    let session: Session =
        serde_json::from_str(&text).map_err(|error| not_a_review(path, &error.to_string()))?;
    if session.format != FORMAT {
        let what = format!("it is `{}`, not `{FORMAT}`", session.format);
        return Err(not_a_review(path, &what));
    }
    Ok((text, session))
}

fn not_a_review(path: &Path, what: &str) -> Fault {
    let what: String = what.chars().filter(|c| !c.is_control()).take(200).collect();
    Fault::new(
        FaultKind::Malformed,
        "casebook/not-a-review",
        format!("this is no result that a casebook takes: {what}"),
        Place::file(path.display().to_string()),
        "the review.json that `scaplane review --out` writes, or the folder of a batch",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_of_a_batch_says_whose_and_when() {
        let dir = tempfile::tempdir().unwrap();
        let table = "clip_number,clip,person,date,folder\n1,a.csv,'-P,2026-03-02,clips/a-1\n2,b.csv,,,clips/b-2/left\n";
        std::fs::write(dir.path().join(TABLE), table).unwrap();
        let found = gather(dir.path()).unwrap();
        assert_eq!(found[0].person.as_deref(), Some("-P"));
        assert_eq!(found[0].date.as_deref(), Some("2026-03-02"));
        assert_eq!(found[1].path, dir.path().join("clips/b-2/left/review.json"));
        assert_eq!((&found[1].person, &found[1].date), (&None, &None));
    }
}
