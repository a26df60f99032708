//! `readings.parquet`: the long table, one row a repetition and measure, with its verdict and margin.

use super::{Cell, Column, Entry, Kind, LEAD, Spec, columns_of, lead};
use crate::models::Models;
use crate::report::words;

const OWN: &Spec = &[
    ("set", Kind::Whole, true, "set, from 1"),
    ("rep", Kind::Whole, true, "repetition in the clip, from 1"),
    (
        "rep_complete",
        Kind::Truth,
        true,
        "false where the repetition was cut off or fell short",
    ),
    (
        "measure",
        Kind::Text,
        true,
        "measure id; see `scaplane measures`",
    ),
    (
        "unit",
        Kind::Text,
        true,
        "unit of value, low, high, limits and margin: deg, s, deg_s or 1",
    ),
    (
        "value",
        Kind::Number,
        false,
        "value; null where not measurable",
    ),
    ("low", Kind::Number, false, "lower end of the 95 % interval"),
    (
        "high",
        Kind::Number,
        false,
        "upper end of the 95 % interval",
    ),
    (
        "basis",
        Kind::Text,
        false,
        "evidence: direct, calibrated or proxy",
    ),
    (
        "observed",
        Kind::Number,
        false,
        "share of its frames that were seen, 0..1",
    ),
    (
        "why",
        Kind::Text,
        false,
        "code of the reason why there is no value; see `scaplane explain`",
    ),
    (
        "verdict",
        Kind::Text,
        false,
        "within, near, outside or cannot-tell; null where the exercise does not judge it",
    ),
    (
        "finding",
        Kind::Text,
        false,
        "code of the finding, where the verdict is not within",
    ),
    (
        "limit_low",
        Kind::Number,
        false,
        "lower limit; null where open or not judged",
    ),
    (
        "limit_high",
        Kind::Number,
        false,
        "upper limit; null where open or not judged",
    ),
    (
        "margin",
        Kind::Number,
        false,
        "distance of the value from the nearest limit, positive inside",
    ),
];

pub(super) fn columns() -> Vec<Column> {
    let mut columns = columns_of(LEAD);
    columns.extend(columns_of(OWN));
    columns
}

pub(super) fn rows(result: &Entry<'_>, models: &Models) -> Vec<Vec<Cell>> {
    let session = &result.session;
    let exercise = models.exercise(&session.exercise);
    let start = lead(result);
    let mut rows = Vec::new();
    for rep in &session.reps {
        for (measure, row) in &rep.readings {
            let limit = exercise.and_then(|exercise| exercise.limit(measure));
            let found = rep.findings.iter().find(|found| &found.measure == measure);
            let verdict = match (found, limit, row.value) {
                (Some(found), _, _) => Some(words::verdict_id(found.verdict)),
                (None, Some(_), Some(_)) => Some("within"),
                (None, Some(_), None) => Some("cannot-tell"),
                (None, None, _) => None,
            };
            let margin = limit
                .zip(row.value)
                .map(|(limit, value)| limit.margin(value));
            let mut cells = start.clone();
            cells.extend([
                rep.set.into(),
                rep.number.into(),
                rep.complete.into(),
                measure.into(),
                (&row.unit).into(),
                row.value.into(),
                row.low.into(),
                row.high.into(),
                row.basis.map(words::basis).into(),
                row.observed.into(),
                row.why.as_ref().map(|why| &why.code).into(),
                verdict.into(),
                found.map(|found| &found.code).into(),
                limit.and_then(|limit| limit.low).into(),
                limit.and_then(|limit| limit.high).into(),
                margin.into(),
            ]);
            rows.push(cells);
        }
    }
    rows
}
