//! Running a filter forward and backward, so that nothing is shifted in time.
//!
//! *In*: samples at an even rate, and a filter from [`super::butterworth`]. *Out*: as many samples.
//! It fills no gaps and resamples nothing ([`super::interpolate`] does).
//!
//! *Reference*: `scipy.signal.sosfiltfilt` and `filtfilt` with their defaults. The signal is extended
//! at both ends by its own odd reflection, `2 x0 - x(k)`, three samples for each tap; each pass starts
//! from the state the filter would have had if its first sample had lasted for ever. A constant
//! therefore passes unchanged; a straight line keeps a start-up error that has mostly died out within
//! the reflection.
//!
//! *Degenerate case*: the reflection needs more samples than its length (9 for the order-2 filter, so
//! at least 10); fewer, none, or one that is not finite is refused.

use super::butterworth::{Ratio, Section, dual_pass_cutoff, lowpass_sos};
use super::error::{DspError, check_at_least, check_finite, check_samples};
use std::array::from_fn;

/// Reflected samples for each tap of the filter, SciPy's default.
const PAD_PER_TAP: usize = 3;

/// Steady state of one filter for a unit step: the start that causes no transient.
///
/// *Definition*: the state of the transposed direct form II for constant input 1, as
/// `scipy.signal.lfilter_zi`. Length: the longer of `a`, `b` less one.
///
/// # Errors
/// [`DspError::BadParameter`] when `a` does not start with 1 or its sum is 0 (a filter that never
/// settles); [`DspError::Empty`] when either is empty.
///
/// # Example
/// The mean of two samples holds half of the last one.
/// ```
/// use scaplane::dsp::butterworth::Ratio;
/// use scaplane::dsp::zero_phase::lfilter_zi;
/// let mean = Ratio { b: vec![0.5, 0.5], a: vec![1.0, 0.0] };
/// assert_eq!(lfilter_zi(&mean)?, vec![0.5]);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn lfilter_zi(filter: &Ratio) -> Result<Vec<f64>, DspError> {
    check_samples(&filter.b)?;
    check_samples(&filter.a)?;
    if filter.a.first() != Some(&1.0) {
        return Err(DspError::BadParameter {
            name: "a0",
            value: filter.a.first().copied().unwrap_or(f64::NAN),
        });
    }
    let a_sum: f64 = filter.a.iter().sum();
    if a_sum == 0.0 {
        return Err(DspError::BadParameter {
            name: "sum of a",
            value: a_sum,
        });
    }
    // For constant input 1 the output is the gain at rest, and each state element is the sum of what
    // the later taps still owe: z_k = sum over j > k of (b_j - a_j * gain).
    let gain = filter.b.iter().sum::<f64>() / a_sum;
    let taps = filter.a.len().max(filter.b.len());
    let at = |v: &[f64], k: usize| v.get(k).copied().unwrap_or(0.0);
    let mut state = Vec::with_capacity(taps.saturating_sub(1));
    let mut owed = 0.0;
    for k in (1..taps).rev() {
        owed += at(&filter.b, k) - at(&filter.a, k) * gain;
        state.push(owed);
    }
    state.reverse();
    Ok(state)
}

/// Steady state of a cascade for a unit step, one pair for each section, as `scipy.signal.sosfilt_zi`.
///
/// # Errors
/// [`DspError::Empty`] without a section; [`DspError::BadParameter`] when a section never settles.
///
/// # Example
/// ```
/// use scaplane::dsp::butterworth::Section;
/// use scaplane::dsp::zero_phase::sosfilt_zi;
/// let mean = Section { b: [0.5, 0.5, 0.0], a: [0.0, 0.0] };
/// assert_eq!(sosfilt_zi(&[mean])?, vec![[0.5, 0.0]]);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn sosfilt_zi(sos: &[Section]) -> Result<Vec<[f64; 2]>, DspError> {
    if sos.is_empty() {
        return Err(DspError::Empty);
    }
    let mut scale = 1.0;
    let mut out = Vec::with_capacity(sos.len());
    for s in sos {
        let [b0, b1, b2] = s.b;
        let [a1, a2] = s.a;
        let a_sum = 1.0 + a1 + a2;
        if a_sum == 0.0 {
            return Err(DspError::BadParameter {
                name: "sum of a",
                value: a_sum,
            });
        }
        let gain = (b0 + b1 + b2) / a_sum;
        let last = b2 - a2 * gain;
        out.push([scale * (b1 - a1 * gain + last), scale * last]);
        scale *= gain;
    }
    Ok(out)
}

