//! A straight line that a few wild points cannot tilt: the median of all pairwise slopes.
//!
//! *In*: points. *Out*: slope, intercept, and an interval for the slope. It makes no claim about a trend
//! ([`super::mann_kendall`] tests one).
//!
//! *Reference*: Theil 1950; Sen 1968, J Am Stat Assoc 63:1379-1389 (from memory, not verified), as
//! `scipy.stats.theilslopes` computes them. Slopes of pairs with equal `x` are left out. The intercept
//! is median(y) - slope median(x). The interval takes the slopes at ranks `(N -+ z sigma)/2`, with
//! `sigma^2 = (n(n-1)(2n+5) - sum over ties of k(k-1)(2k+5))/18`.
//!
//! *Degenerate case*: all `x` equal is refused. With few points the ranks leave the list of slopes
//! and are held at its ends: `held` says that the interval is then narrower than its name.

use statrs::function::erf::erfc_inv;

use super::error::{DspError, check_at_least, check_finite, check_same_length};
use super::robust::{median, median_of_sorted};

/// Most points allowed: the pairs of more would need over 64 MB. Own choice.
pub const MOST_POINTS: usize = 4096;

/// A Theil-Sen line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TheilSen {
    /// Median slope, unit of `y` per unit of `x`.
    pub slope: f64,
    /// Intercept, unit of `y`.
    pub intercept: f64,
    /// Lower end of the slope's interval.
    pub low: f64,
    /// Upper end of the slope's interval.
    pub high: f64,
    /// Pairs with different `x`.
    pub pairs: usize,
    /// Whether an end of the interval was held at the outermost slope.
    pub held: bool,
}

/// Fits a Theil-Sen line with an interval of the given confidence (0.95 for 95 %).
///
/// # Errors
/// [`DspError::LengthMismatch`], [`DspError::NotFinite`], [`DspError::TooShort`] (fewer than 2),
/// [`DspError::TooLong`] (more than [`MOST_POINTS`]), [`DspError::NoSpread`] (all `x` equal),
/// [`DspError::BadParameter`] (confidence not inside (0.5, 1)).
///
/// # Example
/// Pairwise slopes of (0,0), (1,1), (2,2), (3,9): 1, 1, 3, 1, 4, 7; their median is 2.
/// ```
/// use scaplane::dsp::theil_sen::theil_sen;
/// let line = theil_sen(&[0.0, 1.0, 2.0, 3.0], &[0.0, 1.0, 2.0, 9.0], 0.95)?;
/// assert_eq!(line.slope, 2.0);
/// assert_eq!(line.intercept, 1.5 - 2.0 * 1.5);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn theil_sen(x: &[f64], y: &[f64], confidence: f64) -> Result<TheilSen, DspError> {
    check_same_length(x, y)?;
    check_at_least(x.len(), 2)?;
    if x.len() > MOST_POINTS {
        return Err(DspError::TooLong {
            have: x.len(),
            limit: MOST_POINTS,
        });
    }
    check_finite(x)?;
    check_finite(y)?;
    if !(confidence > 0.5 && confidence < 1.0) {
        return Err(DspError::BadParameter {
            name: "confidence",
            value: confidence,
        });
    }
    let mut slopes = Vec::with_capacity(x.len() * (x.len() - 1) / 2);
    for (k, (xa, ya)) in x.iter().zip(y).enumerate() {
        for (xb, yb) in x.iter().zip(y).skip(k + 1) {
            if xa != xb {
                slopes.push((yb - ya) / (xb - xa));
            }
        }
    }
    // Differences of huge coordinates can leave the range of numbers.
    check_finite(&slopes)?;
    slopes.sort_by(f64::total_cmp);
    let slope = median_of_sorted(&slopes).ok_or(DspError::NoSpread)?;
    let intercept = median(y)? - slope * median(x)?;
    check_finite(&[intercept])?;

    let pairs = slopes.len();
    let n = x.len() as f64;
    let variance = (n * (n - 1.0) * (2.0 * n + 5.0) - tie_sum(x) - tie_sum(y)) / 18.0;
    // The upper tail holds (1 - confidence)/2; erfc(z/sqrt 2) is twice the upper tail.
    let z = std::f64::consts::SQRT_2 * erfc_inv(1.0 - confidence);
    let reach = z * variance.max(0.0).sqrt();
    let count = pairs as f64;
    let low_rank = ((count - reach) / 2.0).round_ties_even() - 1.0;
    let high_rank = ((count + reach) / 2.0).round_ties_even();
    let end = pairs.saturating_sub(1);
    let at = |rank: f64| {
        let rank = (rank.max(0.0) as usize).min(end);
        slopes.get(rank).copied().ok_or(DspError::NoSpread)
    };
    Ok(TheilSen {
        slope,
        intercept,
        low: at(low_rank)?,
        high: at(high_rank)?,
        pairs,
        held: low_rank < 0.0 || high_rank > end as f64,
    })
}

