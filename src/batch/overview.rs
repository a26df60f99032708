//! What the summary page shows: a row a result, what needs eyes first, and what belongs together side by side.
//!
//! In: results in order. Out: rows for the page. Only the rows that need eyes most are kept, so that memory does
//! not grow with the number of clips; the tables hold all of them.

use super::clip::Clip;
use super::tables::Entry;
use super::{Done, Job};
use crate::models::Models;
use crate::note::Fault;
use crate::report::summary::{Failure, Page, Row, Together};
use crate::report::{self, summary};
use crate::session::{Session, Toward, Verdict};
use std::collections::{BTreeMap, BTreeSet};

/// Most rows of the page: more than anybody reads, and a page that still opens at once.
const MOST_ROWS: usize = 1000;
/// Most failures of the page.
const MOST_FAILURES: usize = 200;

/// What is kept while results pass by.
pub struct Overview {
    rows: Vec<Row>,
    left_out: usize,
    failures: Vec<Failure>,
    more_failures: usize,
}

/// What needs eyes first: most repetitions outside, then drift toward outside, then near, then what could not be
/// told; among equals the order of the list.
fn urgency(row: &Row) -> impl Ord + use<> {
    use std::cmp::Reverse;
    let blind = row.reps - row.measurable;
    (
        Reverse(row.outside),
        Reverse(row.drift.len()),
        Reverse(row.near),
        Reverse(blind),
        row.number,
        row.side,
    )
}

impl Overview {
    /// An empty one.
    pub fn new() -> Overview {
        Overview {
            rows: Vec::new(),
            left_out: 0,
            failures: Vec::new(),
            more_failures: 0,
        }
    }

    /// Adds a result.
    pub fn add(&mut self, entry: &Entry<'_>) {
        self.rows.push(row(entry));
        if self.rows.len() >= 2 * MOST_ROWS {
            self.shorten();
        }
    }

    /// Adds a clip that could not be done.
    pub fn fail(&mut self, clip: &Clip, fault: &Fault) {
        if self.failures.len() >= MOST_FAILURES {
            self.more_failures += 1;
            return;
        }
        self.failures.push(Failure {
            clip: clip.shown.clone(),
            code: fault.code,
            what: fault.what.clone(),
            place: fault.place.to_string(),
            remedy: fault.remedy.clone(),
        });
    }

    fn shorten(&mut self) {
        self.rows.sort_by_cached_key(urgency);
        self.left_out += self.rows.len().saturating_sub(MOST_ROWS);
        self.rows.truncate(MOST_ROWS);
    }

    /// The page.
    pub fn page(mut self, job: &Job, done: &Done, models: &Models) -> Result<String, Fault> {
        self.shorten();
        let titles: BTreeMap<&str, &str> = models
            .exercises
            .values()
            .map(|exercise| (exercise.id.as_str(), exercise.title.as_str()))
            .collect();
        for row in &mut self.rows {
            if let Some(title) = titles.get(row.exercise.as_str()) {
                row.exercise = (*title).to_string();
            }
        }
        let together = together(&self.rows);
        summary::page(&Page {
            source: job
                .source
                .file_name()
                .map_or_else(String::new, |name| name.to_string_lossy().into_owned()),
            clips: done.clips,
            results: done.results,
            reps: done.reps,
            measurable: done.measurable,
            outside: done.outside,
            share: job
                .shard
                .map(|shard| format!("share {} of {}", shard.part, shard.of)),
            rows: self.rows,
            rows_left_out: self.left_out,
            together,
            failures: self.failures,
            failures_left_out: self.more_failures,
            review: job.reports.iter().any(|writer| writer.id() == "page"),
        })
        .map_err(|error| report::refused("summary.html", error))
    }
}

/// Least and most of the measure that shows the range: elevation where it is measured, else the bend of the elbow.
fn range(session: &Session) -> Option<(&'static str, f64, f64, usize)> {
    ["peak-elevation", "elbow-range", "outward-rotation-peak"]
        .into_iter()
        .find_map(|measure| {
            let values: Vec<f64> = session
                .reps
                .iter()
                .filter(|rep| rep.complete)
                .filter_map(|rep| rep.readings.get(measure)?.value)
                .collect();
            let low = values.iter().copied().reduce(f64::min)?;
            let high = values.iter().copied().reduce(f64::max)?;
            Some((measure, low, high, values.len()))
        })
}

fn row(entry: &Entry<'_>) -> Row {
    let session = &entry.session;
    let of = |verdict: Verdict| {
        session
            .reps
            .iter()
            .filter(|rep| rep.verdict == verdict)
            .count()
    };
    let drift: BTreeSet<String> = session
        .sets
        .iter()
        .flat_map(|set| &set.drift)
        .filter(|drift| drift.toward == Toward::Outside)
        .map(|drift| drift.text.clone())
        .collect();
    let mut findings: Vec<(usize, &str)> = Vec::new();
    for found in session.reps.iter().flat_map(|rep| &rep.findings) {
        if found.verdict == Verdict::Outside {
            match findings.iter_mut().find(|(_, text)| *text == found.text) {
                Some((count, _)) => *count += 1,
                None => findings.push((1, &found.text)),
            }
        }
    }
    findings.sort_by(|a, b| b.cmp(a));
    Row {
        number: entry.clip.number,
        clip: entry.clip.shown.clone(),
        person: entry.clip.about.person.clone(),
        date: entry.clip.about.date.clone(),
        video: entry.clip.about.video.clone(),
        note: entry.clip.about.note.clone(),
        exercise: session.exercise.clone(),
        side: session.side.id(),
        link: format!("{}/review.html", entry.folder),
        reps: session.reps.len(),
        measurable: session.reps.len() - of(Verdict::CannotTell),
        outside: of(Verdict::Outside),
        near: of(Verdict::Near),
        within: of(Verdict::Within),
        range: range(session)
            .map(|(measure, low, high, reps)| summary::range(measure, low, high, reps)),
        drift: drift.into_iter().collect(),
        worst: findings.first().map(|(_, text)| (*text).to_string()),
    }
}

/// Results of one person and exercise, by day and arm; those without a person belong to nothing.
fn together(rows: &[Row]) -> Vec<Together> {
    let mut groups: BTreeMap<(&str, &str), Vec<&Row>> = BTreeMap::new();
    for row in rows {
        if let Some(person) = &row.person {
            groups.entry((person, &row.exercise)).or_default().push(row);
        }
    }
    groups
        .into_iter()
        .filter(|(_, rows)| rows.len() > 1)
        .map(|((person, exercise), mut rows)| {
            rows.sort_by_key(|row| row.number);
            let mut days: BTreeMap<Option<&str>, [Vec<Row>; 2]> = BTreeMap::new();
            for row in rows {
                let arms = days.entry(row.date.as_deref()).or_default();
                let [left, right] = arms;
                match row.side {
                    "left" => left.push(row.clone()),
                    _ => right.push(row.clone()),
                }
            }
            Together {
                person: person.to_string(),
                exercise: exercise.to_string(),
                days: days
                    .into_iter()
                    .map(|(date, [left, right])| summary::Day {
                        date: date.map(str::to_string),
                        arms: vec![left, right],
                    })
                    .collect(),
            }
        })
        .collect()
}
