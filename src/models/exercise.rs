//! One exercise: how its repetitions are found, what is judged and what is only reported.
//!
//! In: one TOML file. Out: [`Exercise`], with every limit's unit resolved. Limits are defaults
//! that the treating clinician may change; the surgeon's and therapist's protocol comes first.

use serde::{Deserialize, Serialize};

use super::vocabulary::Unit;

/// The curve whose turning points are the repetitions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Signal {
    /// Upper arm against the downward trunk line, 0 hanging.
    Elevation,
    /// 0 straight.
    ElbowFlexion,
    /// Internal positive, external negative.
    HumeralRotation,
}

/// Whether the turning point of a repetition is a maximum or a minimum of its signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Turn {
    /// A maximum.
    High,
    /// A minimum.
    Low,
}

/// How repetitions are found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Repetition {
    /// The curve that is searched.
    pub signal: Signal,
    /// Maximum or minimum.
    pub turn: Turn,
    /// Smaller movements are no repetition, degrees.
    pub min_excursion_deg: f64,
    /// At least this and less than `min_excursion_deg`: counted as an incomplete attempt, degrees.
    pub attempt_excursion_deg: f64,
    /// Least elevation of the upper arm at the turning point, where the repetition's own signal is not the
    /// elevation: standing with a long arm is no press.
    #[serde(default)]
    pub least_elevation_deg: Option<f64>,
    /// Source id.
    pub source: String,
}

/// Names of the three parts of a repetition, as shown to people.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Phases {
    /// From the start to the turning point.
    pub outward: String,
    /// At the turning point.
    pub hold: String,
    /// From the turning point to the end.
    pub back: String,
}

/// The plane an exercise runs in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plane {
    /// Plane of elevation aimed at, degrees: 0 to the side, 90 ahead.
    pub aim_deg: f64,
    /// Source id.
    pub source: String,
    /// Why this plane.
    pub note: String,
}

/// Where the phone stands, seen from the exercising arm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum View {
    /// The exercising side faces the phone.
    ExercisingSide,
    /// The other side faces the phone.
    OtherSide,
    /// The person faces the phone.
    Front,
    /// The person's back faces the phone.
    Back,
    /// About half-way between front and exercising side.
    Oblique,
}

/// Views from which an exercise's key measures can be had, and the words to place the phone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Views {
    /// Views that show every key measure well.
    pub best: Vec<View>,
    /// Views that show the key measures with wider intervals.
    pub accepted: Vec<View>,
    /// Where to put the phone, in plain words.
    pub placement: String,
}

/// The part of a repetition a limit looks at.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Applies {
    /// The whole repetition.
    #[default]
    All,
    /// Only from the start to the turning point.
    Outward,
    /// Only the hold.
    Hold,
    /// Only the way back.
    Back,
}

/// What is said when a limit is left on one side.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// Kebab-case code, explained in `notes.toml`.
    pub code: String,
    /// The finding, for the therapist.
    pub text: String,
    /// What the therapist may say or try.
    pub therapist_cue: String,
    /// The same for the patient, in everyday words.
    pub patient_cue: String,
}

/// One band that a measure should stay in.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Limit {
    /// Measure id.
    pub measure: String,
    /// Unit of the measure and of both ends.
    pub unit: Unit,
    /// Lower end; none when the band is open downward. An open end with words may be set by a plan.
    pub low: Option<f64>,
    /// Upper end; none when the band is open upward. An open end with words may be set by a plan.
    pub high: Option<f64>,
    /// Without a value for a key measure the repetition's verdict is *cannot tell*.
    pub key: bool,
    /// Part of the repetition it looks at.
    pub applies: Applies,
    /// Source id.
    pub source: String,
    /// Why this band.
    pub note: String,
    /// Said when the measure is below `low`.
    pub below: Option<Finding>,
    /// Said when the measure is above `high`.
    pub above: Option<Finding>,
}

impl Limit {
    /// Signed distance of a value from the nearest end of the band in the measure's unit,
    /// positive inside.
    ///
    /// ```
    /// # let models = scaplane::models::Models::embedded().unwrap();
    /// let plane = models.exercise("scapular-raise").unwrap().limit("plane-deviation").unwrap();
    /// let high = plane.high.unwrap();
    /// assert_eq!(plane.margin(high + 3.0), -3.0);
    /// assert_eq!(plane.margin(high - 2.0), 2.0);
    /// ```
    #[must_use]
    pub fn margin(&self, value: f64) -> f64 {
        let above_low = self.low.map_or(f64::INFINITY, |low| value - low);
        let below_high = self.high.map_or(f64::INFINITY, |high| high - value);
        above_low.min(below_high)
    }

    /// Whether it has an end: one without is only there for a plan to set.
    #[must_use]
    pub fn is_set(&self) -> bool {
        self.low.is_some() || self.high.is_some()
    }

    /// Words of the ends that are set, the lower one first.
    pub fn said(&self) -> impl Iterator<Item = &Finding> {
        let below = self.below.as_ref().filter(|_| self.low.is_some());
        let above = self.above.as_ref().filter(|_| self.high.is_some());
        below.into_iter().chain(above)
    }
}

/// A measure that is shown without being judged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Report {
    /// Measure id.
    pub measure: String,
}

/// One exercise.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Exercise {
    /// Kebab-case id, equal to the file's name.
    pub id: String,
    /// Title as shown.
    pub title: String,
    /// Title in everyday words; that for the clinician where the file gives none.
    pub patient_title: String,
    /// One plain sentence for the clinician.
    pub summary: String,
    /// One plain sentence for the patient.
    pub patient_summary: String,
    /// Source id of the exercise's description.
    pub source: String,
    /// How its repetitions are found.
    pub repetition: Repetition,
    /// Names of its phases.
    pub phases: Phases,
    /// The plane it runs in, where it has one.
    pub plane: Option<Plane>,
    /// Where the phone goes.
    pub views: Views,
    /// What is judged, in the order shown.
    pub limits: Vec<Limit>,
    /// What is judged only where a plan sets a limit: the words are here, no end is.
    pub settable: Vec<Limit>,
    /// What is only reported, in the order shown.
    pub report: Vec<Report>,
}

impl Exercise {
    /// The first limit on a measure.
    #[must_use]
    pub fn limit(&self, measure: &str) -> Option<&Limit> {
        self.limits.iter().find(|limit| limit.measure == measure)
    }

    /// The limit on a measure that a plan may change or set.
    #[must_use]
    pub fn limit_for_plan(&self, measure: &str) -> Option<&Limit> {
        let unset = || self.settable.iter().find(|limit| limit.measure == measure);
        self.limit(measure).or_else(unset)
    }

    /// Every measure the exercise judges or reports, judged ones first, each once.
    #[must_use]
    pub fn measures(&self) -> Vec<&str> {
        let mut seen = Vec::new();
        let judged = self.limits.iter().map(|l| l.measure.as_str());
        for measure in judged.chain(self.report.iter().map(|r| r.measure.as_str())) {
            if !seen.contains(&measure) {
                seen.push(measure);
            }
        }
        seen
    }
}
