//! The result of a review as plain data: what reports, batch and store see, and what `review.json` holds.
//!
//! `scaplane.review/1`. Units end the keys; there is no NaN; what is missing is null with a reason.
//! No computation happens here.

use crate::body::Side;
use crate::note::Note;
use crate::reading::{Basis, Reading};
use crate::track::Timing;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Name and version of the result format.
pub const FORMAT: &str = "scaplane.review/1";

/// Everything measured and judged on one side in one clip.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Session {
    /// Always `scaplane.review/1`.
    pub format: String,
    /// The program that made it.
    pub program: Program,
    /// The clip it was made from.
    pub clip: Clip,
    /// Exercise id.
    pub exercise: String,
    /// Side measured.
    pub side: Side,
    /// What was assumed, filled, repaired or skipped, in order.
    pub notes: Vec<Note>,
    /// Repetitions in order of time.
    pub reps: Vec<Rep>,
    /// Sets in order of time.
    pub sets: Vec<Set>,
    /// Judged measures that could be measured in no repetition, or not in all.
    pub unseen: Vec<Unseen>,
    /// What was prescribed and what was done, if a plan was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plan: Option<Planned>,
    /// What the person said, if it was entered; it changes no measurement and no verdict.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reported: Option<Reported>,
    /// Comparisons, if any were asked for.
    pub compare: Compare,
    /// Usual cautions, to be shown with every result.
    pub cautions: Vec<String>,
}

/// The program that made a result.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Program {
    /// `scaplane`.
    pub name: String,
    /// Version.
    pub version: String,
}

/// What the clip is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Clip {
    /// File or folder as the user gave it (last component only).
    pub source: String,
    /// SHA-256 of the bytes read, hexadecimal.
    pub sha256: String,
    /// Reader id.
    pub reader: String,
    /// Layout id.
    pub layout: String,
    /// What angles come from.
    pub space: Space,
    /// Frames after the time line was put in order.
    pub frames: u64,
    /// Length in seconds; null when no rate is known.
    pub duration_s: Option<f64>,
    /// Frames a second; null when no rate is known.
    pub rate_hz: Option<f64>,
    /// Where times come from.
    pub timing: Timing,
    /// Which person of the file.
    pub person: String,
    /// From where the phone saw the person; null if it could not be told.
    pub view: Option<View>,
    /// Share of the frames with the person in which each joint was seen, 0..1.
    pub coverage: BTreeMap<String, f64>,
    /// Cut-off of the low-pass filter, hertz; null if nothing was filtered.
    pub cutoff_hz: Option<f64>,
}

/// Picture or world coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Space {
    /// One picture; angles are lifted.
    Image,
    /// World coordinates.
    World,
}

/// View of the person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct View {
    /// front, back, left, right or oblique.
    pub name: String,
    /// Turn of the trunk: 0 faces the phone, 90 faces the picture's right, -90 its left, 180 the back.
    pub yaw_deg: f64,
    /// 95 % interval of the turn, lower end.
    pub low_deg: f64,
    /// 95 % interval of the turn, upper end.
    pub high_deg: f64,
    /// Whether the user stated it.
    pub stated: bool,
}

/// How a judgement came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The whole interval is inside the limits.
    Within,
    /// The interval straddles a limit.
    Near,
    /// The whole interval is outside.
    Outside,
    /// No value, or one whose interval is wider than the limits.
    CannotTell,
}

impl Verdict {
    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Within => "within",
            Verdict::Near => "near",
            Verdict::Outside => "outside",
            Verdict::CannotTell => "cannot tell",
        }
    }
}

/// One repetition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Rep {
    /// Number in the clip, from 1.
    pub number: u32,
    /// Set it belongs to, from 1.
    pub set: u32,
    /// First frame, counted from 0 in the clip.
    pub start_frame: u64,
    /// Frame of the turning point.
    pub peak_frame: u64,
    /// Last frame.
    pub end_frame: u64,
    /// Start, seconds; null when no rate is known.
    pub start_s: Option<f64>,
    /// Turning point, seconds.
    pub peak_s: Option<f64>,
    /// End, seconds.
    pub end_s: Option<f64>,
    /// False for a repetition cut off by the clip's end or an attempt that fell short.
    pub complete: bool,
    /// Why it is incomplete.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incomplete_because: Option<String>,
    /// Judgement over all judged measures.
    pub verdict: Verdict,
    /// Judged measures that could be measured, and all judged measures.
    pub judged: Judged,
    /// Every reading by measure id.
    pub readings: BTreeMap<String, ReadingRow>,
    /// Judgements that are not within, worst first.
    pub findings: Vec<Finding>,
}

