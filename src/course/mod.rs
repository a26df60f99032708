//! The course of one person in one exercise and arm over weeks, as plain data.
//!
//! In: entries of the casebook in order of day, the exercise, the clinic's checklist. Out: [`Course`]: the sessions
//! with phase, load and pain; every measure's mean with its interval and, from five days on, its trend; what changed
//! in the recording; the checklist with the evidence of each line. No file is read and nothing is decided here.

mod changes;
mod checklist;
mod evidence;
mod pooled;
mod trend;
mod visit;

pub use changes::Change;
pub use checklist::{Item, State};
pub use pooled::{Pooled, pooled};
pub use trend::{Direction, Trend};
pub use visit::Visit;

use crate::body::Side;
use crate::models::{Exercise, Models};
use crate::session::ChangedLimit;
use crate::store::Entry;
use serde::Serialize;
use std::collections::BTreeSet;

/// Name and version of the format.
pub const FORMAT: &str = "scaplane.course/1";

/// The course.
#[derive(Debug, Clone, Serialize)]
pub struct Course {
    /// Always `scaplane.course/1`.
    pub format: &'static str,
    /// Pseudonym.
    pub person: String,
    /// Exercise id.
    pub exercise: String,
    /// Its title.
    pub exercise_title: String,
    /// Arm.
    pub side: Side,
    /// Sessions in order of day.
    pub sessions: Vec<Visit>,
    /// Measures, judged ones first.
    pub series: Vec<Series>,
    /// What changed in the recording from session to session.
    pub changes: Vec<Change>,
    /// The clinic's checklist; nothing decides by itself.
    pub checklist: Vec<Item>,
}

/// One measure over the sessions.
#[derive(Debug, Clone, Serialize)]
pub struct Series {
    /// Measure id.
    pub measure: String,
    /// Title.
    pub title: String,
    /// Unit: deg, s, deg_s or 1.
    pub unit: String,
    /// Whether the exercise judges it.
    pub judged: bool,
    /// Limit in force at the latest session, null where open or not judged.
    pub limit: [Option<f64>; 2],
    /// A point a session in which it could be measured.
    pub points: Vec<Point>,
    /// Trend over the days.
    pub trend: Trend,
}

/// The mean of a measure in one session.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Point {
    /// Number of the session in the book.
    pub session: i64,
    /// Day.
    pub date: String,
    /// Weeks since the first session of the course.
    pub week: f64,
    /// Mean and interval.
    #[serde(flatten)]
    pub mean: Pooled,
}

/// The course of the entries of `side`; those of the other arm serve the checklist only.
pub fn course(
    entries: &[Entry],
    side: Side,
    exercise: &Exercise,
    models: &Models,
) -> Option<Course> {
    let (own, other): (Vec<&Entry>, Vec<&Entry>) =
        entries.iter().partition(|entry| entry.session.side == side);
    let first = own.first()?;
    let sessions = own
        .iter()
        .map(|entry| Visit::of(entry, first.day))
        .collect();
    let changes = changes::changes(&own);
    let mut series: Vec<Series> = measures(&own, exercise)
        .iter()
        .filter_map(|measure| one(measure, &own, exercise))
        .collect();
    trend::claim(&mut series, &own);
    Some(Course {
        format: FORMAT,
        person: first.person.clone(),
        exercise: exercise.id.clone(),
        exercise_title: exercise.title.clone(),
        side,
        sessions,
        checklist: checklist::checklist(&own, &other, exercise, models),
        series,
        changes,
    })
}

/// Measures that any session has, those that are judged first.
fn measures(entries: &[&Entry], exercise: &Exercise) -> Vec<String> {
    let reps = entries.iter().flat_map(|entry| &entry.session.reps);
    let present: BTreeSet<&String> = reps.flat_map(|rep| rep.readings.keys()).collect();
    let judged = exercise.limits.iter().map(|limit| &limit.measure);
    let reported = exercise.report.iter().map(|report| &report.measure);
    let mut order: Vec<String> = Vec::new();
    for measure in judged.chain(reported).chain(present.iter().copied()) {
        if present.contains(measure) && !order.contains(measure) {
            order.push(measure.clone());
        }
    }
    order
}

fn one(measure: &str, entries: &[&Entry], exercise: &Exercise) -> Option<Series> {
    let first = entries.first()?;
    let points: Vec<Point> = entries
        .iter()
        .filter_map(|entry| {
            Some(Point {
                session: entry.number,
                date: entry.date.clone(),
                week: (entry.day - first.day) as f64 / 7.0,
                mean: pooled(&entry.session, measure)?,
            })
        })
        .collect();
    let unit = points.first()?.mean.unit.clone();
    let limit = entries.last().map_or([None, None], |entry| {
        limit_in_force(entry, measure, exercise)
    });
    Some(Series {
        measure: measure.to_string(),
        title: title(measure),
        judged: limit != [None, None],
        limit,
        unit,
        points,
        trend: Trend::default(),
    })
}

/// Title of a measure.
pub fn title(measure: &str) -> String {
    crate::measures::card(measure)
        .map_or_else(|| measure.to_string(), |card| card.title.to_string())
}

/// The limit that a session was judged by: the plan's, else the exercise's.
pub fn limit_in_force(entry: &Entry, measure: &str, exercise: &Exercise) -> [Option<f64>; 2] {
    let changed = entry
        .session
        .plan
        .iter()
        .flat_map(|plan| &plan.changed_limits);
    let own = |limit: &&ChangedLimit| limit.measure == measure;
    match (changed.into_iter().find(own), exercise.limit(measure)) {
        (Some(limit), _) => limit.now,
        (None, Some(limit)) => [limit.low, limit.high],
        (None, None) => [None, None],
    }
}
