//! `sessions.csv` and `readings.csv`: the casebook for a spreadsheet or a script (RFC 4180).
//!
//! In: entries. Out: tables with one row a session, and one a repetition and measure. An empty cell is an absence,
//! never a zero. A text that a spreadsheet would take for a formula (it begins with = + - @, a tab or a return) is
//! written with an apostrophe before it; numbers are written as they are.

use crate::note::Fault;
use crate::report::refused;
use crate::report::words;
use crate::session::{Space, Verdict};
use crate::store::Entry;
use serde_json::{Value, json};

/// A cell.
enum Cell {
    Absent,
    Text(String),
    Number(f64),
    Whole(u64),
    Truth(bool),
}

impl Cell {
    fn text(text: Option<&str>) -> Cell {
        text.map_or(Cell::Absent, |text| Cell::Text(text.to_string()))
    }

    fn number(number: Option<f64>) -> Cell {
        number
            .filter(|number| number.is_finite())
            .map_or(Cell::Absent, Cell::Number)
    }

    fn written(&self) -> String {
        match self {
            Cell::Absent => String::new(),
            Cell::Text(text) if text.starts_with(['=', '+', '-', '@', '\t', '\r']) => {
                format!("'{text}")
            }
            Cell::Text(text) => text.clone(),
            Cell::Number(number) => number.to_string(),
            Cell::Whole(number) => number.to_string(),
            Cell::Truth(truth) => truth.to_string(),
        }
    }
}

/// Name, type of Table Schema, what it holds.
type Column = (&'static str, &'static str, &'static str);

const SESSIONS: [Column; 28] = [
    (
        "session",
        "integer",
        "number in the casebook; never given twice",
    ),
    ("person", "string", "pseudonym"),
    ("date", "date", "day of the session"),
    ("exercise", "string", "exercise id"),
    ("side", "string", "arm: left or right"),
    (
        "weeks_since_operation",
        "number",
        "weeks from the operation to the session",
    ),
    ("operation_date", "date", "day of the operation"),
    ("phase", "string", "phase in the clinic's words"),
    ("load_kg", "number", "load, kilograms"),
    ("resistance", "string", "band, cable or wall, in words"),
    (
        "pain_limit",
        "number",
        "pain at which the person stops, 0 to 10",
    ),
    ("pain_before", "number", "pain before, 0 to 10, as told"),
    (
        "pain_during",
        "number",
        "worst pain during, 0 to 10, as told",
    ),
    ("pain_after", "number", "pain after, 0 to 10, as told"),
    ("effort", "number", "effort, 0 to 10, as told"),
    ("remark", "string", "remark of whoever entered it"),
    ("reps", "integer", "repetitions found"),
    ("reps_complete", "integer", "of these: complete"),
    ("reps_outside", "integer", "of the complete: outside"),
    ("reps_near", "integer", "of the complete: near"),
    ("reps_within", "integer", "of the complete: within"),
    (
        "reps_cannot_tell",
        "integer",
        "of the complete: cannot tell",
    ),
    ("space", "string", "what angles come from: image or world"),
    ("view", "string", "view of the person"),
    ("layout", "string", "keypoint layout id"),
    ("reader", "string", "file format id"),
    (
        "program_version",
        "string",
        "version of the program that reviewed it",
    ),
    (
        "review_sha256",
        "string",
        "SHA-256 of the stored review.json",
    ),
];

const READINGS: [Column; 16] = [
    ("session", "integer", "number in the casebook"),
    ("person", "string", "pseudonym"),
    ("date", "date", "day of the session"),
    ("exercise", "string", "exercise id"),
    ("side", "string", "arm: left or right"),
    ("set", "integer", "set, from 1"),
    ("rep", "integer", "repetition in the clip, from 1"),
    (
        "rep_complete",
        "boolean",
        "false where it was cut off or fell short",
    ),
    ("measure", "string", "measure id; see `scaplane measures`"),
    (
        "unit",
        "string",
        "unit of value, low and high: deg, s, deg_s or 1",
    ),
    ("value", "number", "value; empty where not measurable"),
    ("low", "number", "lower end of the 95 % interval"),
    ("high", "number", "upper end of the 95 % interval"),
    ("basis", "string", "evidence: direct, calibrated or proxy"),
    (
        "observed",
        "number",
        "share of its frames that were seen, 0 to 1",
    ),
    ("why", "string", "code of the reason why there is no value"),
];

/// Both tables by name.
///
/// # Errors
/// Only when the writing library refuses.
pub fn write(entries: &[Entry]) -> Result<Vec<(&'static str, Vec<u8>)>, Fault> {
    let sessions = entries.iter().map(session);
    let readings = entries.iter().flat_map(readings);
    Ok(vec![
        ("sessions.csv", table("sessions.csv", &SESSIONS, sessions)?),
        ("readings.csv", table("readings.csv", &READINGS, readings)?),
    ])
}

fn table(
    name: &str,
    columns: &[Column],
    rows: impl Iterator<Item = Vec<Cell>>,
) -> Result<Vec<u8>, Fault> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut put = |row: Vec<String>| {
        writer
            .write_record(row)
            .map_err(|error| refused(name, error))
    };
    put(columns.iter().map(|(name, ..)| name.to_string()).collect())?;
    for row in rows {
        put(row.iter().map(Cell::written).collect())?;
    }
    writer.into_inner().map_err(|error| refused(name, error))
}

