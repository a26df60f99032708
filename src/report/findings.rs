//! Findings as rows: the same finding in several repetitions is one row, worst first.
//!
//! In: the repetitions of a session. Out: [`FindingRow`]s ready to show. A finding that cannot tell is left
//! to the list of what could not be seen, unless its measure is missing there.

use super::context::Context;
use super::words;
use crate::session::{Finding, Rep, Session, Verdict};
use serde::Serialize;
use std::collections::BTreeMap;

/// One finding over all its repetitions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FindingRow {
    /// Worst verdict among its repetitions, as an id.
    pub verdict: &'static str,
    /// The same in words.
    pub verdict_words: &'static str,
    /// Code of the finding.
    pub code: String,
    /// Measure id.
    pub measure: String,
    /// Title of the measure.
    pub title: String,
    /// One sentence for the therapist.
    pub text: String,
    /// `outside in repetitions 8–12; near in 6, 7`.
    pub wherein: String,
    /// Repetition with the worst moment.
    pub worst_rep: u32,
    /// The worst moment: `00:36.4` or `frame 512`.
    pub moment: Option<String>,
    /// Frame of the worst moment, from 0.
    pub frame: Option<u64>,
    /// Reading at its worst with interval.
    pub value: String,
    /// Evidence in one word; empty where there is no value.
    pub basis: &'static str,
    /// The limit in words.
    pub limit: String,
    /// What to say to the patient.
    pub cue: String,
    /// Where the limit comes from.
    pub source: String,
}

impl FindingRow {
    /// The reading at its worst with interval and evidence, and the limit: `-37 (-52 to -21)°, direct; limit -15 to 20°`.
    pub fn measured(&self) -> String {
        let basis = match self.basis {
            "" => String::new(),
            basis => format!(", {basis}"),
        };
        format!("{}{basis}; limit {}", self.value, self.limit)
    }
}

type Member<'a> = (&'a Rep, &'a Finding);

/// Rank of a verdict, worst first.
pub(crate) fn rank(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Outside => 0,
        Verdict::Near => 1,
        Verdict::CannotTell => 2,
        Verdict::Within => 3,
    }
}

/// Every finding of a session, grouped and ordered: outside before near, then the one in more
/// repetitions, then the one farther beyond its limit.
pub fn findings(session: &Session, context: &Context) -> Vec<FindingRow> {
    let mut groups: BTreeMap<(&str, &str), Vec<Member<'_>>> = BTreeMap::new();
    for rep in &session.reps {
        for found in &rep.findings {
            let listed = session.unseen.iter().any(|u| u.measure == found.measure);
            if found.verdict != Verdict::CannotTell || !listed {
                let key = (found.measure.as_str(), found.code.as_str());
                groups.entry(key).or_default().push((rep, found));
            }
        }
    }
    let mut rows: Vec<_> = groups
        .values()
        .filter_map(|members| {
            let (rep, worst) = worst(members)?;
            let outside = numbers(members, Verdict::Outside).len();
            let key = (
                rank(worst.verdict),
                usize::MAX - outside,
                usize::MAX - members.len(),
            );
            Some((key, worst.margin, row(members, rep, worst, context)))
        })
        .collect();
    rows.sort_by(|a, b| {
        let margin = |m: Option<f64>| m.unwrap_or(f64::INFINITY);
        a.0.cmp(&b.0)
            .then(margin(a.1).total_cmp(&margin(b.1)))
            .then(a.2.code.cmp(&b.2.code))
    });
    rows.into_iter().map(|(_, _, row)| row).collect()
}

/// The member with the worst verdict and, among those, the smallest margin.
fn worst<'a>(members: &[Member<'a>]) -> Option<Member<'a>> {
    members.iter().copied().min_by(|(_, a), (_, b)| {
        let margin = |f: &Finding| f.margin.unwrap_or(f64::INFINITY);
        rank(a.verdict)
            .cmp(&rank(b.verdict))
            .then(margin(a).total_cmp(&margin(b)))
    })
}

fn numbers(members: &[Member<'_>], verdict: Verdict) -> Vec<u32> {
    members
        .iter()
        .filter(|(_, found)| found.verdict == verdict)
        .map(|(rep, _)| rep.number)
        .collect()
}

/// The sentence of a finding. That of a *near* one says it is not certain: its interval reaches inside the
/// limits, so the bare sentence would claim more than was measured.
fn hedged(found: &Finding) -> String {
    match found.verdict {
        Verdict::Near => format!("Not certain: {}", words::lower(&found.text)),
        _ => found.text.clone(),
    }
}

fn row(members: &[Member<'_>], rep: &Rep, worst: &Finding, context: &Context) -> FindingRow {
    let parts: Vec<(Verdict, Vec<u32>)> = [Verdict::Outside, Verdict::Near, Verdict::CannotTell]
        .into_iter()
        .map(|verdict| (verdict, numbers(members, verdict)))
        .filter(|(_, reps)| !reps.is_empty())
        .collect();
    let wherein: Vec<String> = parts
        .iter()
        .enumerate()
        .map(|(place, (verdict, reps))| match place {
            0 => format!("{} in {}", verdict.words(), words::repetitions(reps)),
            _ => format!("{} in {}", verdict.words(), words::list(reps)),
        })
        .collect();
    let reading = rep.readings.get(&worst.measure);
    FindingRow {
        verdict: words::verdict_id(worst.verdict),
        verdict_words: worst.verdict.words(),
        code: worst.code.clone(),
        measure: worst.measure.clone(),
        title: context.title(&worst.measure),
        text: hedged(worst),
        wherein: wherein.join("; "),
        worst_rep: rep.number,
        moment: words::moment(worst.worst_s, worst.worst_frame),
        frame: worst.worst_frame,
        value: reading.map(words::reading).unwrap_or_default(),
        basis: reading.and_then(|r| r.basis).map_or("", words::basis),
        limit: words::limit(worst.limit, &worst.unit),
        cue: worst.cue.clone(),
        source: worst.source.clone(),
    }
}
