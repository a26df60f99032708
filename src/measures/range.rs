//! How far the arm went.

use super::window::extreme;
use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::Signal;
use crate::reading::{Basis, Why};

/// Peak and range of elevation.
pub struct Range;

const CARDS: [Card; 2] = [
    Card {
        id: "peak-elevation",
        title: "Highest elevation",
        unit: "deg",
        definition: "Largest angle between upper arm and downward trunk line within the repetition.",
        not_measurable_when: "shoulder, elbow or trunk unseen; the recording begins after the turning point or ends \
                              before it",
        source: "Wu et al. 2005 (ISB) for the angle",
    },
    Card {
        id: "elevation-range",
        title: "Range of elevation",
        unit: "deg",
        definition: "Largest minus smallest elevation within the repetition.",
        not_measurable_when: "shoulder, elbow or trunk unseen; the recording begins or ends within the repetition",
        source: "Wu et al. 2005 (ISB) for the angle",
    },
];

impl Measure for Range {
    fn cards(&self) -> &'static [Card] {
        &CARDS
    }

    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why> {
        let series = cx.signal(Signal::Elevation)?;
        match id {
            "elevation-range" => cx.uncut()?,
            _ => cx.turned()?,
        }
        let frames = cx.rep.start..=cx.rep.end;
        let mut top = extreme(series, frames.clone(), 1.0)?;
        let observed = cx.observed(cx.rep.start, cx.rep.end);
        if id == "elevation-range" {
            let bottom = extreme(series, frames, -1.0)?;
            top.value -= bottom.value;
            top.random = top.random.hypot(bottom.random);
            // A point that is off by a constant in the trunk is off by different angles at the two ends.
            top.systematic = top.systematic.hypot(bottom.systematic);
        }
        Ok(Outcome::measured(
            top.estimate(observed, Basis::Direct),
            top.random,
            top.frame,
        ))
    }
}
