//! Residual analysis: how strongly to smooth, read from what smoothing takes away.
//!
//! *In*: samples of one coordinate or angle at an even rate. *Out*: the residual curve, the straight line
//! through its noisy end, the chosen cut-off and the noise it implies. It does not filter for good;
//! [`super::zero_phase`] does, with the cut-off chosen here.
//!
//! *Reference*: Winter, Biomechanics and Motor Control of Human Movement, residual analysis (edition
//! from memory, not verified). `R(fc)` is the root mean square of the raw minus the filtered signal.
//! At high `fc` only noise is removed and `R` is nearly straight; the line through that part meets
//! `fc = 0` at the intercept `a`. The cut-off is where `R(fc) = a`.
//!
//! *Noise*: Winter reads `a` as the noise. `R` of pure white noise is not quite straight, so the same
//! line is fitted to the curve that unit white noise would give (integral of `(1 - H)^2`), and `a` is
//! divided by that intercept. (This correction is derived here; checked by simulation in the tests.) Keypoint
//! noise is correlated from frame to frame: [`super::noise`] finds how strongly.
//!
//! *Degenerate case*: without motion `R` never reaches `a` and the cut-off is the lower limit; with a
//! motion faster than the rate it is the upper one; [`Limited`] says so. No noise: everything is 0 and
//! the lower limit stands.

use super::error::{DspError, check_at_least, check_finite, check_rate, check_samples};
use super::noise::removed_of_white;
use super::zero_phase::zero_phase_lowpass_lanes;

/// Settings of [`residual_analysis`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResidualRule {
    /// First cut-off tried and the step between cut-offs, Hz.
    pub step_hz: f64,
    /// Last cut-off tried, as a share of the Nyquist frequency. Near 1 the residual drops steeply.
    pub last_share: f64,
    /// Least r-squared of the straight part.
    pub least_r2: f64,
    /// Least cut-off chosen, Hz.
    pub low_hz: f64,
    /// Greatest cut-off chosen, Hz; never above half the Nyquist frequency.
    pub high_hz: f64,
}

impl Default for ResidualRule {
    fn default() -> Self {
        Self {
            step_hz: 0.25,
            // Common practice, no source, for the four settings below.
            last_share: 0.8,
            least_r2: 0.95,
            low_hz: 2.0,
            high_hz: 10.0,
        }
    }
}

/// Whether the chosen cut-off was held at a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limited {
    /// The analysis chose it freely.
    No,
    /// The analysis asked for less than the lower limit.
    Low,
    /// The analysis asked for more than the upper limit.
    High,
}

/// What residual analysis found.
#[derive(Debug, Clone, PartialEq)]
pub struct ResidualAnalysis {
    /// Cut-offs tried, Hz, rising.
    pub grid_hz: Vec<f64>,
    /// Root mean square residual at each, in the unit of the samples.
    pub residual_rms: Vec<f64>,
    /// First cut-off of the straight part, Hz.
    pub straight_from_hz: f64,
    /// Slope of the line through the straight part, unit of the samples per Hz.
    pub slope: f64,
    /// Where that line meets 0 Hz: Winter's noise level, in the unit of the samples.
    pub intercept: f64,
    /// r-squared of that line; 1 when the part is level.
    pub r2: f64,
    /// Chosen cut-off, Hz.
    pub cutoff_hz: f64,
    /// Whether that is a limit.
    pub limited: Limited,
    /// Standard deviation of the noise if it is white, in the unit of the samples.
    pub white_sd: f64,
}

/// Fewest cut-offs for a line. Common practice, no source.
const LEAST_GRID: usize = 6;

