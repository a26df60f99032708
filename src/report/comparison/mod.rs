//! Two sessions side by side as people read them: terminal, page and files.
//!
//! In: a [`Comparison`]. Out: [`Sheet`], rows of words that page and terminal lay out alike. Nothing is computed
//! here.

mod html;
mod plot;
mod text;

pub use html::page;
pub use text::terminal;

use super::context::Context;
use super::{Settling, json, refused, words, write_files};
use crate::compare::{Addition, Between, Comparison, GivenAs, Mean, Party, Row, Verdict};
use crate::note::Fault;
use crate::session::Space;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Names of the files.
const NAMES: [&str; 2] = ["compare.html", "compare.json"];

/// Writes `compare.html` and `compare.json`.
///
/// # Errors
/// When the folder cannot be written, or the disk is full.
pub fn write(
    dir: &Path,
    comparison: &Comparison,
    context: &Context,
) -> Result<Vec<PathBuf>, Fault> {
    let [page_name, json_name] = NAMES;
    let page = page(comparison, context).map_err(|error| refused(page_name, error))?;
    let files = [
        (page_name.to_string(), page.into_bytes()),
        (
            json_name.to_string(),
            json::comparison(comparison).into_bytes(),
        ),
    ];
    write_files(dir, &files, &NAMES, Settling::Now)
}

/// A comparison in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sheet {
    /// `Left and right arm compared: Raise in the scapular plane`.
    pub title: String,
    /// What A and B are.
    pub parties: [String; 2],
    /// `right minus left`.
    pub minus: String,
    /// The same as the title of a column.
    pub minus_title: String,
    /// How many measures came out how.
    pub headline: String,
    /// The first caution: what the reference is worth.
    pub reference: String,
    /// What makes the two unlike beside what is compared.
    pub notes: Vec<Line>,
    /// Measures with a difference, in the order of the exercise.
    pub compared: Vec<RowWords>,
    /// Measures without one.
    pub absent: Vec<RowWords>,
    /// How the numbers came about.
    pub method: Vec<String>,
    /// The other cautions.
    pub cautions: Vec<String>,
}

/// A note with its code.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Line {
    /// Words.
    pub text: String,
    /// Code.
    pub code: String,
}

/// A measure in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RowWords {
    /// Measure id.
    pub measure: String,
    /// Title.
    pub title: String,
    /// Definition in one sentence; empty where no card is known.
    pub definition: String,
    /// Verdict id.
    pub verdict: &'static str,
    /// Verdict in words.
    pub verdict_words: &'static str,
    /// The difference and what it is held against, in a sentence; empty without one.
    pub sentence: String,
    /// Value and interval of both, or the reason of the absence.
    pub values: [String; 2],
    /// How many repetitions, and the evidence, of both.
    pub basis: [String; 2],
    /// `−28 (−40 to −16)°`; empty without one.
    pub difference: String,
    /// `10°`, or `none published`.
    pub floor: String,
    /// Citations of the floor, and how it was had.
    pub floor_source: String,
    /// Why it cannot be told; empty where it can.
    pub why: String,
}

impl Sheet {
    /// The words of a comparison.
    pub fn of(comparison: &Comparison, context: &Context) -> Sheet {
        let minus = minus(comparison);
        let rows = |with: bool| -> Vec<RowWords> {
            let rows = comparison.measures.iter();
            rows.filter(|row| row.difference.is_some() == with)
                .map(|row| row_words(row, &minus, context))
                .collect()
        };
        let mut cautions = comparison.cautions.iter().cloned();
        Sheet {
            title: format!("{}: {}", what(comparison), context.exercise_title),
            parties: [party("A", &comparison.a), party("B", &comparison.b)],
            headline: headline(&comparison.measures),
            reference: cautions.next().unwrap_or_default(),
            notes: comparison
                .notes
                .iter()
                .map(|note| Line {
                    text: note.text.clone(),
                    code: note.code.clone(),
                })
                .collect(),
            compared: rows(true),
            absent: rows(false),
            method: method(comparison, &minus),
            cautions: cautions.collect(),
            minus_title: capital(&minus),
            minus,
        }
    }
}

fn what(comparison: &Comparison) -> String {
    let side = comparison.b.side.id();
    match comparison.between {
        Between::Arms => "Left and right arm compared".to_string(),
        Between::Sessions => format!("Two recordings of the {side} arm compared"),
    }
}

fn minus(comparison: &Comparison) -> String {
    match comparison.between {
        Between::Arms => format!(
            "{} minus {}",
            comparison.b.side.id(),
            comparison.a.side.id()
        ),
        Between::Sessions => match (&comparison.b.name, &comparison.a.name) {
            (Some(b), Some(a)) => format!("{b} minus {a}"),
            _ => "B minus A".to_string(),
        },
    }
}

