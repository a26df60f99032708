//! Local maxima, how far they stand out, and which to keep.
//!
//! *In*: samples. *Out*: peaks in the order of their place. Minima are the peaks of the negated
//! samples. What a peak means (a repetition, a hold) is decided elsewhere.
//!
//! *Reference*: `scipy.signal.find_peaks` and `peak_prominences`. A peak is a sample, or a run of equal
//! samples, with a lower neighbour on each side; of a run, the middle (rounded down) is its place. Its
//! prominence is its height above the higher of the two lowest points between it and the next higher
//! sample (or the end) on each side. Filters act in SciPy's order: height, distance, prominence.
//!
//! *Degenerate case*: a run that touches either end is no peak; samples without a fall on both sides
//! give none. Of two equally high peaks that are too close, the later stays (SciPy leaves it open).
//!
//! *Own code, and why*: the crate `find_peaks` reports a step in a falling staircase as a peak, and a
//! level start as well, puts the middle of an even run one place later, and thins by distance after
//! prominence.

use super::error::{DspError, check_finite};

/// Which peaks to keep; the default keeps all.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PeakRule {
    /// Least height, in the unit of the samples.
    pub least_height: Option<f64>,
    /// Least prominence, in the unit of the samples.
    pub least_prominence: Option<f64>,
    /// Least number of samples from one peak to the next; higher peaks go first.
    pub least_distance: Option<usize>,
}

/// One local maximum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// Its place: the middle of its run of equal samples, rounded down.
    pub index: usize,
    /// First sample of that run.
    pub first: usize,
    /// Last sample of that run.
    pub last: usize,
    /// Its height.
    pub height: f64,
    /// How far it stands out, in the unit of the samples; positive.
    pub prominence: f64,
    /// Lowest sample before it that bounds the prominence (the nearest to the peak, of equals).
    pub left_base: usize,
    /// Lowest sample after it that bounds the prominence (the nearest to the peak, of equals).
    pub right_base: usize,
}

/// Finds the local maxima that satisfy a rule.
///
/// # Errors
/// [`DspError::NotFinite`]. Fewer than three samples hold no peak and give none.
///
/// # Example
/// The run 5 5 has its middle at place 3; the lower peak stands 4 - 2 above its higher valley.
/// ```
/// use scaplane::dsp::peaks::{PeakRule, find_peaks};
/// let x = [0.0, 4.0, 2.0, 5.0, 5.0, 1.0];
/// let peaks = find_peaks(&x, &PeakRule::default())?;
/// assert_eq!(peaks.iter().map(|p| p.index).collect::<Vec<_>>(), [1, 3]);
/// assert_eq!(peaks.iter().map(|p| p.prominence).collect::<Vec<_>>(), [2.0, 4.0]);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn find_peaks(x: &[f64], rule: &PeakRule) -> Result<Vec<Peak>, DspError> {
    check_finite(x)?;
    let mut tops = maxima(x);
    if let Some(least) = rule.least_height {
        tops.retain(|t| t.height >= least);
    }
    if let Some(least) = rule.least_distance {
        tops = thin(&tops, least);
    }
    let mut peaks: Vec<Peak> = tops.iter().map(|top| with_prominence(x, top)).collect();
    if let Some(least) = rule.least_prominence {
        peaks.retain(|p| p.prominence >= least);
    }
    Ok(peaks)
}

/// A run of equal samples, higher than both neighbours.
#[derive(Clone, Copy)]
struct Top {
    first: usize,
    last: usize,
    height: f64,
}

impl Top {
    fn index(&self) -> usize {
        self.first.midpoint(self.last)
    }
}

fn maxima(x: &[f64]) -> Vec<Top> {
    let mut tops = Vec::new();
    let mut first = 0;
    let mut before: Option<f64> = None;
    let mut rest = x.chunk_by(|a, b| a == b).peekable();
    while let Some(run) = rest.next() {
        let height = run.first().copied().unwrap_or(f64::NEG_INFINITY);
        let after = rest.peek().and_then(|next| next.first().copied());
        if before.is_some_and(|b| b < height) && after.is_some_and(|a| a < height) {
            tops.push(Top {
                first,
                last: first + run.len() - 1,
                height,
            });
        }
        before = Some(height);
        first += run.len();
    }
    tops
}

