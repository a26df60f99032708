//! The result as rows ready to draw, shared by the terminal and the page so that both say the same.
//!
//! In: a session and its context. Out: [`View`], words only. Counting rows is all the arithmetic there is.

use super::about::{facts, how};
use super::context::Context;
use super::findings::{FindingRow, findings};
use super::rows::{RepRow, key_measures, rows};
use super::{planned, words};
use crate::session::{Drift, Session, Toward, Verdict};
use serde::Serialize;

/// Everything a report shows, in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct View {
    /// `Raise in the scapular plane, right arm`.
    pub title: String,
    /// One sentence about the exercise.
    pub summary: String,
    /// Clip, duration and view, each a short phrase.
    pub facts: Vec<String>,
    /// Counts in one sentence.
    pub headline: String,
    /// Counts by verdict, worst first, for marks beside the sentence.
    pub counts: Vec<Count>,
    /// Judged measures that were not measurable in every repetition, one phrase each.
    pub seen: Vec<String>,
    /// Repetitions left incomplete, as a sentence; empty if none.
    pub incomplete: String,
    /// Findings, worst first.
    pub findings: Vec<FindingRow>,
    /// Said in place of findings when there is none.
    pub no_findings: String,
    /// Trends that are claimed, toward outside first.
    pub drifts: Vec<DriftRow>,
    /// Measures without a trend, in one sentence each; empty if none.
    pub no_drift: Vec<String>,
    /// Repetitions.
    pub reps: Vec<RepRow>,
    /// Titles of the short table's readings.
    pub key_titles: Vec<String>,
    /// What could not be seen.
    pub unseen: Vec<UnseenRow>,
    /// Where to put the phone; empty if not known.
    pub placement: String,
    /// Comparisons asked for.
    pub compare: Vec<CompareRow>,
    /// The plan and what the person said: label and text.
    pub plan: Vec<planned::Row>,
    /// Notes on the data.
    pub notes: Vec<NoteRow>,
    /// How it was measured: label and text.
    pub how: Vec<(String, String)>,
    /// Where the limits come from: measure, limit, note and source.
    pub limits: Vec<LimitLine>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Program and version.
    pub program: String,
}

/// How many repetitions had a verdict.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Count {
    /// Verdict id.
    pub verdict: &'static str,
    /// In words.
    pub words: &'static str,
    /// Repetitions.
    pub count: usize,
}

/// One trend.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DriftRow {
    /// Set number.
    pub set: u32,
    /// Measure id.
    pub measure: String,
    /// Title of the measure.
    pub title: String,
    /// `outside` or `inside`.
    pub toward: &'static str,
    /// One sentence.
    pub text: String,
}

/// One judged measure that could not be seen everywhere.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UnseenRow {
    /// Title of the measure.
    pub title: String,
    /// `measurable in 11 of 12`.
    pub share: String,
    /// Why.
    pub why: String,
    /// What to do next time.
    pub remedy: String,
}

/// One compared reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CompareRow {
    /// With what: the other arm or the reference clip.
    pub with: &'static str,
    /// Title of the measure.
    pub title: String,
    /// The reading in words.
    pub reading: String,
}

/// One note.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NoteRow {
    /// Sentence.
    pub text: String,
    /// Code for `scaplane explain`.
    pub code: String,
    /// Where, or empty.
    pub at: String,
}

/// One limit with its origin.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LimitLine {
    /// Title of the measure.
    pub title: String,
    /// Limit in words.
    pub limit: String,
    /// Why this band.
    pub note: String,
    /// Citation.
    pub source: String,
}

impl View {
    /// The rows of a session. The session must hold finite numbers only, see `finite`.
    pub fn of(session: &Session, context: &Context) -> View {
        let counts = counts(session);
        let key = key_measures(session, context);
        let (drifts, no_drift) = drifts(session, context);
        let title = match context.exercise_title.as_str() {
            "" => words::title_of_id(&session.exercise),
            title => title.to_string(),
        };
        View {
            title: format!("{title}, {} arm", session.side),
            summary: context.exercise_summary.clone(),
            facts: facts(session),
            headline: headline(session, &counts),
            counts,
            seen: session
                .unseen
                .iter()
                .filter(|u| u.of > 0)
                .map(|u| format!("{} measurable in {} of {}", u.title, u.measurable, u.of))
                .collect(),
            incomplete: incomplete(session),
            findings: findings(session, context),
            no_findings: no_findings(session),
            drifts,
            no_drift,
            reps: rows(session, context, &key),
            key_titles: key.iter().map(|id| context.title(id)).collect(),
            unseen: unseen(session),
            placement: context.placement.clone(),
            compare: compare(session, context),
            plan: planned::rows(session),
            notes: session
                .notes
                .iter()
                .map(|note| NoteRow {
                    text: note.text.clone(),
                    code: note.code.clone(),
                    at: note
                        .at
                        .as_ref()
                        .map(ToString::to_string)
                        .unwrap_or_default(),
                })
                .collect(),
            how: how(session),
            limits: context
                .limits
                .iter()
                .map(|limit| LimitLine {
                    title: context.title(&limit.measure),
                    limit: words::limit(limit.limit, &limit.unit),
                    note: limit.note.clone(),
                    source: limit.source.clone(),
                })
                .collect(),
            cautions: session.cautions.clone(),
            program: format!("{} {}", session.program.name, session.program.version),
        }
    }
}

