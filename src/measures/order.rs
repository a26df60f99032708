//! Order of events in presses: seconds between two events, positive when they come in the right order.

use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::Signal;
use crate::models::Turn;
use crate::reading::{Basis, Estimate, Why};

/// Order of events.
pub struct Order;

const CARDS: [Card; 3] = [
    Card {
        id: "blade-before-bend",
        title: "Blade set before the bend",
        unit: "s",
        definition: "Time from the fastest moment of the shoulder point's travel backward (from 1 s before the \
                     repetition to the end of the way out) to where the repetition starts.",
        not_measurable_when: "the girdle never travels faster than 10 degrees a second; one picture from front \
                              or back",
        source: "common practice, no source",
    },
    Card {
        id: "straight-before-protraction",
        title: "Elbow straight before the reach",
        unit: "s",
        definition: "Time from where the elbow is straight (end of the way that straightens it) to the \
                     fastest moment of the shoulder point's travel forward, from 1 s before to 2 s after.",
        not_measurable_when: "the girdle never travels faster than 10 degrees a second; one picture from front \
                              or back",
        source: "common practice, no source",
    },
    Card {
        id: "blade-held-lowering",
        title: "Blade held while lowering",
        unit: "s",
        definition: "Time from the end of the lowering (the bend in a closed chain, the way back in an open \
                     one) to the fastest moment at which the shoulder point lets go forward, looked for from \
                     the start of the lowering to 2 s after it.",
        not_measurable_when: "the girdle never travels faster than 10 degrees a second; one picture from front \
                              or back",
        source: "common practice, no source",
    },
];

/// Speed below which a travel has no moment that could be timed, degrees a second (stated choice: twice the
/// drift of a girdle that merely follows a slow arm).
const LEAST_SPEED: f64 = 10.0;

/// How long before and after a phase an event is looked for, seconds (stated choice: shorter than a slow
/// repetition's rest).
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
        let rep = cx.rep;
        let around = (AROUND_S / cx.step_s().max(1e-6)).round() as usize;
        // In a closed chain the bend comes first and its turning point is high; in an open one the press is.
        let bends_first = cx.exercise.repetition.turn == Turn::High;
        let (first, second) = match id {
            "blade-before-bend" => (
                fastest(
                    cx,
                    rep.start.saturating_sub(around / 2),
                    rep.hold_start,
                    -1.0,
                )?,
                rep.start,
            ),
            "straight-before-protraction" => {
                let straight = if bends_first { rep.end } else { rep.hold_start };
                let from = straight.saturating_sub(around / 2);
                (straight, fastest(cx, from, straight + around, 1.0)?)
            }
            _ => {
                let (from, lowered) = if bends_first {
                    (rep.start, rep.hold_start)
                } else {
                    (rep.hold_end, rep.end)
                };
                let to = if bends_first {
                    rep.hold_end + around / 3
                } else {
                    lowered + around
                };
                (lowered, fastest(cx, from, to, 1.0)?)
            }
        };
        let seconds = cx.seconds(first.min(second), first.max(second))?;
        let seconds = if second >= first { seconds } else { -seconds };
        let sd = EVENT_SD_FRAMES * cx.step_s() * std::f64::consts::SQRT_2;
        let observed = cx.observed(rep.start, rep.end);
        let estimate = Estimate::with_sd(seconds, sd, observed, Basis::Direct);
        Ok(Outcome::measured(estimate, sd, second))
    }
}

/// Frame of the fastest travel of the girdle forward (`sign` +1) or backward (-1) in a stretch.
fn fastest(cx: &RepContext<'_>, from: usize, to: usize, sign: f64) -> Result<usize, Why> {
    let series = cx.signal(Signal::GirdleProtraction)?;
    let to = to.min(cx.kinematics.frames().saturating_sub(2));
    let step = 2.0 * cx.step_s().max(1e-6);
    let speed = |frame: usize| {
        Some(sign * (series.at(frame + 1)? - series.at(frame.checked_sub(1)?)?) / step)
    };
    let at = |frame: usize| speed(frame).unwrap_or(f64::NEG_INFINITY);
    let frame = (from..=to)
        .max_by(|a, b| at(*a).total_cmp(&at(*b)))
        .ok_or(Why::TooFewFrames)?;
    if at(frame) < LEAST_SPEED {
        Err(Why::EventNotSeen)
    } else {
        Ok(frame)
    }
}
