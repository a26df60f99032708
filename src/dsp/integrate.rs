//! Area under a curve, and area and time beyond a level, over uneven times.
//!
//! *In*: times in seconds and samples without holes. *Out*: area in unit x seconds, or seconds. Straight
//! lines between samples; a crossing of the level is placed on its line, so neither area nor time
//! depends on where samples happen to fall.
//!
//! *Degenerate case*: one sample covers no time and gives 0; none is refused.

use super::error::{DspError, check_finite, check_increasing, check_same_length, check_samples};

/// Area under the samples by the trapezoid rule.
///
/// # Errors
/// [`DspError::Empty`], [`DspError::LengthMismatch`], [`DspError::NotFinite`],
/// [`DspError::NotIncreasing`].
///
/// # Example
/// ```
/// use scaplane::dsp::integrate::trapezoid;
/// assert_eq!(trapezoid(&[0.0, 1.0, 4.0], &[0.0, 2.0, 2.0]), Ok(7.0));
/// ```
pub fn trapezoid(t: &[f64], y: &[f64]) -> Result<f64, DspError> {
    check(t, y)?;
    in_range(pieces(t, y).map(|(h, a, b)| h * (a / 2.0 + b / 2.0)).sum())
}

/// Area of the part of the curve above `level`, counted from the level.
///
/// # Errors
/// As [`trapezoid`]; [`DspError::BadParameter`] for a level that is not finite.
///
/// # Example
/// A tent of height 4 over 2 s; above 2 there is a tent of height 2 over 1 s.
/// ```
/// use scaplane::dsp::integrate::area_above;
/// assert_eq!(area_above(&[0.0, 1.0, 2.0], &[0.0, 4.0, 0.0], 2.0), Ok(1.0));
/// ```
pub fn area_above(t: &[f64], y: &[f64], level: f64) -> Result<f64, DspError> {
    check_level(t, y, level)?;
    in_range(
        pieces(t, y)
            .map(|(h, a, b)| {
                let (a, b) = (a - level, b - level);
                h * share_above(a, b) * (a.max(0.0) + b.max(0.0)) / 2.0
            })
            .sum(),
    )
}

/// Time for which the curve is above `level`, seconds.
///
/// # Errors
/// As [`area_above`].
///
/// # Example
/// ```
/// use scaplane::dsp::integrate::time_above;
/// assert_eq!(time_above(&[0.0, 1.0, 2.0], &[0.0, 4.0, 0.0], 2.0), Ok(1.0));
/// ```
pub fn time_above(t: &[f64], y: &[f64], level: f64) -> Result<f64, DspError> {
    check_level(t, y, level)?;
    in_range(
        pieces(t, y)
            .map(|(h, a, b)| h * share_above(a - level, b - level))
            .sum(),
    )
}

/// Share of a straight piece from `a` to `b` that is above 0.
fn share_above(a: f64, b: f64) -> f64 {
    match (a > 0.0, b > 0.0) {
        (true, true) => 1.0,
        (false, false) => 0.0,
        (true, false) => a / (a - b),
        (false, true) => b / (b - a),
    }
}

fn check(t: &[f64], y: &[f64]) -> Result<(), DspError> {
    check_same_length(t, y)?;
    check_samples(y)?;
    check_increasing(t)
}

fn check_level(t: &[f64], y: &[f64], level: f64) -> Result<(), DspError> {
    check(t, y)?;
    if level.is_finite() {
        Ok(())
    } else {
        Err(DspError::BadParameter {
            name: "level",
            value: level,
        })
    }
}

/// The sum, unless huge samples have taken it out of the range of numbers.
fn in_range(sum: f64) -> Result<f64, DspError> {
    check_finite(&[sum])?;
    Ok(sum)
}

/// Width and both ends of each piece.
fn pieces<'a>(t: &'a [f64], y: &'a [f64]) -> impl Iterator<Item = (f64, f64, f64)> + 'a {
    t.iter()
        .zip(t.iter().skip(1))
        .zip(y.iter().zip(y.iter().skip(1)))
        .map(|((t0, t1), (a, b))| (t1 - t0, *a, *b))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn one_sample_is_nothing_and_none_is_refused() {
        assert_eq!(trapezoid(&[3.0], &[9.0]), Ok(0.0));
        assert_eq!(trapezoid(&[], &[]), Err(DspError::Empty));
        assert!(trapezoid(&[0.0, 0.0], &[1.0, 1.0]).is_err());
        assert!(trapezoid(&[0.0], &[1.0, 1.0]).is_err());
        assert!(area_above(&[0.0, 1.0], &[1.0, 1.0], f64::NAN).is_err());
    }

    #[test]
    fn exactly_at_the_level_is_not_above() {
        assert_eq!(time_above(&[0.0, 1.0], &[2.0, 2.0], 2.0), Ok(0.0));
        assert_eq!(area_above(&[0.0, 1.0], &[2.0, 3.0], 2.0), Ok(0.5));
    }

    proptest! {
        #[test]
        fn above_less_below_is_the_whole(
            steps in prop::collection::vec((0.01..1.0_f64, -50.0..50.0_f64), 1..40),
            level in -60.0..60.0_f64,
        ) {
            let mut at = 0.0;
            let t: Vec<f64> = steps.iter().map(|(h, _)| { at += h; at }).collect();
            let y: Vec<f64> = steps.iter().map(|(_, v)| *v).collect();
            let turned: Vec<f64> = y.iter().map(|v| -v).collect();
            let above = area_above(&t, &y, level).unwrap();
            let below = area_above(&t, &turned, -level).unwrap();
            let span = t[t.len() - 1] - t[0];
            let whole = trapezoid(&t, &y).unwrap() - level * span;
            prop_assert!((above - below - whole).abs() < 1e-8);
            let time = time_above(&t, &y, level).unwrap() + time_above(&t, &turned, -level).unwrap();
            prop_assert!((time - span).abs() < 1e-9);
        }
    }
}
