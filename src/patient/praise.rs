//! Praise that is true: said of a measure only where its whole interval lies inside the limits.

use super::Part;
use super::reps::whole;
use crate::models::{Exercise, Praise, Words};
use crate::session::{Rep, Session};

/// Most that are said: more would not be read.
const MOST: usize = 3;
/// Share of the repetitions from which a praise is given, as a fraction (choice of wording, no source).
const MOSTLY: (usize, usize) = (2, 3);

pub(super) fn praise(session: &Session, exercise: &Exercise, words: Words<'_>) -> Part {
    let total = whole(session).count();
    // Those that hold every time come first, then in the order of the exercise's limits.
    let mut earned: Vec<(bool, usize, String)> = words
        .praises()
        .filter_map(|(praise, text)| {
            let place = place(praise, exercise)?;
            let count = whole(session).filter(|rep| holds(praise, rep)).count();
            let enough = count > 0 && count * MOSTLY.1 >= total * MOSTLY.0;
            enough.then(|| (count < total, place, line(text, count, total, words)))
        })
        .collect();
    earned.sort_by_key(|(partly, place, _)| (*partly, *place));
    let mut lines: Vec<String> = earned.into_iter().map(|(.., line)| line).collect();
    lines.truncate(MOST);
    if lines.is_empty() {
        lines.push(words.say("praise_check", &[]));
    }
    Part {
        heading: words.say("praise_heading", &[]),
        lines,
    }
}

/// Place of the praise's first limit in the exercise; `None` unless the exercise judges all of its measures.
fn place(praise: &Praise, exercise: &Exercise) -> Option<usize> {
    let all = praise.measures.iter().map(|measure| {
        exercise
            .limits
            .iter()
            .position(|limit| limit.measure == *measure && praise.is_about(limit))
    });
    all.collect::<Option<Vec<usize>>>()?.into_iter().min()
}

/// Whether each measure was measured in a repetition and judged within: what is not within is a finding.
fn holds(praise: &Praise, rep: &Rep) -> bool {
    praise.measures.iter().all(|measure| {
        let measured = rep
            .readings
            .get(measure)
            .is_some_and(|row| row.value.is_some());
        measured && !rep.findings.iter().any(|found| found.measure == *measure)
    })
}

fn line(text: &str, count: usize, total: usize, words: Words<'_>) -> String {
    let (count_words, total_words) = (count.to_string(), total.to_string());
    let values = [
        ("praise", text),
        ("count", &*count_words),
        ("total", &*total_words),
    ];
    match total {
        1 => text.to_string(),
        _ if count == total => words.say("praise_all", &values),
        _ => words.say("praise_most", &values),
    }
}
