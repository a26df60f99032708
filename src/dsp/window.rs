//! Windows that move over samples with holes, their samples kept in order.
//!
//! *In*: samples and half a window's width in samples; windows shrink at the ends. *Out*: whatever is made of each window.
//! A sample comes and a sample goes at each step, so that nothing is ordered anew.

/// Makes something of the window around every sample, its samples in ascending order. Holes take no part.
///
/// # Example
/// ```
/// use scaplane::dsp::window::over_windows;
/// let lowest = over_windows(&[Some(3.0), None, Some(1.0)], 1, |window| window.first().copied());
/// assert_eq!(lowest, [Some(3.0), Some(1.0), Some(1.0)]);
/// ```
pub fn over_windows<T>(
    x: &[Option<f64>],
    half_window: usize,
    mut each: impl FnMut(&[f64]) -> T,
) -> Vec<T> {
    let mut out = Vec::with_capacity(x.len());
    let mut window = Ordered::default();
    let (mut coming, mut going) = (x.iter(), x.iter());
    for sample in coming.by_ref().take(half_window) {
        window.insert(*sample);
    }
    for k in 0..x.len() {
        if let Some(next) = coming.next() {
            window.insert(*next);
        }
        if k > half_window
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
