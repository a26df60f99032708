//! Order of events in presses: seconds between two events, positive when they come in the right order.

use super::window::part_way;
use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::Signal;
use crate::reading::{Basis, Estimate, Why};

/// Order of events.
pub struct Order;

const CARDS: [Card; 3] = [
    Card {
        id: "blade-before-bend",
        title: "Blade set before the bend",
        unit: "s",
        definition: "Time from where the shoulder point has made 20 % of its travel backward to where the \
                     elbow has made 10 % of its bend.",
        not_measurable_when: "the girdle travels less than 3 degrees; one picture from front or back",
        source: "common practice, no source",
    },
    Card {
        id: "straight-before-protraction",
        title: "Elbow straight before the reach",
        unit: "s",
        definition: "Time from where the elbow has made 90 % of its straightening to where the shoulder \
                     point has made 50 % of its travel forward.",
        not_measurable_when: "the girdle travels less than 3 degrees; one picture from front or back",
        source: "common practice, no source",
    },
    Card {
        id: "blade-held-lowering",
        title: "Blade held while lowering",
        unit: "s",
        definition: "Time from where the arm has made 50 % of its way back to where the shoulder point has \
                     made 50 % of its own.",
        not_measurable_when: "the girdle travels less than 3 degrees; one picture from front or back",
        source: "common practice, no source",
    },
];

/// Travel below which an event cannot be timed, degrees.
const LEAST_GIRDLE_DEG: f64 = 3.0;
const LEAST_ELBOW_DEG: f64 = 15.0;

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
        let girdle = cx.signal(Signal::GirdleProtraction)?;
        let elbow = cx.signal(Signal::ElbowFlexion)?;
        let rep = cx.rep;
        let (first, second) = match id {
            "blade-before-bend" => (
                part_way(girdle, rep.start, rep.peak, 0.2, LEAST_GIRDLE_DEG)?,
                part_way(elbow, rep.start, rep.peak, 0.1, LEAST_ELBOW_DEG)?,
            ),
            "straight-before-protraction" => (
                part_way(elbow, rep.peak, rep.end, 0.9, LEAST_ELBOW_DEG)?,
                part_way(girdle, rep.peak, rep.end, 0.5, LEAST_GIRDLE_DEG)?,
            ),
            _ => (
                part_way(elbow, rep.hold_end, rep.end, 0.5, LEAST_ELBOW_DEG)?,
                part_way(girdle, rep.hold_end, rep.end, 0.5, LEAST_GIRDLE_DEG)?,
            ),
        };
        let seconds = cx.seconds(first, second)?;
        let sd = EVENT_SD_FRAMES * cx.step_s() * std::f64::consts::SQRT_2;
        let observed = cx.observed(rep.start, rep.end);
        let estimate = Estimate::with_sd(seconds, sd, observed, Basis::Direct);
        Ok(Outcome::measured(estimate, sd, second))
    }
}
