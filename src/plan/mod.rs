//! The treating clinician's plan for one person: what is prescribed, and which limits were changed and why.
//!
//! In: one TOML file. Out: [`Plan`], checked; and an exercise with the plan's limits in place of the defaults.
//! Nothing in a plan changes a measurement: it changes what a repetition is judged against, and readings of
//! an inclinometer scale the rhythm, which then says so.

mod apply;
mod check;
mod read;
mod template;

pub use apply::exercise_with;
pub use read::{parse, read};
pub use template::template;

use crate::body::Side;
use serde::Deserialize;

/// What the file says it is.
pub const FORMAT: &str = "scaplane.plan/1";

/// A plan.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// Always `scaplane.plan/1`.
    pub format: String,
    /// A name that is nobody's.
    pub pseudonym: String,
    /// Side that is treated.
    pub side: Side,
    /// Day of the operation, if there was one.
    #[serde(default)]
    pub operation_date: Option<Date>,
    /// Phase of the rehabilitation, in the clinic's own words.
    #[serde(default)]
    pub phase: Option<String>,
    /// Pain on a scale of 0 to 10 at which the person stops.
    #[serde(default)]
    pub pain_limit: Option<f64>,
    /// Readings of an inclinometer on the blade, at rest and raised.
    #[serde(default)]
    pub inclinometer: Vec<InclinometerReading>,
    /// What is prescribed.
    #[serde(default)]
    pub exercise: Vec<Prescription>,
}

/// A day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date {
    /// Year.
    pub year: u16,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month.
    pub day: u8,
}

impl std::fmt::Display for Date {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

/// One exercise as prescribed.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Prescription {
    /// Exercise id.
    pub id: String,
    /// Sets in a session.
    pub sets: u32,
    /// Repetitions in a set.
    pub repetitions: u32,
    /// Load, kilograms.
    #[serde(default)]
    pub load_kg: Option<f64>,
    /// Band, cable or wall, in words.
    #[serde(default)]
    pub resistance: Option<String>,
    /// How long each phase should take.
    #[serde(default)]
    pub tempo: Option<Tempo>,
    /// Limits that differ from the defaults.
    #[serde(default)]
    pub limit: Vec<Override>,
}

/// Seconds for each phase of a repetition.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tempo {
    /// Way out.
    #[serde(default)]
    pub out_s: Option<f64>,
    /// Hold.
    #[serde(default)]
    pub hold_s: Option<f64>,
    /// Way back.
    #[serde(default)]
    pub back_s: Option<f64>,
}

/// A limit that the clinician changed.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Override {
    /// Measure id; the exercise must judge it.
    pub measure: String,
    /// Lower end, in the measure's unit; left out: no lower end.
    #[serde(default)]
    pub low: Option<f64>,
    /// Upper end; left out: no upper end.
    #[serde(default)]
    pub high: Option<f64>,
    /// Why, in the clinician's words.
    pub reason: String,
}

/// A reading of upward rotation of the blade.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InclinometerReading {
    /// Elevation of the arm, degrees.
    pub elevation_deg: f64,
    /// Upward rotation of the blade, degrees.
    pub upward_rotation_deg: f64,
}

impl Plan {
    /// What is prescribed of an exercise.
    pub fn prescription(&self, exercise: &str) -> Option<&Prescription> {
        self.exercise.iter().find(|one| one.id == exercise)
    }

    /// The exercise that is prescribed, where it is the only one.
    pub fn only_exercise(&self) -> Option<&str> {
        match self.exercise.as_slice() {
            [only] => Some(&only.id),
            _ => None,
        }
    }

    /// The lower and the higher of the two inclinometer readings.
    pub fn calibration(&self) -> Option<[InclinometerReading; 2]> {
        match self.inclinometer.as_slice() {
            [a, b] if a.elevation_deg <= b.elevation_deg => Some([*a, *b]),
            [a, b] => Some([*b, *a]),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests;
