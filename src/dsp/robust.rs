//! Middle and spread that a few wild samples cannot move, and flags for those samples.
//!
//! *In*: samples (for the flags: with holes). *Out*: numbers, or one flag a sample. It replaces
//! nothing: what becomes of a flagged sample is the caller's business.
//!
//! *Reference*: Hampel's identifier: a sample is odd when it lies more than `threshold` robust
//! standard deviations from the median of its window; the robust standard deviation is 1.4826 times
//! the median absolute deviation (the factor makes it 1 for a normal distribution).
//!
//! *Degenerate case*: in a window whose samples are mostly equal (a still arm, rounded pixels) the
//! median absolute deviation is 0 and every tremor would be odd; `floor` is the least deviation scale.

use super::error::{DspError, check_samples};

/// 1 / (the 75 % point of the standard normal distribution): median absolute deviation to standard
/// deviation. Computed: 1/0.674489750196082.
pub const MAD_TO_SD: f64 = 1.482_602_218_505_602;

/// Median; the mean of the two middle samples when their number is even.
///
/// # Errors
/// [`DspError::Empty`], [`DspError::NotFinite`].
///
/// # Example
/// ```
/// use scaplane::dsp::robust::median;
/// assert_eq!(median(&[5.0, 1.0, 2.0]), Ok(2.0));
/// assert_eq!(median(&[5.0, 1.0, 2.0, 4.0]), Ok(3.0));
/// ```
pub fn median(x: &[f64]) -> Result<f64, DspError> {
    check_samples(x)?;
    median_of(&mut x.to_vec())
}

/// Median of finite samples, which it brings into another order.
fn median_of(values: &mut [f64]) -> Result<f64, DspError> {
    let count = values.len();
    if count == 0 {
        return Err(DspError::Empty);
    }
    let (below, upper, _) = values.select_nth_unstable_by(count / 2, f64::total_cmp);
    if count % 2 == 1 {
        return Ok(*upper);
    }
    let lower = below.iter().copied().max_by(f64::total_cmp);
    // Halved before adding, so that two huge samples do not overflow.
    Ok(lower.ok_or(DspError::Empty)? / 2.0 + *upper / 2.0)
}

/// Median of samples already in order; `None` when there are none.
pub(super) fn median_of_sorted(sorted: &[f64]) -> Option<f64> {
    let n = sorted.len();
    let upper = sorted.get(n / 2)?;
    if n % 2 == 1 {
        Some(*upper)
    } else {
        let lower = sorted.get((n / 2).checked_sub(1)?)?;
        // Halved before adding, so that two huge samples do not overflow.
        Some(lower / 2.0 + upper / 2.0)
    }
}

/// Median absolute deviation from the median, in the unit of `x`; not scaled.
///
/// # Errors
/// [`DspError::Empty`], [`DspError::NotFinite`].
///
/// # Example
/// Deviations from the median 3 are 2, 1, 0, 1, 97.
/// ```
/// use scaplane::dsp::robust::mad;
/// assert_eq!(mad(&[1.0, 2.0, 3.0, 4.0, 100.0]), Ok(1.0));
/// ```
pub fn mad(x: &[f64]) -> Result<f64, DspError> {
    check_samples(x)?;
    let mut values = x.to_vec();
    let middle = median_of(&mut values)?;
    for (deviation, value) in values.iter_mut().zip(x) {
        *deviation = (value - middle).abs();
    }
    check_samples(&values)?;
    median_of(&mut values)
}

/// Standard deviation as the scaled median absolute deviation, in the unit of `x`.
///
/// # Errors
/// As [`mad`].
///
/// # Example
/// ```
/// use scaplane::dsp::robust::{MAD_TO_SD, robust_sd};
/// assert_eq!(robust_sd(&[1.0, 2.0, 3.0, 4.0, 100.0]), Ok(MAD_TO_SD));
/// ```
pub fn robust_sd(x: &[f64]) -> Result<f64, DspError> {
    Ok(mad(x)? * MAD_TO_SD)
}

/// Settings of [`hampel_flags`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HampelRule {
    /// Samples on each side of the one judged; windows shrink at the ends.
    pub half_window: usize,
    /// Robust standard deviations beyond which a sample is odd; positive.
    pub threshold: f64,
    /// Least robust standard deviation assumed, in the unit of the samples; 0 for none.
    pub floor: f64,
}

