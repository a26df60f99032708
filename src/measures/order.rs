//! Order of events in presses: seconds between two events, positive when they come in the right order.

use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::{Series, Signal};
use crate::models::Turn;
use crate::reading::{Basis, Estimate, Why};

/// Order of events.
pub struct Order;

const CARDS: [Card; 3] = [
    Card {
        id: "blade-before-bend",
        title: "Blade set before the bend",
        unit: "s",
        definition: "Time from where the shoulder point has made half of its travel backward to where the \
                     repetition starts.",
        not_measurable_when: "the girdle travels less than 3 degrees; one picture from front or back",
        source: "common practice, no source",
    },
    Card {
        id: "straight-before-protraction",
        title: "Elbow straight before the reach",
        unit: "s",
        definition: "Time from where the elbow is straight (end of the way that straightens it) to where the \
                     shoulder point has gone 10 % of its reach beyond its resting place.",
        not_measurable_when: "the girdle travels less than 3 degrees; one picture from front or back",
        source: "common practice, no source",
    },
    Card {
        id: "blade-held-lowering",
        title: "Blade held while lowering",
        unit: "s",
        definition: "Time from the end of the lowering (the bend in a closed chain, the way back in an open \
                     one) to where the shoulder point has let go 20 % of its travel backward.",
        not_measurable_when: "the girdle travels less than 3 degrees; one picture from front or back",
        source: "common practice, no source",
    },
];

/// Travel below which an event cannot be timed, degrees.
const LEAST_GIRDLE_DEG: f64 = 3.0;

/// How long before and after a repetition its girdle events are looked for, seconds (stated choice: shorter
/// than a slow repetition's rest).
const AROUND_S: f64 = 2.0;

/// Frames by which an event may be off, standard deviation (stated choice).
const EVENT_SD_FRAMES: f64 = 3.0;

impl Measure for Order {
    fn cards(&self) -> &'static [Card] {
        &CARDS
    }

    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why> {
        if cx.rep.incomplete.is_some() {
            return Err(Why::IncompleteRepetition);
        }
        let girdle = Girdle::of(cx)?;
        let rep = cx.rep;
        // In a closed chain the bend comes first and its turning point is high; in an open one the press is.
        let bends_first = cx.exercise.repetition.turn == Turn::High;
        let straight = if bends_first { rep.end } else { rep.hold_start };
        let lowered = if bends_first { rep.hold_start } else { rep.end };
        let (first, second) = match id {
            "blade-before-bend" => (girdle.half_set()?, rep.start),
            "straight-before-protraction" => (straight, girdle.reaches()?),
            _ => (
                lowered,
                girdle.lets_go(if bends_first { rep.start } else { rep.hold_end })?,
            ),
        };
        let seconds = cx.seconds(first, second)?;
        let sd = EVENT_SD_FRAMES * cx.step_s() * std::f64::consts::SQRT_2;
        let observed = cx.observed(rep.start, rep.end);
        let estimate = Estimate::with_sd(seconds, sd, observed, Basis::Direct);
        Ok(Outcome::measured(estimate, sd, second))
    }
}

/// Levels of the girdle's protraction around one repetition.
struct Girdle<'a> {
    series: &'a Series,
    /// Frames in which its events are looked for.
    from: usize,
    to: usize,
    /// Resting level before the repetition, degrees.
    rest: f64,
    /// Frame and level of the blade drawn back.
    set_frame: usize,
    set: f64,
}

impl<'a> Girdle<'a> {
    fn of(cx: &RepContext<'a>) -> Result<Girdle<'a>, Why> {
        let series = cx.signal(Signal::GirdleProtraction)?;
        let around = (AROUND_S / cx.step_s().max(1e-6)).round() as usize;
        let from = cx.rep.start.saturating_sub(around);
        let to = (cx.rep.end + around).min(cx.kinematics.frames().saturating_sub(1));
        let level = |frame: usize| series.at(frame);
        let set_frame = (from..=cx.rep.hold_end)
            .filter(|frame| level(*frame).is_some())
            .min_by(|a, b| {
                level(*a)
                    .unwrap_or(0.0)
                    .total_cmp(&level(*b).unwrap_or(0.0))
            })
            .ok_or(Why::TooFewFrames)?;
        // The resting level is what the girdle keeps longest before it is set: the median.
        let rest =
            crate::geom::median((from..=set_frame).filter_map(level)).ok_or(Why::TooFewFrames)?;
        let before = (from..=set_frame).filter_map(level).fold(rest, f64::max);
        let rest = if cx.rep.start > from {
            super::window::around(series, from, 3)?.min(before)
        } else {
            rest
        };
        let set = level(set_frame).ok_or(Why::TooFewFrames)?;
        Ok(Girdle {
            series,
            from,
            to,
            rest,
            set_frame,
            set,
        })
    }

    fn drawn_back(&self) -> Result<f64, Why> {
        let travel = self.rest - self.set;
        if travel < LEAST_GIRDLE_DEG {
            Err(Why::EventNotSeen)
        } else {
            Ok(travel)
        }
    }

    /// Frame at which half of the travel backward is made.
    fn half_set(&self) -> Result<usize, Why> {
        let half = self.set + 0.5 * self.drawn_back()?;
        (self.from..=self.set_frame)
            .rev()
            .find(|frame| self.series.at(*frame).is_some_and(|deg| deg >= half))
            .ok_or(Why::EventNotSeen)
    }

    /// Frame at which the reach beyond the resting place begins.
    fn reaches(&self) -> Result<usize, Why> {
        let most = (self.set_frame..=self.to)
            .filter(|frame| self.series.at(*frame).is_some())
            .max_by(|a, b| {
                let at = |frame: usize| self.series.at(frame).unwrap_or(f64::NEG_INFINITY);
                at(*a).total_cmp(&at(*b))
            })
            .ok_or(Why::EventNotSeen)?;
        let reach = self.series.at(most).ok_or(Why::EventNotSeen)? - self.rest;
        if reach < LEAST_GIRDLE_DEG {
            return Err(Why::EventNotSeen);
        }
        (self.set_frame..=most)
            .rev()
            .find(|frame| {
                self.series
                    .at(*frame)
                    .is_some_and(|deg| deg <= self.rest + 0.1 * reach)
            })
            .ok_or(Why::EventNotSeen)
    }

    /// Last frame from `from` on at which the blade is still held, before it first lets go.
    fn lets_go(&self, from: usize) -> Result<usize, Why> {
        let loose = self.set + 0.2 * self.drawn_back()?;
        let held = (from..=self.to)
            .find(|frame| self.series.at(*frame).is_some_and(|deg| deg < loose))
            .ok_or(Why::EventNotSeen)?;
        (held..=self.to)
            .find(|frame| self.series.at(*frame).is_some_and(|deg| deg >= loose))
            .ok_or(Why::EventNotSeen)
    }
}