/// "n of m": how many judged measures could be measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Judged {
    /// With a value and an interval narrow enough to judge.
    pub measurable: u32,
    /// All that the exercise judges.
    pub of: u32,
}

/// A reading as it is written: either `value` with its interval, or null and `why`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReadingRow {
    /// Value, null if not measurable.
    pub value: Option<f64>,
    /// Lower end of the 95 % interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low: Option<f64>,
    /// Upper end of the 95 % interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high: Option<f64>,
    /// Unit: deg, s, deg s, 1.
    pub unit: String,
    /// Evidence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
    /// Share of frames seen, 0..1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub observed: Option<f64>,
    /// Standard deviation of the part of the error that changes from repetition to repetition, in the unit; the
    /// rest of the interval stays the same through the clip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub random_sd: Option<f64>,
    /// Reason for the absence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Reason>,
}

impl ReadingRow {
    /// The written form of a reading.
    pub fn of(reading: &Reading, unit: &str) -> ReadingRow {
        match reading {
            Reading::Measured(e) => ReadingRow {
                value: Some(e.value),
                low: Some(e.low),
                high: Some(e.high),
                unit: unit.to_string(),
                basis: Some(e.basis),
                observed: Some(e.observed),
                random_sd: None,
                why: None,
            },
            Reading::NotMeasurable(why) => ReadingRow {
                value: None,
                low: None,
                high: None,
                unit: unit.to_string(),
                basis: None,
                observed: None,
                random_sd: None,
                why: Some(Reason {
                    code: why.code().to_string(),
                    text: why.text().to_string(),
                }),
            },
        }
    }

    /// The same with the part of its error that changes from repetition to repetition, if it has a value.
    #[must_use]
    pub fn with_random_sd(mut self, random_sd: f64) -> ReadingRow {
        self.random_sd = self.value.map(|_| random_sd);
        self
    }
}

/// A reason with its code.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reason {
    /// Code for `scaplane explain`.
    pub code: String,
    /// One sentence.
    pub text: String,
}

/// A judgement that is not *within*.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// Code from the exercise file.
    pub code: String,
    /// Measure judged.
    pub measure: String,
    /// near, outside or cannot-tell.
    pub verdict: Verdict,
    /// Lower and upper limit, null where open.
    pub limit: [Option<f64>; 2],
    /// Distance of the value from the nearest limit, positive inside; null without a value.
    pub margin: Option<f64>,
    /// Unit of limit and margin.
    pub unit: String,
    /// Worst moment, seconds; null when no rate is known or there is no such moment.
    pub worst_s: Option<f64>,
    /// Worst moment as a frame from 0.
    pub worst_frame: Option<u64>,
    /// One sentence for the therapist.
    pub text: String,
    /// What to say to the patient about it.
    pub cue: String,
    /// Where the limit comes from.
    pub source: String,
}

/// One set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Set {
    /// Number, from 1.
    pub number: u32,
    /// Repetition numbers.
    pub reps: Vec<u32>,
    /// Trend of the margin of each judged measure.
    pub drift: Vec<Drift>,
}

/// Trend of a margin over the repetitions of a set: a fact about the set, not a forecast.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Drift {
    /// Measure.
    pub measure: String,
    /// Repetitions with a value.
    pub reps: u32,
    /// Theil-Sen slope of the margin per repetition (negative: toward outside); null if no trend is claimed
    /// because there are fewer than 5 values.
    pub slope_per_rep: Option<f64>,
    /// 95 % interval of the slope, lower end.
    pub low: Option<f64>,
    /// 95 % interval of the slope, upper end.
    pub high: Option<f64>,
    /// Unit of the slope.
    pub unit: String,
    /// Exact two-sided Mann-Kendall p.
    pub p: Option<f64>,
    /// p after correction for the several measures of the set (Holm).
    pub p_adjusted: Option<f64>,
    /// Change over the set by the line, in the unit of the margin.
    pub change: Option<f64>,
    /// Smallest change that exceeds the error of measurement.
    pub least_change: Option<f64>,
    /// What is claimed.
    pub toward: Toward,
    /// First repetition judged outside.
    pub first_outside_rep: Option<u32>,
    /// Repetition number at which the line crosses the limit, if it does within the set or soon after
    /// (at most as many repetitions again).
    pub crosses_at_rep: Option<f64>,
    /// Line: margin at the first repetition of the set.
    pub intercept: Option<f64>,
    /// Margins by repetition: number, margin, low, high.
    pub margins: Vec<Margin>,
    /// One sentence.
    pub text: String,
}