/// Runs residual analysis on one signal.
///
/// *Units and range*: `x` at an even `rate_hz`, at least 30 samples (about a second; with fewer the
/// residual is all edge).
///
/// # Errors
/// [`DspError::Empty`], [`DspError::NotFinite`], [`DspError::TooShort`] (samples, or cut-offs below the
/// last one), [`DspError::BadRate`], [`DspError::BadParameter`].
///
/// # Example
/// A 1 Hz wave of 40 degrees, shaken by an alternating error of 1 degree: the error is at the Nyquist
/// frequency, and every cut-off removes the whole of it.
/// ```
/// use scaplane::dsp::residual::{ResidualRule, residual_analysis};
/// let x: Vec<f64> = (0..300)
///     .map(|k| {
///         let error = if k % 2 == 0 { 1.0 } else { -1.0 };
///         40.0 * (f64::from(k) / 30.0 * std::f64::consts::TAU).sin() + error
///     })
///     .collect();
/// let found = residual_analysis(&x, 30.0, &ResidualRule::default())?;
/// assert!((found.intercept - 1.0).abs() < 0.02);
/// assert!((2.0..=7.5).contains(&found.cutoff_hz));
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn residual_analysis(
    x: &[f64],
    rate_hz: f64,
    rule: &ResidualRule,
) -> Result<ResidualAnalysis, DspError> {
    check_samples(x)?;
    check_rate(rate_hz)?;
    check_rule(rule)?;
    // Common practice, no source.
    check_at_least(x.len(), 30)?;
    let nyquist = rate_hz / 2.0;
    let steps = (rule.last_share * nyquist / rule.step_hz).floor();
    // A grid finer than this tells nothing more and costs one filter run a step.
    if !(steps.is_finite() && steps <= 2000.0) {
        return Err(DspError::BadParameter {
            name: "step_hz",
            value: rule.step_hz,
        });
    }
    let grid_hz: Vec<f64> = (1..=steps as usize)
        .map(|k| k as f64 * rule.step_hz)
        .collect();
    check_at_least(grid_hz.len(), LEAST_GRID)?;

    let rounding = 1e-12 * x.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    let mut residual_rms = Vec::with_capacity(grid_hz.len());
    for cutoffs in grid_hz.chunks(LANES) {
        let left = residuals_rms(x, cutoffs, rate_hz)?;
        // What rounding leaves of a still signal is not noise.
        let noise = left.map(|left| if left > rounding { left } else { 0.0 });
        residual_rms.extend(noise.iter().take(cutoffs.len()));
    }
    let high = rule.high_hz.min(nyquist / 2.0);
    let low = rule.low_hz.min(high);
    // What is below the least cut-off counts as movement, so the straight part starts no lower.
    let (from, line) = straight_part(&grid_hz, &residual_rms, low, rule.least_r2);
    // Squares of huge samples can leave the range of numbers.
    check_finite(&[line.slope, line.intercept, line.r2])?;
    let straight_from_hz = grid_hz.get(from).copied().unwrap_or(rule.step_hz);

    // The same line on the curve of unit white noise says how far its intercept is from 1.
    let tail = grid_hz.get(from..).unwrap_or_default();
    let mut unit = Vec::with_capacity(tail.len());
    for &fc in tail {
        unit.push(removed_of_white(fc, rate_hz)?.sqrt());
    }
    let white_sd = (line.intercept / line_through(tail, &unit).intercept).max(0.0);

    let (cutoff_hz, limited) = choose(&grid_hz, &residual_rms, line.intercept, low, high);
    Ok(ResidualAnalysis {
        grid_hz,
        residual_rms,
        straight_from_hz,
        slope: line.slope,
        intercept: line.intercept,
        r2: line.r2,
        cutoff_hz,
        limited,
        white_sd,
    })
}

fn check_rule(rule: &ResidualRule) -> Result<(), DspError> {
    for (name, value, most) in [
        ("step_hz", rule.step_hz, f64::MAX),
        ("last_share", rule.last_share, 0.99),
        ("least_r2", rule.least_r2, 1.0),
        ("low_hz", rule.low_hz, rule.high_hz),
        ("high_hz", rule.high_hz, f64::MAX),
    ] {
        if !(value > 0.0 && value <= most) {
            return Err(DspError::BadParameter { name, value });
        }
    }
    Ok(())
}

/// Cut-offs tried side by side.
const LANES: usize = 4;

/// Root mean square of what low-passes at these cut-offs, at most [`LANES`], take away.
fn residuals_rms(x: &[f64], cutoffs_hz: &[f64], rate_hz: f64) -> Result<[f64; LANES], DspError> {
    let last = cutoffs_hz.last().copied().unwrap_or(f64::NAN);
    let mut lanes = [last; LANES];
    lanes
        .iter_mut()
        .zip(cutoffs_hz)
        .for_each(|(lane, hz)| *lane = *hz);
    let signal: Vec<[f64; LANES]> = x.iter().map(|v| [*v; LANES]).collect();
    let smooth = zero_phase_lowpass_lanes(&signal, lanes, rate_hz)?;
    let mut sums = [0.0; LANES];
    for (raw, smooth) in x.iter().zip(&smooth) {
        for (sum, smooth) in sums.iter_mut().zip(smooth) {
            *sum += (raw - smooth) * (raw - smooth);
        }
    }
    Ok(sums.map(|sum| (sum / x.len().max(1) as f64).sqrt()))
}

struct Line {
    slope: f64,
    intercept: f64,
    r2: f64,
}

/// Least-squares line; a level or single-valued part has slope 0 and r-squared 1.
fn line_through(x: &[f64], y: &[f64]) -> Line {
    let n = x.len().max(1) as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    for (a, b) in x.iter().zip(y) {
        sxx += (a - mx) * (a - mx);
        sxy += (a - mx) * (b - my);
        syy += (b - my) * (b - my);
    }
    let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    // A curve that is level but for rounding has no r-squared to speak of.
    let level = syy.sqrt() <= 1e-9 * my.abs() * n.sqrt();
    Line {
        slope,
        intercept: my - slope * mx,
        r2: if level || sxx == 0.0 {
            1.0
        } else {
            sxy * sxy / (sxx * syy)
        },
    }
}

/// The longest end of the curve that is straight enough; failing all, its upper half.
fn straight_part(grid: &[f64], curve: &[f64], low_hz: f64, least_r2: f64) -> (usize, Line) {
    let tail = |from: usize| {
        line_through(
            grid.get(from..).unwrap_or_default(),
            curve.get(from..).unwrap_or_default(),
        )
    };
    let half = grid.len() / 2;
    (grid.partition_point(|f| *f < low_hz)..=grid.len().saturating_sub(LEAST_GRID))
        .map(|from| (from, tail(from)))
        .find(|(_, line)| line.r2 >= least_r2)
        .unwrap_or_else(|| (half, tail(half)))
}