/// Sum of `k(k-1)(2k+5)` over groups of `k` equal values.
pub(super) fn tie_sum(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
        .chunk_by(|a, b| a == b)
        .map(|group| {
            let k = group.len() as f64;
            k * (k - 1.0) * (2.0 * k + 5.0)
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn refuses_what_has_no_slope() {
        let fit = |x: &[f64], y: &[f64]| theil_sen(x, y, 0.95);
        assert_eq!(fit(&[1.0, 1.0], &[0.0, 5.0]), Err(DspError::NoSpread));
        assert!(matches!(fit(&[], &[]), Err(DspError::TooShort { .. })));
        assert!(matches!(
            fit(&[1.0], &[1.0, 2.0]),
            Err(DspError::LengthMismatch { .. })
        ));
        assert!(matches!(
            fit(&[0.0, f64::NAN], &[0.0, 1.0]),
            Err(DspError::NotFinite { .. })
        ));
        assert!(matches!(
            fit(&[0.0, 1e-300], &[0.0, 1e300]),
            Err(DspError::NotFinite { .. })
        ));
        assert!(matches!(
            fit(&[0.0; 5000], &[0.0; 5000]),
            Err(DspError::TooLong { .. })
        ));
        for bad in [0.5, 1.0, f64::NAN] {
            assert!(theil_sen(&[0.0, 1.0], &[0.0, 1.0], bad).is_err());
        }
    }

    #[test]
    fn says_when_the_interval_is_held() {
        let x = [0.0, 1.0, 2.0, 3.0];
        assert!(theil_sen(&x, &[0.0, 1.1, 1.9, 3.2], 0.95).unwrap().held);
        let x: Vec<f64> = (0..20).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|v| v + (v * 7.0).sin()).collect();
        assert!(!theil_sen(&x, &y, 0.95).unwrap().held);
    }

    proptest! {
        #[test]
        fn moves_with_its_points(
            y in prop::collection::vec(-100.0..100.0_f64, 3..25),
            shift in -50.0..50.0_f64,
            scale in 0.1..9.0_f64,
            tilt in -5.0..5.0_f64,
        ) {
            let x: Vec<f64> = (0..y.len()).map(|k| k as f64).collect();
            let plain = theil_sen(&x, &y, 0.95).unwrap();
            let moved: Vec<f64> =
                y.iter().zip(&x).map(|(v, t)| shift + scale * v + tilt * t).collect();
            let moved = theil_sen(&x, &moved, 0.95).unwrap();
            prop_assert!((moved.slope - (scale * plain.slope + tilt)).abs() < 1e-8);
            prop_assert!((moved.low - (scale * plain.low + tilt)).abs() < 1e-8);
            prop_assert!((moved.high - (scale * plain.high + tilt)).abs() < 1e-8);
            prop_assert!(plain.low <= plain.slope && plain.slope <= plain.high);
            let negated: Vec<f64> = y.iter().map(|v| -v).collect();
            let negated = theil_sen(&x, &negated, 0.95).unwrap();
            prop_assert_eq!(negated.slope, -plain.slope);
            // A ramp of known slope with one wild point keeps its slope.
            let mut ramp: Vec<f64> = x.iter().map(|t| shift + tilt * t).collect();
            if ramp.len() >= 5 {
                ramp[2] += 1e6;
                prop_assert!((theil_sen(&x, &ramp, 0.95).unwrap().slope - tilt).abs() < 1e-9);
            }
        }
    }
}
