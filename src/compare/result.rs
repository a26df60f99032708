//! A comparison as plain data: what `compare.json` holds (`scaplane.compare/1`).
//!
//! Units end the keys or stand beside them; what is missing is null with a reason. No computation happens here,
//! but for the written form of a mean.

use super::mean::{self, Parts};
use crate::body::Side;
use crate::note::Note;
use crate::reading::Basis;
use crate::session::{Program, Reason, Space, View};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Name and version of the format.
pub const FORMAT: &str = "scaplane.compare/1";

/// Two sessions side by side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Comparison {
    /// Always `scaplane.compare/1`.
    pub format: String,
    /// The program that made it.
    pub program: Program,
    /// Exercise id.
    pub exercise: String,
    /// What the two differ in.
    pub between: Between,
    /// The first: the reference.
    pub a: Party,
    /// The second.
    pub b: Party,
    /// How the parts of the error that stay the same through a clip were added.
    pub systematic_parts: Addition,
    /// What makes the two unlike beside what is compared.
    pub notes: Vec<Note>,
    /// Every measure, in the order of the exercise.
    pub measures: Vec<Row>,
    /// Cautions, to be shown with every comparison.
    pub cautions: Vec<String>,
}

/// What two sessions differ in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Between {
    /// The two arms.
    Arms,
    /// The same arm in two recordings.
    Sessions,
}

/// How two systematic parts add up in the interval of a difference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Addition {
    /// As they are: they may be opposite.
    Full,
    /// As the root of the sum of their squares: they are independent or tend to be the same.
    Squares,
}

/// Whether the user gave a clip or a review.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum GivenAs {
    /// A clip, reviewed for this comparison.
    Clip,
    /// A review made before.
    Review,
}

/// One of the two.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Party {
    /// What the user calls it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Arm.
    pub side: Side,
    /// Name of the clip.
    pub source: String,
    /// SHA-256 of the clip's bytes, hexadecimal.
    pub sha256: String,
    /// Clip or review.
    pub given_as: GivenAs,
    /// Layout id of the clip.
    pub layout: String,
    /// What angles come from.
    pub space: Space,
    /// From where the phone saw the person; null if it could not be told.
    pub view: Option<View>,
    /// Repetitions found.
    pub repetitions: u32,
    /// Complete ones: those that are compared.
    pub complete: u32,
}

/// One measure of both.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Row {
    /// Measure id.
    pub measure: String,
    /// Title.
    pub title: String,
    /// Unit of every number of the row: deg, s, deg_s, 1.
    pub unit: String,
    /// The first.
    pub a: Mean,
    /// The second.
    pub b: Mean,
    /// The second less the first; null where one of them is missing.
    pub difference: Option<Difference>,
    /// What a difference must exceed.
    pub floor: Floor,
    /// Judgement.
    pub verdict: Verdict,
    /// Why it cannot be told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<Reason>,
}

/// Mean over the complete repetitions of one session: either `value` with its interval, or null and `why`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Mean {
    /// Mean, null where there is none.
    pub value: Option<f64>,
    /// Lower end of its 95 % interval.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub low: Option<f64>,
    /// Upper end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub high: Option<f64>,
    /// Half-width of the part of the interval that shrinks with the number of repetitions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub random: Option<f64>,
    /// Repetitions with a value.
    pub repetitions: u32,
    /// Complete repetitions.
    pub of: u32,
    /// Weakest evidence among them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
    /// Share of frames seen, 0..1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub observed: Option<f64>,
    /// Reason for the absence.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<Reason>,
}

impl Mean {
    /// The written form.
    pub fn of(side: mean::Side) -> Mean {
        let parts: Option<Parts> = side.parts.as_ref().ok().copied();
        Mean {
            value: parts.map(|parts| parts.mean),
            low: parts.map(|parts| parts.interval()[0]),
            high: parts.map(|parts| parts.interval()[1]),
            random: parts.map(|parts| parts.random),
            repetitions: side.repetitions,
            of: side.of,
            basis: parts.map(|parts| parts.basis),
            observed: parts.map(|parts| parts.observed),
            why: side.parts.err(),
        }
    }
}

/// A difference with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Difference {
    /// Second less first.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The published error of a measure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Floor {
    /// Smallest difference that exceeds it; null where none was published.
    pub value: Option<f64>,
    /// Citations.
    pub source: Vec<String>,
    /// How it was had, or why there is none.
    pub note: String,
}

/// How the judgement of a difference came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The whole interval lies beyond the floor.
    Different,
    /// The whole interval lies within the floor.
    NotDistinguishable,
    /// Neither, or a value is missing, or no floor is known.
    CannotTell,
}

impl Verdict {
    /// Every verdict.
    pub const ALL: [Verdict; 3] = [
        Verdict::Different,
        Verdict::NotDistinguishable,
        Verdict::CannotTell,
    ];

    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Different => "different",
            Verdict::NotDistinguishable => "not distinguishable",
            Verdict::CannotTell => "cannot tell",
        }
    }

    /// Kebab-case id, as in the result.
    pub fn id(self) -> &'static str {
        match self {
            Verdict::Different => "different",
            Verdict::NotDistinguishable => "not-distinguishable",
            Verdict::CannotTell => "cannot-tell",
        }
    }
}
