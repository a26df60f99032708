//! The mean of a measure over the complete repetitions of a session, with its 95 % interval.
//!
//! *Definition*: mean of the values. Its interval has two parts, added as variances, each side by itself:
//! the *scatter* of the repetitions, `t(0.975, n-1) s / sqrt(n)`, which shrinks with their number and holds the
//! random error and how differently the person moved; and the *systematic* part of a reading's interval, which does
//! not shrink: the mean half-width less the random part, `sqrt(h^2 - (1.96 r)^2)`, where `r` is the repeatability
//! that the review states for a judged measure. For others `r` is not in the result, and the whole half-width is taken:
//! too wide rather than too narrow.
//!
//! *Not measurable when* no complete repetition has a value. With one repetition its own interval is the answer, and
//! how the person's repetitions scatter is unknown.

use crate::reading::{Basis, Z_95};
use crate::session::Session;
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// A mean over repetitions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pooled {
    /// Mean.
    pub value: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Unit.
    pub unit: String,
    /// Repetitions with a value.
    pub repetitions: usize,
    /// Weakest evidence among them.
    pub basis: Basis,
}

impl Pooled {
    /// The standard deviation that the interval stands for.
    pub fn sd(&self) -> f64 {
        (self.high - self.low) / (2.0 * Z_95)
    }
}

/// One reading: value, half-widths below and above, evidence.
struct Part {
    value: f64,
    below: f64,
    above: f64,
    basis: Basis,
}

/// The mean of a measure; `None` where no complete repetition has a value.
pub fn pooled(session: &Session, measure: &str) -> Option<Pooled> {
    let complete = session.reps.iter().filter(|rep| rep.complete);
    let rows: Vec<_> = complete
        .filter_map(|rep| rep.readings.get(measure))
        .collect();
    let unit = rows.first()?.unit.clone();
    let parts: Vec<Part> = rows
        .iter()
        .filter_map(|row| {
            let value = row.value?;
            Some(Part {
                value,
                below: value - row.low?,
                above: row.high? - value,
                basis: row.basis?,
            })
        })
        .collect();
    let basis = parts.iter().map(|part| part.basis).max()?;
    let values: Vec<f64> = parts.iter().map(|part| part.value).collect();
    let value = mean(&values);
    let scatter = scatter(&values);
    let random = match parts.len() {
        1 => 0.0,
        _ => Z_95 * repeat_sd(session, measure),
    };
    let half = |side: fn(&Part) -> f64| {
        let whole = mean(&parts.iter().map(side).collect::<Vec<f64>>());
        let systematic = (whole * whole - random * random).max(0.0);
        (systematic + scatter * scatter).sqrt()
    };
    Some(Pooled {
        value,
        low: value - half(|part| part.below),
        high: value + half(|part| part.above),
        unit,
        repetitions: parts.len(),
        basis,
    })
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// Half-width of the 95 % interval of a mean from the scatter of its values; 0 for a single one.
fn scatter(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let Ok(student) = StudentsT::new(0.0, 1.0, n - 1.0) else {
        return 0.0;
    };
    let centre = mean(values);
    let variance = values
        .iter()
        .map(|value| (value - centre).powi(2))
        .sum::<f64>()
        / (n - 1.0);
    student.inverse_cdf(0.975) * (variance / n).sqrt()
}

/// Repeatability of a reading within the session, standard deviation: the middle of its sets; 0 if the result does
/// not tell.
fn repeat_sd(session: &Session, measure: &str) -> f64 {
    let drifts = session.sets.iter().flat_map(|set| &set.drift);
    let told: Vec<f64> = drifts
        .filter(|drift| drift.measure == measure)
        .filter_map(|drift| drift.least_change)
        .map(|least| least / (Z_95 * std::f64::consts::SQRT_2))
        .collect();
    crate::geom::median(told).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scatter_of_a_mean_shrinks_with_its_number() {
        // t(0.975, 2) = 4.302653 (Student's table); s of 1, 2, 3 is 1.
        assert!((scatter(&[1.0, 2.0, 3.0]) - 4.302_652_73 / 3.0_f64.sqrt()).abs() < 1e-6);
        assert_eq!(scatter(&[5.0]), 0.0);
        let many: Vec<f64> = (0..30).map(|k| f64::from(k % 3)).collect();
        assert!(scatter(&many) < scatter(&many[..6]));
    }
}
