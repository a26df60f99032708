//! The one thing to change: the finding that is outside in most repetitions, in the patient's words.
//!
//! A second one is said only if it too was outside more than once. What is only near is never asked for: it may be
//! kept in mind, and the page says that the camera could not tell. Nothing is asked for when the pain reaches the
//! plan's limit: then the clinic comes first.

use super::Speaker;
use super::drawing::{self, Drawing};
use super::reps::whole;
use crate::models::{Exercise, Finding as Words, Limit};
use crate::session::{Finding, Rep, Review, Session, Toward, Verdict};
use std::collections::BTreeMap;

/// Repetitions in which a second finding is outside before it is said too (choice of wording, no source).
const SECOND_FROM: usize = 2;

/// What to change.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Heading.
    pub heading: String,
    /// Said before the cues, or in their place.
    pub lines: Vec<String>,
    /// At most two.
    pub cues: Vec<Cue>,
}

/// One cue.
#[derive(Debug, Clone, PartialEq)]
pub struct Cue {
    /// Code of the finding.
    pub code: String,
    /// Measure judged.
    pub measure: String,
    /// Said before it; empty before the first.
    pub before: String,
    /// The cue of the exercise file.
    pub text: String,
    /// Where it showed.
    pub lines: Vec<String>,
    /// The moment and the aim, where there is a figure to draw.
    pub drawing: Option<Drawing>,
}

/// A finding with the repetitions it was made in, the worst first.
struct Found<'a> {
    members: Vec<(&'a Rep, &'a Finding)>,
    limit: &'a Limit,
    words: &'a Words,
}

pub(super) fn change(
    review: &Review,
    exercise: &Exercise,
    in_pain: bool,
    speaker: &mut Speaker<'_>,
) -> Change {
    let session = &review.session;
    let words = speaker.words;
    let mut change = Change {
        heading: words.say("next_heading", &[]),
        lines: Vec::new(),
        cues: Vec::new(),
    };
    let judged = whole(session).any(|rep| rep.verdict != Verdict::CannotTell);
    if in_pain {
        change.lines.push(words.say("change_wait", &[]));
        return change;
    }
    if !judged {
        change.lines.push(words.say("change_untold", &[]));
        return change;
    }
    let outside = commonest(session, exercise, Verdict::Outside);
    for (place, found) in outside.iter().take(2).enumerate() {
        if place == 0 || found.members.len() >= SECOND_FROM {
            change
                .cues
                .push(cue(found, place, review, exercise, speaker));
        }
    }
    if !change.cues.is_empty() {
        change.heading = words.say("change_heading", &[]);
        return change;
    }
    match commonest(session, exercise, Verdict::Near).first() {
        Some(found) => {
            change.lines.push(words.say("change_watch", &[]));
            change.cues.push(hint(found, speaker));
        }
        None => change.lines.push(words.say("change_none", &[])),
    }
    change
}

/// Findings of a verdict in whole repetitions, the commonest first, then the one farther beyond its limit.
fn commonest<'a>(session: &'a Session, exercise: &'a Exercise, verdict: Verdict) -> Vec<Found<'a>> {
    let mut by_code: BTreeMap<(&str, &str), Vec<(&Rep, &Finding)>> = BTreeMap::new();
    for rep in whole(session) {
        for found in rep.findings.iter().filter(|found| found.verdict == verdict) {
            let key = (found.measure.as_str(), found.code.as_str());
            by_code.entry(key).or_default().push((rep, found));
        }
    }
    let mut all: Vec<Found<'_>> = by_code
        .into_values()
        .filter_map(|mut members| {
            members.sort_by(|(_, a), (_, b)| margin(a).total_cmp(&margin(b)));
            let (_, worst) = members.first()?;
            let (limit, words) = words_of(worst, exercise)?;
            Some(Found {
                members,
                limit,
                words,
            })
        })
        .collect();
    let worst = |found: &Found<'_>| {
        found
            .members
            .first()
            .map_or(0.0, |(_, worst)| margin(worst))
    };
    all.sort_by(|a, b| {
        let most = b.members.len().cmp(&a.members.len());
        most.then(worst(a).total_cmp(&worst(b)))
    });
    all
}

fn margin(found: &Finding) -> f64 {
    found.margin.unwrap_or(f64::INFINITY)
}

/// The limit a finding is about, and its words.
fn words_of<'a>(found: &Finding, exercise: &'a Exercise) -> Option<(&'a Limit, &'a Words)> {
    exercise
        .limits
        .iter()
        .filter(|limit| limit.measure == found.measure)
        .find_map(|limit| {
            let ends = [&limit.below, &limit.above];
            let words = ends
                .into_iter()
                .flatten()
                .find(|end| end.code == found.code)?;
            Some((limit, words))
        })
}

fn numbers(found: &Found<'_>) -> Vec<u32> {
    let mut numbers: Vec<u32> = found.members.iter().map(|(rep, _)| rep.number).collect();
    numbers.sort_unstable();
    numbers
}

/// A cue of which the camera could not tell whether it is needed: without a drawing, which would look certain.
fn hint(found: &Found<'_>, speaker: &mut Speaker<'_>) -> Cue {
    let words = speaker.words;
    Cue {
        code: found.words.code.clone(),
        measure: found.limit.measure.clone(),
        before: String::new(),
        text: speaker.translated(&found.words.patient_cue),
        lines: vec![
            words.numbers("change_near", &numbers(found)),
            words.say("change_unsure", &[]),
        ],
        drawing: None,
    }
}

fn cue(
    found: &Found<'_>,
    place: usize,
    review: &Review,
    exercise: &Exercise,
    speaker: &mut Speaker<'_>,
) -> Cue {
    let words = speaker.words;
    let mut lines = vec![words.numbers("change_where", &numbers(found))];
    let grew = review
        .session
        .sets
        .iter()
        .flat_map(|set| &set.drift)
        .any(|drift| drift.measure == found.limit.measure && drift.toward == Toward::Outside);
    if grew {
        lines.push(words.say("change_grew", &[]));
    }
    let worst = found.members.first();
    Cue {
        code: found.words.code.clone(),
        measure: found.limit.measure.clone(),
        before: match place {
            0 => String::new(),
            _ => words.say("change_second", &[]),
        },
        text: speaker.translated(&found.words.patient_cue),
        lines,
        drawing: worst
            .and_then(|(rep, worst)| drawing::of(review, rep, worst, found.limit, exercise, words)),
    }
}