/// `A: right arm, week 12, track.json.gz, 6 complete repetitions of 7, seen from the front`.
fn party(letter: &str, party: &Party) -> String {
    let mut parts = vec![format!("{} arm", party.side.id())];
    parts.extend(party.name.clone());
    parts.push(match party.given_as {
        GivenAs::Clip => party.source.clone(),
        GivenAs::Review => format!("{} (a review made before)", party.source),
    });
    parts.push(format!(
        "{} of {} complete",
        party.complete,
        words::count(party.repetitions as usize, "repetition")
    ));
    parts.push(match (party.space, &party.view) {
        (Space::World, _) => "points in space".to_string(),
        (Space::Image, Some(view)) => format!("seen from {}", view.name),
        (Space::Image, None) => "view unknown".to_string(),
    });
    format!("{letter}: {}", parts.join(", "))
}

fn headline(rows: &[Row]) -> String {
    let count = |verdict: Verdict| rows.iter().filter(|row| row.verdict == verdict).count();
    let counts: Vec<String> = Verdict::ALL
        .iter()
        .map(|verdict| format!("{} {}", count(*verdict), verdict.words()))
        .collect();
    format!(
        "Of {}: {}.",
        words::count(rows.len(), "measure"),
        counts.join(", ")
    )
}

fn row_words(row: &Row, minus: &str, context: &Context) -> RowWords {
    let difference = row.difference.map_or_else(String::new, |d| {
        words::estimate(d.value, d.low, d.high, &row.unit)
    });
    let floor = row.floor.value.map_or_else(
        || "none published".to_string(),
        |floor| words::limit([None, Some(floor)], &row.unit).replacen("at most ", "", 1),
    );
    let why = row.why.as_ref().map_or("", |why| why.text.as_str());
    let sentence = match (row.difference.is_some(), row.verdict) {
        (false, _) => String::new(),
        (true, Verdict::Different) => {
            format!("{minus}: {difference}, all of it beyond the error of the measure, {floor}.")
        }
        (true, Verdict::NotDistinguishable) => {
            format!("{minus}: {difference}, all of it within the error of the measure, {floor}.")
        }
        (true, Verdict::CannotTell) if row.floor.value.is_none() => {
            format!("{minus}: {difference}; {why}.")
        }
        (true, Verdict::CannotTell) => {
            format!("{minus}: {difference}; error of the measure {floor}: {why}.")
        }
    };
    RowWords {
        measure: row.measure.clone(),
        title: row.title.clone(),
        definition: context
            .definitions
            .get(&row.measure)
            .cloned()
            .unwrap_or_default(),
        verdict: row.verdict.id(),
        verdict_words: row.verdict.words(),
        sentence: capital(&sentence),
        values: [value(&row.a, &row.unit), value(&row.b, &row.unit)],
        basis: [basis(&row.a), basis(&row.b)],
        difference,
        floor,
        floor_source: match row.floor.source.as_slice() {
            [] => row.floor.note.clone(),
            sources => format!("{}. {}", sources.join("; "), row.floor.note),
        },
        why: why.to_string(),
    }
}

fn value(mean: &Mean, unit: &str) -> String {
    match (mean.value, mean.low, mean.high, &mean.why) {
        (Some(value), Some(low), Some(high), _) => words::estimate(value, low, high, unit),
        (.., Some(why)) => format!("cannot tell: {}", why.text),
        _ => "cannot tell".to_string(),
    }
}

fn basis(mean: &Mean) -> String {
    let basis = mean
        .basis
        .map_or(String::new(), |basis| format!(", {}", words::basis(basis)));
    format!("{} of {} repetitions{basis}", mean.repetitions, mean.of)
}

fn method(comparison: &Comparison, minus: &str) -> Vec<String> {
    let added = match comparison.systematic_parts {
        Addition::Full => {
            "Errors that stay the same through a clip (where a point lies, from where the phone saw) may be \
             opposite in the two, so they are added in full."
        }
        Addition::Squares => {
            "Errors that stay the same through a clip (where a point lies, from where the phone saw) are taken as \
             independent in the two recordings; where they repeat, the interval is wider than it need be."
        }
    };
    [
        "Each value is the mean over the complete repetitions with its 95 % interval. What differs between \
         repetitions shrinks with their number; what stays the same through a clip does not."
            .to_string(),
        format!("The difference is {minus}. {added}"),
        "Different: the whole interval of the difference lies beyond the error of the measure, published or, where \
         it says so, common practice. Not distinguishable: all of it lies within. Cannot tell: neither, or a \
         value is missing, or no error is known."
            .to_string(),
    ]
    .into()
}

fn capital(text: &str) -> String {
    let mut text = text.to_string();
    if let Some(first) = text.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    text
}
