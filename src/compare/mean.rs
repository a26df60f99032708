//! The repetitions of one session as a mean with the two parts of its error.
//!
//! The mean, not the median: what is compared is how an arm moves on the whole, with 3 to 12 repetitions; of so few
//! the median's interval is that of the extremes, while a mean has one that is known. A repetition that went wrong
//! is not hidden by it: it widens the interval.

use crate::dsp::student::two_sided;
use crate::reading::{Basis, Z_95};
use crate::session::{ReadingRow, Reason, Session};
use std::collections::BTreeMap;

/// Mean of a measure over the complete repetitions of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Side {
    /// The mean, or why there is none.
    pub parts: Result<Parts, Reason>,
    /// Repetitions with a value.
    pub repetitions: u32,
    /// Complete repetitions.
    pub of: u32,
}

/// A mean and the half-widths of the parts of its 95 % interval, in the measure's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parts {
    /// Mean.
    pub mean: f64,
    /// What differs from repetition to repetition; shrinks with their number.
    pub random: f64,
    /// What stays the same through the clip, toward smaller values.
    pub below: f64,
    /// The same, toward larger values.
    pub above: f64,
    /// Weakest evidence among the repetitions.
    pub basis: Basis,
    /// Share of frames seen, 0..1.
    pub observed: f64,
}

impl Parts {
    /// Lower and upper end of the 95 % interval.
    pub fn interval(&self) -> [f64; 2] {
        [
            self.mean - self.random.hypot(self.below),
            self.mean + self.random.hypot(self.above),
        ]
    }
}

/// Fewest repetitions: one shows nothing of how repetitions differ.
const LEAST: usize = 2;

/// The mean over the repetitions with a value, and their number, where a single one will do: then its own interval is
/// the answer, and how the person's repetitions differ is unknown. `None` without a value.
pub fn or_single(session: &Session, measure: &str) -> Option<(Parts, usize)> {
    let complete = session.reps.iter().filter(|rep| rep.complete);
    let rows = complete.filter_map(|rep| rep.readings.get(measure));
    let readings: Vec<Reading> = rows.filter_map(Reading::of).collect();
    let all = match readings.as_slice() {
        [only] => Some(Parts {
            mean: only.value,
            random: only.random,
            below: only.below,
            above: only.above,
            basis: only.basis,
            observed: only.observed,
        }),
        several => parts(several),
    };
    Some((all?, readings.len()))
}

/// The mean of a measure in a session.
pub fn of(session: &Session, measure: &str) -> Side {
    let complete = session.reps.iter().filter(|rep| rep.complete);
    let rows: Vec<Option<&ReadingRow>> = complete.map(|rep| rep.readings.get(measure)).collect();
    let readings: Vec<Reading> = rows.iter().filter_map(|row| Reading::of((*row)?)).collect();
    Side {
        parts: parts(&readings).ok_or_else(|| absent(&rows, readings.len())),
        repetitions: readings.len() as u32,
        of: rows.len() as u32,
    }
}

/// One repetition's value with the half-widths of the two parts of its interval.
struct Reading {
    value: f64,
    random: f64,
    below: f64,
    above: f64,
    basis: Basis,
    observed: f64,
}

impl Reading {
    /// What is not known to be random is taken as what stays: it does not shrink.
    fn of(row: &ReadingRow) -> Option<Reading> {
        let (value, low, high) = (row.value?, row.low?, row.high?);
        let random = Z_95 * row.random_sd.unwrap_or(0.0);
        let stays = |half: f64| (half * half - random * random).max(0.0).sqrt();
        let sound = [value, low, high, random].iter().all(|x| x.is_finite());
        sound.then(|| Reading {
            value,
            random,
            below: stays(value - low),
            above: stays(high - value),
            basis: row.basis.unwrap_or(Basis::Direct),
            observed: row.observed.filter(|x| x.is_finite()).unwrap_or(0.0),
        })
    }
}

