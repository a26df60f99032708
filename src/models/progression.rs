//! The checklist before more load: what a clinic looks at, each line with its source.
//!
//! In: `progression.toml`. Out: [`Criterion`]s in file order. Whether one is met is told in `course`; nothing decides.

use super::error::ModelError;
use super::vocabulary;
use serde::Deserialize;

/// One line of the checklist.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Criterion {
    /// Kebab-case id.
    pub id: String,
    /// What is met if it is met.
    pub title: String,
    /// How it is told.
    pub test: Test,
    /// Source id.
    pub source: String,
    /// How to read it.
    pub note: String,
}

/// How a line is told from the sessions of the casebook.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Test {
    /// The clinician answers.
    Ask,
    /// Pain as entered for the latest session.
    PainAtMost {
        /// When it was felt.
        when: When,
        /// Most, 0 to 10.
        most: f64,
    },
    /// Pain during the exercise against the plan's limit.
    PainBelowPlanLimit,
    /// Time since the operation.
    WeeksSinceOperation {
        /// Fewest weeks.
        at_least: f64,
    },
    /// Share of complete repetitions that are within, in each of the latest sessions.
    RepetitionsWithin {
        /// Least share, 0 to 1.
        share: f64,
        /// How many sessions.
        sessions: usize,
    },
    /// What the plan prescribes was done.
    PrescriptionDone,
    /// No drift toward outside is claimed in the latest sessions.
    NoDriftOutside {
        /// How many sessions.
        sessions: usize,
    },
    /// The mean of the latest session, with its interval, against the limit in force.
    MeanWithinLimit {
        /// Measure id.
        measure: String,
    },
    /// The mean of the latest session against that of the other arm.
    CloseToOtherArm {
        /// Measure id.
        measure: String,
        /// Largest shortfall, in the measure's unit.
        short_by_at_most: f64,
        /// Most days between the two sessions.
        days: i64,
    },
}

/// When pain was felt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum When {
    /// Before the exercise.
    Before,
    /// The worst during it.
    During,
    /// After it.
    After,
}

/// The file `progression.toml`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawProgression {
    #[serde(default)]
    criterion: Vec<Criterion>,
}

/// Checks ids, texts and figures.
pub(crate) fn checked(raw: Option<RawProgression>, faults: &mut Vec<ModelError>) -> Vec<Criterion> {
    let criteria = raw.map(|raw| raw.criterion).unwrap_or_default();
    for (i, one) in criteria.iter().enumerate() {
        let mut fault = |key: &str, problem: String, remedy: &str| {
            let key = format!("criterion[{i}].{key}");
            faults.push(ModelError::new("progression.toml", key, problem, remedy));
        };
        if !vocabulary::is_kebab(&one.id) {
            fault(
                "id",
                format!("`{}` is no kebab-case id", one.id),
                "use lower-case letters, digits and single hyphens",
            );
        }
        if criteria.iter().take(i).any(|other| other.id == one.id) {
            fault(
                "id",
                format!("the id `{}` occurs twice", one.id),
                "keep one of the two",
            );
        }
        if one.title.trim().is_empty() {
            fault(
                "title",
                "the title is empty".into(),
                "say what is met if it is met",
            );
        }
        if let Some((key, remedy)) = one.test.wrong() {
            fault(&format!("test.{key}"), "the value cannot be".into(), remedy);
        }
    }
    criteria
}

impl Test {
    /// The key of a figure that cannot be, and what it may be.
    fn wrong(&self) -> Option<(&'static str, &'static str)> {
        let known = |measure: &str| vocabulary::unit_of(measure).is_some();
        match self {
            Test::PainAtMost { most, .. } if !(0.0..=10.0).contains(most) => {
                Some(("most", "a number from 0 to 10"))
            }
            Test::WeeksSinceOperation { at_least } if !(0.0..=520.0).contains(at_least) => {
                Some(("at_least", "weeks, 0 to 520"))
            }
            Test::RepetitionsWithin { share, .. } if !(0.0..=1.0).contains(share) => {
                Some(("share", "a share from 0 to 1"))
            }
            Test::RepetitionsWithin { sessions, .. } | Test::NoDriftOutside { sessions }
                if !(1..=100).contains(sessions) =>
            {
                Some(("sessions", "a number from 1 to 100"))
            }
            Test::MeanWithinLimit { measure } | Test::CloseToOtherArm { measure, .. }
                if !known(measure) =>
            {
                Some(("measure", "a measure that `scaplane measures` lists"))
            }
            Test::CloseToOtherArm {
                short_by_at_most, ..
            } if !(0.0..=360.0).contains(short_by_at_most) => {
                Some(("short_by_at_most", "a number from 0 to 360"))
            }
            Test::CloseToOtherArm { days, .. } if !(0..=3650).contains(days) => {
                Some(("days", "days, 0 to 3650"))
            }
            _ => None,
        }
    }
}