/// Drops peaks nearer than `least` to a higher one that stays.
fn thin(tops: &[Top], least: usize) -> Vec<Top> {
    let mut order: Vec<(usize, Top)> = tops.iter().copied().enumerate().collect();
    order.sort_by(|(i, a), (j, b)| b.height.total_cmp(&a.height).then(j.cmp(i)));
    let mut kept: Vec<Top> = Vec::with_capacity(tops.len());
    for (_, top) in order {
        if kept
            .iter()
            .all(|k| k.index().abs_diff(top.index()) >= least)
        {
            kept.push(top);
        }
    }
    kept.sort_by_key(Top::index);
    kept
}

/// Lowest sample met going away from the peak until a higher one; its place and value.
fn lowest<'a>(walk: impl Iterator<Item = (usize, &'a f64)>, top: &Top) -> (usize, f64) {
    walk.take_while(|(_, v)| **v <= top.height)
        .fold((top.index(), top.height), |low, (k, v)| {
            if *v < low.1 { (k, *v) } else { low }
        })
}

fn with_prominence(x: &[f64], top: &Top) -> Peak {
    let index = top.index();
    let (left_base, left) = lowest(x.iter().enumerate().take(index + 1).rev(), top);
    let (right_base, right) = lowest(x.iter().enumerate().skip(index), top);
    Peak {
        index,
        first: top.first,
        last: top.last,
        height: top.height,
        prominence: top.height - left.max(right),
        left_base,
        right_base,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(x: &[f64], rule: PeakRule, expected: &[usize]) {
        let got: Vec<usize> = find_peaks(x, &rule)
            .unwrap()
            .iter()
            .map(|p| p.index)
            .collect();
        assert_eq!(got, expected, "{x:?} {rule:?}");
    }

    #[test]
    fn runs_ends_and_stairs() {
        let all = PeakRule::default();
        check(&[], all, &[]);
        check(&[1.0, 2.0], all, &[]);
        check(&[2.0, 2.0, 2.0], all, &[]);
        check(&[2.0, 2.0, 1.0], all, &[]);
        check(&[1.0, 2.0, 2.0], all, &[]);
        check(&[3.0, 2.0, 2.0, 1.0], all, &[]);
        check(&[1.0, 2.0, 2.0, 3.0, 0.0], all, &[3]);
        check(&[0.0, 2.0, 2.0, 2.0, 2.0, 0.0], all, &[2]);
    }

    #[test]
    fn distance_keeps_the_higher_and_of_equals_the_later() {
        let near = PeakRule {
            least_distance: Some(3),
            ..PeakRule::default()
        };
        check(&[0.0, 5.0, 0.0, 9.0, 0.0, 5.0, 0.0], near, &[3]);
        check(&[0.0, 5.0, 0.0, 5.0, 0.0], near, &[3]);
        check(&[0.0, 5.0, 0.0, 0.0, 5.0, 0.0], near, &[1, 4]);
    }

    #[test]
    fn bases_are_the_nearest_lowest() {
        let x = [0.0, 0.0, 3.0, 1.0, 1.0, 2.0, 0.5];
        let peaks = find_peaks(&x, &PeakRule::default()).unwrap();
        assert_eq!((peaks[0].left_base, peaks[0].right_base), (1, 6));
        assert_eq!((peaks[1].left_base, peaks[1].right_base), (4, 6));
        assert_eq!(peaks[1].prominence, 1.0);
    }

    #[test]
    fn refuses_what_is_not_a_number() {
        assert_eq!(
            find_peaks(&[0.0, f64::NAN, 0.0], &PeakRule::default()),
            Err(DspError::NotFinite { index: 1 })
        );
    }

    proptest! {
        #[test]
        fn shift_and_scale_keep_places(
            x in prop::collection::vec(-20..20_i32, 0..60),
            shift in -50..50_i32,
            scale in 1..9_i32,
        ) {
            let plain: Vec<f64> = x.iter().map(|v| f64::from(*v)).collect();
            let moved: Vec<f64> = x.iter().map(|v| f64::from(v * scale + shift)).collect();
            let a = find_peaks(&plain, &PeakRule::default()).unwrap();
            let b = find_peaks(&moved, &PeakRule::default()).unwrap();
            prop_assert_eq!(a.len(), b.len());
            for (p, q) in a.iter().zip(&b) {
                prop_assert_eq!((p.index, p.first, p.last), (q.index, q.first, q.last));
                prop_assert_eq!(p.prominence * f64::from(scale), q.prominence);
                prop_assert!(p.prominence > 0.0 && p.left_base < p.first && p.right_base > p.last);
            }
        }
    }
}
