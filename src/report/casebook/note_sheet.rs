//! The note for the chart as labels and lines, the same for page and text, short enough for one page.

use super::words as own;
use crate::course::{pooled, title};
use crate::pipeline::CAUTIONS;
use crate::report::view::View;
use crate::report::{Context, planned, words};
use crate::session::{Rep, Session, Verdict};
use crate::store::Entry;
use serde::Serialize;

/// Most findings: with fewer than a line each the page would say nothing of them.
const MOST_FINDINGS: usize = 4;
/// Most limits that the plan changed.
const MOST_LIMITS: usize = 2;
/// Most drifts.
const MOST_DRIFTS: usize = 3;
/// Most measures that could not be seen.
const MOST_UNSEEN: usize = 4;
/// Longest line of what was entered as free text, characters.
const LONGEST: usize = 240;

/// Measures that say how far the movement went, in order.
const RANGE: [&str; 5] = [
    "peak-elevation",
    "elevation-range",
    "elbow-range",
    "elbow-straightest",
    "outward-rotation-peak",
];

/// The note.
#[derive(Debug, Clone, Serialize)]
pub struct Sheet {
    /// Over everything.
    pub title: String,
    /// Labels and their lines.
    pub rows: Vec<(String, Vec<String>)>,
    /// Cautions and where it comes from.
    pub fine: Vec<String>,
}

/// The note of a session.
pub fn sheet(entry: &Entry, context: &Context) -> Sheet {
    let session = &entry.session;
    // The counts and findings of the note are those of what was analysed.
    let mut analysed = session.clone();
    analysed.reps.retain(|rep| rep.complete);
    let view = View::of(&analysed, context);
    let row = |label: &str, lines: Vec<String>| (label.to_string(), lines);
    let changed = limits_of_the_plan(session);
    let mut rows = vec![
        row("Person and day", vec![when(entry)]),
        row("Exercise", exercise(entry, context)),
        row("Repetitions", repetitions(session, &view)),
        row("Range", range(session)),
    ];
    if !changed.is_empty() {
        rows.push(row("Limits of the plan", changed));
    }
    rows.extend([
        row("Findings", findings(&view)),
        row("Drift", drift(&view)),
        row("Pain as entered", pain(entry)),
        row("What the view could not show", unseen(session, &view)),
    ]);
    Sheet {
        title: format!("Note on exercise session {}", entry.number),
        rows,
        fine: fine(session),
    }
}

fn short(text: &str) -> String {
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{} …", text.get(..end).unwrap_or("").trim_end()),
        None => text.to_string(),
    }
}

/// At most so many lines, and how many are left out.
fn cut(mut lines: Vec<String>, most: usize) -> Vec<String> {
    let more = lines.len().saturating_sub(most);
    lines.truncate(most);
    if more > 0 {
        lines.push(format!("and {more} more in the review"));
    }
    lines
}

fn when(entry: &Entry) -> String {
    let mut parts = vec![entry.person.clone(), entry.date.clone()];
    parts.extend(
        entry
            .weeks_since_operation
            .map(|weeks| format!("{} weeks after the operation", words::number(weeks, 1))),
    );
    parts.join(", ")
}

fn exercise(entry: &Entry, context: &Context) -> Vec<String> {
    let told = &entry.told;
    let mut parts = vec![format!(
        "{}, {} arm",
        context.exercise_title,
        entry.session.side.id()
    )];
    parts.extend(own::load(told.load_kg, told.resistance.as_deref()));
    parts.extend(told.phase.as_ref().map(|phase| format!("phase: {phase}")));
    let mut lines = vec![short(&parts.join(", "))];
    lines.extend(told.remark.as_deref().map(short));
    lines
}

