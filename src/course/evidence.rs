//! What the sessions say to each line of the checklist: its state and the evidence in words.

use super::checklist::State;
use super::{limit_in_force, pooled, title};
use crate::compare::{Addition, difference, mean};
use crate::measures::card;
use crate::models::{Criterion, Exercise, Test, When};
use crate::session::{Toward, Verdict};
use crate::store::Entry;

/// State and evidence.
pub type Told = (State, String);

/// What the lines look at.
pub struct Facts<'a> {
    /// Sessions of the arm, in order of day.
    pub own: &'a [&'a Entry],
    /// Sessions of the other arm.
    pub other: &'a [&'a Entry],
    /// The exercise.
    pub exercise: &'a Exercise,
    /// The latest session of the arm.
    pub latest: &'a Entry,
}

fn by_hand(what: &str) -> Told {
    (State::NotEntered, what.to_string())
}

/// Met, not met or cannot tell, from what is sure and what is possible.
fn guarded(sure: bool, impossible: bool) -> State {
    match (sure, impossible) {
        (true, _) => State::Met,
        (_, true) => State::NotMet,
        _ => State::CannotTell,
    }
}

impl Facts<'_> {
    /// State and evidence; `None` where the line does not apply to the exercise.
    pub fn told(&self, criterion: &Criterion) -> Option<Told> {
        Some(match &criterion.test {
            Test::Ask => by_hand("For the clinician to answer."),
            Test::PainAtMost { when, most } => self.pain_at_most(*when, *most),
            Test::PainBelowPlanLimit => self.pain_below_limit(),
            Test::WeeksSinceOperation { at_least } => self.weeks(*at_least),
            Test::RepetitionsWithin { share, sessions } => self.within(*share, *sessions),
            Test::PrescriptionDone => self.prescription(),
            Test::NoDriftOutside { sessions } => self.no_drift(*sessions),
            Test::MeanWithinLimit { measure } => self.within_limit(measure)?,
            Test::CloseToOtherArm {
                measure,
                short_by_at_most,
                days,
            } => self.close(measure, *short_by_at_most, *days)?,
        })
    }

    fn pain_at_most(&self, when: When, most: f64) -> Told {
        let said = self.latest.told.reported;
        let (pain, word) = match when {
            When::Before => (said.pain_before, "before"),
            When::During => (said.pain_during, "during"),
            When::After => (said.pain_after, "after"),
        };
        match pain {
            Some(pain) => (
                guarded(pain <= most, pain > most),
                format!("Pain {word} {pain} of 10 on {}.", self.latest.date),
            ),
            None => by_hand(&format!(
                "No pain {word} was entered for {}.",
                self.latest.date
            )),
        }
    }

    fn pain_below_limit(&self) -> Told {
        let told = &self.latest.told;
        match (told.reported.pain_during, told.pain_limit) {
            (Some(pain), Some(limit)) => (
                guarded(pain < limit, pain >= limit),
                format!(
                    "Pain during {pain}, limit {limit}, on {}.",
                    self.latest.date
                ),
            ),
            (None, _) => by_hand(&format!(
                "No pain during was entered for {}.",
                self.latest.date
            )),
            (_, None) => by_hand("The plan states no pain limit."),
        }
    }

    fn weeks(&self, at_least: f64) -> Told {
        match self.latest.weeks_since_operation {
            Some(weeks) => (
                guarded(weeks >= at_least, weeks < at_least),
                format!("{weeks:.1} weeks on {}.", self.latest.date),
            ),
            None => by_hand("No day of an operation was entered."),
        }
    }

    fn latest_sessions(&self, wanted: usize) -> &[&Entry] {
        let from = self.own.len().saturating_sub(wanted);
        self.own.get(from..).unwrap_or(&[])
    }

    fn within(&self, share: f64, sessions: usize) -> Told {
        let mut sure = self.own.len() >= sessions;
        let mut impossible = false;
        let mut parts = Vec::new();
        for entry in self.latest_sessions(sessions) {
            let complete = || entry.session.reps.iter().filter(|rep| rep.complete);
            let count = |verdict| complete().filter(|rep| rep.verdict == verdict).count() as f64;
            let (all, within, outside) = (
                complete().count() as f64,
                count(Verdict::Within),
                count(Verdict::Outside),
            );
            sure &= all > 0.0 && within >= share * all;
            impossible |= all > 0.0 && all - outside < share * all;
            parts.push(format!(
                "{}: {within} within, {outside} outside, of {all} complete",
                entry.date
            ));
        }
        if self.own.len() < sessions {
            parts.push(format!(
                "{} of {sessions} sessions are in the book",
                self.own.len()
            ));
        }
        (guarded(sure, impossible), format!("{}.", parts.join("; ")))
    }

    fn prescription(&self) -> Told {
        let plan = self.latest.session.plan.as_ref();
        let Some((plan, prescribed)) =
            plan.and_then(|plan| Some((plan, plan.prescribed.as_ref()?)))
        else {
            return by_hand("The latest session was reviewed without a plan for this exercise.");
        };
        let done = &plan.done.repetitions;
        let full = done
            .iter()
            .filter(|reps| **reps >= prescribed.repetitions)
            .count();
        let counts: Vec<String> = done.iter().map(u32::to_string).collect();
        let met = full >= prescribed.sets as usize;
        (
            guarded(met, !met),
            format!(
                "{} sets of {} prescribed, sets of {} seen on {}.",
                prescribed.sets,
                prescribed.repetitions,
                match counts.is_empty() {
                    true => "none".to_string(),
                    false => counts.join(", "),
                },
                self.latest.date
            ),
        )
    }

    fn no_drift(&self, sessions: usize) -> Told {
        let mut sure = self.own.len() >= sessions;
        let mut drifted = Vec::new();
        let mut untold = Vec::new();
        for entry in self.latest_sessions(sessions) {
            let drifts = || entry.session.sets.iter().flat_map(|set| &set.drift);
            let mut found: Vec<String> = drifts()
                .filter(|drift| drift.toward == Toward::Outside)
                .map(|drift| title(&drift.measure))
                .collect();
            found.dedup();
            let claimed = drifts().any(|drift| drift.toward != Toward::NotClaimed);
            sure &= found.is_empty() && claimed;
            if !found.is_empty() {
                drifted.push(format!("{}: {}", entry.date, found.join(", ")));
            } else if !claimed {
                untold.push(format!("{}: too few repetitions to tell", entry.date));
            }
        }
        if self.own.len() < sessions {
            untold.push(format!(
                "{} of {sessions} sessions are in the book",
                self.own.len()
            ));
        }
        let impossible = !drifted.is_empty();
        let parts: Vec<String> = drifted.into_iter().chain(untold).collect();
        let evidence = match parts.is_empty() {
            true => "No drift toward outside was found where it could be told.".to_string(),
            false => format!("{}.", parts.join("; ")),
        };
        (guarded(sure, impossible), evidence)
    }

    fn within_limit(&self, measure: &str) -> Option<Told> {
        let [low, high] = limit_in_force(self.latest, measure, self.exercise);
        low.or(high)?;
        let Some(mean) = pooled(&self.latest.session, measure) else {
            let text = format!(
                "{} was not measurable on {}.",
                title(measure),
                self.latest.date
            );
            return Some((State::CannotTell, text));
        };
        // One repetition shows nothing of how repetitions differ.
        let several = mean.repetitions > 1;
        let sure =
            low.is_none_or(|low| mean.low >= low) && high.is_none_or(|high| mean.high <= high);
        let impossible =
            low.is_some_and(|low| mean.high < low) || high.is_some_and(|high| mean.low > high);
        let ends = match (low, high) {
            (Some(low), Some(high)) => format!("{low} to {high}"),
            (Some(low), None) => format!("at least {low}"),
            (None, Some(high)) => format!("at most {high}"),
            (None, None) => "none".to_string(),
        };
        Some((
            guarded(several && sure, several && impossible),
            format!(
                "{}: {:.0} ({:.0} to {:.0}) {} on {}, mean of {}; limit {ends}.",
                title(measure),
                mean.value,
                mean.low,
                mean.high,
                mean.unit,
                self.latest.date,
                mean.repetitions
            ),
        ))
    }

    fn close(&self, measure: &str, short_by_at_most: f64, days: i64) -> Option<Told> {
        let reported = self
            .exercise
            .report
            .iter()
            .any(|one| one.measure == measure);
        if self.exercise.limit(measure).is_none() && !reported {
            return None;
        }
        let near = |entry: &&&Entry| (entry.day - self.latest.day).abs() <= days;
        let Some(other) = self.other.iter().filter(near).max_by_key(|entry| entry.day) else {
            return Some(by_hand(&format!(
                "The book has no session of the other arm within {days} days of {}.",
                self.latest.date
            )));
        };
        let mean = |entry: &Entry| mean::of(&entry.session, measure).parts.ok();
        let (Some(own), Some(theirs)) = (mean(self.latest), mean(other)) else {
            let text = format!(
                "{} was not measurable in two repetitions of each arm.",
                title(measure)
            );
            return Some((State::CannotTell, text));
        };
        // Between arms the errors that stay the same through a clip may be opposite: they count in full.
        let difference = difference::of(&own, &theirs, Addition::Full);
        let (short, low, high) = (difference.value, difference.low, difference.high);
        let unit = card(measure).map_or("", |card| card.unit);
        let alike =
            own.basis == theirs.basis && self.latest.session.clip.space == other.session.clip.space;
        Some((
            guarded(
                alike && high <= short_by_at_most,
                alike && low > short_by_at_most,
            ),
            format!(
                "{}: other arm {:.0} on {}, this arm {:.0}: short by {short:.0} ({low:.0} to {high:.0}) {}{}.",
                title(measure),
                theirs.mean,
                other.date,
                own.mean,
                unit,
                if alike {
                    ""
                } else {
                    "; the two rest on different evidence"
                },
            ),
        ))
    }
}
