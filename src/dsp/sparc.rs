//! Smoothness of a movement from the shape of its speed spectrum (SPARC).
//!
//! *In*: speed samples at an even rate. *Out*: one number, negative; nearer 0 is smoother. It does not cut
//! a recording into movements: a raise and a lowering with a hold between are two movements.
//!
//! *Reference*: Balasubramanian, Melendez-Calderon, Burdet 2012, IEEE Trans Biomed Eng 59:2126-2136;
//! Balasubramanian, Melendez-Calderon, Roby-Brami, Burdet 2015, J NeuroEng Rehabil 12:112 (both from
//! memory, not verified). The speed is zero-padded to
//! `2^(ceil(log2 n) + 4)`, its amplitude spectrum divided by its largest value and cut at 10 Hz and at
//! the last bin that reaches 0.05; the result is minus the arc length of what is left, with frequency
//! scaled to 0..1.
//!
//! *Degenerate case*: fewer than 4 samples, no motion, a sample that is not finite or a spectrum with a
//! single bin give no number.

use rustfft::FftPlanner;
use rustfft::num_complex::Complex;

/// Powers of two by which the spectrum is refined. Source: reference code of Balasubramanian 2015.
const PADDING: u32 = 4;
/// Highest frequency looked at, Hz. Source: Balasubramanian 2015 (2012 used 20).
const HIGHEST_HZ: f64 = 10.0;
/// Least share of the largest amplitude at the last bin. Source: Balasubramanian 2015.
const LEAST_AMPLITUDE: f64 = 0.05;
/// Longest movement analysed, samples; 2^20 is over an hour at 240 Hz, and the padded transform of it
/// still fits in memory. Own choice.
const LONGEST: usize = 1 << 20;

/// Spectral arc length of a speed profile; its sign is removed first.
///
/// *Units and range*: any unit of speed (the result has none); at most about -1; a single smooth
/// bell gives -1.4.
///
/// *Not measurable when*: fewer than 4 samples, no motion, any sample or the rate not usable; `None`.
///
/// # Example
/// ```
/// use scaplane::dsp::sparc::sparc;
/// let bell: Vec<f64> = (0..200)
///     .map(|k| (-5.0 * (f64::from(k) / 100.0 - 1.0).powi(2)).exp())
///     .collect();
/// assert!((sparc(&bell, 100.0).unwrap() + 1.41403).abs() < 1e-5);
/// assert_eq!(sparc(&[0.0; 50], 100.0), None);
/// ```
#[must_use]
pub fn sparc(speed: &[f64], rate_hz: f64) -> Option<f64> {
    let usable = rate_hz.is_finite() && rate_hz > 0.0 && speed.iter().all(|v| v.is_finite());
    if !usable || speed.len() < 4 || speed.len() > LONGEST {
        return None;
    }
    let top = speed.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    if top == 0.0 {
        return None;
    }
    let size = speed.len().next_power_of_two() << PADDING;
    // Scaled by the largest speed, so that neither very small nor very large units are lost.
    let mut bins: Vec<Complex<f64>> = speed
        .iter()
        .map(|v| Complex::new(v.abs() / top, 0.0))
        .collect();
    bins.resize(size, Complex::new(0.0, 0.0));
    FftPlanner::new().plan_fft_forward(size).process(&mut bins);

    let step_hz = rate_hz / size as f64;
    let mut amplitude: Vec<f64> = bins
        .iter()
        .enumerate()
        .take_while(|(k, _)| *k as f64 * step_hz <= HIGHEST_HZ)
        .map(|(_, c)| c.norm())
        .collect();
    // The largest amplitude of a speed without sign is its mean, at 0 Hz.
    let largest = amplitude.iter().copied().fold(0.0, f64::max);
    let last = amplitude
        .iter()
        .rposition(|a| *a / largest >= LEAST_AMPLITUDE)?;
    amplitude.truncate(last + 1);
    if last == 0 {
        return None;
    }
    let step = 1.0 / last as f64;
    let length: f64 = amplitude
        .iter()
        .zip(amplitude.iter().skip(1))
        .map(|(a, b)| step.hypot((b - a) / largest))
        .sum();
    Some(-length)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn minimum_jerk(seconds: f64, rate_hz: f64) -> Vec<f64> {
        let n = (seconds * rate_hz).round() as usize;
        (0..=n)
            .map(|k| {
                let t = k as f64 / n as f64;
                30.0 * t * t * (1.0 - t) * (1.0 - t)
            })
            .collect()
    }

    #[test]
    fn published_and_computed_values() {
        let got = sparc(&minimum_jerk(2.0, 30.0), 30.0).unwrap();
        assert!((got + 1.4004).abs() < 1e-3, "{got}");
    }

    #[test]
    fn neither_scale_nor_sign_nor_direction_matters() {
        let v = minimum_jerk(1.5, 60.0);
        let plain = sparc(&v, 60.0).unwrap();
        for factor in [1e-200, -3.0, 1e200] {
            let scaled: Vec<f64> = v.iter().map(|a| a * factor).collect();
            assert!((sparc(&scaled, 60.0).unwrap() - plain).abs() < 1e-9);
        }
        let mut back = v.clone();
        back.reverse();
        assert!((sparc(&back, 60.0).unwrap() - plain).abs() < 1e-9);
    }

    #[test]
    fn a_pause_and_a_shake_are_less_smooth() {
        let one = minimum_jerk(1.0, 60.0);
        let plain = sparc(&one, 60.0).unwrap();
        let twice: Vec<f64> = one.iter().chain(&one).copied().collect();
        assert!(sparc(&twice, 60.0).unwrap() < plain - 0.1);
        // A 4 Hz tremor on the speed puts a second hump into the spectrum.
        let shaken: Vec<f64> = one
            .iter()
            .enumerate()
            .map(|(k, v)| v * (1.0 + 0.8 * (k as f64 / 60.0 * 4.0 * std::f64::consts::TAU).sin()))
            .collect();
        assert!(sparc(&shaken, 60.0).unwrap() < plain - 0.1);
    }

    #[test]
    fn no_number_without_motion() {
        assert_eq!(sparc(&[], 30.0), None);
        assert_eq!(sparc(&[1.0, 2.0, 1.0], 30.0), None);
        assert_eq!(sparc(&[1.0, f64::NAN, 1.0, 0.0], 30.0), None);
        for rate in [0.0, -30.0, f64::NAN, f64::INFINITY] {
            assert_eq!(sparc(&[1.0, 2.0, 1.0, 0.0], rate), None);
        }
    }
}
