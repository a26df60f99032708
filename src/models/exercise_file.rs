//! From the TOML text of one exercise to a checked [`Exercise`].
//!
//! In: the file as written. Out: limits with their unit resolved, and every fault found, so that
//! an author mends a file in one go. Checks that need another file are in `check`.

use serde::Deserialize;

use super::error::ModelError;
use super::exercise::{
    Applies, Exercise, Finding, Limit, Phases, Plane, Repetition, Report, Views,
};
use super::vocabulary::{self, MEASURES, Unit};

/// The file as written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawExercise {
    id: String,
    title: String,
    patient_title: Option<String>,
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

/// An end of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum End {
    Low,
    High,
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
    /// Ends that are open unless a plan sets them; their words stand here all the same.
    #[serde(default)]
    left_to_plan: Vec<End>,
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
    let all: Vec<Limit> = raw
        .limits
        .into_iter()
        .enumerate()
        .filter_map(|(i, limit)| check.limit(i, limit))
        .collect();
    check.lists(&all, &raw.report, raw.plane.as_ref());
    let (limits, settable) = all.into_iter().partition(Limit::is_set);
    Exercise {
        id: raw.id,
        patient_title: raw.patient_title.unwrap_or_else(|| raw.title.clone()),
        title: raw.title,
        summary: raw.summary,
        patient_summary: raw.patient_summary,
        source: raw.source,
        repetition: raw.repetition,
        phases: raw.phases,
        plane: raw.plane,
        views: raw.views,
        limits,
        settable,
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
        if let Some(title) = &raw.patient_title {
            self.filled("patient_title", title);
        }
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
        let left = |end: End| raw.left_to_plan.contains(&end);
        if [low, high] == [None, None] && raw.left_to_plan.is_empty() {
            self.fault(
                at.clone(),
                "the limit has no end",
                &format!(
                    "give low{0}, high{0} or both, or name the ends in left_to_plan",
                    unit.key_suffix()
                ),
            );
        }
        if (low.is_some() && left(End::Low)) || (high.is_some() && left(End::High)) {
            self.fault(
                format!("{at}.left_to_plan"),
                "an end that is set is also left to a plan",
                "name only ends that are open; a plan may change the others anyway",
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
        let said = [
            low.is_some() || left(End::Low),
            high.is_some() || left(End::High),
        ];
        self.finding(&at, "below", said[0], raw.below.as_ref());
        self.finding(&at, "above", said[1], raw.above.as_ref());
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
                "add the end, name it in left_to_plan, or remove the words",
            ),
            (true, Some(finding)) => {
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
        if !limits.iter().any(|limit| limit.key && limit.is_set()) {
            self.fault(
                "limits",
                "no limit is marked key",
                "mark the measure that is the exercise",
            );
        }
        for (i, limit) in limits.iter().enumerate() {
            let twin = |other: &&Limit| {
                let unset = !(limit.is_set() && other.is_set());
                other.measure == limit.measure && (unset || other.applies == limit.applies)
            };
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
                || limits
                    .iter()
                    .any(|limit| limit.is_set() && limit.measure == line.measure);
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
