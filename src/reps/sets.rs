//! Sets: repetitions between rests.

use super::RepSpan;
use crate::geom::median;

/// A pause at least this long is a rest between sets, seconds (common practice, no source).
const REST_S: f64 = 8.0;

/// A pause this many times the usual repetition is a rest too, if it lasts at least [`LEAST_REST_S`].
const REST_IN_REPS: f64 = 2.5;

/// Shortest pause that can be a rest, seconds (common practice, no source).
const LEAST_REST_S: f64 = 5.0;

/// Numbers the sets, from 1.
pub fn assign_sets(reps: &mut [RepSpan], times_s: &[f64]) {
    let time = |frame: usize| times_s.get(frame).copied().unwrap_or(0.0);
    let usual = median(reps.iter().map(|rep| time(rep.end) - time(rep.start))).unwrap_or(0.0);
    let rest = REST_S.min((REST_IN_REPS * usual).max(LEAST_REST_S));
    let mut set = 1;
    let mut last_end: Option<usize> = None;
    for rep in reps {
        if last_end.is_some_and(|end| time(rep.start) - time(end) >= rest) {
            set += 1;
        }
        rep.set = set;
        last_end = Some(rep.end);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_pause_begins_a_new_set() {
        let span = |start: usize| RepSpan {
            start,
            hold_start: start + 1,
            peak: start + 1,
            hold_end: start + 1,
            end: start + 3,
            set: 0,
            incomplete: None,
        };
        let mut reps = [span(0), span(4), span(8), span(25), span(29)];
        let times: Vec<f64> = (0..40).map(f64::from).collect();
        assign_sets(&mut reps, &times);
        assert_eq!(reps.map(|rep| rep.set), [1, 1, 1, 2, 2]);
    }
}
