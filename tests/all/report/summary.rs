//! The words of a result: the width of the terminal's lines, and counts that never stand alone.

use scaplane::report::{self, text};
use scaplane::session::{Review, Session, Verdict};

use super::{SAMPLES, cases};

/// The session with every repetition judged alike and nothing found.
fn judged(session: &Session, verdict: Verdict) -> Session {
    let mut session = session.clone();
    for rep in &mut session.reps {
        rep.verdict = verdict;
        rep.findings.clear();
    }
    session
}

/// Columns of a line, for text without combining marks: kana and ideographs take two.
fn columns(line: &str) -> usize {
    line.chars()
        .map(|c| match c as u32 {
            0x2e80..=0xa4cf | 0xff00..=0xff60 => 2,
            _ => 1,
        })
        .sum()
}

#[test]
fn no_line_of_the_summary_is_wider_than_80_columns() {
    let mut lines = 0;
    for case in cases() {
        let mut long = case.review.session.clone();
        long.clip.source = "肩の動き".repeat(30);
        let mut unknown = case.review.session.clone();
        unknown.clip.duration_s = None;
        unknown.clip.rate_hz = None;
        for rep in &mut unknown.reps {
            (rep.start_s, rep.peak_s, rep.end_s) = (None, None, None);
            rep.complete = false;
            rep.incomplete_because = Some(
                "the arm had not come back when the clip ended, which is far from rest".into(),
            );
            rep.findings.iter_mut().for_each(|f| f.worst_s = None);
        }
        for session in [&case.review.session, &long, &unknown] {
            let summary = text::terminal(session, &case.context, text::Colour::Never);
            for line in summary.lines() {
                assert!(columns(line) <= 80, "{}: {line}", case.name);
                assert!(!line.contains('\u{1b}'), "{}: {line}", case.name);
                lines += 1;
            }
            let coloured = text::terminal(session, &case.context, text::Colour::Ansi);
            assert!(coloured.contains('\u{1b}'), "{}", case.name);
            assert_eq!(without_colour(&coloured), summary, "{}", case.name);
        }
    }
    println!("{lines} lines");
    assert!(lines > 20 * SAMPLES);
}

fn without_colour(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        out.push_str(before);
        rest = after.split_once('m').map_or("", |(_, after)| after);
    }
    out.push_str(rest);
    out
}

/// The sentences of a text, whatever its line breaks.
fn sentences(text: &str) -> Vec<String> {
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    joined.split(". ").map(str::to_string).collect()
}

/// How often a text says `0 outside`, each time with the number that could be measured.
fn zeroes(name: &str, text: &str) -> usize {
    let mut said = 0;
    for sentence in sentences(text) {
        for (at, _) in sentence.match_indices("0 outside") {
            let ten = sentence[..at].ends_with(|c: char| c.is_ascii_digit());
            if !ten {
                assert!(sentence.contains("measurable"), "{name}: {sentence}");
                said += 1;
            }
        }
    }
    said
}

#[test]
fn no_zero_stands_without_the_number_that_could_be_measured() {
    let (mut said, mut ran) = (0, 0);
    for case in cases() {
        let session = &case.review.session;
        let texts = |session: &Session| {
            let review = Review {
                session: session.clone(),
                traces: case.review.traces.clone(),
            };
            let page = report::html::page(&review, &case.context).expect("a page");
            let summary = text::terminal(session, &case.context, text::Colour::Never);
            [page, summary]
        };
        for text in texts(session) {
            zeroes(&case.name, &text);
            ran += 1;
        }
        for text in texts(&judged(session, Verdict::Within)) {
            let zero = zeroes(&case.name, &text);
            assert!(zero > 0, "{}: no count at all", case.name);
            said += zero;
            ran += 1;
        }
        // Where nothing could be judged no count of faults may stand at all.
        for text in texts(&judged(session, Verdict::CannotTell)) {
            assert_eq!(zeroes(&case.name, &text), 0, "{}", case.name);
            assert!(
                text.contains("none of which could be judged"),
                "{}",
                case.name
            );
            ran += 1;
        }
    }
    assert_eq!(ran, 6 * SAMPLES);
    assert!(said >= 2 * SAMPLES);
}