fn parts(readings: &[Reading]) -> Option<Parts> {
    let n = readings.len();
    if n < LEAST {
        return None;
    }
    let mean = |of: fn(&Reading) -> f64| readings.iter().map(of).sum::<f64>() / n as f64;
    let middle = mean(|reading| reading.value);
    let squares: f64 = readings.iter().map(|r| (r.value - middle).powi(2)).sum();
    // Spread over repetitions holds both how the person varies and the noise of the points. By chance a few
    // repetitions are more alike than their noise allows; then the noise counts.
    let spread = (squares / (n - 1) as f64).sqrt() * two_sided(n - 1, 0.95).ok()?;
    let noise = mean(|reading| reading.random * reading.random).sqrt();
    Some(Parts {
        mean: middle,
        random: spread.max(noise) / (n as f64).sqrt(),
        below: mean(|reading| reading.below),
        above: mean(|reading| reading.above),
        basis: readings.iter().map(|reading| reading.basis).max()?,
        observed: mean(|reading| reading.observed),
    })
}

/// Why there is no mean: the commonest reason of the repetitions, or that there are too few.
fn absent(rows: &[Option<&ReadingRow>], with_value: usize) -> Reason {
    let reason = |code: &str, text: &str| Reason {
        code: code.to_string(),
        text: text.to_string(),
    };
    if rows.is_empty() {
        return reason("no-repetition", "no complete repetition was found");
    }
    if with_value > 0 {
        return reason(
            "too-few-repetitions",
            "one repetition shows nothing of how repetitions differ; two or more with a value are needed",
        );
    }
    let mut reasons: BTreeMap<&str, (u32, &Reason)> = BTreeMap::new();
    for why in rows.iter().filter_map(|row| (*row)?.why.as_ref()) {
        reasons.entry(&why.code).or_insert((0, why)).0 += 1;
    }
    reasons
        .into_values()
        .max_by_key(|(count, _)| *count)
        .map_or_else(
            || reason("not-in-review", "the review does not hold this measure"),
            |(_, why)| why.clone(),
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(values: &[f64], half: f64, random_sd: Option<f64>) -> Vec<Reading> {
        let row = |value: &f64| ReadingRow {
            value: Some(*value),
            low: Some(value - half),
            high: Some(value + half),
            unit: "deg".into(),
            basis: Some(Basis::Direct),
            observed: Some(1.0),
            random_sd,
            why: None,
        };
        values
            .iter()
            .map(|v| Reading::of(&row(v)).unwrap())
            .collect()
    }

    #[test]
    fn the_random_part_shrinks_and_the_systematic_part_does_not() {
        let few = parts(&readings(&[100.0, 104.0], 10.0, Some(1.0))).unwrap();
        let many: Vec<f64> = (0..20).map(|k| 100.0 + 4.0 * f64::from(k % 2)).collect();
        let many = parts(&readings(&many, 10.0, Some(1.0))).unwrap();
        assert_eq!((few.mean, many.mean), (102.0, 102.0));
        assert!((few.random - 12.706 * 8f64.sqrt() / 2f64.sqrt()).abs() < 0.01);
        assert!(many.random < 1.0);
        let stays = (100.0 - Z_95 * Z_95).sqrt();
        assert!((few.below - stays).abs() < 1e-9 && (many.above - stays).abs() < 1e-9);
    }

    #[test]
    fn repetitions_that_are_alike_by_chance_keep_the_noise_of_the_points() {
        let alike = parts(&readings(&[100.0; 4], 10.0, Some(2.0))).unwrap();
        assert!((alike.random - Z_95 * 2.0 / 2.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_not_known_to_be_random_stays() {
        let unknown = parts(&readings(&[100.0, 101.0, 102.0], 10.0, None)).unwrap();
        assert!((unknown.below - 10.0).abs() < 1e-9);
        assert!(parts(&readings(&[100.0], 10.0, None)).is_none());
    }
}
