//! How noisy a track is, judged from the track itself.
//!
//! *In*: samples of a smooth movement plus noise, at an even rate. *Out*: the standard deviation of the
//! noise in the unit of the samples, and how strongly neighbouring errors resemble each other (AR(1)
//! coefficient, -1..1). It does not smooth and does not judge.
//!
//! *Reference*: the second difference `x(k-1) - 2x(k) + x(k+1)` of a movement that is slow against the
//! sampling rate is nearly 0, so what is left is noise. For noise with standard deviation `s` and
//! correlation `phi^lag` its variance is `s^2 (6 - 8 phi + 2 phi^2)` and its lag-1 correlation is
//! `(phi^2 - 3 phi + 4) / (2 (phi - 3))`, which rises from -1 to -1/2 as `phi` goes from -1 to 1, so it
//! can be turned round. (Derived from the autocovariance of the difference; checked by simulation in
//! the tests.)
//!
//! *Degenerate case*: as `phi` nears 1 the noise becomes as slow as the movement: the lag-1 correlation
//! flattens out, and the standard deviation is understated. Fast movement overstates it.

use super::butterworth::dual_pass_ratio;
use super::error::{DspError, check_at_least, check_cutoff, check_finite, check_samples};
use super::robust::robust_sd;
use std::f64::consts::PI;
use std::sync::LazyLock;

/// Noise of a track from its second differences.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Standard deviation if the noise were white, from the mean square of the second differences.
    pub white_sd: f64,
    /// The same from their median absolute deviation: not moved by a few jumps.
    pub robust_white_sd: f64,
    /// AR(1) coefficient of the noise, within ±[`AR1_LIMIT`].
    pub ar1: f64,
    /// Standard deviation if the noise is AR(1) with that coefficient.
    pub ar1_sd: f64,
}

/// Largest AR(1) coefficient reported: beyond it noise and movement cannot be told apart.
/// Common practice, no source.
pub const AR1_LIMIT: f64 = 0.95;

/// Fewest samples for an estimate: 8 second differences. Common practice, no source.
const LEAST: usize = 10;

/// Second differences, two fewer than the samples.
fn second_differences(x: &[f64]) -> Vec<f64> {
    let (second, third) = (x.iter().skip(1), x.iter().skip(2));
    let threes = x.iter().zip(second).zip(third);
    threes.map(|((a, b), c)| a - 2.0 * b + c).collect()
}

/// Noise of a track from its second differences.
///
/// # Errors
/// [`DspError::Empty`], [`DspError::NotFinite`], [`DspError::TooShort`] (fewer than 10 samples).
///
/// # Example
/// A straight line has no noise.
/// ```
/// use scaplane::dsp::noise::noise_from_differences;
/// let line: Vec<f64> = (0..20).map(f64::from).collect();
/// assert_eq!(noise_from_differences(&line)?.white_sd, 0.0);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn noise_from_differences(x: &[f64]) -> Result<Noise, DspError> {
    check_samples(x)?;
    check_at_least(x.len(), LEAST)?;
    let d = second_differences(x);
    check_finite(&d)?;
    let count = d.len() as f64;
    let power = d.iter().map(|v| v * v).sum::<f64>() / count;
    check_finite(&[power])?;
    // Neighbouring products, one fewer than the differences; not centred, because the mean second
    // difference of a movement is its mean acceleration and is taken to be 0.
    let lag1 = d
        .iter()
        .zip(d.iter().skip(1))
        .map(|(a, b)| a * b)
        .sum::<f64>()
        / (count - 1.0);
    let ar1 = if power > 0.0 {
        ar1_from_difference_correlation(lag1 / power)
    } else {
        0.0
    };
    Ok(Noise {
        white_sd: (power / 6.0).sqrt(),
        robust_white_sd: robust_sd(&d)? / 6.0_f64.sqrt(),
        ar1,
        ar1_sd: (power / (6.0 - 8.0 * ar1 + 2.0 * ar1 * ar1)).sqrt(),
    })
}

/// The AR(1) coefficient whose second differences have lag-1 correlation `r`.
///
/// Solves `phi^2 - (3 + 2r) phi + (4 + 6r) = 0` for the root inside the unit interval.
fn ar1_from_difference_correlation(r: f64) -> f64 {
    let half = (3.0 + 2.0 * r) / 2.0;
    // Above -1/2 no AR(1) noise fits: the differences are slower than any, so the limit is reported.
    let root = half * half - (4.0 + 6.0 * r);
    if root < 0.0 || r >= -0.5 {
        return AR1_LIMIT;
    }
    (half - root.sqrt()).clamp(-AR1_LIMIT, AR1_LIMIT)
}

