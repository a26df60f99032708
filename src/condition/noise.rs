//! Noise of the points, from the track itself: before filtering, and what a filter leaves of it.

use crate::dsp::noise::noise_from_differences;
use crate::geom::median;
use crate::kinematics::Noise;
use crate::track::{Layer, Track};
use rayon::prelude::*;
use std::f64::consts::PI;

/// Noise of every joint and axis before filtering.
pub struct RawNoise {
    picture: Vec<[f64; 2]>,
    space: Vec<[f64; 3]>,
    /// Median AR(1) coefficient.
    ar1: f64,
}

/// Largest factor by which correlated noise may exceed what its second differences show if it were white;
/// beyond it noise and movement cannot be told apart (stated choice).
const MOST_CORRELATED: f64 = 3.0;

/// Measures the noise of an evenly timed track from second differences.
pub fn raw(track: &Track) -> RawNoise {
    let (picture, mut coefficients) = track.picture.as_ref().map(by_axis).unwrap_or_default();
    let (space, others) = track.space.as_ref().map(by_axis).unwrap_or_default();
    coefficients.extend(others);
    RawNoise {
        picture,
        space,
        ar1: median(coefficients).unwrap_or(0.0).max(0.0),
    }
}

/// Noise by joint and axis, and the AR(1) coefficients of all.
fn by_axis<const D: usize>(layer: &Layer) -> (Vec<[f64; D]>, Vec<f64>) {
    let found: Vec<[(f64, Option<f64>); D]> = (0..layer.joints())
        .into_par_iter()
        .map(|joint| {
            std::array::from_fn(|axis| {
                let values = longest_run(&layer.column(joint, axis));
                noise_from_differences(&values).map_or((0.0, None), |noise| {
                    let white = noise.robust_white_sd;
                    let sd = noise.ar1_sd.clamp(white, MOST_CORRELATED * white);
                    (sd, Some(noise.ar1))
                })
            })
        })
        .collect();
    let coefficients = found.iter().flatten().filter_map(|(_, ar1)| *ar1).collect();
    let sds = found.iter().map(|axes| axes.map(|(sd, _)| sd)).collect();
    (sds, coefficients)
}

/// Longest stretch without a hole.
pub(super) fn longest_run(values: &[Option<f64>]) -> Vec<f64> {
    let runs = values.split(Option::is_none);
    let longest = runs.max_by_key(|run| run.len()).unwrap_or_default();
    let mut run = Vec::with_capacity(longest.len());
    run.extend(longest.iter().flatten());
    run
}

/// Noise left after a low-pass.
///
/// The power of AR(1) noise with correlation time T below a cut-off fc is (2/pi) atan(2 pi fc T) of the
/// whole (first-order process, from its Lorentzian spectrum); of white noise it is fc over the Nyquist
/// frequency. The larger of the two is taken.
pub fn left(raw: &RawNoise, cutoff_hz: Option<f64>, rate_hz: Option<f64>) -> Noise {
    let rate = rate_hz.unwrap_or(1.0);
    let alike_s = if raw.ar1 > 1e-3 {
        -1.0 / (rate * raw.ar1.ln())
    } else {
        0.0
    };
    let kept = match cutoff_hz {
        Some(cutoff) => {
            let correlated = 2.0 / PI * (2.0 * PI * cutoff * alike_s).atan();
            correlated.max(2.0 * cutoff / rate).min(1.0).sqrt()
        }
        None => 1.0,
    };
    let filter_s = cutoff_hz.map_or(1.0 / rate, |cutoff| 1.0 / (2.0 * PI * cutoff));
    Noise {
        picture: raw
            .picture
            .iter()
            .map(|sd| sd.map(|sd| sd * kept))
            .collect(),
        space: raw.space.iter().map(|sd| sd.map(|sd| sd * kept)).collect(),
        correlation_s: alike_s.max(filter_s),
    }
}
