//! In which plane the arm was raised.

use super::window::{Value, mean};
use super::{Card, Measure, Outcome, RepContext};
use crate::kinematics::Signal;
use crate::reading::{Basis, Why};

/// Plane of elevation and its deviation from the exercise's plane.
pub struct Plane;

const CARDS: [Card; 2] = [
    Card {
        id: "plane-of-elevation",
        title: "Plane of elevation",
        unit: "deg",
        definition: "Mean plane over the frames with 40 to 140 degrees of elevation, weighted by the sine of \
                     the elevation; 0 to the side, 90 ahead.",
        not_measurable_when: "the arm is not between 40 and 140 degrees of elevation; the view cannot tell",
        source: "Wu et al. 2005 (ISB) for the angle; weight because its error grows with 1/sin",
    },
    Card {
        id: "plane-deviation",
        title: "Deviation from the exercise's plane",
        unit: "deg",
        definition: "Departure of the plane from the exercise's aim, averaged over the quarter of the frames \
                     between 40 and 140 degrees of elevation (one stretch) where it is largest; negative \
                     toward the side, positive toward the front.",
        not_measurable_when: "as the plane of elevation; the exercise states no plane",
        source: "Wu et al. 2005 (ISB) for the angle",
    },
];

/// Elevations between which the plane is taken (contract of the product: undefined below about 20 and
/// above about 160; 40 and 140 keep the error below 1.6 times that at 90 degrees).
const FROM_DEG: f64 = 40.0;
const TO_DEG: f64 = 140.0;

/// Number of stretches that the frames in range are split into to look for the worst one.
const STRETCHES: usize = 4;

/// Spread beyond which a plane means nothing: a quarter turn, 95 %.
pub(super) const MOST_SD_DEG: f64 = 23.0;

impl Measure for Plane {
    fn cards(&self) -> &'static [Card] {
        &CARDS
    }

    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why> {
        let plane = cx.signal(Signal::Plane)?;
        let elevation = cx.signal(Signal::Elevation)?;
        let weigh = |frame: usize| match elevation.at(frame) {
            Some(deg) if (FROM_DEG..=TO_DEG).contains(&deg) => deg.to_radians().sin(),
            _ => 0.0,
        };
        let whole = mean(cx, plane, cx.rep.start..=cx.rep.end, |frame, _| {
            weigh(frame)
        })
        .ok_or(Why::PlaneUndefined)?;
        if whole.random.hypot(whole.systematic) > MOST_SD_DEG {
            return Err(Why::IllConditioned);
        }
        let observed = cx.observed(cx.rep.start, cx.rep.end);
        if id == "plane-of-elevation" {
            return Ok(Outcome::measured(
                whole.estimate(observed, Basis::Direct),
                whole.random,
                whole.frame,
            ));
        }
        let aim = cx
            .exercise
            .plane
            .as_ref()
            .ok_or(Why::NotInExercise)?
            .aim_deg;
        let in_range: Vec<usize> = cx
            .frames_of(id)
            .filter(|frame| weigh(*frame) > 0.0)
            .collect();
        let size = in_range.len().div_ceil(STRETCHES).max(1);
        let centre = cx.plane_band.map_or(0.0, |(low, high)| (low + high) / 2.0);
        let worst: Option<Value> = in_range
            .chunks(size)
            .filter_map(|chunk| {
                let (first, last) = (*chunk.first()?, *chunk.last()?);
                let mut value = mean(cx, plane, first..=last, |frame, _| weigh(frame))?;
                value.value -= aim;
                Some(value)
            })
            .max_by(|a, b| {
                (a.value - centre)
                    .abs()
                    .total_cmp(&(b.value - centre).abs())
            });
        let worst = worst.ok_or(Why::PlaneUndefined)?;
        Ok(Outcome::measured(
            worst.estimate(observed, Basis::Direct),
            worst.random,
            worst.frame,
        ))
    }
}
