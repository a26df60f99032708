//! Does a short series rise or fall more consistently than chance: the Mann-Kendall test.
//!
//! *In*: values in order (of repetition, of date). *Out*: `S`, its variance, and a two-sided p. How steep
//! the trend is, is [`super::theil_sen`]'s answer; how few values are too few is the caller's rule.
//!
//! *Reference*: Mann 1945; Kendall 1975. `S` = pairs that rise less pairs that fall. Exact p: without a
//! trend every order of the values is equally likely, and the number of falling pairs then has the
//! counts of a Gaussian multinomial coefficient (for distinct values: the count of permutations by
//! inversions; groups of equal values divide out). One recursion serves both, and is exact with
//! ties. Beyond [`EXACT_UP_TO`] values: normal, with the tie-corrected variance
//! `(n(n-1)(2n+5) - sum t(t-1)(2t+5))/18` and `S` moved by one toward 0.
//!
//! *Degenerate case*: one value, or all equal: `S = 0` and `p = 1`. No value is refused.

use statrs::function::erf::erfc;

use super::error::{DspError, check_samples};
use super::theil_sen::{MOST_POINTS, tie_sum};

/// Up to this many values p is exact: 1225 pairs, and counts (50! = 3e64) that fit a float with room.
pub const EXACT_UP_TO: usize = 50;

/// How a p was computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// All orders of the values counted.
    Exact,
    /// Normal approximation.
    Normal,
}

/// Result of the test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannKendall {
    /// Rising pairs less falling pairs; positive for a rise.
    pub s: i64,
    /// Variance of `s` without a trend, ties allowed for.
    pub variance: f64,
    /// Two-sided p: how likely chance alone gives a trend at least this consistent, either way.
    pub p: f64,
    /// How p was computed.
    pub method: Method,
    /// Whether any values are equal.
    pub ties: bool,
}

/// Tests values in order for a trend.
///
/// # Errors
/// [`DspError::Empty`], [`DspError::NotFinite`], [`DspError::TooLong`] (more than [`MOST_POINTS`]).
///
/// # Example
/// Of the 24 orders of four values one rises throughout and one falls throughout.
/// ```
/// use scaplane::dsp::mann_kendall::mann_kendall;
/// let found = mann_kendall(&[1.0, 2.0, 3.0, 4.0])?;
/// assert_eq!(found.s, 6);
/// assert!((found.p - 2.0 / 24.0).abs() < 1e-15);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn mann_kendall(values: &[f64]) -> Result<MannKendall, DspError> {
    check_samples(values)?;
    if values.len() > MOST_POINTS {
        return Err(DspError::TooLong {
            have: values.len(),
            limit: MOST_POINTS,
        });
    }
    let mut s: i64 = 0;
    for (k, a) in values.iter().enumerate() {
        for b in values.iter().skip(k + 1) {
            s += i64::from(b > a) - i64::from(b < a);
        }
    }
    let n = values.len() as f64;
    let variance = ((n * (n - 1.0) * (2.0 * n + 5.0) - tie_sum(values)) / 18.0).max(0.0);
    let groups = group_sizes(values);
    let (p, method) = if values.len() <= EXACT_UP_TO {
        (exact_two_sided(&groups, s), Method::Exact)
    } else {
        (normal_two_sided(s, variance), Method::Normal)
    };
    Ok(MannKendall {
        s,
        variance,
        p,
        method,
        ties: groups.len() < values.len(),
    })
}

/// Probability, without a trend, that `n` distinct values give an `S` of at least `s`.
///
/// `None` for `n` = 0 or above [`EXACT_UP_TO`].
///
/// # Example
/// ```
/// use scaplane::dsp::mann_kendall::exact_upper_tail;
/// assert!((exact_upper_tail(4, 6).unwrap() - 1.0 / 24.0).abs() < 1e-15);
/// assert_eq!(exact_upper_tail(4, 7), Some(0.0));
/// ```
#[must_use]
pub fn exact_upper_tail(n: usize, s: i64) -> Option<f64> {
    if n == 0 || n > EXACT_UP_TO {
        return None;
    }
    Some(upper_tail(&vec![1; n], s))
}