/// Lag-1 correlation of a residual about its mean: the AR(1) coefficient if the residual is all noise.
///
/// *Definition*: `sum (r_k - m)(r_(k+1) - m) / sum (r_k - m)^2` (Yule-Walker), between -1 and 1. For short
/// records it is biased toward 0 and below. What a low-pass has left over lacks its slow part;
/// [`super::residual`] allows for that.
///
/// # Errors
/// [`DspError::Empty`], [`DspError::NotFinite`], [`DspError::TooShort`] (fewer than 10),
/// [`DspError::NoSpread`] (all equal).
///
/// # Example
/// Ten samples that alternate: nine products of -1 over ten squares.
/// ```
/// use scaplane::dsp::noise::lag1_correlation;
/// let r: Vec<f64> = (0..10).map(|k| if k % 2 == 0 { 1.0 } else { -1.0 }).collect();
/// assert_eq!(lag1_correlation(&r), Ok(-0.9));
/// ```
pub fn lag1_correlation(residual: &[f64]) -> Result<f64, DspError> {
    check_samples(residual)?;
    check_at_least(residual.len(), LEAST)?;
    let mean = residual.iter().sum::<f64>() / residual.len() as f64;
    let centred: Vec<f64> = residual.iter().map(|v| v - mean).collect();
    let power: f64 = centred.iter().map(|v| v * v).sum();
    check_finite(&[power])?;
    let lag1: f64 = centred
        .iter()
        .zip(centred.iter().skip(1))
        .map(|(a, b)| a * b)
        .sum();
    // A plain `> 0` lets rounding of a large constant pass as noise.
    let scale = residual.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    if power.sqrt() <= scale * f64::EPSILON * residual.len() as f64 {
        return Err(DspError::NoSpread);
    }
    Ok(lag1 / power)
}

/// Parts of the band up to half the rate over which [`removed_of_white`] sums.
const BINS: usize = 512;

/// `tan(pi f/fs)` in the middle of each part, which no rate changes.
static MIDDLES: LazyLock<Vec<f64>> = LazyLock::new(|| {
    (0..BINS)
        .map(|k| (PI * (k as f64 + 0.5) / (2 * BINS) as f64).tan())
        .collect()
});

/// Share of the variance of white noise that the low-pass removes. Midpoint rule over its flat spectrum, of the response
/// `1/(1 + r^4)` of [`super::butterworth::zero_phase_response`].
pub(super) fn removed_of_white(cutoff_hz: f64, rate_hz: f64) -> Result<f64, DspError> {
    check_cutoff(cutoff_hz, rate_hz)?;
    let scale = dual_pass_ratio() / (PI * cutoff_hz / rate_hz).tan();
    let power: f64 = MIDDLES
        .iter()
        .map(|middle| {
            let ratio = (middle * scale).powi(4);
            (ratio / (1.0 + ratio)).powi(2)
        })
        .sum();
    Ok(power / BINS as f64)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};

    /// AR(1) noise with standard deviation `sd` at every sample.
    pub fn ar1_noise(n: usize, sd: f64, phi: f64, seed: u64) -> Vec<f64> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let mut last: f64 = StandardNormal.sample(&mut rng);
        (0..n)
            .map(|_| {
                let fresh: f64 = StandardNormal.sample(&mut rng);
                last = phi * last + (1.0 - phi * phi).sqrt() * fresh;
                sd * last
            })
            .collect()
    }

    #[test]
    fn recovers_spread_and_correlation_under_a_slow_movement() {
        for phi in [-0.3, 0.0, 0.3, 0.6] {
            let noise = ar1_noise(20_000, 1.5, phi, 7);
            let x: Vec<f64> = noise
                .iter()
                .enumerate()
                .map(|(k, e)| 60.0 * (k as f64 / 30.0 * 1.2).sin() + e)
                .collect();
            let got = noise_from_differences(&x).unwrap();
            assert!((got.ar1 - phi).abs() < 0.08, "phi {phi}: {got:?}");
            assert!((got.ar1_sd / 1.5 - 1.0).abs() < 0.08, "phi {phi}: {got:?}");
            assert!((lag1_correlation(&noise).unwrap() - phi).abs() < 0.02);
            if phi == 0.0 {
                assert!((got.white_sd / 1.5 - 1.0).abs() < 0.03);
            }
        }
    }

    #[test]
    fn jumps_move_the_plain_estimate_and_not_the_robust_one() {
        let mut x = ar1_noise(1000, 1.0, 0.0, 3);
        for k in (50..1000).step_by(100) {
            x[k] += 80.0;
        }
        let got = noise_from_differences(&x).unwrap();
        assert!(got.white_sd > 5.0);
        assert!((got.robust_white_sd - 1.0).abs() < 0.1, "{got:?}");
    }

    #[test]
    fn the_removed_share_is_that_of_the_response() {
        use crate::dsp::butterworth::zero_phase_response;
        for (cutoff, rate) in [(2.0, 30.0), (6.0, 30.0), (11.5, 30.0), (4.0, 59.94)] {
            let stopped = |k: usize| {
                let hz = (k as f64 + 0.5) / BINS as f64 * rate / 2.0;
                (1.0 - zero_phase_response(hz, cutoff, rate).unwrap()).powi(2)
            };
            let sum: f64 = (0..BINS).map(stopped).sum();
            let removed = removed_of_white(cutoff, rate).unwrap();
            assert!(
                (removed - sum / BINS as f64).abs() < 1e-14,
                "{cutoff} {rate}"
            );
        }
        assert!(removed_of_white(20.0, 30.0).is_err());
    }

    #[test]
    fn refuses_too_little() {
        assert_eq!(noise_from_differences(&[]), Err(DspError::Empty));
        assert!(noise_from_differences(&[1.0; 9]).is_err());
        assert_eq!(lag1_correlation(&[0.1; 12]), Err(DspError::NoSpread));
        // Slower than any AR(1) noise: the limit, not a NaN.
        let slow: Vec<f64> = (0..50).map(|k| f64::from(k * k)).collect();
        assert_eq!(noise_from_differences(&slow).unwrap().ar1, AR1_LIMIT);
    }
}
