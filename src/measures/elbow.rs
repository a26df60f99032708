//! The elbow: how far it bent, and on which path it travelled.

use super::window::{extreme, mean};
use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::Signal;
use crate::reading::{Basis, Why};

/// Elbow flexion and path.
pub struct Elbow;

const CARDS: [Card; 4] = [
    Card {
        id: "elbow-range",
        title: "Range of the elbow",
        unit: "deg",
        definition: "Largest minus smallest elbow flexion within the repetition.",
        not_measurable_when: "shoulder, elbow or wrist unseen; the recording begins or ends within the repetition",
        source: "Wu et al. 2005 (ISB)",
    },
    Card {
        id: "elbow-straightest",
        title: "Elbow at its straightest",
        unit: "deg",
        definition: "Smallest elbow flexion within the repetition.",
        not_measurable_when: "shoulder, elbow or wrist unseen",
        source: "Wu et al. 2005 (ISB)",
    },
    Card {
        id: "elbow-bent-most",
        title: "Elbow bent most",
        unit: "deg",
        definition: "Largest elbow flexion within the repetition.",
        not_measurable_when: "shoulder, elbow or wrist unseen",
        source: "Wu et al. 2005 (ISB)",
    },
    Card {
        id: "elbow-path",
        title: "Elbow path",
        unit: "deg",
        definition: "Mean angle of the upper arm against the downward trunk line, seen along the person's \
                     forward direction, over the frames in which the elbow is bent more than 40 degrees.",
        not_measurable_when: "the upper arm points along the line of sight; the elbow is never bent",
        source: "definition of the product; the 45 degree path is common practice, no source",
    },
];

/// Flexion above which the elbow is on its path, degrees (stated choice: below it the arm is nearly long).
const BENT_DEG: f64 = 40.0;

/// Spread beyond which an angle of the elbow says nothing (95 % interval of 120 degrees).
const MOST_SD_DEG: f64 = 30.0;

impl Measure for Elbow {
    fn cards(&self) -> &'static [Card] {
        &CARDS
    }

    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why> {
        let flexion = cx.signal(Signal::ElbowFlexion)?;
        let frames = cx.frames_of(id);
        let observed = cx.observed(cx.rep.start, cx.rep.end);
        let value = match id {
            "elbow-path" => {
                let path = cx.signal(Signal::ElbowPath)?;
                let bent = |frame: usize| flexion.at(frame).is_some_and(|deg| deg > BENT_DEG);
                mean(cx, path, frames, |frame, _| {
                    f64::from(u8::from(bent(frame)))
                })
                .ok_or(Why::ArmAlongSightLine)?
            }
            "elbow-straightest" => extreme(flexion, frames, -1.0)?,
            "elbow-bent-most" => extreme(flexion, frames, 1.0)?,
            _ => {
                cx.uncut()?;
                let mut most = extreme(flexion, frames.clone(), 1.0)?;
                let least = extreme(flexion, frames, -1.0)?;
                most.value -= least.value;
                most.random = most.random.hypot(least.random);
                most.systematic = most.systematic.hypot(least.systematic);
                most
            }
        };
        if value.random.hypot(value.systematic) > MOST_SD_DEG {
            return Err(Why::IllConditioned);
        }
        Ok(Outcome::measured(
            value.estimate(observed, Basis::Direct),
            value.random,
            value.frame,
        ))
    }
}
