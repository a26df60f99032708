//! Repetitions and their readings as table rows.
//!
//! In: a session. Out: one [`RepRow`] a repetition with every reading as words; the few readings of the
//! short table are the first that the exercise judges.

use super::context::Context;
use super::words;
use crate::session::{ReadingRow, Rep, Session};
use serde::Serialize;

/// Columns of readings in the short table: what fits beside number, time and verdict.
const KEY_READINGS: usize = 4;

/// One repetition as a row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RepRow {
    /// Number in the clip.
    pub number: u32,
    /// Set number.
    pub set: u32,
    /// Verdict id.
    pub verdict: &'static str,
    /// Verdict in words.
    pub verdict_words: &'static str,
    /// `00:01.2 to 00:04.6`, or frames.
    pub span: String,
    /// The turning point.
    pub peak: String,
    /// Frame of the turning point.
    pub peak_frame: u64,
    /// Empty, or `incomplete: cut off by the end of the clip`.
    pub incomplete: String,
    /// `5 of 6 judged measures measurable`.
    pub judged: String,
    /// Readings of the short table, in the order of the view's `key_titles`.
    pub key: Vec<Cell>,
    /// Every reading.
    pub readings: Vec<ReadingLine>,
}

/// One cell of the short table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cell {
    /// Value with its unit, or `cannot tell`.
    pub value: String,
    /// Interval, or the reason for the absence.
    pub detail: String,
    /// Verdict id where the measure is judged.
    pub verdict: &'static str,
    /// The verdict in words.
    pub verdict_words: &'static str,
    /// All of it in one line: `31 (24 to 38)°`, or `cannot tell: ` and the reason.
    pub line: String,
}

/// One reading of the full table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingLine {
    /// Measure id.
    pub measure: String,
    /// Title.
    pub title: String,
    /// Definition in one sentence; empty where no card is known.
    pub definition: String,
    /// Value, or empty.
    pub value: String,
    /// `24 to 38`, or empty.
    pub interval: String,
    /// Unit as a word.
    pub unit: String,
    /// Evidence in one word.
    pub basis: &'static str,
    /// Share of frames seen, per cent.
    pub observed: String,
    /// Limit in words, or empty where the measure is not judged.
    pub limit: String,
    /// Verdict id where judged, else empty.
    pub verdict: &'static str,
    /// Verdict in words.
    pub verdict_words: &'static str,
    /// Why there is no value, or empty.
    pub why: String,
}

/// Measures of the short table: those that have a value somewhere. A column of absences says nothing that
/// the list of what could not be seen does not say better; only without any value the first ones stand.
pub fn key_measures(session: &Session, context: &Context) -> Vec<String> {
    let Some(rep) = session.reps.first() else {
        return Vec::new();
    };
    let ordered = context.ordered(rep.readings.keys());
    let has_value = |id: &&&str| {
        session
            .reps
            .iter()
            .filter_map(|rep| rep.readings.get(**id))
            .any(|row| row.value.is_some())
    };
    let mut key: Vec<&str> = ordered.iter().filter(has_value).copied().collect();
    if key.is_empty() {
        key = ordered;
    }
    key.into_iter()
        .take(KEY_READINGS)
        .map(str::to_string)
        .collect()
}

/// One row a repetition.
pub fn rows(session: &Session, context: &Context, key: &[String]) -> Vec<RepRow> {
    session
        .reps
        .iter()
        .map(|rep| RepRow {
            number: rep.number,
            set: rep.set,
            verdict: words::verdict_id(rep.verdict),
            verdict_words: rep.verdict.words(),
            span: span(rep),
            peak: words::moment(rep.peak_s, Some(rep.peak_frame)).unwrap_or_default(),
            peak_frame: rep.peak_frame,
            incomplete: incomplete(rep),
            judged: format!(
                "{} of {} judged measures measurable",
                rep.judged.measurable, rep.judged.of
            ),
            key: key.iter().map(|id| cell(rep, id, context)).collect(),
            readings: context
                .ordered(rep.readings.keys())
                .into_iter()
                .filter_map(|id| Some(line(rep, id, rep.readings.get(id)?, context)))
                .collect(),
        })
        .collect()
}

fn span(rep: &Rep) -> String {
    match (rep.start_s, rep.end_s) {
        (Some(start), Some(end)) => format!("{} to {}", words::clock(start), words::clock(end)),
        _ => format!("frames {} to {}", rep.start_frame, rep.end_frame),
    }
}

fn incomplete(rep: &Rep) -> String {
    match (rep.complete, &rep.incomplete_because) {
        (true, _) => String::new(),
        (false, Some(because)) => format!("incomplete: {because}"),
        (false, None) => "incomplete".to_string(),
    }
}

/// Verdict id and words of a measure in a repetition: its finding's, else within where it is judged and
/// has a value.
fn verdict(rep: &Rep, measure: &str, context: &Context) -> (&'static str, &'static str) {
    if let Some(found) = rep.findings.iter().find(|found| found.measure == measure) {
        return (words::verdict_id(found.verdict), found.verdict.words());
    }
    let has_value = rep
        .readings
        .get(measure)
        .is_some_and(|row| row.value.is_some());
    if context.limit(measure).is_some() && has_value {
        ("within", "within")
    } else {
        ("", "")
    }
}

fn cell(rep: &Rep, measure: &str, context: &Context) -> Cell {
    let (verdict, verdict_words) = verdict(rep, measure, context);
    let Some(row) = rep.readings.get(measure) else {
        return Cell {
            value: "–".into(),
            detail: String::new(),
            verdict,
            verdict_words,
            line: String::new(),
        };
    };
    let (value, interval) = parts(row);
    match value.is_empty() {
        true => Cell {
            value: "cannot tell".into(),
            detail: words::why(row).to_string(),
            verdict,
            verdict_words,
            line: words::reading(row),
        },
        false => Cell {
            value: format!("{value}{}", words::unit(&row.unit)),
            detail: interval,
            verdict,
            verdict_words,
            line: words::reading(row),
        },
    }
}

/// Value and interval of a reading as two strings; both empty where there is no value.
fn parts(row: &ReadingRow) -> (String, String) {
    let (Some(value), Some(low), Some(high)) = (row.value, row.low, row.high) else {
        return (String::new(), String::new());
    };
    let text = words::estimate(value, low, high, &row.unit);
    let (value, rest) = text.split_once(" (").unwrap_or((text.as_str(), ""));
    let interval = rest.split_once(')').map_or(rest, |(interval, _)| interval);
    (value.to_string(), interval.to_string())
}

fn line(rep: &Rep, measure: &str, row: &ReadingRow, context: &Context) -> ReadingLine {
    let (value, interval) = parts(row);
    let (verdict, verdict_words) = verdict(rep, measure, context);
    let why = match value.is_empty() {
        true => words::why(row).to_string(),
        false => String::new(),
    };
    ReadingLine {
        measure: measure.to_string(),
        title: context.title(measure),
        definition: context
            .definitions
            .get(measure)
            .cloned()
            .unwrap_or_default(),
        value,
        interval,
        unit: words::unit_word(&row.unit).to_string(),
        basis: row.basis.map_or("", words::basis),
        observed: row
            .observed
            .map(|share| format!("{:.0} %", share * 100.0))
            .unwrap_or_default(),
        limit: context
            .limit(measure)
            .map(|limit| words::limit(limit.limit, &limit.unit))
            .unwrap_or_default(),
        verdict,
        verdict_words,
        why,
    }
}
