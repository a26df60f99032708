//! One signal over time with its two kinds of spread.

use super::poses::Courses;
use super::spread::AngleSpread;
use super::values::Values;
use crate::geom::wrap_180;

/// A signal by frame, degrees.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Value; `None` where it has no meaning or was not seen.
    pub value: Values,
    /// Its spread at some frames, in their order.
    samples: Vec<Sample>,
    /// Standard deviation of what is alike through the clip and not in the samples.
    besides_sd: f64,
}

/// Spread at a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sample {
    frame: usize,
    /// Standard deviation of the frame-to-frame noise.
    random_sd: f64,
    /// Standard deviation of the error that stays alike through the clip.
    systematic_sd: f64,
}

impl Series {
    /// A series without error, for tests and for curves known exactly.
    pub fn exact(value: impl IntoIterator<Item = Option<f64>>) -> Series {
        Series::even(value, 0.0, 0.0)
    }

    /// A series with the same spread in every frame: of the frame-to-frame noise, and of the error that stays alike.
    pub fn even(
        value: impl IntoIterator<Item = Option<f64>>,
        random_sd: f64,
        systematic_sd: f64,
    ) -> Series {
        Series {
            value: value.into_iter().collect(),
            samples: vec![Sample {
                frame: 0,
                random_sd,
                systematic_sd,
            }],
            besides_sd: 0.0,
        }
    }

    /// The same with one more error that stays alike through the clip, of this standard deviation.
    pub fn add_systematic(&mut self, sd: f64) {
        self.besides_sd = self.besides_sd.hypot(sd);
    }

    /// Value at a frame.
    pub fn at(&self, frame: usize) -> Option<f64> {
        self.value.at(frame)
    }

    /// Standard deviations at a frame, of the frame-to-frame noise and of the error that stays alike: between two samples
    /// in proportion, before the first and after the last as there; zero outside the clip.
    pub fn sd_at(&self, frame: usize) -> (f64, f64) {
        if frame >= self.value.len() {
            return (0.0, 0.0);
        }
        let (random, systematic) = match around(&self.samples, frame, |known| known.frame) {
            Some((a, b, share)) => {
                let between = |a: f64, b: f64| a + (b - a) * share;
                (
                    between(a.random_sd, b.random_sd),
                    between(a.systematic_sd, b.systematic_sd),
                )
            }
            None => (0.0, 0.0),
        };
        (random, systematic.hypot(self.besides_sd))
    }
}

/// The samples on both sides of a frame, and the share of the way from one to the other; before the first and after the
/// last that one alone, twice. `None` without samples.
pub(super) fn around<T>(
    samples: &[T],
    frame: usize,
    frame_of: impl Fn(&T) -> usize,
) -> Option<(&T, &T, f64)> {
    let next = samples.partition_point(|sample| frame_of(sample) < frame);
    let before = next.checked_sub(1).and_then(|i| samples.get(i));
    match (before, samples.get(next)) {
        (Some(a), Some(b)) => {
            let steps = (frame_of(b) - frame_of(a)).max(1);
            Some((a, b, (frame - frame_of(a)) as f64 / steps as f64))
        }
        (Some(one), None) | (None, Some(one)) => Some((one, one, 0.0)),
        (None, None) => None,
    }
}

/// Joins angles over time with their spreads at some frames; `None` for a signal that is never there.
pub fn assemble(courses: Courses, spreads: &[(usize, AngleSpread)]) -> Vec<Option<Series>> {
    let with_spread = |(i, value): (usize, Values)| {
        // A spread of 0 marks a sampled frame where the signal had no value: skip it.
        let has_value = |frame: usize| value.at(frame).is_some();
        let samples = spreads
            .iter()
            .filter(|(frame, _)| has_value(*frame))
            .map(|(frame, spread)| Sample {
                frame: *frame,
                random_sd: spread.random[i],
                systematic_sd: spread.systematic[i],
            })
            .collect();
        (!value.is_empty()).then_some(Series {
            value,
            samples,
            besides_sd: 0.0,
        })
    };
    let values = courses.into_values().into_iter();
    values.enumerate().map(with_spread).collect()
}

/// Circular signals are given within half a turn of a centre, so that they can be averaged: a plane near the
/// exercise's own plane never appears a whole turn away.
pub fn within_half_a_turn(series: &mut Series, centre_deg: f64) {
    series
        .value
        .change(|value| centre_deg + wrap_180(value - centre_deg));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spread_goes_evenly_from_sample_to_sample() {
        let sample = |frame, random_sd, systematic_sd| Sample {
            frame,
            random_sd,
            systematic_sd,
        };
        let mut series = Series {
            value: [Some(1.0); 40].into_iter().collect(),
            samples: vec![sample(10, 1.0, 3.0), sample(20, 2.0, 5.0)],
            besides_sd: 0.0,
        };
        let found = [0, 10, 15, 20, 39, 40].map(|frame| series.sd_at(frame));
        let wanted = [
            (1.0, 3.0),
            (1.0, 3.0),
            (1.5, 4.0),
            (2.0, 5.0),
            (2.0, 5.0),
            (0.0, 0.0),
        ];
        assert_eq!(found, wanted);
        // Errors that have nothing to do with each other add in squares.
        series.add_systematic(3.0);
        series.add_systematic(0.0);
        assert_eq!(series.sd_at(15), (1.5, 5.0));
    }
}