/// Fewest samples present in a window for a judgement: with fewer, the median is no middle.
/// Common practice, no source.
const LEAST_IN_WINDOW: usize = 3;

/// Which samples lie too far from the median of their window (Hampel).
///
/// Holes (`None`) are never flagged and take no part. A sample whose window holds fewer than 3
/// present samples is not judged and not flagged.
///
/// # Errors
/// [`DspError::BadParameter`] (threshold not positive, floor negative or either not finite,
/// half-window 0); [`DspError::NotFinite`].
///
/// # Example
/// Window of five around 90: median 3, median absolute deviation 1, so the limit is 4.4.
/// ```
/// use scaplane::dsp::robust::{HampelRule, hampel_flags};
/// let x = [1.0, 2.0, 90.0, 3.0, 4.0].map(Some);
/// let rule = HampelRule { half_window: 2, threshold: 3.0, floor: 0.0 };
/// assert_eq!(hampel_flags(&x, &rule)?, [false, false, true, false, false]);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn hampel_flags(x: &[Option<f64>], rule: &HampelRule) -> Result<Vec<bool>, DspError> {
    if !(rule.threshold.is_finite() && rule.threshold > 0.0) {
        return Err(DspError::BadParameter {
            name: "threshold",
            value: rule.threshold,
        });
    }
    if !(rule.floor.is_finite() && rule.floor >= 0.0) {
        return Err(DspError::BadParameter {
            name: "floor",
            value: rule.floor,
        });
    }
    if rule.half_window == 0 {
        return Err(DspError::BadParameter {
            name: "half_window",
            value: 0.0,
        });
    }
    if let Some(index) = x.iter().position(|v| v.is_some_and(|v| !v.is_finite())) {
        return Err(DspError::NotFinite { index });
    }
    let values: Vec<f64> = x.iter().map(|v| v.unwrap_or(f64::NAN)).collect();
    let limit = rule.threshold * rule.floor;
    let flags = values.iter().enumerate().map(|(k, v)| {
        let from = k.saturating_sub(rule.half_window);
        let to = values.len().min(k + rule.half_window + 1);
        let window = values.get(from..to).unwrap_or_default();
        // The spread is at least the floor: with more than half of the window this near, so is its median. That
        // settles most samples, and those beside are often enough for it; a hole is near nothing. Of a fast movement the
        // middle is near, though few samples are.
        let near = |part: &[f64]| part.iter().filter(|w| (*w - v).abs() <= limit).count();
        let most = |part: &[f64]| 2 * near(part) > window.len();
        let beside =
            k.saturating_sub(rule.half_window / 2 + 1)..to.min(k + rule.half_window / 2 + 2);
        !values.get(beside).is_some_and(most)
            && !is_within(limit, *v, window)
            && is_odd(*v, window, rule)
    });
    Ok(flags.collect())
}

/// Whether the median of a window is no farther than `limit` from a sample, told without ordering it: more than half of
/// what is there is at most so far above it, and more than half so far below. NaN stands for a hole.
fn is_within(limit: f64, v: f64, window: &[f64]) -> bool {
    let (mut there, mut below, mut above) = (0, 0, 0);
    for w in window {
        there += u32::from(!w.is_nan());
        below += u32::from(w - v <= limit);
        above += u32::from(v - w <= limit);
    }
    2 * below.min(above) > there
}

