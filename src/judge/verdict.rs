//! Verdict by guard band (JCGM 106:2012): the whole 95 % interval decides, not the value.

use crate::measures::Outcome;
use crate::models::vocabulary::Unit;
use crate::models::{Finding as Words, Limit};
use crate::reading::{Reading, Why};
use crate::session::{Finding, Verdict};

/// Judges a reading against a limit.
///
/// *Outside* only if the whole interval is outside, *within* only if all of it is inside. An interval that
/// straddles a limit is *near*, unless the limits are a band and the interval is wider than the band: then
/// nothing was learned and the verdict is *cannot tell*. An angle with one limit has a band too, from zero to
/// the limit.
pub fn judge(reading: &Reading, limit: &Limit) -> Verdict {
    let Reading::Measured(e) = reading else {
        return Verdict::CannotTell;
    };
    let below = limit.low.is_some_and(|low| e.high < low);
    let above = limit.high.is_some_and(|high| e.low > high);
    if below || above {
        return Verdict::Outside;
    }
    let inside =
        limit.low.is_none_or(|low| e.low >= low) && limit.high.is_none_or(|high| e.high <= high);
    if inside {
        return Verdict::Within;
    }
    let band = match (limit.low, limit.high) {
        (Some(low), Some(high)) => Some(high - low),
        (Some(only), None) | (None, Some(only)) if limit.unit == Unit::Degrees && only > 0.0 => {
            Some(only)
        }
        _ => None,
    };
    if band.is_some_and(|band| e.high - e.low > band) {
        Verdict::CannotTell
    } else {
        Verdict::Near
    }
}

/// The finding of a judgement, or `None` when it is within.
pub fn finding(
    outcome: &Outcome,
    limit: &Limit,
    source: &str,
    time_s: impl Fn(usize) -> Option<f64>,
) -> Option<Finding> {
    let verdict = judge(&outcome.reading, limit);
    if verdict == Verdict::Within {
        return None;
    }
    let estimate = outcome.reading.estimate();
    let words: Option<&Words> = estimate.and_then(|e| match (limit.low, limit.high) {
        (Some(low), Some(high)) if e.value - low <= high - e.value => limit.below.as_ref(),
        (Some(_), None) => limit.below.as_ref(),
        _ => limit.above.as_ref(),
    });
    let (code, text, cue) = match (verdict, words, &outcome.reading) {
        (Verdict::Outside | Verdict::Near, Some(words), _) => (
            words.code.clone(),
            words.text.clone(),
            words.therapist_cue.clone(),
        ),
        (_, _, Reading::NotMeasurable(why)) => (
            why.code().to_string(),
            format!("Cannot tell: {}.", why.text()),
            String::new(),
        ),
        _ => (
            Why::IllConditioned.code().to_string(),
            "Cannot tell: the interval is too wide for the limit.".to_string(),
            String::new(),
        ),
    };
    Some(Finding {
        code,
        measure: limit.measure.clone(),
        verdict,
        limit: [limit.low, limit.high],
        margin: estimate.map(|e| limit.margin(e.value)),
        unit: limit.unit.symbol().to_string(),
        worst_s: outcome.moment.and_then(time_s),
        worst_frame: outcome.moment.map(|frame| frame as u64),
        text,
        cue,
        source: source.to_string(),
    })
}

/// Verdict of a repetition from the verdicts of its limits (and whether each is key).
///
/// Outside if any is outside; cannot tell if a key measure cannot be told; near if any is near; within if
/// at least one could be told; cannot tell otherwise.
pub fn overall(verdicts: &[(Verdict, bool)]) -> Verdict {
    let any = |wanted: Verdict| verdicts.iter().any(|(verdict, _)| *verdict == wanted);
    if any(Verdict::Outside) {
        Verdict::Outside
    } else if verdicts
        .iter()
        .any(|(verdict, key)| *key && *verdict == Verdict::CannotTell)
    {
        Verdict::CannotTell
    } else if any(Verdict::Near) {
        Verdict::Near
    } else if any(Verdict::Within) {
        Verdict::Within
    } else {
        Verdict::CannotTell
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::models::Models;
    use crate::reading::{Basis, Estimate};

    #[test]
    fn the_whole_interval_decides() {
        let models = Models::embedded().unwrap();
        let limit = models
            .exercise("scapular-raise")
            .unwrap()
            .limit("plane-deviation")
            .unwrap();
        let (low, high) = (limit.low.unwrap(), limit.high.unwrap());
        let middle = (low + high) / 2.0;
        let check = |value: f64, half: f64| {
            judge(
                &Reading::Measured(Estimate {
                    value,
                    low: value - half,
                    high: value + half,
                    observed: 1.0,
                    basis: Basis::Direct,
                }),
                limit,
            )
        };
        assert_eq!(check(middle, 1.0), Verdict::Within);
        assert_eq!(check(high, 3.0), Verdict::Near);
        assert_eq!(check(low - 10.0, 3.0), Verdict::Outside);
        assert_eq!(check(low - 10.0, 11.0), Verdict::Near);
        assert_eq!(check(middle, high - low), Verdict::CannotTell);
        assert_eq!(
            judge(&Reading::NotMeasurable(Why::WrongView), limit),
            Verdict::CannotTell
        );
    }

    #[test]
    fn a_key_measure_that_cannot_be_told_is_not_glossed_over() {
        use Verdict::{CannotTell, Near, Outside, Within};
        assert_eq!(overall(&[(Within, false), (CannotTell, true)]), CannotTell);
        assert_eq!(overall(&[(Within, true), (CannotTell, false)]), Within);
        assert_eq!(overall(&[(Near, false), (Within, true)]), Near);
        assert_eq!(overall(&[(Outside, false), (CannotTell, true)]), Outside);
        assert_eq!(overall(&[]), CannotTell);
    }
}