fn lead(entry: &Entry) -> Vec<Cell> {
    vec![
        Cell::Whole(entry.number.unsigned_abs()),
        Cell::Text(entry.person.clone()),
        Cell::Text(entry.date.clone()),
        Cell::Text(entry.session.exercise.clone()),
        Cell::Text(entry.session.side.id().to_string()),
    ]
}

fn session(entry: &Entry) -> Vec<Cell> {
    let (session, told) = (&entry.session, &entry.told);
    let complete = || session.reps.iter().filter(|rep| rep.complete);
    let count = |verdict: Verdict| {
        Cell::Whole(complete().filter(|rep| rep.verdict == verdict).count() as u64)
    };
    let said = told.reported;
    let mut row = lead(entry);
    row.extend([
        Cell::number(entry.weeks_since_operation),
        Cell::text(told.operation_date.as_deref()),
        Cell::text(told.phase.as_deref()),
        Cell::number(told.load_kg),
        Cell::text(told.resistance.as_deref()),
        Cell::number(told.pain_limit),
        Cell::number(said.pain_before),
        Cell::number(said.pain_during),
        Cell::number(said.pain_after),
        Cell::number(said.effort),
        Cell::text(told.remark.as_deref()),
        Cell::Whole(session.reps.len() as u64),
        Cell::Whole(complete().count() as u64),
        count(Verdict::Outside),
        count(Verdict::Near),
        count(Verdict::Within),
        count(Verdict::CannotTell),
        Cell::Text(
            match session.clip.space {
                Space::Image => "image",
                Space::World => "world",
            }
            .to_string(),
        ),
        Cell::text(session.clip.view.as_ref().map(|view| view.name.as_str())),
        Cell::Text(session.clip.layout.clone()),
        Cell::Text(session.clip.reader.clone()),
        Cell::Text(session.program.version.clone()),
        Cell::Text(entry.sha256.clone()),
    ]);
    row
}

fn readings(entry: &Entry) -> Vec<Vec<Cell>> {
    let reps = entry.session.reps.iter();
    reps.flat_map(|rep| rep.readings.iter().map(move |reading| (rep, reading)))
        .map(|(rep, (measure, reading))| {
            let mut row = lead(entry);
            row.extend([
                Cell::Whole(u64::from(rep.set)),
                Cell::Whole(u64::from(rep.number)),
                Cell::Truth(rep.complete),
                Cell::Text(measure.clone()),
                Cell::Text(reading.unit.clone()),
                Cell::number(reading.value),
                Cell::number(reading.low),
                Cell::number(reading.high),
                Cell::text(reading.basis.map(words::basis)),
                Cell::number(reading.observed),
                Cell::text(reading.why.as_ref().map(|why| why.code.as_str())),
            ]);
            row
        })
        .collect()
}

/// Table Schema of both tables.
pub fn schema() -> Value {
    let fields = |columns: &[Column]| -> Vec<Value> {
        columns
            .iter()
            .map(|(name, kind, about)| json!({ "name": name, "type": kind, "description": about }))
            .collect()
    };
    json!({
        "description": "An empty cell is an absence. A text that begins with = + - @, a tab or a return has an apostrophe before it.",
        "resources": [
            { "name": "sessions", "path": "sessions.csv", "schema": { "fields": fields(&SESSIONS), "primaryKey": ["session"] } },
            { "name": "readings", "path": "readings.csv", "schema": { "fields": fields(&READINGS), "primaryKey": ["session", "rep", "measure"] } },
        ],
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_becomes_a_formula() {
        let text = |text: &str| Cell::Text(text.into()).written();
        for formula in ["=1+1", "+1", "-1", "@x", "\tx", "\rx"] {
            assert_eq!(text(formula), format!("'{formula}"));
        }
        assert_eq!(text("P-01"), "P-01");
        assert_eq!(Cell::Number(-1.5).written(), "-1.5");
        assert_eq!(Cell::number(Some(f64::NAN)).written(), "");
    }
}