/// The cut-off at which the residual has fallen to the intercept, held within its limits.
fn choose(grid: &[f64], curve: &[f64], intercept: f64, low: f64, high: f64) -> (f64, Limited) {
    let points = || grid.iter().copied().zip(curve.iter().copied());
    let wanted = points()
        .zip(points().skip(1))
        .find(|((_, r0), (_, r1))| *r0 > intercept && *r1 <= intercept)
        .map(|((f0, r0), (f1, r1))| f0 + (f1 - f0) * (r0 - intercept) / (r0 - r1));
    let starts_below = curve.first().is_some_and(|r| *r <= intercept);
    match wanted {
        Some(f) if f > high => (high, Limited::High),
        Some(f) if f < low => (low, Limited::Low),
        Some(f) => (f, Limited::No),
        None if starts_below => (low, Limited::Low),
        None => (high, Limited::High),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dsp::noise::tests::ar1_noise;
    use std::f64::consts::PI;

    fn movement(n: usize, rate_hz: f64) -> Vec<f64> {
        // Raises of 100 degrees, 4 s each, with their first harmonics.
        (0..n)
            .map(|k| {
                let p = 2.0 * PI * k as f64 / rate_hz / 4.0;
                50.0 - 45.0 * p.cos() - 5.0 * (2.0 * p).cos() + 2.0 * (3.0 * p).sin()
            })
            .collect()
    }

    fn analyse(rate_hz: f64, sd: f64, seed: u64) -> ResidualAnalysis {
        let noise = ar1_noise(1200, sd, 0.0, seed);
        let x: Vec<f64> = movement(1200, rate_hz)
            .iter()
            .zip(&noise)
            .map(|(a, b)| a + b)
            .collect();
        residual_analysis(&x, rate_hz, &ResidualRule::default()).unwrap()
    }

    #[test]
    fn recovers_white_noise() {
        for rate in [25.0, 30.0, 60.0] {
            for seed in 0..5 {
                let got = analyse(rate, 2.0, seed);
                assert!(
                    (got.white_sd / 2.0 - 1.0).abs() < 0.08,
                    "{rate}: {}",
                    got.white_sd
                );
                assert!((2.0..=rate / 4.0).contains(&got.cutoff_hz));
            }
        }
    }

    #[test]
    fn more_noise_asks_for_a_lower_cutoff() {
        let cutoff = |sd: f64, seed: u64| {
            let x: Vec<f64> = ar1_noise(900, sd, 0.0, seed)
                .iter()
                .enumerate()
                .map(|(k, e)| {
                    let w = 2.0 * PI * 1.1 * k as f64 / 60.0;
                    40.0 * w.sin() + 6.0 * (3.0 * w).sin() + e
                })
                .collect();
            let got = residual_analysis(&x, 60.0, &ResidualRule::default()).unwrap();
            assert_eq!(got.limited, Limited::No, "{got:?}");
            got.cutoff_hz
        };
        for seed in 0..5 {
            let (clean, noisy) = (cutoff(0.1, seed), cutoff(1.5, seed));
            assert!(clean > noisy + 1.0, "{clean} {noisy}");
            // The movement reaches 3.3 Hz, and the cut-off must let it through.
            assert!(noisy > 3.3, "{noisy}");
        }
    }

    #[test]
    fn says_when_a_limit_holds() {
        let still = residual_analysis(&[5.0; 60], 30.0, &ResidualRule::default()).unwrap();
        assert_eq!((still.cutoff_hz, still.limited), (2.0, Limited::Low));
        assert!(still.white_sd < 1e-9);
        let fast: Vec<f64> = (0..300)
            .map(|k| 40.0 * (2.0 * PI * 11.0 * f64::from(k) / 30.0).sin())
            .collect();
        let got = residual_analysis(&fast, 30.0, &ResidualRule::default()).unwrap();
        assert!(got.cutoff_hz <= 7.5);
    }

    #[test]
    fn refuses_bad_input() {
        let rule = ResidualRule::default();
        assert_eq!(residual_analysis(&[], 30.0, &rule), Err(DspError::Empty));
        assert!(residual_analysis(&[1.0; 29], 30.0, &rule).is_err());
        assert!(residual_analysis(&[1.0; 60], 0.0, &rule).is_err());
        assert!(residual_analysis(&[1.0; 60], 3.0, &rule).is_err());
        for bad in [
            ResidualRule {
                step_hz: 0.0,
                ..rule
            },
            ResidualRule {
                step_hz: 1e-9,
                ..rule
            },
            ResidualRule {
                last_share: 1.0,
                ..rule
            },
            ResidualRule {
                low_hz: 11.0,
                ..rule
            },
            ResidualRule {
                least_r2: f64::NAN,
                ..rule
            },
        ] {
            assert!(residual_analysis(&[1.0; 60], 30.0, &bad).is_err());
        }
    }
}
