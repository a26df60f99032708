//! What the trunk did while the arm moved.

use super::window::{Value, around};
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

/// Frames on each side of the set's start that its reference is taken from.
const REFERENCE_HALF: usize = 5;

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
        let mut worst: Result<Value, Why> = Err(Why::TrunkUnseen);
        for signal in signals {
            let found = largest_change(cx, *signal);
            worst = match (worst, found) {
                (Ok(a), Ok(b)) => Ok(if b.value > a.value { b } else { a }),
                (Err(_), found) => found,
                (Ok(a), Err(_)) => Ok(a),
            };
        }
        let worst = worst?;
        let observed = cx.observed(cx.rep.start, cx.rep.end);
        let mut estimate = worst.estimate(observed, Basis::Direct);
        estimate.low = estimate.low.max(0.0);
        Ok(Outcome::measured(estimate, worst.random, worst.frame))
    }
}

fn largest_change(cx: &RepContext<'_>, signal: Signal) -> Result<Value, Why> {
    let series = cx.signal(signal)?;
    let reference = around(series, cx.set_start, REFERENCE_HALF)?;
    let change = |frame: usize| series.at(frame).map(|deg| (deg - reference).abs());
    let frame = (cx.rep.start..=cx.rep.end)
        .filter(|frame| change(*frame).is_some())
        .max_by(|a, b| {
            change(*a)
                .unwrap_or(0.0)
                .total_cmp(&change(*b).unwrap_or(0.0))
        })
        .ok_or(Why::TrunkUnseen)?;
    let (random, _) = series.sd_at(frame);
    // A constant error of the trunk line is in both and goes out.
    Ok(Value {
        value: change(frame).ok_or(Why::TrunkUnseen)?,
        random: random * std::f64::consts::SQRT_2,
        systematic: 0.0,
        frame,
    })
}
