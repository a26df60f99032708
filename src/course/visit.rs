//! One session as a row of the course.

use crate::session::{Reported, Toward, Verdict};
use crate::store::Entry;
use serde::Serialize;

/// A session with what was entered about its day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Visit {
    /// Number in the book.
    pub session: i64,
    /// Day.
    pub date: String,
    /// Weeks since the first session of the course.
    pub week: f64,
    /// Weeks since the operation, if its day was entered.
    pub weeks_since_operation: Option<f64>,
    /// Phase, in the clinic's own words.
    pub phase: Option<String>,
    /// Load, kilograms.
    pub load_kg: Option<f64>,
    /// Band, cable or wall, in words.
    pub resistance: Option<String>,
    /// Pain and effort as the person said.
    pub reported: Reported,
    /// Pain at which the person stops.
    pub pain_limit: Option<f64>,
    /// Remark.
    pub remark: Option<String>,
    /// Repetitions.
    pub repetitions: usize,
    /// Of these: complete.
    pub complete: usize,
    /// Of the complete: outside.
    pub outside: usize,
    /// Of the complete: near.
    pub near: usize,
    /// Of the complete: within.
    pub within: usize,
    /// Of the complete: cannot tell.
    pub cannot_tell: usize,
    /// Measures with a claimed drift toward outside.
    pub drift_outside: Vec<String>,
}

impl Visit {
    /// The row of an entry in a course that began at a day.
    pub fn of(entry: &Entry, first_day: i64) -> Visit {
        let session = &entry.session;
        let complete = || session.reps.iter().filter(|rep| rep.complete);
        let count = |verdict| complete().filter(|rep| rep.verdict == verdict).count();
        let mut drift_outside: Vec<String> = Vec::new();
        for drift in session.sets.iter().flat_map(|set| &set.drift) {
            if drift.toward == Toward::Outside && !drift_outside.contains(&drift.measure) {
                drift_outside.push(drift.measure.clone());
            }
        }
        Visit {
            session: entry.number,
            date: entry.date.clone(),
            week: (entry.day - first_day) as f64 / 7.0,
            weeks_since_operation: entry.weeks_since_operation,
            phase: entry.told.phase.clone(),
            load_kg: entry.told.load_kg,
            resistance: entry.told.resistance.clone(),
            reported: entry.told.reported,
            pain_limit: entry.told.pain_limit,
            remark: entry.told.remark.clone(),
            repetitions: session.reps.len(),
            complete: complete().count(),
            outside: count(Verdict::Outside),
            near: count(Verdict::Near),
            within: count(Verdict::Within),
            cannot_tell: count(Verdict::CannotTell),
            drift_outside,
        }
    }
}
