//! Butterworth low-pass design, as second-order sections and as one polynomial ratio.
//!
//! *In*: order, cut-off in Hz, sampling rate in Hz. *Out*: coefficients for a sampled signal.
//! Filtering itself is in [`super::zero_phase`]; choosing a cut-off is in [`super::residual`].
//!
//! *Reference*: the analogue poles lie on a circle, `s_k = -exp(i pi m / 2n)`,
//! `m = -n+1, -n+3, .., n-1`; scaled by `t = tan(pi fc/fs)` (prewarping) and mapped by
//! `z = (1 + s)/(1 - s)` (bilinear transform), with `n` zeros at `z = -1`. The order of the sections
//! and the pairing of their zeros follow `scipy.signal.butter(output="sos")`, so that outputs can be
//! compared with it line by line.
//!
//! *Dual pass*: run forward and backward, the amplitude response is squared, and what was -3 dB
//! becomes -6 dB. For an order-2 design the cut-off must therefore be moved outward by
//! `C = (sqrt(2) - 1)^(1/4) = 0.8022` (Winter, Biomechanics and Motor Control of Human Movement;
//! edition from memory, not verified), and because the sampled axis is warped the
//! move is made on the warped axis: `fd = fs/pi atan(tan(pi fc/fs)/C)`.
//!
//! *Degenerate case*: a cut-off not inside (0, fs/2), a rate that is not positive or an order outside
//! 1..=16 is refused.
//!
//! *Own code, and why*: the only kept-up crate with these functions (`sci-rs`) stops the program when
//! a clip is no longer than its padding, and brings second versions of `nalgebra` and `ndarray`.

use std::f64::consts::PI;

use rustfft::num_complex::Complex;

use super::error::{DspError, check_cutoff};

/// Highest order designed. The polynomial form loses digits beyond it; movement data uses 2 to 4.
pub const MAX_ORDER: usize = 16;

/// One second-order section: `(b0 + b1/z + b2/z^2) / (1 + a1/z + a2/z^2)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Numerator `b0, b1, b2`.
    pub b: [f64; 3],
    /// Denominator `a1, a2`; the leading coefficient is 1.
    pub a: [f64; 2],
}

impl Section {
    /// The section as the row `b0 b1 b2 1 a1 a2`.
    #[must_use]
    pub fn row(&self) -> [f64; 6] {
        let [b0, b1, b2] = self.b;
        let [a1, a2] = self.a;
        [b0, b1, b2, 1.0, a1, a2]
    }
}

/// A filter as one polynomial ratio in `1/z`; both have order + 1 terms and `a` starts with 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Ratio {
    /// Numerator.
    pub b: Vec<f64>,
    /// Denominator, leading term 1.
    pub a: Vec<f64>,
}

/// Poles of the sampled filter, one of each conjugate pair, those nearest the unit circle first and
/// the real one (odd orders) last; and the gain.
struct Poles {
    pairs: Vec<Complex<f64>>,
    real: Option<f64>,
    gain: f64,
}

fn poles(order: usize, cutoff_hz: f64, rate_hz: f64) -> Result<Poles, DspError> {
    check_cutoff(cutoff_hz, rate_hz)?;
    if order == 0 || order > MAX_ORDER {
        return Err(DspError::BadParameter {
            name: "order",
            value: order as f64,
        });
    }
    let t = (PI * cutoff_hz / rate_hz).tan();
    let one = Complex::new(1.0, 0.0);
    let mut gain = 1.0;
    let mut pairs = Vec::with_capacity(order / 2);
    for k in 0..order / 2 {
        let angle = PI * (order - 1 - 2 * k) as f64 / (2 * order) as f64;
        let s = Complex::new(-angle.cos(), angle.sin()) * t;
        // The pair's share of the gain: t^2 / ((1 - s)(1 - conj s)).
        gain *= t * t / (one - s).norm_sqr();
        pairs.push((one + s) / (one - s));
    }
    let real = (order % 2 == 1).then(|| {
        gain *= t / (1.0 + t);
        (1.0 - t) / (1.0 + t)
    });
    Ok(Poles { pairs, real, gain })
}