/// `x` with `n` samples of its odd reflection before and after; `x` must be longer than `n`.
fn odd_extension<const N: usize>(x: &[[f64; N]], n: usize) -> Result<Vec<[f64; N]>, DspError> {
    check_at_least(x.len(), n + 1)?;
    let (Some(first), Some(last)) = (x.first(), x.last()) else {
        return Err(DspError::Empty);
    };
    let reflected = |end: &[f64; N], v: &[f64; N]| from_fn(|lane| 2.0 * end[lane] - v[lane]);
    let mut out = Vec::with_capacity(x.len() + 2 * n);
    // The n samples after the first, backward; then x; then the n samples before the last, backward.
    out.extend((x.iter().take(n + 1).skip(1).rev()).map(|v| reflected(first, v)));
    out.extend_from_slice(x);
    out.extend((x.iter().rev().take(n + 1).skip(1)).map(|v| reflected(last, v)));
    Ok(out)
}

/// Which way a pass goes through the samples.
#[derive(Clone, Copy)]
enum Way {
    Forward,
    Backward,
}

impl Way {
    /// Does a step at each sample.
    fn go<T>(self, x: &mut [T], step: impl FnMut(&mut T)) {
        match self {
            Way::Forward => x.iter_mut().for_each(step),
            Way::Backward => x.iter_mut().rev().for_each(step),
        }
    }

    /// The sample it begins with.
    fn first<T>(self, x: &[T]) -> Option<&T> {
        match self {
            Way::Forward => x.first(),
            Way::Backward => x.last(),
        }
    }
}

/// One pass of one section of each lane over `x` in place, from the given states.
fn section_pass<const N: usize>(
    sections: [Section; N],
    start: [[f64; 2]; N],
    scale: &[f64; N],
    way: Way,
    x: &mut [[f64; N]],
) {
    // By coefficient, so that the lanes go side by side: each sample waits for the one before it.
    let [b0, b1, b2] = from_fn(|k| sections.map(|s| s.b[k]));
    let [a1, a2] = from_fn(|k| sections.map(|s| s.a[k]));
    let [mut z0, mut z1]: [[f64; N]; 2] = from_fn(|k| from_fn(|lane| start[lane][k] * scale[lane]));
    way.go(x, |v| {
        let y: [f64; N] = from_fn(|l| b0[l] * v[l] + z0[l]);
        z0 = from_fn(|l| b1[l] * v[l] - a1[l] * y[l] + z1[l]);
        z1 = from_fn(|l| b2[l] * v[l] - a2[l] * y[l]);
        *v = y;
    });
}

/// One pass of a polynomial ratio over `x` in place, from the given state.
fn ratio_pass(filter: &Ratio, start: &[f64], scale: f64, way: Way, x: &mut [[f64; 1]]) {
    let taps = start.len() + 1;
    let padded = |v: &[f64]| -> Vec<f64> {
        let mut v = v.to_vec();
        v.resize(taps, 0.0);
        v
    };
    let (b, a) = (padded(&filter.b), padded(&filter.a));
    let b0 = b.first().copied().unwrap_or(0.0);
    let mut z: Vec<f64> = start.iter().map(|v| v * scale).collect();
    way.go(x, |[v]| {
        let y = b0 * *v + z.first().copied().unwrap_or(0.0);
        // Each element takes its successor's old value, so the shift is done first.
        let step = usize::from(!z.is_empty());
        z.rotate_left(step);
        if let Some(end) = z.last_mut() {
            *end = 0.0;
        }
        for (slot, (bk, ak)) in z.iter_mut().zip(b.iter().skip(1).zip(a.iter().skip(1))) {
            *slot += bk * *v - ak * y;
        }
        *v = y;
    });
}

/// Extends, runs `pass` forward and backward with its start scaled by the sample it begins with, and cuts back.
fn both_ways<const N: usize>(
    x: &[[f64; N]],
    pad: usize,
    pass: impl Fn(&[f64; N], Way, &mut [[f64; N]]),
) -> Result<Vec<[f64; N]>, DspError> {
    let mut y = odd_extension(x, pad)?;
    for way in [Way::Forward, Way::Backward] {
        let first = way.first(&y).copied().unwrap_or([0.0; N]);
        pass(&first, way, &mut y);
    }
    y.truncate(pad + x.len());
    y.drain(..pad);
    check_finite(y.as_flattened())?;
    Ok(y)
}

/// Zero-phase filtering by second-order sections, as `scipy.signal.sosfiltfilt` with its defaults.
///
/// # Errors
/// [`DspError::Empty`], [`DspError::NotFinite`], [`DspError::TooShort`] (no longer than the padding),
/// [`DspError::BadParameter`] (a section that never settles).
///
/// # Example
/// ```
/// use scaplane::dsp::{butterworth::lowpass_sos, zero_phase::sosfiltfilt};
/// let sos = lowpass_sos(4, 6.0, 30.0)?;
/// let line: Vec<f64> = (0..40).map(|k| 3.0 + 0.5 * f64::from(k)).collect();
/// for (got, want) in sosfiltfilt(&sos, &line)?.iter().zip(&line) {
///     assert!((got - want).abs() < 1e-2);
/// }
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn sosfiltfilt(sos: &[Section], x: &[f64]) -> Result<Vec<f64>, DspError> {
    let lane: Vec<[f64; 1]> = x.iter().map(|v| [*v]).collect();
    let out = sosfiltfilt_lanes([sos], &lane)?;
    Ok(out.into_flattened())
}

