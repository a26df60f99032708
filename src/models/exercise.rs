//! One exercise: how its repetitions are found, what is judged and what is only reported.
//!
//! In: one TOML file. Out: [`Exercise`], with every limit's unit resolved. Limits are defaults
//! that the treating clinician may change; the surgeon's and therapist's protocol comes first.

use serde::{Deserialize, Serialize};

use super::error::ModelError;
use super::vocabulary::{self, MEASURES, Unit};

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
    /// Lower end; none when the band is open downward.
    pub low: Option<f64>,
    /// Upper end; none when the band is open upward.
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
    /// What is only reported, in the order shown.
    pub report: Vec<Report>,
}

impl Exercise {
    /// The first limit on a measure.
    #[must_use]
    pub fn limit(&self, measure: &str) -> Option<&Limit> {
        self.limits.iter().find(|limit| limit.measure == measure)
    }

    /// Every measure the exercise names, judged ones first, each once.
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

/// The file as written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawExercise {
    id: String,
    title: String,
    summary: String,
    patient_summary: String,
    source: String,
    repetition: Repetition,
    phases: Phases,
    plane: Option<Plane>,
    views: Views,
    limits: Vec<RawLimit>,
    report: Vec<Report>,
}

/// A limit as written: the unit is in the key.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawLimit {
    measure: String,
    low: Option<f64>,
    high: Option<f64>,
    low_deg: Option<f64>,
    high_deg: Option<f64>,
    low_s: Option<f64>,
    high_s: Option<f64>,
    low_deg_s: Option<f64>,
    high_deg_s: Option<f64>,
    #[serde(default)]
    key: bool,
    #[serde(default)]
    applies: Applies,
    source: String,
    note: String,
    below: Option<Finding>,
    above: Option<Finding>,
}

impl RawLimit {
    /// Ends of the band as written with one unit.
    fn ends(&self, unit: Unit) -> (Option<f64>, Option<f64>) {
        match unit {
            Unit::Degrees => (self.low_deg, self.high_deg),
            Unit::Seconds => (self.low_s, self.high_s),
            Unit::DegreeSeconds => (self.low_deg_s, self.high_deg_s),
            Unit::One => (self.low, self.high),
        }
    }
}

/// Checks one file and resolves its limits; what cannot be resolved is left out and reported.
pub(crate) fn checked(file: &str, raw: RawExercise, faults: &mut Vec<ModelError>) -> Exercise {
    let mut check = Check { file, faults };
    check.identity(&raw);
    check.repetition(&raw.repetition);
    check.views(&raw.views);
    let limits: Vec<Limit> = raw
        .limits
        .into_iter()
        .enumerate()
        .filter_map(|(i, limit)| check.limit(i, limit))
        .collect();
    check.lists(&limits, &raw.report, raw.plane.as_ref());
    Exercise {
        id: raw.id,
        title: raw.title,
        summary: raw.summary,
        patient_summary: raw.patient_summary,
        source: raw.source,
        repetition: raw.repetition,
        phases: raw.phases,
        plane: raw.plane,
        views: raw.views,
        limits,
        report: raw.report,
    }
}

/// Collects the faults of one file.
struct Check<'a> {
    file: &'a str,
    faults: &'a mut Vec<ModelError>,
}