/// Low-pass filter as second-order sections.
///
/// *Units and range*: `order` 1..=16, `cutoff_hz` inside (0, `rate_hz`/2). Rows equal those of
/// `scipy.signal.butter(order, cutoff_hz, fs=rate_hz, output="sos")`.
///
/// # Errors
/// [`DspError::CutoffOutOfRange`], [`DspError::BadRate`], [`DspError::BadParameter`] (order).
///
/// # Example
/// At a quarter of the rate `tan(pi/4) = 1`, so order 1 puts its pole at 0: the mean of two samples.
/// ```
/// use scaplane::dsp::butterworth::lowpass_sos;
/// let sos = lowpass_sos(1, 25.0, 100.0)?;
/// assert_eq!(sos.len(), 1);
/// for (got, want) in sos[0].row().iter().zip([0.5, 0.5, 0.0, 1.0, 0.0, 0.0]) {
///     assert!((got - want).abs() < 1e-12);
/// }
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn lowpass_sos(order: usize, cutoff_hz: f64, rate_hz: f64) -> Result<Vec<Section>, DspError> {
    let Poles { pairs, real, gain } = poles(order, cutoff_hz, rate_hz)?;
    // An odd order leaves one zero short; it is made up by a zero and a pole at the origin. The spare
    // zero goes to the first section (worst pole first) whose pole is nearer to 0 than to -1.
    let mut spare_zero = real.is_some();
    let mut numerator = |pole: Complex<f64>, last: bool| {
        let near_origin = pole.norm() < (pole + 1.0).norm();
        if spare_zero && (near_origin || last) {
            spare_zero = false;
            [1.0, 1.0, 0.0]
        } else {
            [1.0, 2.0, 1.0]
        }
    };
    let mut sections: Vec<Section> = Vec::with_capacity(order.div_ceil(2));
    for &p in &pairs {
        sections.push(Section {
            b: numerator(p, false),
            a: [-2.0 * p.re, p.norm_sqr()],
        });
    }
    if let Some(r) = real {
        sections.push(Section {
            b: numerator(Complex::new(r, 0.0), true),
            a: [-r, 0.0],
        });
    }
    sections.reverse();
    if let Some(first) = sections.first_mut() {
        first.b = first.b.map(|c| c * gain);
    }
    Ok(sections)
}

/// Low-pass filter as one polynomial ratio, as `scipy.signal.butter(output="ba")`.
///
/// Prefer [`lowpass_sos`]: above order 4 or so this form loses digits.
///
/// # Errors
/// As [`lowpass_sos`].
///
/// # Example
/// ```
/// use scaplane::dsp::butterworth::lowpass_ba;
/// let f = lowpass_ba(1, 25.0, 100.0)?;
/// assert!((f.b[0] - 0.5).abs() < 1e-12 && (f.b[1] - 0.5).abs() < 1e-12);
/// assert!(f.a[1].abs() < 1e-12);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn lowpass_ba(order: usize, cutoff_hz: f64, rate_hz: f64) -> Result<Ratio, DspError> {
    let Poles { pairs, real, gain } = poles(order, cutoff_hz, rate_hz)?;
    let mut a = vec![1.0];
    for p in &pairs {
        a = product(&a, &[1.0, -2.0 * p.re, p.norm_sqr()]);
    }
    if let Some(r) = real {
        a = product(&a, &[1.0, -r]);
    }
    let mut b = vec![gain];
    for _ in 0..order {
        b = product(&b, &[1.0, 1.0]);
    }
    Ok(Ratio { b, a })
}

/// Product of two polynomials given by their coefficients.
fn product(p: &[f64], q: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; (p.len() + q.len()).saturating_sub(1)];
    for (i, a) in p.iter().enumerate() {
        for (slot, b) in out.iter_mut().skip(i).zip(q) {
            *slot += a * b;
        }
    }
    out
}

/// `C`: ratio of the wanted cut-off to the design cut-off of an order-2 filter run twice.
///
/// From `(f/fd)^4 = sqrt(2) - 1`, where the squared amplitude of one pass is `1/(1 + (f/fd)^4)` and
/// the two passes together must be at `1/sqrt(2)`.
#[must_use]
pub fn dual_pass_ratio() -> f64 {
    (2.0_f64.sqrt() - 1.0).powf(0.25)
}

