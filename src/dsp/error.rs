//! Why a numeric function refuses its input, and the few checks that all of them share.
//!
//! In: slices. Out: `Ok(())` or a [`DspError`]. It does not decide what to do about a refusal.

/// Why a numeric function gave no number.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DspError {
    /// No sample at all.
    #[error("no samples")]
    Empty,
    /// Too few samples for the method.
    #[error("{have} samples where at least {need} are needed")]
    TooShort {
        /// Samples given.
        have: usize,
        /// Fewest that would do.
        need: usize,
    },
    /// More samples than a method that compares every pair is allowed.
    #[error("{have} samples where at most {limit} are allowed")]
    TooLong {
        /// Samples given.
        have: usize,
        /// Most that are allowed.
        limit: usize,
    },
    /// A sample is NaN or infinite, or the result left the range of numbers.
    #[error("sample {index} is not a finite number")]
    NotFinite {
        /// Place of the first such sample, from 0.
        index: usize,
    },
    /// Two slices that belong together differ in length.
    #[error("slices of {left} and {right} samples where equal lengths are needed")]
    LengthMismatch {
        /// Length of the first slice.
        left: usize,
        /// Length of the second slice.
        right: usize,
    },
    /// Times do not strictly increase.
    #[error("time {index} is not after the one before it")]
    NotIncreasing {
        /// Place of the first time that is not later than its predecessor.
        index: usize,
    },
    /// The sampling rate is not a positive number.
    #[error("a sampling rate of {rate_hz} Hz is not usable")]
    BadRate {
        /// The rate given, in Hz.
        rate_hz: f64,
    },
    /// The cut-off is not between 0 and half the sampling rate.
    #[error("cut-off {cutoff_hz} Hz is not between 0 and the Nyquist frequency {nyquist_hz} Hz")]
    CutoffOutOfRange {
        /// The cut-off given, in Hz.
        cutoff_hz: f64,
        /// Half the sampling rate, in Hz.
        nyquist_hz: f64,
    },
    /// A setting lies outside its range.
    #[error("{name} = {value} is outside its range")]
    BadParameter {
        /// Name of the setting.
        name: &'static str,
        /// The value given.
        value: f64,
    },
    /// The samples do not spread where spread is needed (all `x` equal, or the line is vertical).
    #[error("the samples have no spread to fit")]
    NoSpread,
    /// An iteration did not settle.
    #[error("the fit did not settle")]
    NoConvergence,
}

/// Refuses an empty slice and the first sample that is not finite.
pub(super) fn check_samples(x: &[f64]) -> Result<(), DspError> {
    if x.is_empty() {
        return Err(DspError::Empty);
    }
    check_finite(x)
}

/// Refuses the first sample that is not finite; an empty slice passes.
pub(super) fn check_finite(x: &[f64]) -> Result<(), DspError> {
    match x.iter().position(|v| !v.is_finite()) {
        Some(index) => Err(DspError::NotFinite { index }),
        None => Ok(()),
    }
}

/// Refuses slices of different lengths.
pub(super) fn check_same_length<A, B>(left: &[A], right: &[B]) -> Result<(), DspError> {
    if left.len() == right.len() {
        Ok(())
    } else {
        Err(DspError::LengthMismatch {
            left: left.len(),
            right: right.len(),
        })
    }
}

/// Refuses times that are not finite and strictly increasing.
pub(super) fn check_increasing(t: &[f64]) -> Result<(), DspError> {
    check_finite(t)?;
    let late = t.iter().zip(t.iter().skip(1)).position(|(a, b)| b <= a);
    match late {
        Some(before) => Err(DspError::NotIncreasing { index: before + 1 }),
        None => Ok(()),
    }
}

/// Refuses fewer samples than `need`.
pub(super) fn check_at_least(have: usize, need: usize) -> Result<(), DspError> {
    if have < need {
        Err(DspError::TooShort { have, need })
    } else {
        Ok(())
    }
}

/// Refuses a sampling rate that is not a positive number.
pub(super) fn check_rate(rate_hz: f64) -> Result<(), DspError> {
    if rate_hz.is_finite() && rate_hz > 0.0 {
        Ok(())
    } else {
        Err(DspError::BadRate { rate_hz })
    }
}

/// Refuses a cut-off outside (0, Nyquist), and a bad rate.
pub(super) fn check_cutoff(cutoff_hz: f64, rate_hz: f64) -> Result<(), DspError> {
    check_rate(rate_hz)?;
    let nyquist_hz = rate_hz / 2.0;
    if cutoff_hz.is_finite() && cutoff_hz > 0.0 && cutoff_hz < nyquist_hz {
        Ok(())
    } else {
        Err(DspError::CutoffOutOfRange {
            cutoff_hz,
            nyquist_hz,
        })
    }
}