/// Whether a sample is odd in its window; NaN stands for a hole.
fn is_odd(v: f64, window: &[f64], rule: &HampelRule) -> bool {
    let there: Vec<f64> = window.iter().copied().filter(|w| !w.is_nan()).collect();
    if v.is_nan() || there.len() < LEAST_IN_WINDOW {
        return false;
    }
    let Ok(middle) = median(&there) else {
        return false;
    };
    let distance = (v - middle).abs();
    // The floor first: the spread is wanted only where it could let the sample pass.
    distance > rule.threshold * rule.floor
        && robust_sd(&there).is_ok_and(|sd| distance > rule.threshold * sd)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rule(floor: f64) -> HampelRule {
        HampelRule {
            half_window: 3,
            threshold: 3.0,
            floor,
        }
    }

    #[test]
    fn a_still_stretch_needs_the_floor() {
        let mut x = vec![Some(10.0); 15];
        x[7] = Some(10.1);
        let flagged = |floor| hampel_flags(&x, &rule(floor)).unwrap();
        assert_eq!(flagged(0.0).iter().filter(|f| **f).count(), 1);
        assert_eq!(flagged(0.5).iter().filter(|f| **f).count(), 0);
        x[7] = Some(30.0);
        assert!(hampel_flags(&x, &rule(0.5)).unwrap()[7]);
    }

    #[test]
    fn holes_and_thin_windows_are_not_flagged() {
        let mut x = vec![None; 12];
        x[2] = Some(1.0);
        x[5] = Some(900.0);
        assert_eq!(hampel_flags(&x, &rule(0.0)).unwrap(), vec![false; 12]);
        assert!(hampel_flags(&[], &rule(0.0)).unwrap().is_empty());
    }

    #[test]
    fn a_smooth_ramp_is_left_alone_at_its_ends() {
        let x: Vec<_> = (0..30).map(|k| Some(f64::from(k) * 2.0)).collect();
        assert!(!hampel_flags(&x, &rule(0.0)).unwrap().contains(&true));
    }

    #[test]
    fn refuses_bad_settings() {
        let x = [Some(1.0); 5];
        for bad in [
            HampelRule {
                half_window: 0,
                ..rule(0.0)
            },
            HampelRule {
                threshold: 0.0,
                ..rule(0.0)
            },
            HampelRule {
                floor: -1.0,
                ..rule(0.0)
            },
            HampelRule {
                threshold: f64::NAN,
                ..rule(0.0)
            },
        ] {
            assert!(hampel_flags(&x, &bad).is_err());
        }
        assert_eq!(median(&[]), Err(DspError::Empty));
        assert!(mad(&[f64::NAN]).is_err());
        assert!(hampel_flags(&[Some(f64::INFINITY)], &rule(0.0)).is_err());
    }

    /// The rule as it is defined, window by window.
    fn by_definition(x: &[Option<f64>], rule: &HampelRule) -> Vec<bool> {
        let flag = |(k, sample): (usize, &Option<f64>)| {
            let from = k.saturating_sub(rule.half_window);
            let to = x.len().min(k + rule.half_window + 1);
            let window: Vec<f64> = x[from..to].iter().flatten().copied().collect();
            sample.is_some_and(|v| {
                window.len() >= LEAST_IN_WINDOW
                    && (v - median(&window).unwrap()).abs()
                        > rule.threshold * robust_sd(&window).unwrap().max(rule.floor)
            })
        };
        x.iter().enumerate().map(flag).collect()
    }

    proptest! {
        #[test]
        fn a_window_that_moves_on_flags_what_the_definition_flags(
            x in prop::collection::vec(prop::option::weighted(0.9, -20.0..20.0_f64), 0..60),
            half_window in 1..70_usize,
            floor in 0.0..4.0_f64,
        ) {
            let rule = HampelRule { half_window, threshold: 2.0, floor };
            prop_assert_eq!(hampel_flags(&x, &rule).unwrap(), by_definition(&x, &rule));
        }

        #[test]
        fn flags_do_not_see_shift_scale_or_reversal(
            x in prop::collection::vec(prop::option::weighted(0.9, -100..100_i32), 0..40),
            shift in -500..500_i32,
            power in -3..4_i32,
        ) {
            let plain: Vec<_> = x.iter().map(|v| v.map(f64::from)).collect();
            // Powers of two and whole numbers keep the arithmetic exact, so flags must be equal.
            let scale = 2.0_f64.powi(power);
            let mut moved: Vec<_> = x
                .iter()
                .map(|v| v.map(|v| scale * f64::from(v + shift)))
                .collect();
            moved.reverse();
            let want = hampel_flags(&plain, &rule(0.0)).unwrap();
            let mut got = hampel_flags(&moved, &rule(0.0)).unwrap();
            got.reverse();
            // A distance exactly at the limit may fall either way after scaling by 1.4826.
            prop_assert_eq!(got, want);
        }
    }
}