/// Two-sided p by the normal approximation, with `S` moved by one toward 0; 1 when the variance is 0.
///
/// # Example
/// ```
/// use scaplane::dsp::mann_kendall::normal_two_sided;
/// // (10 - 1)/sqrt(81) = 1 standard deviation.
/// assert!((normal_two_sided(10, 81.0) - 0.317_310_507_862_914).abs() < 1e-9);
/// assert_eq!(normal_two_sided(0, 0.0), 1.0);
/// ```
#[must_use]
pub fn normal_two_sided(s: i64, variance: f64) -> f64 {
    if s == 0 || variance <= 0.0 {
        return 1.0;
    }
    let z = (s.unsigned_abs() - 1) as f64 / variance.sqrt();
    erfc(z / std::f64::consts::SQRT_2)
}

/// Sizes of the groups of equal values, at least 1 each.
fn group_sizes(values: &[f64]) -> Vec<usize> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.chunk_by(|a, b| a == b).map(<[f64]>::len).collect()
}

fn exact_two_sided(groups: &[usize], s: i64) -> f64 {
    if s == 0 {
        return 1.0;
    }
    // Reversing an order turns S into -S, so both tails are equal.
    (2.0 * upper_tail(groups, s.abs())).min(1.0)
}

/// Probability of an `S` of at least `s` over all orders of values in groups of these sizes.
fn upper_tail(groups: &[usize], s: i64) -> f64 {
    let counts = falling_pair_counts(groups);
    let all: f64 = counts.iter().sum();
    let pairs = counts.len() as i64 - 1;
    // S = (pairs - falling) - falling.
    let tail: f64 = counts
        .iter()
        .zip(0_i64..)
        .filter(|(_, falling)| pairs - 2 * falling >= s)
        .map(|(c, _)| c)
        .sum();
    tail / all
}

/// How many orders have 0, 1, 2, .. falling pairs.
///
/// Groups are placed one after the other; a group of `t` among `m` values already placed adds falling
/// pairs with the counts of the Gaussian binomial coefficient "m + t choose t".
fn falling_pair_counts(groups: &[usize]) -> Vec<f64> {
    let mut counts = vec![1.0];
    let mut placed = 0;
    for &size in groups {
        counts = convolve(&counts, &gaussian_binomial(placed, size));
        placed += size;
    }
    counts
}

/// Coefficients of the Gaussian binomial "m + t choose t": `m t + 1` counts.
///
/// `G(i, j) = G(i, j-1) + q^j G(i-1, j)` with `G(i, 0) = G(0, j) = 1`.
fn gaussian_binomial(m: usize, t: usize) -> Vec<f64> {
    let mut column: Vec<Vec<f64>> = vec![vec![1.0]; m + 1];
    for j in 1..=t {
        let mut previous: Vec<f64> = Vec::new();
        for (i, slot) in column.iter_mut().enumerate() {
            let mut sum = vec![0.0; i * j + 1];
            for (out, v) in sum.iter_mut().zip(slot.iter()) {
                *out += v;
            }
            for (out, v) in sum.iter_mut().skip(j).zip(&previous) {
                *out += v;
            }
            previous.clone_from(&sum);
            *slot = sum;
        }
    }
    column.pop().unwrap_or_default()
}

