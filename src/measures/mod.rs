//! What is measured of one repetition.
//!
//! In: [`Kinematics`], the boundaries of one repetition, where its set started, and the exercise. Out: one
//! [`Outcome`] a measure: a reading, how well it repeats within the clip, and its worst moment. No limit is
//! applied here. A new measure is one file and one line in [`MEASURES`].

mod arc;
mod elbow;
mod girdle;
mod order;
mod plane;
mod range;
mod rhythm;
mod rotation;
mod tempo;
mod trunk;
mod window;

pub use arc::ARC_DEG;

use crate::kinematics::{Kinematics, Linkage, Series, Signal};
use crate::models::{Applies, Exercise};
use crate::reading::{Estimate, Reading, Why};
use crate::reps::{Incomplete, RepSpan};

/// What a measure is, for people.
#[derive(Debug, Clone, Copy)]
pub struct Card {
    /// Kebab-case id, also used in exercise files.
    pub id: &'static str,
    /// Title in the words of the trade.
    pub title: &'static str,
    /// Unit: deg, s, deg_s or 1.
    pub unit: &'static str,
    /// Definition from which a reader can recompute it.
    pub definition: &'static str,
    /// When there is no value.
    pub not_measurable_when: &'static str,
    /// Where the definition comes from.
    pub source: &'static str,
}

/// One repetition with everything a measure may look at.
#[derive(Clone, Copy)]
pub struct RepContext<'a> {
    /// Signals of the side.
    pub kinematics: &'a Kinematics,
    /// Boundaries.
    pub rep: &'a RepSpan,
    /// First frame of the set the repetition belongs to: the "set position".
    pub set_start: usize,
    /// Exercise.
    pub exercise: &'a Exercise,
    /// Linkage for the rhythm by proxy.
    pub linkage: &'a Linkage,
    /// Plane band of the exercise in degrees from its aim, if it has one.
    pub plane_band: Option<(f64, f64)>,
    /// Plane aimed at, degrees.
    pub aim_plane_deg: f64,
}

impl<'a> RepContext<'a> {
    fn signal(&self, signal: Signal) -> Result<&'a Series, Why> {
        self.kinematics.signal(signal)
    }

    /// Seconds between two frames, or the reason why seconds are unknown.
    fn seconds(&self, from: usize, to: usize) -> Result<f64, Why> {
        let timeline = &self.kinematics.timeline;
        if !timeline.knows_seconds() {
            return Err(Why::RateUnknown);
        }
        match (timeline.time_s(from), timeline.time_s(to)) {
            (Some(from), Some(to)) => Ok(to - from),
            _ => Err(Why::TooFewFrames),
        }
    }

    /// Seconds from one frame to the next.
    fn step_s(&self) -> f64 {
        self.kinematics
            .timeline
            .rate_hz()
            .map_or(0.0, |rate| 1.0 / rate)
    }

    /// Refuses a repetition that the recording cut off: what is left of its extent is a bound and no measurement.
    fn uncut(&self) -> Result<(), Why> {
        match self.rep.incomplete {
            Some(Incomplete::CutOffAtStart | Incomplete::CutOffAtEnd) => {
                Err(Why::IncompleteRepetition)
            }
            _ => Ok(()),
        }
    }

    /// Refuses a repetition that the recording cut off before its turning point was passed.
    fn turned(&self) -> Result<(), Why> {
        let rep = self.rep;
        let seen_s = |from: usize, to: usize| (to - from) as f64 * self.step_s();
        let passed = match rep.incomplete {
            Some(Incomplete::CutOffAtStart) => seen_s(rep.start, rep.peak) > PASSED_S,
            Some(Incomplete::CutOffAtEnd) => seen_s(rep.peak, rep.end) > PASSED_S,
            _ => true,
        };
        passed.then_some(()).ok_or(Why::IncompleteRepetition)
    }

    /// Frames that a measure looks at: those of the phase to which the exercise applies its limit.
    fn frames_of(&self, id: &str) -> std::ops::RangeInclusive<usize> {
        let applies = self
            .exercise
            .limit(id)
            .map(|limit| limit.applies)
            .unwrap_or_default();
        match applies {
            Applies::All => self.rep.start..=self.rep.end,
            Applies::Outward => self.rep.start..=self.rep.hold_start,
            Applies::Hold => self.rep.hold_start..=self.rep.hold_end,
            Applies::Back => self.rep.hold_end..=self.rep.end,
        }
    }

    /// Share of seen frames in a stretch.
    fn observed(&self, from: usize, to: usize) -> f64 {
        let stretch = self.kinematics.observed.get(from..=to).unwrap_or(&[]);
        if stretch.is_empty() {
            return 0.0;
        }
        stretch.iter().filter(|seen| **seen).count() as f64 / stretch.len() as f64
    }
}

