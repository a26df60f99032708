//! From repetitions to outcomes, verdicts, findings, drift and what could not be seen.

use super::assume::aim_plane_deg;
use crate::judge::{self, drift, finding, overall};
use crate::kinematics::{Kinematics, Linkage};
use crate::measures::{self, Outcome, RepContext};
use crate::models::{Exercise, Limit, Models};
use crate::reading::{Reading, Why};
use crate::reps::{Incomplete, RepSpan};
use crate::session::{Judged, Margin, ReadingRow, Reason, Rep, Set, Space, Unseen, Verdict};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Outcomes of one repetition by measure id.
pub(super) type Outcomes = BTreeMap<String, Outcome>;

pub(super) fn measure_all(
    kinematics: &Kinematics,
    spans: &[RepSpan],
    exercise: &Exercise,
    linkage: &Linkage,
) -> Vec<Outcomes> {
    let aim = aim_plane_deg(exercise);
    let plane_band = exercise
        .limit("plane-deviation")
        .and_then(|limit| Some((limit.low?, limit.high?)));
    spans
        .par_iter()
        .map(|rep| {
            let set_start = spans
                .iter()
                .filter(|other| other.set == rep.set)
                // A recording that begins within a repetition does not show from where it began.
                .find(|other| other.incomplete != Some(Incomplete::CutOffAtStart))
                .map_or(rep.start, |first| first.start);
            let cx = RepContext {
                kinematics,
                rep,
                set_start,
                exercise,
                linkage,
                plane_band,
                aim_plane_deg: aim,
            };
            exercise
                .measures()
                .into_iter()
                .map(|id| (id.to_string(), measures::measure(id, &cx)))
                .collect()
        })
        .collect()
}

pub(super) fn judge_all(
    kinematics: &Kinematics,
    spans: &[RepSpan],
    measured: &[Outcomes],
    exercise: &Exercise,
    models: &Models,
) -> Vec<Rep> {
    let time = |frame: usize| {
        kinematics
            .timeline
            .time_s(frame)
            .filter(|_| kinematics.timeline.knows_seconds())
    };
    spans
        .iter()
        .zip(measured)
        .zip(1..)
        .map(|((span, outcomes), number)| {
            let judged: Vec<(&Limit, &Outcome)> = exercise
                .limits
                .iter()
                .filter_map(|limit| Some((limit, outcomes.get(&limit.measure)?)))
                .collect();
            let verdicts: Vec<(Verdict, bool)> = judged
                .iter()
                .map(|(limit, outcome)| (judge::judge(&outcome.reading, limit), limit.key))
                .collect();
            let mut findings: Vec<_> = judged
                .iter()
                .filter_map(|(limit, outcome)| {
                    let source = models
                        .source(&limit.source)
                        .map_or(limit.source.as_str(), |s| s.citation.as_str());
                    finding(outcome, limit, source, time)
                })
                .collect();
            findings.sort_by_key(|found| match found.verdict {
                Verdict::Outside => 0,
                Verdict::Near => 1,
                _ => 2,
            });
            let measurable = verdicts
                .iter()
                .filter(|(verdict, _)| *verdict != Verdict::CannotTell)
                .count();
            Rep {
                number,
                set: span.set,
                start_frame: span.start as u64,
                peak_frame: span.peak as u64,
                end_frame: span.end as u64,
                start_s: time(span.start),
                peak_s: time(span.peak),
                end_s: time(span.end),
                complete: span.incomplete.is_none(),
                incomplete_because: span.incomplete.map(|because| because.words().to_string()),
                verdict: overall(&verdicts),
                judged: Judged {
                    measurable: measurable as u32,
                    of: verdicts.len() as u32,
                },
                readings: outcomes
                    .iter()
                    .map(|(id, outcome)| {
                        let unit = measures::card(id).map_or("", |card| card.unit);
                        let row = ReadingRow::of(&outcome.reading, unit);
                        (id.clone(), row.with_random_sd(outcome.repeat_sd))
                    })
                    .collect(),
                findings,
            }
        })
        .collect()
}

