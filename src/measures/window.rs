//! Averages, extremes and events of a series over a stretch of frames, with their errors.

use super::RepContext;
use crate::dsp::window::over_windows;
use crate::geom::quantile_of_sorted;
use crate::kinematics::Series;
use crate::reading::{Basis, Estimate, Why};

/// Fewest frames an average may rest on (a tenth of a second at 30 Hz, stated choice).
const LEAST_FRAMES: usize = 3;

/// A value with both parts of its error.
#[derive(Debug, Clone, Copy)]
pub struct Value {
    /// Value.
    pub value: f64,
    /// Standard deviation of the part that changes from repetition to repetition.
    pub random: f64,
    /// Standard deviation of the part that stays.
    pub systematic: f64,
    /// Frame of the moment it stands for.
    pub frame: usize,
}

impl Value {
    /// As an estimate.
    pub fn estimate(&self, observed: f64, basis: Basis) -> Estimate {
        Estimate::with_sd(
            self.value,
            self.random.hypot(self.systematic),
            observed,
            basis,
        )
    }
}

/// Weighted mean over the frames that `weigh` gives a positive weight to.
pub fn mean(
    cx: &RepContext<'_>,
    series: &Series,
    frames: std::ops::RangeInclusive<usize>,
    weigh: impl Fn(usize, f64) -> f64,
) -> Option<Value> {
    let mut sums = [0.0; 4];
    let mut count = 0;
    let mut first = None;
    let mut last = 0;
    for frame in frames {
        let Some(value) = series.at(frame) else {
            continue;
        };
        let weight = weigh(frame, value);
        if weight <= 0.0 {
            continue;
        }
        let (random, systematic) = series.sd_at(frame);
        for (sum, term) in sums.iter_mut().zip([1.0, value, random, systematic]) {
            *sum += weight * term;
        }
        count += 1;
        first = first.or(Some(frame));
        last = frame;
    }
    let first = first.filter(|_| count >= LEAST_FRAMES)?;
    let [weight, value, random, systematic] = sums;
    let alike_frames = (2.0 * cx.kinematics.correlation_s / cx.step_s().max(1e-6)).max(1.0);
    let independent = (count as f64 / alike_frames).max(1.0);
    Some(Value {
        value: value / weight,
        random: random / weight / independent.sqrt(),
        systematic: systematic / weight,
        frame: (first + last) / 2,
    })
}

/// Extreme over a stretch; `sign` +1 for the largest, -1 for the smallest.
pub fn extreme(
    series: &Series,
    frames: std::ops::RangeInclusive<usize>,
    sign: f64,
) -> Result<Value, Why> {
    let frame = frames
        .filter(|frame| series.at(*frame).is_some())
        .max_by(|a, b| {
            let at = |frame: usize| sign * series.at(frame).unwrap_or(f64::NEG_INFINITY);
            at(*a).total_cmp(&at(*b))
        })
        .ok_or(Why::TooFewFrames)?;
    let (random, systematic) = series.sd_at(frame);
    Ok(Value {
        value: series.at(frame).ok_or(Why::TooFewFrames)?,
        random,
        systematic,
        frame,
    })
}

/// Median of a series around a frame, so that one noisy frame is no reference.
pub fn around(series: &Series, frame: usize, half: usize) -> Result<f64, Why> {
    crate::geom::median(
        (frame.saturating_sub(half)..=frame + half).filter_map(|frame| series.at(frame)),
    )
    .ok_or(Why::TooFewFrames)
}

/// [`around`] for every frame of a stretch; `None` where no frame near has a value.
pub fn around_each(
    series: &Series,
    frames: std::ops::RangeInclusive<usize>,
    half: usize,
) -> Vec<Option<f64>> {
    let (start, end) = frames.into_inner();
    let from = start.saturating_sub(half);
    let near: Vec<Option<f64>> = (from..=end + half).map(|frame| series.at(frame)).collect();
    let medians = over_windows(&near, half, |window| quantile_of_sorted(window, 0.5));
    let stretch = medians.into_iter().skip(start - from);
    stretch.take((end + 1).saturating_sub(start)).collect()
}

/// First frame in a stretch (walked in its own direction) at which the series has gone a share of the way
/// from its value at the stretch's first frame to its value at the last.
pub fn part_way(
    series: &Series,
    from: usize,
    to: usize,
    share: f64,
    least_travel: f64,
) -> Result<usize, Why> {
    let start = around(series, from, 2)?;
    let travel = around(series, to, 2)? - start;
    if travel.abs() < least_travel {
        return Err(Why::EventNotSeen);
    }
    (from..=to)
        .find(|frame| {
            series
                .at(*frame)
                .is_some_and(|value| (value - start) / travel >= share)
        })
        .ok_or(Why::EventNotSeen)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn medians_of_a_stretch_are_those_of_its_frames() {
        let value: Vec<Option<f64>> = (0..60)
            .map(|frame| (frame % 9 != 4).then(|| f64::from(frame * 31 % 17)))
            .collect();
        let series = Series::exact(value);
        for (start, end) in [(0, 59), (3, 20), (30, 57), (12, 12)] {
            for half in [1, 5, 15, 90] {
                let one_by_one: Vec<Option<f64>> = (start..=end)
                    .map(|frame| around(&series, frame, half).ok())
                    .collect();
                assert_eq!(around_each(&series, start..=end, half), one_by_one);
            }
        }
    }
}
