//! The tables of a batch: which columns they have, what stands in them, and how they are written.
//!
//! In: results in order. Out: rows for a `Sink`, which is a file of one format. Every table has the same
//! columns whatever the clips are, so that the parts of several machines fit together; `clip_number` and the
//! order of rows are those of the whole list. The unit is part of a column's name. What is missing is null in
//! Parquet and an empty cell in CSV, never a zero; the reason stands beside it.

mod clips;
mod comma;
mod failures;
#[cfg(feature = "parquet")]
mod parquet;
mod readings;
mod reps;

use super::clip::Clip;
use crate::models::Models;
use crate::note::Fault;
use crate::report;
use crate::session::Session;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// One result with the clip it belongs to.
#[derive(Debug)]
pub struct Entry<'a> {
    /// The clip.
    pub clip: &'a Clip,
    /// Its folder below the output folder.
    pub folder: String,
    /// The result.
    pub session: Session,
}

/// What stands in a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Whole number.
    Whole,
    /// Floating-point number.
    Number,
    /// Text in UTF-8.
    Text,
    /// True or false.
    Truth,
}

/// A column.
#[derive(Debug, Clone)]
pub struct Column {
    /// Name, with the unit at its end.
    pub name: String,
    /// What stands in it.
    pub kind: Kind,
    /// Whether every row has a value.
    pub always: bool,
    /// What it is.
    pub about: String,
}

impl Column {
    fn new(name: impl Into<String>, kind: Kind, always: bool, about: impl Into<String>) -> Column {
        Column {
            name: name.into(),
            kind,
            always,
            about: about.into(),
        }
    }
}

/// Columns given as name, kind, whether always, and what they are.
type Spec = [(&'static str, Kind, bool, &'static str)];

fn columns_of(spec: &Spec) -> Vec<Column> {
    spec.iter()
        .map(|(name, kind, always, about)| Column::new(*name, *kind, *always, *about))
        .collect()
}

/// A cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Null,
    /// Whole number.
    Whole(i64),
    /// Number; never NaN.
    Number(f64),
    /// Text.
    Text(String),
    /// True or false.
    Truth(bool),
}

impl From<f64> for Cell {
    fn from(value: f64) -> Cell {
        match value.is_finite() {
            true => Cell::Number(value),
            false => Cell::Null,
        }
    }
}
impl From<u64> for Cell {
    fn from(value: u64) -> Cell {
        i64::try_from(value).map_or(Cell::Null, Cell::Whole)
    }
}
impl From<u32> for Cell {
    fn from(value: u32) -> Cell {
        Cell::Whole(i64::from(value))
    }
}
impl From<bool> for Cell {
    fn from(value: bool) -> Cell {
        Cell::Truth(value)
    }
}
impl From<&str> for Cell {
    fn from(value: &str) -> Cell {
        Cell::Text(value.to_string())
    }
}
impl From<&String> for Cell {
    fn from(value: &String) -> Cell {
        Cell::Text(value.clone())
    }
}
impl<T: Into<Cell>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Cell {
        value.map_or(Cell::Null, Into::into)
    }
}

/// Columns with which every table of clips, repetitions and readings begins.
const LEAD: &Spec = &[
    (
        "clip_number",
        Kind::Whole,
        true,
        "number of the clip in the whole list, from 1",
    ),
    ("clip", Kind::Text, true, "path of the clip as listed"),
    (
        "person",
        Kind::Text,
        false,
        "pseudonym of the patient, from the manifest",
    ),
    (
        "date",
        Kind::Text,
        false,
        "day of the session, YYYY-MM-DD, from the manifest",
    ),
    ("exercise", Kind::Text, true, "exercise id"),
    ("side", Kind::Text, true, "arm measured: left or right"),
];

fn lead(result: &Entry<'_>) -> Vec<Cell> {
    let clip = result.clip;
    vec![
        clip.number.into(),
        (&clip.shown).into(),
        clip.about.person.as_ref().into(),
        clip.about.date.as_ref().into(),
        (&result.session.exercise).into(),
        result.session.side.id().into(),
    ]
}

/// A table that is being written in one format.
trait Sink {
    /// Adds a row with a cell for each column.
    fn row(&mut self, cells: Vec<Cell>) -> std::io::Result<()>;
    /// Writes what is left; the file is whole then, under its temporary name.
    fn finish(self: Box<Self>) -> std::io::Result<tempfile::NamedTempFile>;
}

/// Kinds of tables made of results.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Content {
    Clips,
    Reps,
    Readings,
}

/// A table by its file name.
struct Table {
    name: &'static str,
    content: Content,
}

/// Every table made of results; without Parquet the long one is CSV too.
#[cfg(feature = "parquet")]
const TABLES: [Table; 4] = [
    Table {
        name: "batch.csv",
        content: Content::Clips,
    },
    Table {
        name: "reps.csv",
        content: Content::Reps,
    },
    Table {
        name: "reps.parquet",
        content: Content::Reps,
    },
    Table {
        name: "readings.parquet",
        content: Content::Readings,
    },
];
#[cfg(not(feature = "parquet"))]
const TABLES: [Table; 3] = [
    Table {
        name: "batch.csv",
        content: Content::Clips,
    },
    Table {
        name: "reps.csv",
        content: Content::Reps,
    },
    Table {
        name: "readings.csv",
        content: Content::Readings,
    },
];

/// Name of the table of failures.
pub const FAILURES: &str = "failures.csv";

/// Every file name that a table may have, in this build or another.
pub const NAMES: [&str; 6] = [
    "batch.csv",
    "reps.csv",
    "reps.parquet",
    "readings.parquet",
    "readings.csv",
    FAILURES,
];