/// Design cut-off, in Hz, of the order-2 filter that has its -3 dB point at `cutoff_hz` after a forward
/// and a backward pass.
///
/// *Definition*: `fd = fs/pi atan(tan(pi fc/fs)/C)`. Always below `rate_hz`/2.
///
/// # Errors
/// [`DspError::CutoffOutOfRange`], [`DspError::BadRate`].
///
/// # Example
/// ```
/// use scaplane::dsp::butterworth::dual_pass_cutoff;
/// assert!((dual_pass_cutoff(6.0, 30.0)? - 7.028).abs() < 5e-4);
/// assert!((dual_pass_cutoff(6.0, 60.0)? - 7.350).abs() < 5e-4);
/// assert!((dual_pass_cutoff(4.0, 30.0)? - 4.838).abs() < 5e-4);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn dual_pass_cutoff(cutoff_hz: f64, rate_hz: f64) -> Result<f64, DspError> {
    check_cutoff(cutoff_hz, rate_hz)?;
    let warped = (PI * cutoff_hz / rate_hz).tan() / dual_pass_ratio();
    Ok(rate_hz / PI * warped.atan())
}

/// Amplitude, in 0..=1, that [`super::zero_phase::zero_phase_lowpass`] passes at frequency `f_hz`.
///
/// *Definition*: `1/(1 + (tan(pi f/fs)/tan(pi fd/fs))^4)` with `fd` from [`dual_pass_cutoff`]; the phase
/// is zero. It is `1/sqrt(2)` at `cutoff_hz`, 1 at 0 and 0 at half the rate.
///
/// # Errors
/// As [`dual_pass_cutoff`].
///
/// # Example
/// ```
/// use scaplane::dsp::butterworth::zero_phase_response;
/// assert!((zero_phase_response(6.0, 6.0, 30.0)? - 0.5_f64.sqrt()).abs() < 1e-12);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn zero_phase_response(f_hz: f64, cutoff_hz: f64, rate_hz: f64) -> Result<f64, DspError> {
    check_cutoff(cutoff_hz, rate_hz)?;
    let ratio = (PI * f_hz / rate_hz).tan() / (PI * cutoff_hz / rate_hz).tan();
    Ok(1.0 / (1.0 + (ratio * dual_pass_ratio()).powi(4)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Amplitude of a cascade at one frequency, from its coefficients alone.
    fn amplitude(sos: &[Section], f_hz: f64, rate_hz: f64) -> f64 {
        let w = Complex::from_polar(1.0, -2.0 * PI * f_hz / rate_hz);
        sos.iter()
            .map(|s| {
                let n = w * w * s.b[2] + w * s.b[1] + s.b[0];
                let d = w * w * s.a[1] + w * s.a[0] + 1.0;
                (n / d).norm()
            })
            .product()
    }

    #[test]
    fn passes_the_mean_and_halves_the_power_at_the_cutoff() {
        for order in 1..=MAX_ORDER {
            for (cutoff, rate) in [(6.0, 30.0), (1.0, 240.0), (14.9, 30.0), (4.0, 60.0)] {
                let sos = lowpass_sos(order, cutoff, rate).unwrap();
                assert_eq!(sos.len(), order.div_ceil(2));
                assert!((amplitude(&sos, 0.0, rate) - 1.0).abs() < 1e-9);
                assert!((amplitude(&sos, cutoff, rate) - 0.5_f64.sqrt()).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn the_two_pass_response_is_the_squared_design() {
        let (fc, fs) = (6.0, 30.0);
        let sos = lowpass_sos(2, dual_pass_cutoff(fc, fs).unwrap(), fs).unwrap();
        for f in [0.5, 3.0, 6.0, 9.0, 14.0] {
            let twice = amplitude(&sos, f, fs).powi(2);
            assert!((twice - zero_phase_response(f, fc, fs).unwrap()).abs() < 1e-12);
        }
        // Without the correction the real cut-off would be 5.04 Hz.
        let plain = lowpass_sos(2, fc, fs).unwrap();
        assert!((amplitude(&plain, 5.04, fs).powi(2) - 0.5_f64.sqrt()).abs() < 1e-3);
    }

    #[test]
    fn refuses_what_cannot_be_designed() {
        for (fc, fs) in [
            (15.0, 30.0),
            (16.0, 30.0),
            (0.0, 30.0),
            (-1.0, 30.0),
            (f64::NAN, 30.0),
        ] {
            assert!(matches!(
                lowpass_sos(2, fc, fs),
                Err(DspError::CutoffOutOfRange { .. })
            ));
            assert!(dual_pass_cutoff(fc, fs).is_err());
        }
        for fs in [0.0, -30.0, f64::INFINITY, f64::NAN] {
            assert!(matches!(
                lowpass_ba(2, 6.0, fs),
                Err(DspError::BadRate { .. })
            ));
        }
        for order in [0, 17] {
            assert!(matches!(
                lowpass_sos(order, 6.0, 30.0),
                Err(DspError::BadParameter { .. })
            ));
        }
    }
}
