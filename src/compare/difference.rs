//! The difference of two means with its interval, and what may be said of it.
//!
//! *Definition*: second less first. The interval is recovered from the distances of each mean's own limits (Zou and
//! Donner 2008, Stat Med 27:1693-1702, from memory), so that intervals that are not symmetric keep their shape: the
//! distances add in squares where they are independent, and in full where they may be opposite.

use super::mean::{Parts, Side};
use super::result::{Addition, Difference, Verdict};
use crate::session::Reason;

/// A difference and its judgement.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The difference, if both have a mean.
    pub difference: Option<Difference>,
    /// Judgement.
    pub verdict: Verdict,
    /// Why it cannot be told.
    pub why: Option<Reason>,
}

/// The judged difference of two sides; `floor` is the published error of the measure.
pub fn judged(a: &Side, b: &Side, addition: Addition, floor: Option<f64>) -> Judged {
    let cannot = |difference, why| Judged {
        difference,
        verdict: Verdict::CannotTell,
        why: Some(why),
    };
    let (first, second) = match (&a.parts, &b.parts) {
        (Ok(first), Ok(second)) => (first, second),
        (Err(why), Err(other)) if why == other => return cannot(None, named("A and B", why)),
        (Err(why), Err(other)) => {
            let text = format!("A: {}; B: {}", why.text, other.text);
            return cannot(None, reason(&why.code, text));
        }
        (Err(why), Ok(_)) => return cannot(None, named("A", why)),
        (Ok(_), Err(why)) => return cannot(None, named("B", why)),
    };
    let difference = of(first, second, addition);
    let Some(floor) = floor else {
        let zero = match difference.low <= 0.0 && 0.0 <= difference.high {
            true => "the interval of the difference holds zero",
            false => "the interval of the difference does not hold zero",
        };
        let text = format!("no error of this measure was published to compare with; {zero}");
        return cannot(Some(difference), reason("no-floor", text));
    };
    let verdict = guarded(&difference, floor);
    match verdict {
        Verdict::CannotTell => cannot(Some(difference), straddles(&difference, floor)),
        verdict => Judged {
            difference: Some(difference),
            verdict,
            why: None,
        },
    }
}

/// Second less first with its 95 % interval.
pub fn of(a: &Parts, b: &Parts, addition: Addition) -> Difference {
    let random = a.random.hypot(b.random);
    let add = |one: f64, other: f64| match addition {
        Addition::Full => one + other,
        Addition::Squares => one.hypot(other),
    };
    let value = b.mean - a.mean;
    Difference {
        value,
        low: value - random.hypot(add(b.below, a.above)),
        high: value + random.hypot(add(b.above, a.below)),
    }
}

/// Guard band (JCGM 106:2012): *different* only if the whole interval lies beyond the floor on one side, *not
/// distinguishable* only if all of it lies within, else *cannot tell*.
pub fn guarded(difference: &Difference, floor: f64) -> Verdict {
    if difference.low > floor || difference.high < -floor {
        Verdict::Different
    } else if difference.low >= -floor && difference.high <= floor {
        Verdict::NotDistinguishable
    } else {
        Verdict::CannotTell
    }
}

fn straddles(difference: &Difference, floor: f64) -> Reason {
    let text = match difference.value.abs() > floor {
        true => {
            "the difference exceeds the error of the measure, but its interval reaches below it"
        }
        false => "the interval of the difference reaches beyond the error of the measure",
    };
    reason("straddles-floor", text.to_string())
}

fn reason(code: &str, text: String) -> Reason {
    Reason {
        code: code.to_string(),
        text,
    }
}

fn named(who: &str, why: &Reason) -> Reason {
    reason(&why.code, format!("{who}: {}", why.text))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Basis;

    fn parts(mean: f64, random: f64, below: f64, above: f64) -> Parts {
        Parts {
            mean,
            random,
            below,
            above,
            basis: Basis::Direct,
            observed: 1.0,
        }
    }

    fn check(low: f64, high: f64) -> Verdict {
        let value = (low + high) / 2.0;
        guarded(&Difference { value, low, high }, 10.0)
    }

    #[test]
    fn the_whole_interval_decides() {
        assert_eq!(check(10.1, 30.0), Verdict::Different);
        assert_eq!(check(-30.0, -10.1), Verdict::Different);
        assert_eq!(check(-10.0, 10.0), Verdict::NotDistinguishable);
        assert_eq!(check(1.0, 4.0), Verdict::NotDistinguishable);
        assert_eq!(check(9.0, 30.0), Verdict::CannotTell);
        assert_eq!(check(-40.0, 40.0), Verdict::CannotTell);
    }

    /// 3, 4 and 12 are legs of right triangles: the interval can be checked by hand.
    #[test]
    fn distances_add_in_squares_or_in_full() {
        let (a, b) = (parts(100.0, 0.0, 1.0, 3.0), parts(120.0, 0.0, 4.0, 2.0));
        let squares = of(&a, &b, Addition::Squares);
        assert_eq!((squares.value, squares.low), (20.0, 15.0));
        let full = of(&a, &b, Addition::Full);
        assert_eq!((full.low, full.high), (13.0, 23.0));
        let noisy = of(
            &parts(0.0, 12.0, 0.0, 2.0),
            &parts(0.0, 0.0, 3.0, 0.0),
            Addition::Full,
        );
        assert_eq!(noisy.low, -13.0);
    }

    #[test]
    fn without_a_floor_nothing_is_called_different() {
        let side = |mean: f64| Side {
            parts: Ok(parts(mean, 1.0, 1.0, 1.0)),
            repetitions: 3,
            of: 3,
        };
        let judged = judged(&side(0.0), &side(50.0), Addition::Full, None);
        assert_eq!(judged.verdict, Verdict::CannotTell);
        let why = judged.why.unwrap();
        assert_eq!(why.code, "no-floor");
        assert!(why.text.contains("does not hold zero"));
    }
}