/// [`sosfiltfilt`] of signals of one length side by side, each with a cascade of its own; all cascades are as long as the
/// first.
fn sosfiltfilt_lanes<const N: usize>(
    sos: [&[Section]; N],
    x: &[[f64; N]],
) -> Result<Vec<[f64; N]>, DspError> {
    check_samples(x.as_flattened())?;
    let cascade = sos.first().copied().unwrap_or_default();
    let mut stages = Vec::with_capacity(cascade.len());
    for stage in 0..cascade.len() {
        let mut states = [[0.0; 2]; N];
        let mut sections = [Section {
            b: [0.0; 3],
            a: [0.0; 2],
        }; N];
        for ((lane, state), section) in sos.iter().zip(&mut states).zip(&mut sections) {
            *state = *sosfilt_zi(lane)?.get(stage).ok_or(DspError::Empty)?;
            *section = *lane.get(stage).ok_or(DspError::Empty)?;
        }
        stages.push((sections, states));
    }
    if stages.is_empty() {
        return Err(DspError::Empty);
    }
    // A section without a second delay counts one tap less, but only if both its halves lack it.
    let short_b = cascade.iter().filter(|s| s.b[2] == 0.0).count();
    let short_a = cascade.iter().filter(|s| s.a[1] == 0.0).count();
    let taps = 2 * cascade.len() + 1 - short_b.min(short_a);
    both_ways(x, PAD_PER_TAP * taps, |first, way, y| {
        for (sections, states) in &stages {
            section_pass(*sections, *states, first, way, y);
        }
    })
}

/// Zero-phase filtering by a polynomial ratio, as `scipy.signal.filtfilt` with its defaults.
///
/// # Errors
/// As [`sosfiltfilt`].
///
/// # Example
/// ```
/// use scaplane::dsp::{butterworth::lowpass_ba, zero_phase::filtfilt};
/// let still = [2.5; 30];
/// let out = filtfilt(&lowpass_ba(2, 6.0, 30.0)?, &still)?;
/// assert!(out.iter().all(|v| (v - 2.5).abs() < 1e-12));
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn filtfilt(filter: &Ratio, x: &[f64]) -> Result<Vec<f64>, DspError> {
    check_samples(x)?;
    let start = lfilter_zi(filter)?;
    let lane: Vec<[f64; 1]> = x.iter().map(|v| [*v]).collect();
    let out = both_ways(&lane, PAD_PER_TAP * (start.len() + 1), |[first], way, y| {
        ratio_pass(filter, &start, *first, way, y);
    })?;
    Ok(out.into_flattened())
}

/// Low-pass without shift in time: effective order 4, -3 dB at `cutoff_hz`.
///
/// *Definition*: an order-2 Butterworth filter run forward and backward, its cut-off moved outward so
/// that both passes together are at -3 dB at `cutoff_hz` (see [`super::butterworth`]).
///
/// *Units and range*: `x` at an even `rate_hz`, any unit; at least 10 samples; `cutoff_hz` inside
/// (0, `rate_hz`/2). The output has the unit and length of `x`.
///
/// # Errors
/// [`DspError::Empty`], [`DspError::NotFinite`], [`DspError::TooShort`], [`DspError::BadRate`],
/// [`DspError::CutoffOutOfRange`].
///
/// # Example
/// ```
/// use scaplane::dsp::{DspError, zero_phase::zero_phase_lowpass};
/// let still = [40.0; 12];
/// let out = zero_phase_lowpass(&still, 6.0, 30.0)?;
/// assert!(out.iter().all(|v| (v - 40.0).abs() < 1e-9));
/// assert_eq!(
///     zero_phase_lowpass(&still[..9], 6.0, 30.0),
///     Err(DspError::TooShort { have: 9, need: 10 })
/// );
/// # Ok::<(), DspError>(())
/// ```
pub fn zero_phase_lowpass(x: &[f64], cutoff_hz: f64, rate_hz: f64) -> Result<Vec<f64>, DspError> {
    let lane: Vec<[f64; 1]> = x.iter().map(|v| [*v]).collect();
    let out = zero_phase_lowpass_lanes(&lane, [cutoff_hz], rate_hz)?;
    Ok(out.into_flattened())
}

