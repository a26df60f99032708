//! What the shoulder point did about the sternal end of the collar bone.

use super::window::{Value, around};
use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::{Series, Signal};
use crate::reading::{Basis, Why};

/// Rise and travel of the girdle.
pub struct Girdle;

const CARDS: [Card; 4] = [
    Card {
        id: "girdle-onset",
        title: "Elevation at which the girdle starts to rise",
        unit: "deg",
        definition: "Elevation of the arm at the first frame of the way out at which the girdle has made 15 % \
                     of its whole rise.",
        not_measurable_when: "the girdle rises less than 3 degrees; shoulder, elbow or trunk unseen",
        source: "definition of the product",
    },
    Card {
        id: "girdle-early-rise",
        title: "Early rise of the girdle",
        unit: "deg",
        definition: "Rise of the shoulder point (the acromion where the track has it) about the sternal end of the collar bone from the start of \
                     the set to the moment the arm passes 60 degrees of elevation.",
        not_measurable_when: "the arm does not pass 60 degrees",
        source: "definition of the product",
    },
    Card {
        id: "girdle-rise",
        title: "Rise of the girdle",
        unit: "deg",
        definition: "Rise of the shoulder point (the acromion where the track has it) about the sternal end of the collar bone from the start of \
                     the set to the turning point.",
        not_measurable_when: "shoulder or trunk unseen",
        source: "definition of the product",
    },
    Card {
        id: "protraction-travel",
        title: "Travel of the girdle forward",
        unit: "deg",
        definition: "Largest minus smallest protraction of the shoulder point about the sternal end of the \
                     collar bone within the repetition.",
        not_measurable_when: "one picture from front or back; the recording begins or ends within the repetition",
        source: "definition of the product",
    },
];

/// Share of the whole rise that counts as its start (common practice, no source).
const ONSET_SHARE: f64 = 0.15;

/// Rise below which there is no start to time, degrees (stated choice: the noise of a phone recording).
const LEAST_RISE_DEG: f64 = 3.0;

/// Frames on each side of the set's start that its reference is taken from.
const REFERENCE_HALF: usize = 5;

/// Shares of the systematic error that a change keeps: both ends share most of it (stated assumption).
const CHANGE_KEEPS: f64 = 0.3;

fn change(series: &Series, from: f64, frame: usize) -> Result<Value, Why> {
    let (random, systematic) = series.sd_at(frame);
    Ok(Value {
        value: around(series, frame, 1)? - from,
        random: random * std::f64::consts::SQRT_2,
        systematic: systematic * CHANGE_KEEPS,
        frame,
    })
}

impl Measure for Girdle {
    fn cards(&self) -> &'static [Card] {
        &CARDS
    }

    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why> {
        let rep = cx.rep;
        let observed = cx.observed(rep.start, rep.end);
        let value = if id == "protraction-travel" {
            cx.uncut()?;
            let series = cx.signal(Signal::GirdleProtraction)?;
            let most = super::window::extreme(series, rep.start..=rep.end, 1.0)?;
            let least = super::window::extreme(series, rep.start..=rep.end, -1.0)?;
            Value {
                value: most.value - least.value,
                random: most.random.hypot(least.random),
                systematic: CHANGE_KEEPS * most.systematic,
                frame: most.frame,
            }
        } else {
            let series = cx.signal(Signal::GirdleElevation)?;
            let elevation = cx.signal(Signal::Elevation)?;
            let set = around(series, cx.set_start, REFERENCE_HALF)?;
            match id {
                "girdle-rise" => change(series, set, rep.peak)?,
                "girdle-early-rise" => {
                    let passes = (rep.start..=rep.peak)
                        .find(|frame| elevation.at(*frame).is_some_and(|deg| deg >= 60.0))
                        .ok_or(Why::IntervalNotReached)?;
                    change(series, set, passes)?
                }
                _ => {
                    let onset = super::window::part_way(
                        series,
                        rep.start,
                        rep.hold_start,
                        ONSET_SHARE,
                        LEAST_RISE_DEG,
                    )?;
                    let deg = around(elevation, onset, 1)?;
                    let (random, systematic) = elevation.sd_at(onset);
                    // The moment itself is uncertain: how far the arm goes while the girdle moves by its noise.
                    let (noise, _) = series.sd_at(onset);
                    let whole =
                        (around(series, rep.hold_start, 1)? - around(series, rep.start, 1)?).abs();
                    let arm =
                        around(elevation, rep.hold_start, 1)? - around(elevation, rep.start, 1)?;
                    let timing = noise / whole * arm.abs();
                    Value {
                        value: deg,
                        random: random.hypot(timing),
                        systematic,
                        frame: onset,
                    }
                }
            }
        };
        Ok(Outcome::measured(
            value.estimate(observed, Basis::Direct),
            value.random,
            value.frame,
        ))
    }
}