/// Margin of one repetition with the 95 % interval of its reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Margin {
    /// Repetition number.
    pub rep: u32,
    /// Distance from the nearest limit, positive inside.
    pub margin: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// What a trend is said to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Toward {
    /// The margin shrinks, more than error and chance explain.
    Outside,
    /// The margin grows, more than error and chance explain.
    Inside,
    /// No trend beyond error and chance.
    Nowhere,
    /// Too few repetitions with a value to claim anything.
    NotClaimed,
}

/// A judged measure that could not be measured everywhere.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Unseen {
    /// Measure id.
    pub measure: String,
    /// Title of the measure.
    pub title: String,
    /// Repetitions in which it has a value narrow enough to judge.
    pub measurable: u32,
    /// Repetitions in all.
    pub of: u32,
    /// The commonest reason.
    pub why: Reason,
    /// What to do next time.
    pub remedy: String,
}

/// What the person said about the session, on scales of 0 to 10.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reported {
    /// Pain before, 0 to 10.
    pub pain_before: Option<f64>,
    /// Worst pain during the exercise, 0 to 10.
    pub pain_during: Option<f64>,
    /// Pain after, 0 to 10.
    pub pain_after: Option<f64>,
    /// Effort, 0 to 10.
    pub effort: Option<f64>,
}

/// The clinician's plan beside what was done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Planned {
    /// A name that is nobody's.
    pub pseudonym: String,
    /// Arm that is treated, to which prescription and limits belong.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// Phase, in the clinic's own words.
    pub phase: Option<String>,
    /// Day of the operation, year-month-day.
    pub operation_date: Option<String>,
    /// Pain at which the person stops, 0 to 10.
    pub pain_limit: Option<f64>,
    /// What was prescribed; null if the plan does not have this exercise, or is for the other arm.
    pub prescribed: Option<Prescribed>,
    /// What was done.
    pub done: Done,
    /// Limits that the clinician changed.
    pub changed_limits: Vec<ChangedLimit>,
}

/// A prescription.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Prescribed {
    /// Sets.
    pub sets: u32,
    /// Repetitions in a set.
    pub repetitions: u32,
    /// Load, kilograms.
    pub load_kg: Option<f64>,
    /// Band, cable or wall, in words.
    pub resistance: Option<String>,
    /// Seconds out, held and back.
    pub tempo_s: [Option<f64>; 3],
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Done {
    /// Complete repetitions of each set.
    pub repetitions: Vec<u32>,
    /// Median seconds out, held and back; null where no repetition could be timed.
    pub tempo_s: [Option<f64>; 3],
}

/// A limit that the clinician changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChangedLimit {
    /// Measure id.
    pub measure: String,
    /// Title of the measure.
    pub title: String,
    /// Unit.
    pub unit: String,
    /// Default, low and high.
    pub default: [Option<f64>; 2],
    /// In the plan, low and high.
    pub now: [Option<f64>; 2],
    /// Why.
    pub reason: String,
}

/// Comparisons; null when not asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Compare {
    /// The other arm.
    pub other_side: Option<BTreeMap<String, ReadingRow>>,
    /// A reference clip.
    pub reference: Option<BTreeMap<String, ReadingRow>>,
}

/// Curves and figure for drawing; never written to `review.json`.
#[derive(Debug, Clone, Default)]
pub struct Traces {
    /// Time of each frame, seconds (nominal when no rate is known).
    pub times_s: Vec<f64>,
    /// Signal id to value in degrees by frame.
    pub signals: BTreeMap<String, Vec<Option<f64>>>,
    /// Signal id to standard deviation in degrees by frame.
    pub spread: BTreeMap<String, Vec<f64>>,
    /// Evidence of each signal.
    pub basis: BTreeMap<String, Basis>,
    /// Stick figure.
    pub figure: Figure,
}

/// A stick figure: joint positions by frame, y up, in a box of the unit square.
#[derive(Debug, Clone, Default)]
pub struct Figure {
    /// Joint ids.
    pub joints: Vec<String>,
    /// Pairs of columns to connect.
    pub bones: Vec<[usize; 2]>,
    /// Frame by joint: x right, y up, 0..1 with equal scale; `None` where missing.
    pub frames: Vec<Vec<Option<[f32; 2]>>>,
}

/// A session with what is needed to draw it.
#[derive(Debug, Clone)]
pub struct Review {
    /// Result data.
    pub session: Session,
    /// Curves and figure.
    pub traces: Traces,
}