/// How long a cut-off repetition must be seen on both sides of its turning point for that to be its turning point,
/// seconds (stated choice: the low-pass rounds the first and last tenths of a second).
const PASSED_S: f64 = 0.25;

/// A reading with what the judging needs beside it.
#[derive(Debug, Clone, Copy)]
pub struct Outcome {
    /// Value or reason.
    pub reading: Reading,
    /// Standard deviation of the part of the error that changes from repetition to repetition, in the
    /// measure's unit: what a change within a set must exceed.
    pub repeat_sd: f64,
    /// Frame of the worst or most telling moment.
    pub moment: Option<usize>,
}

impl Outcome {
    /// No value.
    pub fn none(why: Why) -> Outcome {
        Outcome {
            reading: Reading::NotMeasurable(why),
            repeat_sd: 0.0,
            moment: None,
        }
    }

    fn measured(estimate: Estimate, repeat_sd: f64, moment: usize) -> Outcome {
        Outcome {
            reading: Reading::Measured(estimate),
            repeat_sd,
            moment: Some(moment),
        }
    }
}

/// A measure, or a family of measures that share a definition.
pub trait Measure: Sync {
    /// Cards of the family.
    fn cards(&self) -> &'static [Card];
    /// The outcome of one of them.
    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why>;
}

/// Every measure, in the order in which they are listed.
pub static MEASURES: &[&dyn Measure] = &[
    &range::Range,
    &plane::Plane,
    &elbow::Elbow,
    &arc::Arc,
    &rhythm::Rhythm,
    &girdle::Girdle,
    &rotation::Rotation,
    &trunk::Trunk,
    &order::Order,
    &tempo::Tempo,
];

/// Every card.
pub fn cards() -> impl Iterator<Item = &'static Card> {
    MEASURES.iter().flat_map(|measure| measure.cards())
}

/// The card of an id.
pub fn card(id: &str) -> Option<&'static Card> {
    cards().find(|card| card.id == id)
}

/// Measures one id; an id nobody knows is not in the exercise.
pub fn measure(id: &str, cx: &RepContext<'_>) -> Outcome {
    MEASURES
        .iter()
        .find(|measure| measure.cards().iter().any(|card| card.id == id))
        .map_or(Outcome::none(Why::NotInExercise), |measure| {
            measure.of(id, cx).unwrap_or_else(Outcome::none)
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::models::Models;

    #[test]
    fn every_measure_named_by_an_exercise_exists_with_the_same_unit() {
        let models = Models::embedded().unwrap();
        let mut looked_at = 0;
        for exercise in models.exercises.values() {
            for limit in &exercise.limits {
                let card = card(&limit.measure).unwrap_or_else(|| panic!("no {}", limit.measure));
                assert_eq!(card.unit, limit.unit.symbol(), "{}", card.id);
                looked_at += 1;
            }
            for report in &exercise.report {
                assert!(card(&report.measure).is_some(), "no {}", report.measure);
            }
        }
        assert!(looked_at > 30);
    }
}
