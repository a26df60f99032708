//! Rotation of the upper arm about its own axis, told by the forearm.

use super::window::extreme;
use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::Signal;
use crate::reading::{Basis, Why};

/// Humeral rotation.
pub struct Rotation;

const CARDS: [Card; 2] = [
    Card {
        id: "arc-internal-rotation",
        title: "Internal rotation in the arc",
        unit: "deg",
        definition: "Largest internal rotation of the humerus while the elevation is 60 to 120 degrees.",
        not_measurable_when: "elbow flexion below 30 or above 150 degrees; forearm out of the picture plane",
        source: "Wu et al. 2005 (ISB), humerus option 2",
    },
    Card {
        id: "outward-rotation-peak",
        title: "Largest outward rotation",
        unit: "deg",
        definition: "Largest external rotation of the humerus within the repetition, outward positive.",
        not_measurable_when: "elbow flexion below 30 or above 150 degrees; forearm out of the picture plane; the \
                              recording begins after the turning point or ends before it",
        source: "Wu et al. 2005 (ISB), humerus option 2",
    },
];

/// Spread beyond which the rotation says nothing (95 % interval of 100 degrees).
const MOST_SD_DEG: f64 = 25.0;

impl Measure for Rotation {
    fn cards(&self) -> &'static [Card] {
        &CARDS
    }

    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why> {
        let rotation = cx.signal(Signal::HumeralRotation)?;
        let frames = cx.rep.start..=cx.rep.end;
        let value = if id == "outward-rotation-peak" {
            cx.turned()?;
            let mut most = extreme(rotation, frames, -1.0).map_err(|_| Why::ElbowTooStraight)?;
            most.value = -most.value;
            most
        } else {
            let elevation = cx.signal(Signal::Elevation)?;
            let in_arc = |frame: usize| {
                elevation
                    .at(frame)
                    .is_some_and(|deg| (60.0..=120.0).contains(&deg))
            };
            let first = frames
                .clone()
                .find(|f| in_arc(*f))
                .ok_or(Why::IntervalNotReached)?;
            let last = frames
                .rev()
                .find(|f| in_arc(*f))
                .ok_or(Why::IntervalNotReached)?;
            extreme(rotation, first..=last, 1.0).map_err(|_| Why::ElbowTooStraight)?
        };
        if value.random.hypot(value.systematic) > MOST_SD_DEG {
            return Err(Why::IllConditioned);
        }
        let observed = cx.observed(cx.rep.start, cx.rep.end);
        Ok(Outcome::measured(
            value.estimate(observed, Basis::Direct),
            value.random,
            value.frame,
        ))
    }
}
