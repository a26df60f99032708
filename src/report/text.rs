//! The summary on the terminal: 80 columns, findings first.

use crate::session::{ReadingRow, Session, Verdict};
use std::fmt::Write;

/// Columns of a terminal line.
const COLUMNS: usize = 80;

/// Minutes and seconds, such as `00:12.4`.
pub fn clock(seconds: f64) -> String {
    let tenths = (seconds * 10.0).round().max(0.0) as u64;
    format!(
        "{:02}:{:02}.{}",
        tenths / 600,
        tenths / 10 % 60,
        tenths % 10
    )
}

/// A reading with its interval and unit, or the reason for its absence.
pub fn reading(row: &ReadingRow) -> String {
    let unit = match row.unit.as_str() {
        "1" => String::new(),
        unit => format!(" {}", unit.replace('_', " ")),
    };
    match (row.value, row.low, row.high, &row.why) {
        (Some(value), Some(low), Some(high), _) => {
            let digits = if row.unit == "deg" { 0 } else { 2 };
            format!("{value:.digits$} ({low:.digits$} to {high:.digits$}){unit}")
        }
        (_, _, _, Some(why)) => format!("cannot tell: {}", why.text),
        _ => "cannot tell".into(),
    }
}

fn mark(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "ok",
        Verdict::Near => "~",
        Verdict::Outside => "!!",
        Verdict::CannotTell => "?",
    }
}

/// One line of counts: "2 outside, 1 near, 9 within, 0 cannot tell - of 12 repetitions".
pub fn headline(session: &Session) -> String {
    let count = |verdict: Verdict| {
        session
            .reps
            .iter()
            .filter(|rep| rep.verdict == verdict)
            .count()
    };
    format!(
        "{} outside, {} near, {} within, {} cannot tell - of {} repetitions",
        count(Verdict::Outside),
        count(Verdict::Near),
        count(Verdict::Within),
        count(Verdict::CannotTell),
        session.reps.len()
    )
}

/// The whole summary; `title` is the exercise's.
pub fn summary(session: &Session, title: &str) -> String {
    let mut out = String::new();
    let mut line = |text: &str, indent: usize| {
        for part in wrapped(text, COLUMNS - indent) {
            let _ = writeln!(out, "{:indent$}{part}", "");
        }
    };
    line(
        &format!("{title}, {} side: {}", session.side, session.clip.source),
        0,
    );
    line(&headline(session), 0);
    line("", 0);
    for rep in &session.reps {
        let when = rep
            .peak_s
            .map_or(format!("frame {}", rep.peak_frame), clock);
        let marked = if rep.complete { "" } else { ", incomplete" };
        line(
            &format!(
                "{:>2} rep {:>2} at {when}: {} ({} of {} judged measures measurable){marked}",
                mark(rep.verdict),
                rep.number,
                rep.verdict.words(),
                rep.judged.measurable,
                rep.judged.of
            ),
            0,
        );
        for found in rep
            .findings
            .iter()
            .filter(|found| found.verdict != Verdict::CannotTell)
        {
            let value = rep
                .readings
                .get(&found.measure)
                .map(reading)
                .unwrap_or_default();
            let moment = found
                .worst_s
                .map_or(String::new(), |s| format!(" at {}", clock(s)));
            let limit = match found.limit {
                [Some(low), Some(high)] => format!("{low} to {high}"),
                [Some(low), None] => format!("at least {low}"),
                [None, Some(high)] => format!("at most {high}"),
                [None, None] => String::new(),
            };
            line(
                &format!(
                    "{}: {}{moment} {value}; limit {limit}",
                    found.verdict.words(),
                    found.text
                ),
                6,
            );
        }
    }
    for set in &session.sets {
        for drift in set
            .drift
            .iter()
            .filter(|d| d.toward == crate::session::Toward::Outside)
        {
            line(&format!("Drift, set {}: {}", set.number, drift.text), 0);
        }
    }
    if !session.unseen.is_empty() {
        line("", 0);
        line("What could not be seen:", 0);
        for unseen in &session.unseen {
            line(
                &format!(
                    "{}: measurable in {} of {}; {}. {}",
                    unseen.title, unseen.measurable, unseen.of, unseen.why.text, unseen.remedy
                ),
                2,
            );
        }
    }
    line("", 0);
    for note in session
        .notes
        .iter()
        .filter(|note| note.code.starts_with("reps/") || note.code.starts_with("kinematics/"))
    {
        line(&note.text, 0);
    }
    for caution in &session.cautions {
        line(caution, 0);
    }
    out
}

fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let last = lines.last().map_or(0, |line| line.chars().count());
        if last > 0 && last + 1 + word.chars().count() > columns {
            lines.push(word.to_string());
        } else if let Some(line) = lines.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_moment_is_read_as_on_a_clock() {
        assert_eq!(super::clock(12.34), "00:12.3");
        assert_eq!(super::clock(83.96), "01:24.0");
    }
}