fn convolve(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; (a.len() + b.len()).saturating_sub(1)];
    for (k, v) in a.iter().enumerate() {
        for (slot, w) in out.iter_mut().skip(k).zip(b) {
            *slot += v * w;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Two-sided p by visiting every order of the values.
    fn by_visiting(values: &[f64]) -> f64 {
        fn visit(head: &mut Vec<f64>, rest: &[f64], s: i64, seen: &mut Vec<i64>) {
            if rest.is_empty() {
                seen.push(s);
            }
            for k in 0..rest.len() {
                let mut left = rest.to_vec();
                let v = left.remove(k);
                let add: i64 = head
                    .iter()
                    .map(|h| i64::from(v > *h) - i64::from(v < *h))
                    .sum();
                head.push(v);
                visit(head, &left, s + add, seen);
                head.pop();
            }
        }
        let mut seen = Vec::new();
        visit(&mut Vec::new(), values, 0, &mut seen);
        let s = mann_kendall(values).unwrap().s.abs();
        seen.iter().filter(|v| v.abs() >= s).count() as f64 / seen.len() as f64
    }

    #[test]
    fn exact_p_equals_counting_every_order_with_and_without_ties() {
        let cases: [&[f64]; 8] = [
            &[3.0],
            &[1.0, 2.0],
            &[2.0, 2.0, 2.0, 2.0],
            &[1.0, 1.0, 2.0, 3.0, 3.0],
            &[5.0, 1.0, 4.0, 2.0, 3.0, 6.0],
            &[1.0, 1.0, 1.0, 2.0, 2.0, 3.0, 3.0],
            &[1.0, 2.0, 2.0, 3.0, 4.0, 4.0, 4.0, 9.0],
            &[8.0, 7.0, 6.0, 6.0, 3.0, 2.0, 2.0, 1.0],
        ];
        for values in cases {
            let got = mann_kendall(values).unwrap();
            assert_eq!(got.method, Method::Exact);
            assert!(
                (got.p - by_visiting(values)).abs() < 1e-12,
                "{values:?} {got:?}"
            );
        }
    }

    #[test]
    fn the_two_methods_meet_where_one_takes_over() {
        // 60 values with a weak trend; compare the two on the first 50.
        let x: Vec<f64> = (0..60)
            .map(|k| ((k * 37) % 61) as f64 + 0.3 * k as f64)
            .collect();
        let exact = mann_kendall(&x[..50]).unwrap();
        let normal = normal_two_sided(exact.s, exact.variance);
        assert!(
            exact.p > 1e-3 && (exact.p - normal).abs() < 2e-3,
            "{exact:?} {normal}"
        );
        let long = mann_kendall(&x).unwrap();
        assert_eq!(long.method, Method::Normal);
        assert!(long.p > 0.0 && long.p < 1.0);
    }

    #[test]
    fn the_exact_variance_is_the_formula() {
        for groups in [vec![1; 9], vec![3, 2, 1, 1], vec![4, 4]] {
            let counts = falling_pair_counts(&groups);
            let pairs = counts.len() as f64 - 1.0;
            let all: f64 = counts.iter().sum();
            let from_counts: f64 = counts
                .iter()
                .enumerate()
                .map(|(k, c)| c * (pairs - 2.0 * k as f64).powi(2))
                .sum::<f64>()
                / all;
            let values: Vec<f64> = groups
                .iter()
                .enumerate()
                .flat_map(|(k, t)| vec![k as f64; *t])
                .collect();
            assert!((mann_kendall(&values).unwrap().variance - from_counts).abs() < 1e-9);
        }
    }

    #[test]
    fn refuses_nothing_and_nan() {
        assert_eq!(mann_kendall(&[]), Err(DspError::Empty));
        assert!(mann_kendall(&[1.0, f64::NAN]).is_err());
        assert_eq!(exact_upper_tail(0, 0), None);
        assert_eq!(exact_upper_tail(51, 0), None);
    }

    proptest! {
        #[test]
        fn turning_the_series_over_turns_the_sign(x in prop::collection::vec(-6..6_i32, 1..60)) {
            let plain: Vec<f64> = x.iter().map(|v| f64::from(*v)).collect();
            let negated: Vec<f64> = plain.iter().map(|v| -v).collect();
            let backward: Vec<f64> = plain.iter().rev().copied().collect();
            let a = mann_kendall(&plain).unwrap();
            for other in [negated, backward] {
                let b = mann_kendall(&other).unwrap();
                prop_assert_eq!(a.s, -b.s);
                prop_assert!((a.p - b.p).abs() < 1e-12);
                prop_assert_eq!(a.variance, b.variance);
            }
            prop_assert!(a.p > 0.0 && a.p <= 1.0);
        }
    }
}
