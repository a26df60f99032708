//! The mean of a measure over the complete repetitions of a session, with its 95 % interval.
//!
//! *Definition*: that of a comparison ([`crate::compare::mean`]): what differs from repetition to repetition shrinks
//! with their number, what stays the same through the clip does not; a reading that does not state its random part is
//! taken to have none, so that its interval is too wide rather than too narrow.
//!
//! *Not measurable when* no complete repetition has a value. With one repetition its own interval is the answer, and
//! how the person's repetitions scatter is unknown.

use crate::compare::mean::or_single;
use crate::reading::{Basis, Z_95};
use crate::session::Session;
use serde::Serialize;

/// A mean over repetitions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pooled {
    /// Mean.
    pub value: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Unit.
    pub unit: String,
    /// Repetitions with a value.
    pub repetitions: usize,
    /// Weakest evidence among them.
    pub basis: Basis,
}

impl Pooled {
    /// The standard deviation that the interval stands for.
    pub fn sd(&self) -> f64 {
        (self.high - self.low) / (2.0 * Z_95)
    }
}

/// The mean of a measure; `None` where no complete repetition has a value.
pub fn pooled(session: &Session, measure: &str) -> Option<Pooled> {
    let (parts, repetitions) = or_single(session, measure)?;
    let mut readings = session
        .reps
        .iter()
        .filter_map(|rep| rep.readings.get(measure));
    let [low, high] = parts.interval();
    Some(Pooled {
        value: parts.mean,
        low,
        high,
        unit: readings.next()?.unit.clone(),
        repetitions,
        basis: parts.basis,
    })
}
