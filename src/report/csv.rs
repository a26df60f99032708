//! `reps.csv`: one row a repetition, for a spreadsheet or a script.
//!
//! In: a session. Out: CSV with a head line. For every measure four columns: value, ends of the 95 %
//! interval and the reason where there is no value; the unit is part of the column's name. An empty cell is
//! an absence, never a zero.

use super::context::Context;
use super::finite::finite;
use super::words;
use crate::session::{Rep, Session};
use std::collections::BTreeSet;

/// Columns before the measures.
const HEAD: [&str; 14] = [
    "number",
    "set",
    "start_frame",
    "peak_frame",
    "end_frame",
    "start_s",
    "peak_s",
    "end_s",
    "complete",
    "incomplete_because",
    "verdict",
    "judged_measurable",
    "judged_of",
    "findings",
];

/// The table as bytes. The error is the writer's, which in memory only fails on uneven rows.
pub fn table(session: &Session, context: &Context) -> Result<Vec<u8>, csv::Error> {
    let session = finite(session);
    let present: BTreeSet<&String> = session
        .reps
        .iter()
        .flat_map(|rep| rep.readings.keys())
        .collect();
    let measures = context.ordered(present.into_iter());
    let mut head: Vec<String> = HEAD.iter().map(ToString::to_string).collect();
    for measure in &measures {
        let unit = session
            .reps
            .iter()
            .find_map(|rep| rep.readings.get(*measure))
            .map_or("", |row| row.unit.as_str());
        head.extend(columns(measure, unit));
    }
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(&head)?;
    for rep in &session.reps {
        writer.write_record(cells(rep, &measures))?;
    }
    writer
        .into_inner()
        .map_err(|error| csv::Error::from(error.into_error()))
}

/// Names of a measure's four columns.
pub fn columns(measure: &str, unit: &str) -> [String; 4] {
    let stem = measure.replace('-', "_");
    let value = match unit {
        "1" | "" => stem.clone(),
        unit => format!("{stem}_{unit}"),
    };
    [
        value.clone(),
        format!("{value}_low"),
        format!("{value}_high"),
        format!("{stem}_why"),
    ]
}

fn cells(rep: &Rep, measures: &[&str]) -> Vec<String> {
    let seconds = |value: Option<f64>| value.map(|s| format!("{s:.3}")).unwrap_or_default();
    let number = |value: Option<f64>| value.map(|v| format!("{v:.4}")).unwrap_or_default();
    let findings: Vec<String> = rep
        .findings
        .iter()
        .map(|found| format!("{}:{}", words::verdict_id(found.verdict), found.code))
        .collect();
    let mut cells = vec![
        rep.number.to_string(),
        rep.set.to_string(),
        rep.start_frame.to_string(),
        rep.peak_frame.to_string(),
        rep.end_frame.to_string(),
        seconds(rep.start_s),
        seconds(rep.peak_s),
        seconds(rep.end_s),
        rep.complete.to_string(),
        rep.incomplete_because.clone().unwrap_or_default(),
        words::verdict_id(rep.verdict).to_string(),
        rep.judged.measurable.to_string(),
        rep.judged.of.to_string(),
        findings.join(" "),
    ];
    for measure in measures {
        let row = rep.readings.get(*measure);
        cells.push(number(row.and_then(|r| r.value)));
        cells.push(number(row.and_then(|r| r.low)));
        cells.push(number(row.and_then(|r| r.high)));
        cells.push(
            row.and_then(|r| r.why.as_ref())
                .map(|why| why.code.clone())
                .unwrap_or_default(),
        );
    }
    cells
}
