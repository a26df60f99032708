//! Windows that move over samples with holes, their samples kept in order.
//!
//! *In*: samples and half a window's width in samples; windows shrink at the ends. *Out*: whatever is made of each window.
//! A sample comes and a sample goes at each step, so that nothing is ordered anew; cores share long records.

use rayon::prelude::*;
use std::ops::Range;

/// Fewest windows of a core's part.
const WORTH: usize = 2;

/// Fewest samples of a core's part: for less, another core takes longer to be asked.
const LEAST: usize = 500;

/// Makes something of the window around every sample, its samples in ascending order. Holes take no part.
///
/// # Example
/// ```
/// use scaplane::dsp::window::over_windows;
/// let lowest = over_windows(&[Some(3.0), None, Some(1.0)], 1, |window| window.first().copied());
/// assert_eq!(lowest, [Some(3.0), Some(1.0), Some(1.0)]);
/// ```
pub fn over_windows<T: Send>(
    x: &[Option<f64>],
    half_window: usize,
    each: impl Fn(&[f64]) -> T + Sync,
) -> Vec<T> {
    // Each core puts a whole window in order before its first step.
    let windows = x.len() / half_window.saturating_mul(2).max(1);
    let worth = (windows / WORTH).min(x.len() / LEAST);
    in_parts(
        x,
        half_window,
        worth.min(rayon::current_num_threads()),
        &each,
    )
}

/// The same in so many parts.
fn in_parts<T: Send>(
    x: &[Option<f64>],
    half_window: usize,
    parts: usize,
    each: &(impl Fn(&[f64]) -> T + Sync),
) -> Vec<T> {
    let length = x.len().div_ceil(parts.max(1)).max(1);
    let part = |part: usize| part * length..x.len().min((part + 1) * length);
    let made: Vec<Vec<T>> = (0..parts.max(1))
        .into_par_iter()
        .map(|index| over_part(x, half_window, part(index), each))
        .collect();
    made.into_iter().flatten().collect()
}

/// The same around the samples of a part.
fn over_part<T>(
    x: &[Option<f64>],
    half_window: usize,
    part: Range<usize>,
    each: impl Fn(&[f64]) -> T,
) -> Vec<T> {
    let first = part.start.saturating_sub(half_window);
    let after = part.start.saturating_add(half_window).min(x.len());
    let mut window = Ordered::default();
    for sample in x.get(first..after).unwrap_or_default() {
        window.insert(*sample);
    }
    let (mut coming, mut going) = (x.iter().skip(after), x.iter().skip(first));
    let mut out = Vec::with_capacity(part.len());
    for k in part.clone() {
        if let Some(next) = coming.next() {
            window.insert(*next);
        }
        if k > half_window.max(part.start)
            && let Some(last) = going.next()
        {
            window.remove(*last);
        }
        out.push(each(&window.0));
    }
    out
}

/// Samples in ascending order.
#[derive(Debug, Default)]
struct Ordered(Vec<f64>);

impl Ordered {
    fn insert(&mut self, sample: Option<f64>) {
        if let Some(v) = sample {
            let place = self.0.partition_point(|w| w.total_cmp(&v).is_lt());
            self.0.insert(place, v);
        }
    }

    fn remove(&mut self, sample: Option<f64>) {
        if let Some(v) = sample
            && let Ok(place) = self.0.binary_search_by(|w| w.total_cmp(&v))
        {
            self.0.remove(place);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_are_the_same_in_however_many_parts() {
        for length in 0..40 {
            let x: Vec<Option<f64>> = (0..length)
                .map(|k| (k % 7 != 3).then_some((k * 37 % 23) as f64))
                .collect();
            for half in [0, 1, 5, 100] {
                let by_definition: Vec<Vec<f64>> = (0..length)
                    .map(|k: usize| {
                        let window = &x[k.saturating_sub(half)..length.min(k + half + 1)];
                        let mut window: Vec<f64> = window.iter().copied().flatten().collect();
                        window.sort_by(f64::total_cmp);
                        window
                    })
                    .collect();
                for parts in 0..10 {
                    let made = in_parts(&x, half, parts, &<[f64]>::to_vec);
                    assert_eq!(made, by_definition, "{length} by {half} in {parts}");
                }
            }
        }
    }
}
