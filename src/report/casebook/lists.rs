//! Lists on the terminal: people, sessions, the heading of one.

use super::words as own;
use crate::course::Visit;
use crate::models::Models;
use crate::report::columns::width;
use crate::report::text::{Colour, Page};
use crate::report::words;
use crate::store::Entry;
use std::collections::BTreeSet;

fn padded(text: &str, columns: usize) -> String {
    format!(
        "{text}{:pad$}",
        "",
        pad = columns.saturating_sub(width(text))
    )
}

/// Every person with the number of sessions and the days of the first and last.
pub fn people(entries: &[Entry]) -> String {
    if entries.is_empty() {
        return "the casebook is empty\n".to_string();
    }
    let groups: Vec<&[Entry]> = entries.chunk_by(|a, b| a.person == b.person).collect();
    let widest = entries.iter().map(|entry| width(&entry.person)).max();
    let name = widest.unwrap_or(0).clamp(6, 30);
    let mut out = format!(
        "{}  sessions  first       last        exercises\n",
        padded("person", name)
    );
    for group in groups {
        let (Some(first), Some(last)) = (group.first(), group.last()) else {
            continue;
        };
        let exercises: BTreeSet<&str> = group
            .iter()
            .map(|entry| entry.session.exercise.as_str())
            .collect();
        let exercises: Vec<&str> = exercises.into_iter().collect();
        out += &format!(
            "{}  {:>8}  {}  {}  {}\n",
            padded(&first.person, name),
            group.len(),
            first.date,
            last.date,
            exercises.join(", ")
        );
    }
    out
}

/// The sessions of one person in order of day.
pub fn sessions(entries: &[Entry], models: &Models) -> String {
    let mut page = Page {
        out: String::new(),
        colour: Colour::Never,
    };
    for entry in entries {
        let title = models
            .exercise(&entry.session.exercise)
            .map_or(entry.session.exercise.as_str(), |exercise| &exercise.title);
        let visit = Visit::of(entry, entry.day);
        let mut parts = vec![format!(
            "{}: {}, {} arm: {}",
            entry.date,
            title,
            entry.session.side.id(),
            own::counts(&visit)
        )];
        parts.extend(entry.told.phase.clone());
        parts.extend(own::load(visit.load_kg, visit.resistance.as_deref()));
        parts.extend(own::pain(&visit.reported).map(|pain| format!("pain {pain}")));
        page.hang(&entry.number.to_string(), 5, &parts.join("; "));
    }
    page.out
}

/// What the book knows of a session beside its result.
pub fn heading(entry: &Entry) -> String {
    let told = &entry.told;
    let mut parts = vec![format!("session {}", entry.number), entry.date.clone()];
    parts.extend(
        entry
            .weeks_since_operation
            .map(|weeks| format!("{} weeks after the operation", words::number(weeks, 1))),
    );
    parts.extend(told.phase.clone());
    parts.extend(own::load(told.load_kg, told.resistance.as_deref()));
    parts.extend(own::pain(&told.reported).map(|pain| format!("pain before/during/after {pain}")));
    parts.extend(told.remark.clone());
    let mut page = Page {
        out: String::new(),
        colour: Colour::Never,
    };
    page.wrap(0, &format!("{}: {}", entry.person, parts.join("; ")));
    page.blank();
    page.out
}