pub(super) fn drift_of_sets(
    spans: &[RepSpan],
    measured: &[Outcomes],
    reps: &[Rep],
    exercise: &Exercise,
) -> Vec<Set> {
    let last = spans.iter().map(|span| span.set).max().unwrap_or(0);
    (1..=last)
        .map(|number| {
            let members: Vec<usize> = spans
                .iter()
                .enumerate()
                .filter(|(_, span)| span.set == number)
                .map(|(index, _)| index)
                .collect();
            let series = exercise
                .limits
                .iter()
                .map(|limit| {
                    let mut margins = Vec::new();
                    let mut repeat_sd = Vec::new();
                    for index in &members {
                        let complete = spans
                            .get(*index)
                            .is_some_and(|span| span.incomplete.is_none());
                        let outcome = measured.get(*index).and_then(|all| all.get(&limit.measure));
                        if let Some((outcome, e)) = outcome
                            .and_then(|o| Some((o, o.reading.estimate()?)))
                            .filter(|_| complete)
                        {
                            let ends = [limit.margin(e.low), limit.margin(e.high)];
                            let middle = limit.margin(e.value);
                            margins.push(Margin {
                                rep: *index as u32 + 1,
                                margin: middle,
                                low: ends.iter().copied().fold(middle, f64::min),
                                high: ends.iter().copied().fold(middle, f64::max),
                            });
                            repeat_sd.push(outcome.repeat_sd);
                        }
                    }
                    judge::Series {
                        measure: limit.measure.clone(),
                        title: measures::card(&limit.measure)
                            .map_or(limit.measure.clone(), |card| card.title.to_string()),
                        unit: limit.unit.symbol().to_string(),
                        margins,
                        repeat_sd,
                        first_outside_rep: members
                            .iter()
                            .filter_map(|index| reps.get(*index))
                            .find(|rep| {
                                rep.findings.iter().any(|found| {
                                    found.measure == limit.measure
                                        && found.verdict == Verdict::Outside
                                })
                            })
                            .map(|rep| rep.number),
                    }
                })
                .collect();
            Set {
                number,
                reps: members.iter().map(|index| *index as u32 + 1).collect(),
                drift: drift(series),
            }
        })
        .collect()
}

pub(super) fn what_was_not_seen(
    space: Space,
    measured: &[Outcomes],
    exercise: &Exercise,
    models: &Models,
) -> Vec<Unseen> {
    // In one picture it is the view that makes an interval wide; in space another view would not help.
    let too_wide = match space {
        Space::Image => Why::IllConditioned,
        Space::World => Why::BeyondTrust,
    };
    exercise
        .limits
        .iter()
        .filter_map(|limit| {
            let mut reasons: BTreeMap<Why, u32> = BTreeMap::new();
            let mut measurable = 0;
            for outcomes in measured {
                let outcome = outcomes.get(&limit.measure)?;
                match (judge::judge(&outcome.reading, limit), &outcome.reading) {
                    (Verdict::CannotTell, Reading::NotMeasurable(why)) => {
                        *reasons.entry(*why).or_default() += 1;
                    }
                    (Verdict::CannotTell, _) => {
                        *reasons.entry(too_wide).or_default() += 1;
                    }
                    _ => measurable += 1,
                }
            }
            let (why, _) = reasons.into_iter().max_by_key(|(_, count)| *count)?;
            let remedy = match why {
                Why::WrongView
                | Why::IllConditioned
                | Why::SingleImage
                | Why::ArmAlongSightLine => exercise.views.placement.clone(),
                _ => models
                    .explain(why.code())
                    .map_or(String::new(), |explanation| explanation.remedy.clone()),
            };
            Some(Unseen {
                measure: limit.measure.clone(),
                title: measures::card(&limit.measure)
                    .map_or(limit.measure.clone(), |card| card.title.to_string()),
                measurable,
                of: measured.len() as u32,
                why: Reason {
                    code: why.code().to_string(),
                    text: why.text().to_string(),
                },
                remedy,
            })
        })
        .collect()
}
