//! `reps.csv`, `reps.parquet`: one row a repetition, with four columns for every measure there is.

use super::{Cell, Column, Entry, Kind, LEAD, Spec, columns_of, lead};
use crate::measures;
use crate::report::{csv, words};

const OWN: &Spec = &[
    ("set", Kind::Whole, true, "set, from 1"),
    ("rep", Kind::Whole, true, "repetition in the clip, from 1"),
    ("start_frame", Kind::Whole, true, "first frame, from 0"),
    (
        "peak_frame",
        Kind::Whole,
        true,
        "frame of the turning point",
    ),
    ("end_frame", Kind::Whole, true, "last frame"),
    (
        "start_s",
        Kind::Number,
        false,
        "start; null where no rate is known",
    ),
    (
        "peak_s",
        Kind::Number,
        false,
        "turning point; null where no rate is known",
    ),
    (
        "end_s",
        Kind::Number,
        false,
        "end; null where no rate is known",
    ),
    (
        "complete",
        Kind::Truth,
        true,
        "false where it was cut off or fell short",
    ),
    (
        "incomplete_because",
        Kind::Text,
        false,
        "why it is incomplete",
    ),
    (
        "verdict",
        Kind::Text,
        true,
        "within, near, outside or cannot-tell",
    ),
    (
        "judged_measurable",
        Kind::Whole,
        true,
        "judged measures with a value narrow enough to judge",
    ),
    ("judged_of", Kind::Whole, true, "judged measures"),
    (
        "findings",
        Kind::Text,
        false,
        "findings as verdict:code, spaces between",
    ),
];

pub(super) fn columns() -> Vec<Column> {
    let mut columns = columns_of(LEAD);
    columns.extend(columns_of(OWN));
    for card in measures::cards() {
        let [value, low, high, why] = csv::columns(card.id, card.unit);
        let about = format!(
            "{}; null where the exercise has it not or it is not measurable",
            card.title
        );
        columns.push(Column::new(value, Kind::Number, false, about));
        for (name, end) in [(low, "lower"), (high, "upper")] {
            let about = format!("{end} end of its 95 % interval");
            columns.push(Column::new(name, Kind::Number, false, about));
        }
        let about = "code of the reason why there is no value; see `scaplane explain`";
        columns.push(Column::new(why, Kind::Text, false, about));
    }
    columns
}

pub(super) fn rows(result: &Entry<'_>) -> Vec<Vec<Cell>> {
    let reps = result.session.reps.iter();
    reps.map(|rep| {
        let findings: Vec<String> = rep
            .findings
            .iter()
            .map(|found| format!("{}:{}", words::verdict_id(found.verdict), found.code))
            .collect();
        let findings = Some(findings.join(" ")).filter(|text| !text.is_empty());
        let mut cells = lead(result);
        cells.extend([
            rep.set.into(),
            rep.number.into(),
            rep.start_frame.into(),
            rep.peak_frame.into(),
            rep.end_frame.into(),
            rep.start_s.into(),
            rep.peak_s.into(),
            rep.end_s.into(),
            rep.complete.into(),
            rep.incomplete_because.as_ref().into(),
            words::verdict_id(rep.verdict).into(),
            rep.judged.measurable.into(),
            rep.judged.of.into(),
            findings.as_ref().into(),
        ]);
        for card in measures::cards() {
            let row = rep.readings.get(card.id);
            cells.push(row.and_then(|row| row.value).into());
            cells.push(row.and_then(|row| row.low).into());
            cells.push(row.and_then(|row| row.high).into());
            let why = row.and_then(|row| row.why.as_ref());
            cells.push(why.map(|why| &why.code).into());
        }
        cells
    })
    .collect()
}
