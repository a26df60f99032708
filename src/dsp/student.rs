//! Quantiles of Student's t distribution, for the mean of a few values.

use super::DspError;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Half-width, in standard errors, of the two-sided interval of a mean.
///
/// *In*: degrees of freedom (number of values less one) and the level, such as 0.95. *Out*: the quantile at
/// half-way between the level and 1. *Source*: Student 1908, Biometrika 6:1-25; any table of t.
///
/// # Errors
/// Without a degree of freedom, or with a level that is not between 0 and 1.
///
/// ```
/// use scaplane::dsp::student::two_sided;
/// assert!((two_sided(4, 0.95).unwrap() - 2.776).abs() < 5e-4);
/// ```
pub fn two_sided(freedom: usize, level: f64) -> Result<f64, DspError> {
    if freedom == 0 {
        return Err(DspError::TooShort { have: 1, need: 2 });
    }
    if !(level > 0.0 && level < 1.0) {
        return Err(DspError::BadParameter {
            name: "level",
            value: level,
        });
    }
    let t = StudentsT::new(0.0, 1.0, freedom as f64).map_err(|_| DspError::BadParameter {
        name: "freedom",
        value: freedom as f64,
    })?;
    Ok(t.inverse_cdf(0.5 + level / 2.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The table of t that every textbook prints, two-sided 95 % and 99 %.
    #[test]
    fn the_printed_table_comes_back() {
        for (freedom, t95, t99) in [
            (1, 12.706, 63.657),
            (2, 4.303, 9.925),
            (3, 3.182, 5.841),
            (4, 2.776, 4.604),
            (9, 2.262, 3.250),
            (29, 2.045, 2.756),
            (120, 1.980, 2.617),
        ] {
            for (level, wanted) in [(0.95, t95), (0.99, t99)] {
                let found = two_sided(freedom, level).unwrap();
                assert!((found - wanted).abs() < 6e-4, "{freedom} {level}: {found}");
            }
        }
        assert!(two_sided(0, 0.95).is_err());
        assert!(two_sided(3, f64::NAN).is_err());
    }
}