fn counts(session: &Session) -> Vec<Count> {
    [
        Verdict::Outside,
        Verdict::Near,
        Verdict::Within,
        Verdict::CannotTell,
    ]
    .into_iter()
    .map(|verdict| Count {
        verdict: words::verdict_id(verdict),
        words: verdict.words(),
        count: session
            .reps
            .iter()
            .filter(|rep| rep.verdict == verdict)
            .count(),
    })
    .collect()
}

/// Counts never stand without the number that could be judged.
fn headline(session: &Session, counts: &[Count]) -> String {
    let all = session.reps.len();
    if all == 0 {
        return "No repetition was found.".to_string();
    }
    let of = |id: &str| {
        counts
            .iter()
            .find(|c| c.verdict == id)
            .map_or(0, |c| c.count)
    };
    let blind = of("cannot-tell");
    let judged = all - blind;
    if judged == 0 {
        return format!(
            "{}, none of which could be judged in full.",
            words::count(all, "repetition")
        );
    }
    let mut text = format!(
        "{} outside, {} near, {} within, of {} measurable",
        of("outside"),
        of("near"),
        of("within"),
        words::count(judged, "repetition"),
    );
    if blind > 0 {
        text.push_str(&format!("; {blind} cannot tell ({all} in all)"));
    }
    text.push('.');
    text
}

fn no_findings(session: &Session) -> String {
    let judged = session
        .reps
        .iter()
        .filter(|rep| rep.verdict != Verdict::CannotTell)
        .count();
    match (session.reps.len(), judged) {
        (0, _) => "There is nothing to judge.".to_string(),
        (_, 0) => "Nothing could be judged; see what could not be seen.".to_string(),
        _ => format!(
            "Nothing judged was near or outside its limits in {}.",
            words::count(judged, "measurable repetition")
        ),
    }
}

fn incomplete(session: &Session) -> String {
    let numbers: Vec<u32> = session
        .reps
        .iter()
        .filter(|rep| !rep.complete)
        .map(|rep| rep.number)
        .collect();
    match numbers.as_slice() {
        [] => String::new(),
        numbers => format!("Incomplete: {}.", words::repetitions(numbers)),
    }
}

fn drifts(session: &Session, context: &Context) -> (Vec<DriftRow>, Vec<String>) {
    let several = session.sets.len() > 1;
    let mut claimed = Vec::new();
    let mut sentences = Vec::new();
    for set in &session.sets {
        let prefix = match several {
            true => format!("Set {}: ", set.number),
            false => String::new(),
        };
        let titles = |toward: Toward| -> Vec<String> {
            set.drift
                .iter()
                .filter(|drift| drift.toward == toward)
                .map(|drift| context.title(&drift.measure))
                .collect()
        };
        for wanted in [Toward::Outside, Toward::Inside] {
            claimed.extend(
                set.drift
                    .iter()
                    .filter(|drift| drift.toward == wanted)
                    .map(|drift| row(set.number, drift, &prefix, context)),
            );
        }
        let nowhere = titles(Toward::Nowhere);
        if !nowhere.is_empty() {
            sentences.push(format!(
                "{prefix}no trend beyond error and chance in: {}.",
                nowhere.join(", ")
            ));
        }
        let silent = titles(Toward::NotClaimed);
        if !silent.is_empty() {
            sentences.push(format!(
                "{prefix}fewer than 5 values, so no trend is claimed for: {}.",
                silent.join(", ")
            ));
        }
    }
    claimed.sort_by_key(|row: &DriftRow| row.toward != "outside");
    (claimed, sentences.into_iter().map(capital).collect())
}

fn capital(mut text: String) -> String {
    if let Some(first) = text.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    text
}

fn row(set: u32, drift: &Drift, prefix: &str, context: &Context) -> DriftRow {
    DriftRow {
        set,
        measure: drift.measure.clone(),
        title: context.title(&drift.measure),
        toward: match drift.toward {
            Toward::Outside => "outside",
            Toward::Inside => "inside",
            Toward::Nowhere | Toward::NotClaimed => "",
        },
        text: format!("{prefix}{}", drift.text),
    }
}

fn unseen(session: &Session) -> Vec<UnseenRow> {
    session
        .unseen
        .iter()
        .map(|u| UnseenRow {
            title: u.title.clone(),
            share: match u.of {
                0 => "not measured".to_string(),
                of => format!("measurable in {} of {of}", u.measurable),
            },
            why: u.why.text.clone(),
            remedy: u.remedy.clone(),
        })
        .collect()
}

fn compare(session: &Session, context: &Context) -> Vec<CompareRow> {
    let sides = [
        ("the other arm", &session.compare.other_side),
        ("the reference clip", &session.compare.reference),
    ];
    sides
        .into_iter()
        .filter_map(|(with, rows)| Some((with, rows.as_ref()?)))
        .flat_map(|(with, rows)| {
            rows.iter().map(move |(measure, reading)| CompareRow {
                with,
                title: context.title(measure),
                reading: words::reading(reading),
            })
        })
        .collect()
}