impl Check<'_> {
    fn fault(&mut self, key: impl Into<String>, problem: impl Into<String>, remedy: &str) {
        self.faults
            .push(ModelError::new(self.file, key, problem, remedy));
    }

    fn filled(&mut self, key: &str, text: &str) {
        if text.trim().is_empty() {
            self.fault(key, "the text is empty", "write one plain sentence");
        }
    }

    fn identity(&mut self, raw: &RawExercise) {
        let stem = self
            .file
            .rsplit('/')
            .next()
            .and_then(|name| name.strip_suffix(".toml"));
        if !vocabulary::is_kebab(&raw.id) {
            self.fault(
                "id",
                format!("`{}` is no kebab-case id", raw.id),
                "use lower-case letters, digits and single hyphens",
            );
        }
        if stem != Some(raw.id.as_str()) {
            self.fault(
                "id",
                format!("the id `{}` differs from the file's name", raw.id),
                "rename the file or the id so that both are equal",
            );
        }
        self.filled("title", &raw.title);
        self.filled("summary", &raw.summary);
        self.filled("patient_summary", &raw.patient_summary);
        self.filled("phases.outward", &raw.phases.outward);
        self.filled("phases.hold", &raw.phases.hold);
        self.filled("phases.back", &raw.phases.back);
    }

    fn repetition(&mut self, rep: &Repetition) {
        let (attempt, min) = (rep.attempt_excursion_deg, rep.min_excursion_deg);
        // No joint moves further than a full turn.
        let sound = min.is_finite() && min <= 360.0 && attempt > 0.0 && attempt < min;
        if !sound {
            self.fault(
                "repetition.attempt_excursion_deg",
                format!("{attempt} and min_excursion_deg = {min} do not go together"),
                "choose 0 < attempt_excursion_deg < min_excursion_deg <= 360",
            );
        }
    }

    fn views(&mut self, views: &Views) {
        if views.best.is_empty() {
            self.fault("views.best", "no view is named", "name at least one view");
        }
        for view in &views.accepted {
            if views.best.contains(view) {
                self.fault(
                    "views.accepted",
                    "a view is named as best too",
                    "name each view once",
                );
            }
        }
        self.filled("views.placement", &views.placement);
    }

    fn measure(&mut self, key: String, measure: &str) -> Option<Unit> {
        let unit = vocabulary::unit_of(measure);
        if unit.is_none() {
            let near = vocabulary::nearest(measure, MEASURES.iter().map(|(id, _)| *id));
            self.fault(
                key,
                format!("there is no measure `{measure}`"),
                &format!("the nearest name is `{}`", near.unwrap_or_default()),
            );
        }
        unit
    }

    fn limit(&mut self, i: usize, raw: RawLimit) -> Option<Limit> {
        let at = format!("limits[{i}]");
        let unit = self.measure(format!("{at}.measure"), &raw.measure)?;
        if !vocabulary::may_be_judged(&raw.measure) {
            self.fault(
                format!("{at}.measure"),
                format!("`{}` is reported, never judged", raw.measure),
                "move it to a [[report]] entry",
            );
        }
        for other in [Unit::Degrees, Unit::Seconds, Unit::DegreeSeconds, Unit::One] {
            if other != unit && raw.ends(other) != (None, None) {
                self.fault(
                    at.clone(),
                    format!("`{}` is not measured in `{}`", raw.measure, other.symbol()),
                    &format!("write low{0} and high{0}", unit.key_suffix()),
                );
            }
        }
        let (low, high) = raw.ends(unit);
        if low.is_none() && high.is_none() {
            self.fault(
                at.clone(),
                "the limit has no end",
                &format!("give low{0}, high{0} or both", unit.key_suffix()),
            );
        }
        if [low, high]
            .into_iter()
            .flatten()
            .any(|end| !end.is_finite())
        {
            self.fault(
                at.clone(),
                "an end is not a finite number",
                "write a plain number",
            );
        }
        if let (Some(low), Some(high)) = (low, high)
            && low >= high
        {
            self.fault(
                at.clone(),
                format!("the lower end {low} is not below the upper end {high}"),
                "exchange the two",
            );
        }
        self.filled(&format!("{at}.note"), &raw.note);
        self.finding(&at, "below", low.is_some(), raw.below.as_ref());
        self.finding(&at, "above", high.is_some(), raw.above.as_ref());
        Some(Limit {
            measure: raw.measure,
            unit,
            low,
            high,
            key: raw.key,
            applies: raw.applies,
            source: raw.source,
            note: raw.note,
            below: raw.below,
            above: raw.above,
        })
    }

    fn finding(&mut self, at: &str, side: &str, bounded: bool, finding: Option<&Finding>) {
        match (bounded, finding) {
            (true, None) => self.fault(
                format!("{at}.{side}"),
                "the limit has an end there but no words for it",
                "add code, text, therapist_cue and patient_cue",
            ),
            (false, Some(_)) => self.fault(
                format!("{at}.{side}"),
                "there are words but no end they belong to",
                "add the end or remove the words",
            ),
            (_, Some(finding)) => {
                if !vocabulary::is_kebab(&finding.code) {
                    self.fault(
                        format!("{at}.{side}.code"),
                        format!("`{}` is no kebab-case code", finding.code),
                        "use lower-case letters, digits and single hyphens",
                    );
                }
                for (key, text) in [
                    ("text", &finding.text),
                    ("therapist_cue", &finding.therapist_cue),
                    ("patient_cue", &finding.patient_cue),
                ] {
                    self.filled(&format!("{at}.{side}.{key}"), text);
                }
            }
            (false, None) => {}
        }
    }

    fn lists(&mut self, limits: &[Limit], report: &[Report], plane: Option<&Plane>) {
        if !limits.iter().any(|limit| limit.key) {
            self.fault(
                "limits",
                "no limit is marked key",
                "mark the measure that is the exercise",
            );
        }
        for (i, limit) in limits.iter().enumerate() {
            let twin =
                |other: &&Limit| other.measure == limit.measure && other.applies == limit.applies;
            if limits.iter().take(i).any(|other| twin(&other)) {
                self.fault(
                    format!("limits[{i}].measure"),
                    format!("`{}` is limited twice", limit.measure),
                    "keep one of the two, or let them apply to different phases",
                );
            }
        }
        for (i, line) in report.iter().enumerate() {
            let key = format!("report[{i}].measure");
            self.measure(key.clone(), &line.measure);
            let again = report
                .iter()
                .take(i)
                .any(|other| other.measure == line.measure)
                || limits.iter().any(|limit| limit.measure == line.measure);
            if again {
                self.fault(
                    key,
                    format!("`{}` is shown already", line.measure),
                    "name each measure once; a judged one is shown anyway",
                );
            }
        }
        let reports = |id: &str| report.iter().any(|line| line.measure == id);
        let judges = |id: &str| limits.iter().any(|limit| limit.measure == id);
        let needs_plane = judges("plane-deviation")
            || ["plane-deviation", "arc-exposure"].into_iter().any(reports);
        if needs_plane && plane.is_none() {
            self.fault(
                "plane",
                "a measure needs the plane aimed at",
                "add [plane] with aim_deg",
            );
        }
        if plane.is_some_and(|plane| !(-180.0..=180.0).contains(&plane.aim_deg)) {
            self.fault(
                "plane.aim_deg",
                "not between -180 and 180",
                "0 is the side, 90 ahead",
            );
        }
        if (reports("arc-exposure") || judges("arc-exposure")) && !judges("plane-deviation") {
            self.fault(
                "report",
                "arc-exposure counts degrees beyond the plane's band, and there is none",
                "add a limit on plane-deviation",
            );
        }
    }
}
