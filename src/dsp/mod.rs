//! Numbers on slices: filters, interpolation, line fits, trend tests, peaks, smoothness.
//!
//! In: plain slices of samples (and their times in seconds). Out: plain numbers, vectors and small
//! structs of numbers. Every refusal is a [`DspError`]; nothing here panics on bad data.
//!
//! Deliberately absent: files, clocks, random numbers, any notion of a body, a repetition or a
//! clinical limit, and any `crate::` type outside this folder. What a number means is decided by
//! the caller.

pub mod butterworth;
pub mod error;
pub mod fit;
pub mod holm;
pub mod integrate;
pub mod interpolate;
pub mod mann_kendall;
pub mod noise;
pub mod pchip;
pub mod peaks;
pub mod residual;
pub mod robust;
pub mod sparc;
pub mod student;
pub mod theil_sen;
pub mod window;
pub mod zero_phase;

pub use error::DspError;

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Numbers of every size, holes in the range of numbers included.
    fn wild() -> impl Strategy<Value = Vec<f64>> {
        prop_oneof![
            prop::collection::vec(prop::num::f64::ANY, 0..40),
            prop::collection::vec(prop::num::f64::NORMAL, 0..60),
            prop::collection::vec(-1e3..1e3_f64, 0..60),
            prop::collection::vec((-2..3_i32).prop_map(f64::from), 0..60),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]

        #[test]
        fn any_input_gives_numbers_or_a_refusal(
            x in wild(),
            y in wild(),
            p in prop::num::f64::ANY,
            q in prop::num::f64::ANY,
        ) {
            let n = x.len().min(y.len());
            let (a, b) = (&x[..n], &y[..n]);
            let mut numbers: Vec<f64> = Vec::new();
            if let Ok(v) = noise::noise_from_differences(&x) {
                numbers.extend([v.white_sd, v.robust_white_sd, v.ar1, v.ar1_sd]);
            }
            numbers.extend(noise::lag1_correlation(&x));
            if let Ok(v) = residual::residual_analysis(&x, 30.0, &residual::ResidualRule::default()) {
                numbers.extend([v.slope, v.intercept, v.r2, v.cutoff_hz, v.white_sd]);
            }
            for line in [
                fit::deming(a, b, p.abs()),
                fit::weighted_line(a, b, &vec![1.0; n]),
                fit::york(a, b, &vec![p.abs(); n], &vec![q.abs(); n]),
            ]
            .into_iter()
            .flatten()
            {
                numbers.extend([line.slope, line.intercept, line.slope_se, line.intercept_se]);
                numbers.push(line.reduced_chi2);
            }
            if let Ok(v) = theil_sen::theil_sen(a, b, 0.95) {
                numbers.extend([v.slope, v.intercept, v.low, v.high]);
            }
            if let Ok(v) = mann_kendall::mann_kendall(&x) {
                numbers.extend([v.p, v.variance]);
            }
            for peak in peaks::find_peaks(&x, &peaks::PeakRule::default()).into_iter().flatten() {
                prop_assert!(peak.prominence > 0.0 && peak.index < x.len());
            }
            numbers.extend(sparc::sparc(&x, p));
            numbers.extend(sparc::sparc(&x, 30.0));
            let t: Vec<f64> = (0..n).map(|k| k as f64 / 30.0).collect();
            let seen: Vec<Option<f64>> = b.iter().map(|v| v.is_finite().then_some(*v)).collect();
            for shape in [interpolate::Shape::Linear, interpolate::Shape::Monotone] {
                if let Ok(v) = interpolate::resample(&t, &seen, a, p, shape) {
                    numbers.extend(v.value.into_iter().flatten());
                }
                if let Ok(v) = interpolate::resample(&t, &seen, &[0.05, 0.4], 0.2, shape) {
                    numbers.extend(v.value.into_iter().flatten());
                }
            }
            let _ = interpolate::even_grid(a, p);
            numbers.extend(integrate::trapezoid(&t, b));
            numbers.extend(integrate::area_above(&t, b, p));
            numbers.extend(integrate::time_above(&t, b, p));
            numbers.extend(holm::holm(&x).into_iter().flatten());
            numbers.extend(robust::robust_sd(&x));
            let rule = robust::HampelRule { half_window: 3, threshold: 3.0, floor: 0.0 };
            let _ = robust::hampel_flags(&seen, &rule);
            prop_assert!(numbers.iter().all(|v| v.is_finite()), "{numbers:?}");
        }
    }
}