/// [`zero_phase_lowpass`] of `N` signals side by side, each with a cut-off of its own: samples of one time stand
/// together. It gives the same numbers in less time, because a filter spends its time waiting for its last output.
///
/// # Errors
/// As [`zero_phase_lowpass`].
///
/// # Example
/// ```
/// use scaplane::dsp::zero_phase::{zero_phase_lowpass, zero_phase_lowpass_lanes};
/// let x: Vec<f64> = (0..40).map(|k| f64::from(k * k % 17)).collect();
/// let both: Vec<[f64; 2]> = x.iter().map(|v| [*v, 2.0 * v]).collect();
/// let out = zero_phase_lowpass_lanes(&both, [4.0, 6.0], 30.0)?;
/// let alone = zero_phase_lowpass(&x, 4.0, 30.0)?;
/// assert!(out.iter().zip(alone).all(|(lanes, one)| lanes[0] == one));
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn zero_phase_lowpass_lanes<const N: usize>(
    x: &[[f64; N]],
    cutoffs_hz: [f64; N],
    rate_hz: f64,
) -> Result<Vec<[f64; N]>, DspError> {
    let mut cascades: [Vec<Section>; N] = from_fn(|_| Vec::new());
    for (cascade, cutoff_hz) in cascades.iter_mut().zip(cutoffs_hz) {
        *cascade = lowpass_sos(2, dual_pass_cutoff(cutoff_hz, rate_hz)?, rate_hz)?;
    }
    sosfiltfilt_lanes(from_fn(|lane| cascades[lane].as_slice()), x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dsp::butterworth::lowpass_ba;
    use proptest::prelude::*;
    use std::f64::consts::PI;

    fn tone(f_hz: f64, rate_hz: f64, n: usize) -> Vec<f64> {
        (0..n)
            .map(|k| (2.0 * PI * f_hz * k as f64 / rate_hz).sin())
            .collect()
    }

    #[test]
    fn a_tone_at_the_cutoff_leaves_at_0_707_and_in_phase() {
        let x = tone(6.0, 30.0, 600);
        let y = zero_phase_lowpass(&x, 6.0, 30.0).unwrap();
        for (a, b) in x.iter().zip(&y).skip(100).take(400) {
            assert!((b - a * 0.5_f64.sqrt()).abs() < 1e-9);
        }
    }

    #[test]
    fn both_forms_agree() {
        let x: Vec<f64> = tone(2.0, 30.0, 80)
            .iter()
            .zip(tone(9.0, 30.0, 80))
            .map(|(a, b)| a + 0.3 * b)
            .collect();
        for order in [2, 4] {
            let s = sosfiltfilt(&lowpass_sos(order, 5.0, 30.0).unwrap(), &x).unwrap();
            let r = filtfilt(&lowpass_ba(order, 5.0, 30.0).unwrap(), &x).unwrap();
            for (a, b) in s.iter().zip(&r) {
                assert!((a - b).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn refuses_bad_samples_by_name() {
        assert_eq!(zero_phase_lowpass(&[], 6.0, 30.0), Err(DspError::Empty));
        let mut x = vec![1.0; 20];
        x[7] = f64::NAN;
        assert_eq!(
            zero_phase_lowpass(&x, 6.0, 30.0),
            Err(DspError::NotFinite { index: 7 })
        );
        for n in 1..10 {
            assert!(matches!(
                zero_phase_lowpass(&vec![1.0; n], 6.0, 30.0),
                Err(DspError::TooShort { need: 10, .. })
            ));
        }
        assert!(matches!(
            zero_phase_lowpass(&[f64::MAX; 20], 6.0, 30.0),
            Ok(_) | Err(DspError::NotFinite { .. })
        ));
        assert!(sosfiltfilt(&[], &[1.0; 20]).is_err());
        let integrator = Ratio {
            b: vec![1.0],
            a: vec![1.0, -1.0],
        };
        assert!(filtfilt(&integrator, &[1.0; 20]).is_err());
    }

    proptest! {
        #[test]
        fn shift_and_scale_go_through(
            x in prop::collection::vec(-200.0..200.0_f64, 10..80),
            shift in -500.0..500.0_f64,
            scale in -9.0..9.0_f64,
            cutoff in 0.5..14.0_f64,
        ) {
            let plain = zero_phase_lowpass(&x, cutoff, 30.0).unwrap();
            let moved: Vec<f64> = x.iter().map(|v| shift + scale * v).collect();
            let moved = zero_phase_lowpass(&moved, cutoff, 30.0).unwrap();
            for (a, b) in plain.iter().zip(&moved) {
                prop_assert!((shift + scale * a - b).abs() < 1e-7);
            }
        }

        #[test]
        fn never_panics(
            x in prop::collection::vec(prop::num::f64::ANY, 0..40),
            cutoff in prop::num::f64::ANY,
            rate in prop::num::f64::ANY,
        ) {
            let _ = zero_phase_lowpass(&x, cutoff, rate);
        }
    }
}
