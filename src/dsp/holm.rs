//! Several tests at once: Holm's step-down correction.
//!
//! *In*: p values. *Out*: adjusted p values in the same order, to be compared with the same limit as one
//! test would be. It runs no test itself.
//!
//! *Reference*: Holm 1979, Scand J Stat 6:65-70 (from memory, not verified). The k-th smallest of m is
//! multiplied by `m - k + 1`, cut at 1, and never less than the one before it.
//!
//! *Degenerate case*: none gives none; one stays as it is.

use super::error::DspError;

/// Adjusts p values for their number.
///
/// # Errors
/// [`DspError::BadParameter`] for a value outside 0..=1 (or NaN).
///
/// # Example
/// Smallest 0.01 x 3; next 0.03 x 2; the largest, 0.04 x 1, may not be below the one before it.
/// ```
/// use scaplane::dsp::holm::holm;
/// assert_eq!(holm(&[0.04, 0.01, 0.03])?, [0.06, 0.03, 0.06]);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn holm(p: &[f64]) -> Result<Vec<f64>, DspError> {
    if let Some(bad) = p.iter().find(|v| !(0.0..=1.0).contains(*v)) {
        return Err(DspError::BadParameter {
            name: "p",
            value: *bad,
        });
    }
    let mut order: Vec<(usize, f64)> = p.iter().copied().enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut least = 0.0_f64;
    let mut adjusted: Vec<(usize, f64)> = order
        .iter()
        .enumerate()
        .map(|(rank, (place, v))| {
            least = least.max((v * (p.len() - rank) as f64).min(1.0));
            (*place, least)
        })
        .collect();
    adjusted.sort_by_key(|(place, _)| *place);
    Ok(adjusted.into_iter().map(|(_, v)| v).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn none_one_and_bad() {
        assert_eq!(holm(&[]), Ok(vec![]));
        assert_eq!(holm(&[0.2]), Ok(vec![0.2]));
        for bad in [-0.1, 1.1, f64::NAN] {
            assert!(holm(&[0.1, bad]).is_err());
        }
    }

    proptest! {
        #[test]
        fn between_plain_and_multiplied_by_all(p in prop::collection::vec(0.0..=1.0_f64, 1..20)) {
            let got = holm(&p).unwrap();
            for (a, b) in p.iter().zip(&got) {
                prop_assert!(b >= a && *b <= 1.0);
            }
            // Order is kept.
            for (i, a) in p.iter().enumerate() {
                for (j, b) in p.iter().enumerate() {
                    prop_assert!(a > b || got[i] <= got[j]);
                }
            }
            // The smallest is multiplied by their number.
            let least = p.iter().copied().fold(1.0, f64::min);
            let adjusted = got.iter().copied().fold(1.0, f64::min);
            prop_assert!((adjusted - (least * p.len() as f64).min(1.0)).abs() < 1e-12);
        }
    }
}