fn repetitions(session: &Session, view: &View) -> Vec<String> {
    let complete = |rep: &&Rep| rep.complete;
    let excluded = session.reps.iter().filter(|rep| !rep.complete);
    let mut reasons: Vec<(String, Vec<u32>)> = Vec::new();
    for rep in excluded {
        let why = rep
            .incomplete_because
            .clone()
            .unwrap_or_else(|| "incomplete".to_string());
        match reasons.iter_mut().find(|(known, _)| *known == why) {
            Some((_, numbers)) => numbers.push(rep.number),
            None => reasons.push((why, vec![rep.number])),
        }
    }
    let analysed = session.reps.iter().filter(complete).count();
    let excluded = match reasons.is_empty() {
        true => "none excluded".to_string(),
        false => {
            let parts: Vec<String> = reasons
                .iter()
                .map(|(why, numbers)| format!("{} ({why})", words::repetitions(numbers)))
                .collect();
            format!("excluded: {}", parts.join("; "))
        }
    };
    let mut lines = vec![format!(
        "{} analysed of {} found, {excluded}.",
        analysed,
        session.reps.len()
    )];
    lines.push(view.headline.clone());
    let untold: Vec<u32> = session
        .reps
        .iter()
        .filter(|rep| rep.complete && rep.verdict == Verdict::CannotTell)
        .map(|rep| rep.number)
        .collect();
    if !untold.is_empty() {
        lines.push(format!(
            "Not judged: {}, see below.",
            words::repetitions(&untold)
        ));
    }
    lines.into_iter().map(|line| short(&line)).collect()
}

fn range(session: &Session) -> Vec<String> {
    let lines: Vec<String> = RANGE
        .iter()
        .filter_map(|measure| {
            let mean = pooled(session, measure)?;
            Some(format!(
                "{}: mean {} in {}, {}",
                title(measure),
                own::mean(&mean),
                words::count(mean.repetitions, "repetition"),
                words::basis(mean.basis)
            ))
        })
        .collect();
    match lines.is_empty() {
        true => vec!["Not measurable.".to_string()],
        false => lines,
    }
}

fn limits_of_the_plan(session: &Session) -> Vec<String> {
    let changed = session.plan.iter().flat_map(|plan| &plan.changed_limits);
    let lines = changed.map(|limit| short(&planned::changed(limit)));
    cut(lines.collect(), MOST_LIMITS)
}

fn findings(view: &View) -> Vec<String> {
    if view.findings.is_empty() {
        return vec![view.no_findings.clone()];
    }
    let lines = view
        .findings
        .iter()
        .map(|row| {
            format!(
                "{}: {}. {} at worst {}, limit {}.",
                row.text.trim_end_matches('.'),
                row.wherein,
                row.title,
                row.value,
                row.limit
            )
        })
        .collect();
    cut(lines, MOST_FINDINGS)
}

fn drift(view: &View) -> Vec<String> {
    let claimed: Vec<String> = view.drifts.iter().map(|row| row.text.clone()).collect();
    match (claimed.is_empty(), view.no_drift.is_empty()) {
        (false, _) => cut(claimed, MOST_DRIFTS),
        (true, false) => {
            let lines = view.no_drift.iter().map(|text| short(text)).collect();
            cut(lines, MOST_DRIFTS)
        }
        (true, true) => vec!["None could be told.".to_string()],
    }
}

fn pain(entry: &Entry) -> Vec<String> {
    let said = &entry.told.reported;
    let parts: Vec<String> = [
        ("before", said.pain_before),
        ("during", said.pain_during),
        ("after", said.pain_after),
    ]
    .iter()
    .map(|(when, pain)| match pain {
        Some(pain) => format!("{when} {pain} of 10"),
        None => format!("{when} not entered"),
    })
    .collect();
    let mut line = parts.join(", ");
    if let Some(effort) = said.effort {
        line += &format!("; effort {effort} of 10");
    }
    if let Some(limit) = entry.told.pain_limit {
        line += &format!("; the plan's limit is {limit}");
    }
    vec![format!("{line}.")]
}

fn unseen(session: &Session, view: &View) -> Vec<String> {
    let seen_from = match &session.clip.view {
        Some(view) => format!("Seen from: {}", view.name),
        None => "The view of the person could not be told".to_string(),
    };
    let mut lines = vec![format!("{seen_from}; layout {}.", session.clip.layout)];
    let unseen = view
        .unseen
        .iter()
        .map(|row| format!("{}: {}; {}.", row.title, row.share, row.why))
        .collect();
    lines.extend(cut(unseen, MOST_UNSEEN));
    lines
}

fn fine(session: &Session) -> Vec<String> {
    let mut fine: Vec<String> = CAUTIONS.iter().take(2).map(ToString::to_string).collect();
    let digest: String = session.clip.sha256.chars().take(12).collect();
    fine.push(format!(
        "{} {}; clip {} (SHA-256 {digest}…). Intervals are 95 %.",
        session.program.name,
        session.program.version,
        short(&session.clip.source)
    ));
    fine
}
