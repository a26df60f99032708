//! What the trunk did while the arm moved.

use super::window::{Value, around, around_each};
use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::Signal;
use crate::reading::{Basis, Why};

/// Lean and turn of the trunk from the start of the set.
pub struct Trunk;

const CARDS: [Card; 2] = [
    Card {
        id: "trunk-lean",
        title: "Lean of the trunk",
        unit: "deg",
        definition: "Largest change of the trunk's lean from the start of the set within the repetition, of \
                     the directions that the view shows (sideways from front or back, backward and forward \
                     from the side).",
        not_measurable_when: "hips or shoulders unseen; an oblique view",
        source: "definition of the product",
    },
    Card {
        id: "trunk-turn",
        title: "Turn of the trunk",
        unit: "deg",
        definition: "Largest change of the trunk's turn about the vertical from the start of the set.",
        not_measurable_when: "hips unseen; one picture from front or back",
        source: "definition of the product",
    },
];

/// Frames on each side over which the trunk is averaged (a second at 30 Hz): it moves slowly, and the
/// largest of many noisy values would be noise.
const SMOOTH_HALF: usize = 15;

/// Frames on each side of the set's start that its reference is taken from.
const REFERENCE_HALF: usize = 5;

/// Change of the drawn trunk line by the girdle's movement alone, when the line ends between the shoulders:
/// shoulders that travel by 3 cm lean a line of half a metre by 1 to 3 degrees; and when it ends at a point
/// of the trunk (stated assumptions).
const ON_SHOULDERS_SD_DEG: f64 = 1.2;
const ON_TRUNK_SD_DEG: f64 = 0.5;

impl Measure for Trunk {
    fn cards(&self) -> &'static [Card] {
        &CARDS
    }

    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why> {
        let signals: &[Signal] = if id == "trunk-turn" {
            &[Signal::TrunkTurn]
        } else {
            &[Signal::LeanSide, Signal::LeanBack]
        };
        let worst = largest_change(cx, signals)?;
        let observed = cx.observed(cx.rep.start, cx.rep.end);
        let mut estimate = worst.estimate(observed, Basis::Direct);
        estimate.low = estimate.low.max(0.0);
        Ok(Outcome::measured(estimate, worst.random, worst.frame))
    }
}

/// Largest length of the change of the signals that the view shows, taken together.
fn largest_change(cx: &RepContext<'_>, signals: &[Signal]) -> Result<Value, Why> {
    let mut shown = Vec::new();
    let mut why = Why::TrunkUnseen;
    for signal in signals {
        match cx.signal(*signal) {
            Ok(series) => shown.push((series, around(series, cx.set_start, REFERENCE_HALF)?)),
            Err(reason) => why = reason,
        }
    }
    if shown.is_empty() {
        return Err(why);
    }
    let squares: Vec<Vec<Option<f64>>> = shown
        .iter()
        .map(|(series, from)| {
            let smooth = around_each(series, cx.rep.start..=cx.rep.end, SMOOTH_HALF);
            let square = |value: Option<f64>| Some((value? - from).powi(2));
            smooth.into_iter().map(square).collect()
        })
        .collect();
    let change = |at: usize| -> Option<f64> {
        let squares = squares.iter().map(|of_signal| *of_signal.get(at)?);
        squares.sum::<Option<f64>>().map(f64::sqrt)
    };
    let (frame, value) = (cx.rep.start..=cx.rep.end)
        .enumerate()
        .filter_map(|(at, frame)| Some((frame, change(at)?)))
        .max_by(|(_, a), (_, b)| a.total_cmp(b))
        .ok_or(Why::TrunkUnseen)?;
    let random = shown
        .iter()
        .map(|(series, _)| series.sd_at(frame).0)
        .fold(0.0, f64::max);
    // A constant error of the trunk line is in both and goes out; what is left is the trunk line's own
    // change when the girdle moves.
    Ok(Value {
        value,
        random: random * std::f64::consts::SQRT_2,
        systematic: if cx.kinematics.trunk_on_shoulders {
            ON_SHOULDERS_SD_DEG
        } else {
            ON_TRUNK_SD_DEG
        },
        frame,
    })
}
