//! Order of events in presses: seconds between two events, positive when they come in the right order.

use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::Signal;
use crate::models::{self, Turn};
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
        not_measurable_when: "the girdle never travels faster than 10 degrees a second or farther than its noise; two \
                              of its travels are nearly as fast; one picture from front or back",
        source: "common practice, no source",
    },
    Card {
        id: "straight-before-protraction",
        title: "Elbow straight before the reach",
        unit: "s",
        definition: "Time from where the elbow is straight (end of the way that straightens it) to where the \
                     fastest of the shoulder point's travels forward, from 1 s before to 2 s after, begins.",
        not_measurable_when: "the girdle never travels faster than 10 degrees a second or farther than its noise; two \
                              of its travels are nearly as fast; one picture from front or back",
        source: "common practice, no source",
    },
    Card {
        id: "blade-held-lowering",
        title: "Blade held while lowering",
        unit: "s",
        definition: "Time from the end of the lowering (the bend in a closed chain, else the way back) to where \
                     the shoulder point begins to let go forward: the beginning of its fastest travel from the \
                     start of the lowering to 2 s after it.",
        not_measurable_when: "the girdle never travels faster than 10 degrees a second or farther than its noise; two \
                              of its travels are nearly as fast; one picture from front or back",
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
        // In a closed chain the bend comes first; in an open one, and where the arm is raised, the lowering is the
        // way back.
        let repetition = &cx.exercise.repetition;
        let bends_first =
            repetition.signal == models::Signal::ElbowFlexion && repetition.turn == Turn::High;
        let (travel, turning_point) = match id {
            "blade-before-bend" => {
                let from = rep.start.saturating_sub(around / 2);
                (fastest(cx, from, rep.hold_start, -1.0)?, rep.start)
            }
            "straight-before-protraction" => {
                let straight = if bends_first { rep.end } else { rep.hold_start };
                let from = straight.saturating_sub(around / 2);
                (fastest(cx, from, straight + around, 1.0)?, straight)
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
                (fastest(cx, from, to, 1.0)?, lowered)
            }
        };
        // The blade is set once its travel is fastest; it lets go where the travel begins.
        let (first, second) = match id {
            "blade-before-bend" => (travel.fastest, turning_point),
            _ => (turning_point, travel.begins),
        };
        let seconds = cx.seconds(first.min(second), first.max(second))?;
        let seconds = if second >= first { seconds } else { -seconds };
        let frames = EVENT_SD_FRAMES * std::f64::consts::SQRT_2;
        let sd = (frames * cx.step_s()).hypot(travel.sd_s);
        let observed = cx.observed(rep.start, rep.end);
        let estimate = Estimate::with_sd(seconds, sd, observed, Basis::Direct);
        Ok(Outcome::measured(estimate, sd, second))
    }
}

/// A travel of the girdle.
struct Travel {
    /// Frame of its fastest moment.
    fastest: usize,
    /// Frame where it begins.
    begins: usize,
    /// Standard deviation of both by the girdle's noise, seconds.
    sd_s: f64,
}

/// Greatest over mean speed of a minimum-jerk movement (Flash and Hogan 1985, from memory).
const PEAK_SPEED: f64 = 1.875;

/// Share of the greatest speed below which a travel has ended or not begun (stated choice).
const AT_REST: f64 = 0.1;

/// Share of the greatest speed that another travel in the stretch may not reach: else it is anybody's guess which one is
/// meant (stated choice; a girdle that goes along with the arm is as fast as one that lets go slowly).
const RIVAL: f64 = 0.6;

/// How many standard deviations of its noise a travel must be long (stated choice: one in three hundred by chance).
const BEYOND_NOISE: f64 = 3.0;

/// Fastest travel of the girdle forward (`sign` +1) or backward (-1) in a stretch.
///
/// Where it begins is not looked for in the noise: the way to the fastest moment and the speed there tell it, as
/// half of a minimum-jerk movement.
fn fastest(cx: &RepContext<'_>, from: usize, to: usize, sign: f64) -> Result<Travel, Why> {
    let series = cx.signal(Signal::GirdleProtraction)?;
    let to = to.min(cx.kinematics.frames().saturating_sub(2));
    let step_s = cx.step_s().max(1e-6);
    let speed = |frame: usize| {
        Some(sign * (series.at(frame + 1)? - series.at(frame.checked_sub(1)?)?) / (2.0 * step_s))
    };
    let at = |frame: usize| speed(frame).unwrap_or(f64::NEG_INFINITY);
    let fastest = (from..=to)
        .max_by(|a, b| at(*a).total_cmp(&at(*b)))
        .ok_or(Why::TooFewFrames)?;
    let greatest = at(fastest);
    if greatest < LEAST_SPEED {
        return Err(Why::EventNotSeen);
    }
    let earliest = fastest.saturating_sub((AROUND_S / step_s).round() as usize);
    let resting = (earliest..fastest)
        .rev()
        .find(|frame| at(*frame) <= AT_REST * greatest)
        .unwrap_or(earliest);
    let over = (fastest..=to)
        .find(|frame| at(*frame) <= AT_REST * greatest)
        .unwrap_or(to);
    let rival = (from..resting).chain(over..=to).map(at);
    if rival.fold(f64::NEG_INFINITY, f64::max) > RIVAL * greatest {
        return Err(Why::EventNotSeen);
    }
    let place = |frame: usize| series.at(frame).ok_or(Why::TooFewFrames);
    let way = sign * (place(fastest)? - place(resting)?);
    let noise = std::f64::consts::SQRT_2 * series.sd_at(fastest).0;
    if 2.0 * way < BEYOND_NOISE * noise {
        return Err(Why::EventNotSeen);
    }
    let half_s = PEAK_SPEED * way / greatest;
    Ok(Travel {
        fastest,
        begins: fastest.saturating_sub((half_s / step_s).round() as usize),
        sd_s: half_s * noise / way,
    })
}
