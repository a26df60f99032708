//! The comparison on the terminal: 80 columns, words first.

use super::super::context::Context;
use super::super::text::{Colour, Page};
use super::{RowWords, Sheet};
use crate::compare::Comparison;

/// Column at which the text of a marked row starts.
const TEXT_AT: usize = 4;

/// The whole comparison as text.
pub fn terminal(comparison: &Comparison, context: &Context, colour: Colour) -> String {
    let sheet = Sheet::of(comparison, context);
    let mut page = Page {
        out: String::new(),
        colour,
    };
    page.wrap(0, &sheet.title);
    for party in &sheet.parties {
        page.wrap(0, party);
    }
    page.blank();
    page.wrap(0, &sheet.headline);
    page.wrap(0, &sheet.reference);
    for note in &sheet.notes {
        page.hang("-", 2, &note.text);
    }
    if !sheet.compared.is_empty() {
        page.heading("Measures");
    }
    for row in &sheet.compared {
        head(&mut page, row, "");
        for (letter, place) in [("A", 0), ("B", 1)] {
            page.wrap(
                TEXT_AT,
                &format!("{letter}: {}, {}", row.values[place], row.basis[place]),
            );
        }
        page.wrap(TEXT_AT, &row.sentence);
    }
    if !sheet.absent.is_empty() {
        page.heading("What could not be compared");
    }
    for row in &sheet.absent {
        head(&mut page, row, &format!(": {}", row.why));
    }
    page.heading("How it was compared");
    for text in &sheet.method {
        page.wrap(0, text);
    }
    page.blank();
    for caution in &sheet.cautions {
        page.wrap(0, caution);
    }
    page.out
}

fn head(page: &mut Page, row: &RowWords, rest: &str) {
    let mut words = row.verdict_words.to_string();
    if let Some(first) = words.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    let mark = match row.verdict {
        "different" => "!=",
        "not-distinguishable" => "=",
        _ => "?",
    };
    page.hang(mark, TEXT_AT, &format!("{words}. {}{rest}", row.title));
}
