//! One signal over time with its two kinds of spread.

use super::angles::Angles;
use super::signal::Signal;
use super::spread::AngleSpread;
use crate::geom::wrap_180;
use rayon::prelude::*;

/// A signal by frame, degrees.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Value; `None` where it has no meaning or was not seen.
    pub value: Vec<Option<f64>>,
    /// Standard deviation of the frame-to-frame noise.
    pub random_sd: Vec<f64>,
    /// Standard deviation of the error that stays alike through the clip.
    pub systematic_sd: Vec<f64>,
}

impl Series {
    /// A series without error, for tests and for curves known exactly.
    pub fn exact(value: Vec<Option<f64>>) -> Series {
        let zero = vec![0.0; value.len()];
        Series {
            value,
            random_sd: zero.clone(),
            systematic_sd: zero,
        }
    }

    /// Value at a frame.
    pub fn at(&self, frame: usize) -> Option<f64> {
        self.value.get(frame).copied().flatten()
    }

    /// Both standard deviations at a frame; zero outside.
    pub fn sd_at(&self, frame: usize) -> (f64, f64) {
        (
            self.random_sd.get(frame).copied().unwrap_or(0.0),
            self.systematic_sd.get(frame).copied().unwrap_or(0.0),
        )
    }
}

/// Splits angles by frame and spreads at some frames into series; `None` for a signal that is never there.
pub fn assemble(frames: &[Angles], spreads: &[(usize, AngleSpread)]) -> Vec<Option<Series>> {
    Signal::ALL
        .par_iter()
        .map(|signal| {
            let i = signal.index();
            let value: Vec<Option<f64>> = frames.iter().map(|angles| angles[i]).collect();
            value.iter().any(Option::is_some).then(|| {
                // A spread of 0 marks a sampled frame where the signal had no value: skip it.
                let known: Vec<(usize, f64, f64)> = spreads
                    .iter()
                    .filter(|(frame, _)| value.get(*frame).is_some_and(Option::is_some))
                    .map(|(frame, spread)| (*frame, spread.random[i], spread.systematic[i]))
                    .collect();
                let random_sd = interpolate(&known, value.len(), |k| k.1);
                let systematic_sd = interpolate(&known, value.len(), |k| k.2);
                Series {
                    value,
                    random_sd,
                    systematic_sd,
                }
            })
        })
        .collect()
}

/// Linear interpolation by frame, constant beyond the ends.
fn interpolate(
    known: &[(usize, f64, f64)],
    frames: usize,
    pick: impl Fn(&(usize, f64, f64)) -> f64,
) -> Vec<f64> {
    let mut out = Vec::with_capacity(frames);
    let mut next = 0;
    for frame in 0..frames {
        while known.get(next).is_some_and(|k| k.0 < frame) {
            next += 1;
        }
        let after = known.get(next);
        let before = next.checked_sub(1).and_then(|i| known.get(i));
        out.push(match (before, after) {
            (Some(a), Some(b)) => {
                let share = (frame - a.0) as f64 / (b.0 - a.0).max(1) as f64;
                pick(a) + (pick(b) - pick(a)) * share
            }
            (Some(one), None) | (None, Some(one)) => pick(one),
            (None, None) => 0.0,
        });
    }
    out
}

/// Circular signals are given within half a turn of a centre, so that they can be averaged: a plane near the
/// exercise's own plane never appears a whole turn away.
pub fn within_half_a_turn(series: &mut Series, centre_deg: f64) {
    for value in series.value.iter_mut().flatten() {
        *value = centre_deg + wrap_180(*value - centre_deg);
    }
}
