//! Numbers, moments and lists as people read them.
//!
//! In: values of a result. Out: short strings with a true minus sign, `°` and an en dash; the terminal
//! replaces those by plain characters. Nothing is computed, only rounded for reading.

use crate::reading::Basis;
use crate::session::{ReadingRow, Verdict};

/// Decimals of a unit: a tenth of a degree is far below any error here, a tenth of a second is a few frames.
fn decimals(unit: &str, width: Option<f64>) -> usize {
    match unit {
        "deg" | "deg_s" if width.is_none_or(|width| width >= 2.0) => 0,
        "deg" | "deg_s" | "s" => 1,
        _ => 2,
    }
}

/// A number with so many decimals, a true minus sign and no negative zero.
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.chars().all(|c| c == '0' || c == '.') => digits.to_string(),
        Some(digits) => format!("\u{2212}{digits}"),
        None => text,
    }
}

/// The unit as it follows a number.
pub fn unit(unit: &str) -> &str {
    match unit {
        "deg" => "°",
        // A no-break space: `1` at the end of a line and `s` on the next would be read as two things.
        "s" => "\u{a0}s",
        "deg_s" => "\u{a0}deg\u{a0}s",
        "1" => "",
        other => other,
    }
}

/// The unit as a word of its own, for a column of a table.
pub fn unit_word(unit: &str) -> &str {
    match unit {
        "deg_s" => "deg s",
        "1" => "–",
        other => other,
    }
}

/// A value with its interval: `31° (24 to 38)`.
pub fn estimate(value: f64, low: f64, high: f64, of_unit: &str) -> String {
    let places = decimals(of_unit, Some(high - low));
    format!(
        "{} ({} to {}){}",
        number(value, places),
        number(low, places),
        number(high, places),
        unit(of_unit)
    )
}

/// A reading, or the reason for its absence.
pub fn reading(row: &ReadingRow) -> String {
    match (row.value, row.low, row.high) {
        (Some(value), Some(low), Some(high)) => estimate(value, low, high, &row.unit),
        _ => format!("cannot tell: {}", why(row)),
    }
}

/// The reason for an absence.
pub fn why(row: &ReadingRow) -> &str {
    row.why
        .as_ref()
        .map_or("no reason was recorded", |why| why.text.as_str())
}

/// A limit in words: `−15 to 20°`, `at least 120°`, `at most 40°`.
pub fn limit(limit: [Option<f64>; 2], of_unit: &str) -> String {
    let show = |value: f64| {
        let whole = (value - value.round()).abs() < 1e-9;
        let places = match of_unit {
            "deg" | "deg_s" | "s" if whole => 0,
            "deg" | "deg_s" | "s" => 1,
            _ => 2,
        };
        number(value, places)
    };
    let unit = unit(of_unit);
    match limit {
        [Some(low), Some(high)] => format!("{} to {}{unit}", show(low), show(high)),
        [Some(low), None] => format!("at least {}{unit}", show(low)),
        [None, Some(high)] => format!("at most {}{unit}", show(high)),
        [None, None] => "none".to_string(),
    }
}

/// Minutes and seconds to a tenth, `00:36.4`: two digits each, so that moments stand under one another.
pub fn clock(seconds: f64) -> String {
    let tenths = (seconds * 10.0).round().max(0.0) as u64;
    format!(
        "{:02}:{:02}.{}",
        tenths / 600,
        tenths / 10 % 60,
        tenths % 10
    )
}

/// A moment: on the clock where seconds are known, else the frame.
pub fn moment(seconds: Option<f64>, frame: Option<u64>) -> Option<String> {
    match (seconds, frame) {
        (Some(seconds), _) => Some(clock(seconds)),
        (None, Some(frame)) => Some(format!("frame {frame}")),
        (None, None) => None,
    }
}

/// Repetition numbers in order as a short list: `1, 3, 8–12`.
pub fn list(numbers: &[u32]) -> String {
    let mut parts: Vec<(u32, u32)> = Vec::new();
    for number in numbers.iter().copied() {
        match parts.last_mut() {
            Some((_, last)) if *last + 1 == number => *last = number,
            _ => parts.push((number, number)),
        }
    }
    let words: Vec<String> = parts
        .iter()
        .map(|(first, last)| match last - first {
            0 => first.to_string(),
            1 => format!("{first}, {last}"),
            _ => format!("{first}–{last}"),
        })
        .collect();
    words.join(", ")
}

/// `repetition 4` or `repetitions 4, 6`.
pub fn repetitions(numbers: &[u32]) -> String {
    let plural = if numbers.len() == 1 { "" } else { "s" };
    format!("repetition{plural} {}", list(numbers))
}

/// `1 repetition`, `12 repetitions`.
pub fn count(n: usize, noun: &str) -> String {
    let plural = if n == 1 { "" } else { "s" };
    format!("{n} {noun}{plural}")
}

/// Evidence in one word for a table.
pub fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Direct => "direct",
        Basis::Calibrated => "calibrated",
        Basis::Proxy => "proxy",
    }
}

/// The terminal's mark of a verdict.
pub fn mark(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Outside => "!!",
        Verdict::Near => "~",
        Verdict::Within => "ok",
        Verdict::CannotTell => "?",
    }
}

/// Id of a verdict, as in the result.
pub fn verdict_id(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Outside => "outside",
        Verdict::Near => "near",
        Verdict::Within => "within",
        Verdict::CannotTell => "cannot-tell",
    }
}

/// A title for an id that no card names: `rhythm-share` gives `Rhythm share`.
pub fn title_of_id(id: &str) -> String {
    let mut words = id.replace('-', " ");
    if let Some(first) = words.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    words
}

/// The text as it stands inside a sentence: its first letter small.
pub fn lower(text: &str) -> String {
    let mut text = text.to_string();
    if let Some(first) = text.get_mut(0..1) {
        first.make_ascii_lowercase();
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_rounded_for_reading_and_never_minus_zero() {
        assert_eq!(number(-0.04, 1), "0.0");
        assert_eq!(number(-3.26, 1), "\u{2212}3.3");
        assert_eq!(estimate(31.2, 24.4, 38.1, "deg"), "31 (24 to 38)°");
        assert_eq!(estimate(31.2, 30.9, 31.6, "deg"), "31.2 (30.9 to 31.6)°");
        assert_eq!(estimate(0.334, 0.2, 0.5, "1"), "0.33 (0.20 to 0.50)");
    }

    #[test]
    fn moments_are_read_as_on_a_clock() {
        assert_eq!(clock(12.34), "00:12.3");
        assert_eq!(clock(83.96), "01:24.0");
        assert_eq!(moment(None, Some(512)).as_deref(), Some("frame 512"));
    }

    #[test]
    fn lists_join_neighbours() {
        assert_eq!(list(&[1, 3, 8, 9, 10, 12]), "1, 3, 8–10, 12");
        assert_eq!(list(&[4, 5]), "4, 5");
        assert_eq!(repetitions(&[7]), "repetition 7");
    }

    #[test]
    fn limits_say_which_side_is_open() {
        assert_eq!(limit([Some(-15.0), Some(20.0)], "deg"), "\u{2212}15 to 20°");
        assert_eq!(limit([None, Some(0.398)], "1"), "at most 0.40");
        assert_eq!(limit([Some(1.0), None], "s"), "at least 1\u{a0}s");
    }
}
