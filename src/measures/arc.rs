//! The arc of 60 to 120 degrees: a symptom range that every full repetition passes.

use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::Signal;
use crate::reading::{Basis, Estimate, Why, Z_95};

/// Time and exposure in the arc.
pub struct Arc;

const CARDS: [Card; 2] = [
    Card {
        id: "arc-time",
        title: "Time in the arc of 60 to 120 degrees",
        unit: "s",
        definition: "Time within the repetition with 60 to 120 degrees of elevation.",
        not_measurable_when: "no frame rate is known; elevation not measurable; the recording begins or ends within \
                              the repetition",
        source: "arc: Kessel and Watson 1977, from memory; a symptom range, not a fault",
    },
    Card {
        id: "arc-exposure",
        title: "Exposure in the arc",
        unit: "deg_s",
        definition: "Integral, over the time in the arc, of the degrees by which the plane of elevation lies \
                     outside the exercise's band.",
        not_measurable_when: "no frame rate is known; the plane is not measurable; the exercise has no band; the \
                              recording begins or ends within the repetition",
        source: "definition of the product",
    },
];

/// The arc, degrees. Source: Kessel and Watson 1977, from memory, not verified.
pub const ARC_DEG: std::ops::RangeInclusive<f64> = 60.0..=120.0;

impl Measure for Arc {
    fn cards(&self) -> &'static [Card] {
        &CARDS
    }

    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why> {
        cx.seconds(cx.rep.start, cx.rep.end)?;
        cx.uncut()?;
        let elevation = cx.signal(Signal::Elevation)?;
        let step = cx.step_s();
        let observed = cx.observed(cx.rep.start, cx.rep.end);
        // Time in the arc if the elevation were off by `by` degrees throughout.
        let in_arc = |frame: usize, by: f64| {
            elevation
                .at(frame)
                .is_some_and(|deg| ARC_DEG.contains(&(deg + by)))
        };
        let frames = || cx.rep.start..=cx.rep.end;
        if id == "arc-time" {
            let time = step * frames().filter(|frame| in_arc(*frame, 0.0)).count() as f64;
            let (random, systematic) = elevation.sd_at(cx.rep.peak);
            // Each of the four crossings is off by the error of the elevation over the speed there, about
            // 120 degrees in the time; a constant error differs between 60 and 120 degrees.
            let speed = 120.0 / time.max(step);
            let crossings = (4.0 * random * random + 8.0 * systematic * systematic).sqrt() / speed;
            let mut estimate =
                Estimate::with_sd(time, crossings.hypot(step), observed, Basis::Direct);
            estimate.low = estimate.low.max(0.0);
            return Ok(Outcome::measured(estimate, step, cx.rep.peak));
        }
        let plane = cx.signal(Signal::Plane)?;
        let (low, high) = cx.plane_band.ok_or(Why::NotInExercise)?;
        let beyond = |frame: usize, by: f64| {
            plane.at(frame).map_or(0.0, |deg| {
                let from_aim = deg - cx.aim_plane_deg + by;
                (low - from_aim).max(from_aim - high).max(0.0)
            })
        };
        let exposure = |by: f64| {
            step * frames()
                .filter(|frame| in_arc(*frame, 0.0))
                .map(|frame| beyond(frame, by))
                .sum::<f64>()
        };
        let moment = frames()
            .filter(|frame| in_arc(*frame, 0.0))
            .max_by(|a, b| beyond(*a, 0.0).total_cmp(&beyond(*b, 0.0)))
            .ok_or(Why::IntervalNotReached)?;
        let (random, systematic) = plane.sd_at(moment);
        let sd = random.hypot(systematic);
        if sd > super::plane::MOST_SD_DEG {
            return Err(Why::IllConditioned);
        }
        let ends = [exposure(0.0), exposure(Z_95 * sd), exposure(-Z_95 * sd)];
        let estimate = Estimate {
            value: ends[0],
            low: ends.iter().copied().fold(f64::INFINITY, f64::min),
            high: ends.iter().copied().fold(0.0, f64::max),
            observed,
            basis: Basis::Direct,
        };
        Ok(Outcome::measured(estimate, random * step, moment))
    }
}