impl Content {
    fn columns(self) -> Vec<Column> {
        match self {
            Content::Clips => clips::columns(),
            Content::Reps => reps::columns(),
            Content::Readings => readings::columns(),
        }
    }

    fn rows(self, result: &Entry<'_>, models: &Models) -> Vec<Vec<Cell>> {
        match self {
            Content::Clips => vec![clips::row(result)],
            Content::Reps => reps::rows(result),
            Content::Readings => readings::rows(result, models),
        }
    }
}

fn sink(dir: &Path, name: &str, columns: &[Column]) -> std::io::Result<Box<dyn Sink>> {
    let file = report::temporary(dir)?;
    #[cfg(feature = "parquet")]
    if name.ends_with(".parquet") {
        return Ok(Box::new(parquet::Parquet::new(file, columns)?));
    }
    let _ = name;
    Ok(Box::new(comma::Comma::new(file, columns)?))
}

/// All tables of a run, open for rows.
pub struct Tables {
    dir: PathBuf,
    open: Vec<(&'static str, Content, Box<dyn Sink>)>,
    failures: Box<dyn Sink>,
}

impl Tables {
    /// Opens them under temporary names in the output folder.
    pub fn new(dir: &Path) -> Result<Tables, Fault> {
        let fault = |error: std::io::Error| report::write_fault(dir, &error);
        let mut open = Vec::new();
        for table in TABLES {
            let sink = sink(dir, table.name, &table.content.columns()).map_err(fault)?;
            open.push((table.name, table.content, sink));
        }
        Ok(Tables {
            dir: dir.to_path_buf(),
            open,
            failures: sink(dir, FAILURES, &failures::columns()).map_err(fault)?,
        })
    }

    /// Adds the rows of a result.
    pub fn add(&mut self, result: &Entry<'_>, models: &Models) -> Result<(), Fault> {
        let mut made: Vec<(Content, Vec<Vec<Cell>>)> = Vec::new();
        for (name, content, sink) in &mut self.open {
            if !made.iter().any(|(of, _)| of == content) {
                made.push((*content, content.rows(result, models)));
            }
            let rows = made.iter().find(|(of, _)| of == content);
            for row in rows.into_iter().flat_map(|(_, rows)| rows) {
                sink.row(row.clone())
                    .map_err(|error| report::write_fault(&self.dir.join(*name), &error))?;
            }
        }
        Ok(())
    }

    /// Adds a clip that could not be done.
    pub fn fail(&mut self, clip: &Clip, fault: &Fault) -> Result<(), Fault> {
        self.failures
            .row(failures::row(clip, fault))
            .map_err(|error| report::write_fault(&self.dir.join(FAILURES), &error))
    }

    /// Writes what is left and gives the tables their names, one after another; the failures first, so that no
    /// table of results stands without them.
    pub fn finish(self) -> Result<Vec<PathBuf>, Fault> {
        let mut whole = Vec::new();
        let all = std::iter::once((FAILURES, self.failures))
            .chain(self.open.into_iter().map(|(name, _, sink)| (name, sink)));
        for (name, sink) in all {
            let path = self.dir.join(name);
            let file = sink
                .finish()
                .and_then(|file| file.as_file().sync_all().map(|()| file))
                .map_err(|error| report::write_fault(&path, &error))?;
            whole.push((path, file));
        }
        let mut written = Vec::new();
        for (path, file) in whole {
            file.persist(&path)
                .map_err(|error| report::write_fault(&path, &error.error))?;
            written.push(path);
        }
        Ok(written)
    }
}

/// The schema of every table, after the Table Schema of the Frictionless standards: name, type, description and
/// whether a value is required.
pub fn schema() -> Value {
    let fields = |columns: Vec<Column>| -> Vec<Value> {
        columns
            .into_iter()
            .map(|column| {
                json!({
                    "name": column.name,
                    "type": match column.kind {
                        Kind::Whole => "integer",
                        Kind::Number => "number",
                        Kind::Text => "string",
                        Kind::Truth => "boolean",
                    },
                    "description": column.about,
                    "constraints": { "required": column.always },
                })
            })
            .collect()
    };
    let mut resources: Vec<Value> = TABLES
        .iter()
        .map(|table| {
            json!({
                "name": table.name,
                "path": table.name,
                "schema": { "fields": fields(table.content.columns()), "missingValues": [""] },
            })
        })
        .collect();
    resources.push(json!({
        "name": FAILURES,
        "path": FAILURES,
        "schema": { "fields": fields(failures::columns()), "missingValues": [""] },
    }));
    json!({ "name": "scaplane-batch", "resources": resources })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn column_names_are_plain_unique_and_carry_their_unit() {
        for content in [Content::Clips, Content::Reps, Content::Readings] {
            let columns = content.columns();
            let names: BTreeSet<&str> = columns.iter().map(|c| c.name.as_str()).collect();
            assert_eq!(names.len(), columns.len(), "{content:?}");
            for column in &columns {
                assert!(
                    column
                        .name
                        .chars()
                        .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_'),
                    "{}",
                    column.name
                );
                assert!(!column.about.is_empty(), "{}", column.name);
            }
        }
        let reps = Content::Reps.columns();
        assert!(reps.len() > 100, "{}", reps.len());
        for name in [
            "peak_elevation_deg",
            "peak_elevation_deg_low",
            "peak_elevation_why",
            "start_s",
        ] {
            assert!(reps.iter().any(|column| column.name == name), "{name}");
        }
    }
}
