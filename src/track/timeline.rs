//! When each frame was, and how far that is known.

use serde::{Deserialize, Serialize};

/// Where the time of a frame comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Timing {
    /// The file carries a time stamp for each frame.
    Stamped,
    /// The file or the user states a frame rate.
    Stated,
    /// Nobody stated a rate: times are nominal, for filters and order only, and no seconds are reported.
    Assumed,
}

/// The rate used for filters when none is known: the commonest of phone video (common practice, no source).
pub const NOMINAL_RATE_HZ: f64 = 30.0;

/// Rates of video, hertz, and how near to one a measured rate must be to be it, as a share: stamps are rounded
/// (common practice, no source; the nearest two rates are a thousandth apart).
const USUAL_RATES_HZ: [f64; 14] = [
    12.0, 12.5, 15.0, 23.976, 24.0, 25.0, 29.97, 30.0, 50.0, 59.94, 60.0, 100.0, 120.0, 240.0,
];
const USUAL_WITHIN: f64 = 4e-4;

fn usual(rate_hz: f64) -> f64 {
    USUAL_RATES_HZ
        .into_iter()
        .find(|usual| (rate_hz / usual - 1.0).abs() < USUAL_WITHIN)
        .unwrap_or(rate_hz)
}

/// Times of the frames in seconds from the first, strictly increasing.
#[derive(Debug, Clone, PartialEq)]
pub struct Timeline {
    times_s: Vec<f64>,
    /// Frame numbers as in the file.
    numbers: Vec<i64>,
    timing: Timing,
    rate_hz: Option<f64>,
}

impl Timeline {
    /// A time line; `None` unless the two lists are equally long and times are finite and strictly increase.
    pub fn new(times_s: Vec<f64>, numbers: Vec<i64>, timing: Timing) -> Option<Timeline> {
        let ordered = times_s
            .iter()
            .zip(times_s.iter().skip(1))
            .all(|(a, b)| a < b);
        let finite = times_s.iter().all(|time| time.is_finite());
        (times_s.len() == numbers.len() && ordered && finite).then(|| Timeline {
            rate_hz: rate_of(&times_s),
            times_s,
            numbers,
            timing,
        })
    }

    /// An even time line at a rate.
    pub fn even(frames: usize, rate_hz: f64, timing: Timing) -> Option<Timeline> {
        if !(rate_hz.is_finite() && rate_hz > 0.0) {
            return None;
        }
        let times = (0..frames).map(|frame| frame as f64 / rate_hz).collect();
        Timeline::new(times, (0..frames as i64).collect(), timing)
    }

    /// Number of frames.
    pub fn len(&self) -> usize {
        self.times_s.len()
    }

    /// Whether there is no frame.
    pub fn is_empty(&self) -> bool {
        self.times_s.is_empty()
    }

    /// Times in seconds.
    pub fn times_s(&self) -> &[f64] {
        &self.times_s
    }

    /// Time of a frame in seconds, if there is such a frame.
    pub fn time_s(&self, frame: usize) -> Option<f64> {
        self.times_s.get(frame).copied()
    }

    /// The file's number of a frame.
    pub fn number(&self, frame: usize) -> Option<i64> {
        self.numbers.get(frame).copied()
    }

    /// Where the times come from.
    pub fn timing(&self) -> Timing {
        self.timing
    }

    /// Whether seconds may be reported.
    pub fn knows_seconds(&self) -> bool {
        self.timing != Timing::Assumed
    }

    /// Seconds from first to last frame.
    pub fn duration_s(&self) -> f64 {
        match (self.times_s.first(), self.times_s.last()) {
            (Some(first), Some(last)) => last - first,
            _ => 0.0,
        }
    }

    /// Frame rate in hertz, by the mean of the steps that are no more than half away from the median one: stamps
    /// in whole milliseconds have no typical step. `None` with fewer than two frames.
    pub fn rate_hz(&self) -> Option<f64> {
        self.rate_hz
    }
}

fn rate_of(times_s: &[f64]) -> Option<f64> {
    let mut steps: Vec<f64> = times_s
        .iter()
        .zip(times_s.iter().skip(1))
        .map(|(a, b)| b - a)
        .collect();
    steps.sort_unstable_by(f64::total_cmp);
    let median = *steps.get(steps.len() / 2)?;
    steps.retain(|step| (step - median).abs() <= 0.5 * median);
    let mean = steps.iter().sum::<f64>() / steps.len() as f64;
    (mean > 0.0).then(|| usual(1.0 / mean))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_must_increase() {
        assert!(Timeline::new(vec![0.0, 0.1], vec![0, 1], Timing::Stamped).is_some());
        assert!(Timeline::new(vec![0.0, 0.0], vec![0, 1], Timing::Stamped).is_none());
        assert!(Timeline::new(vec![0.0], vec![], Timing::Stamped).is_none());
        assert!(Timeline::even(3, 0.0, Timing::Stated).is_none());
        let even = Timeline::even(31, 30.0, Timing::Stated).unwrap();
        assert!((even.duration_s() - 1.0).abs() < 1e-12);
        assert!((even.rate_hz().unwrap() - 30.0).abs() < 1e-9);
        // Whole milliseconds, and a hole.
        let mut times: Vec<f64> = (0..300)
            .map(|n| (n as f64 * 1000.0 / 30.0).round() / 1000.0)
            .collect();
        times.retain(|time| !(3.0..3.5).contains(time));
        let numbers = (0..times.len() as i64).collect();
        let stamped = Timeline::new(times, numbers, Timing::Stamped).unwrap();
        assert!((stamped.rate_hz().unwrap() - 30.0).abs() < 0.01);
    }
}
