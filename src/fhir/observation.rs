//! Observations: of the repetitions, of what the person said, and of each measure.

use super::uuid::Names;
use crate::compare::mean::{self, Parts};
use crate::measures;
use crate::models::Models;
use crate::session::{ReadingRow, Reason, Rep, Session, Space, Verdict};
use serde_json::{Map, Value, json};

/// HL7's code systems that are used.
const CATEGORY: &str = "http://terminology.hl7.org/CodeSystem/observation-category";
const ABSENT: &str = "http://terminology.hl7.org/CodeSystem/data-absent-reason";
const UCUM: &str = "http://unitsofmeasure.org";

/// What every observation of a session shares.
pub(super) struct About<'a> {
    pub session: &'a Session,
    pub models: &'a Models,
    pub date: Option<&'a str>,
    pub patient: &'a str,
    pub device: &'a str,
    pub names: &'a Names,
}

impl About<'_> {
    /// Every observation.
    pub fn all(&self) -> Vec<Value> {
        let mut all = vec![self.repetitions()];
        all.extend(self.reported());
        all.extend(self.measures().into_iter().map(|id| self.measure(id)));
        all
    }

    /// Measures in the order of the exercise, then others by name.
    fn measures(&self) -> Vec<&str> {
        let exercise = self.models.exercise(&self.session.exercise);
        let mut ids = exercise.map_or_else(Vec::new, |exercise| exercise.measures());
        let held = |id: &str| {
            let mut reps = self.session.reps.iter();
            reps.any(|rep| rep.readings.contains_key(id))
        };
        ids.retain(|id| held(id));
        for id in self.session.reps.iter().flat_map(|rep| rep.readings.keys()) {
            if !ids.contains(&id.as_str()) {
                ids.push(id);
            }
        }
        ids
    }

    /// An observation without a value yet.
    fn start(&self, key: &str, category: &str, text: &str) -> Map<String, Value> {
        let mut resource = Map::new();
        let mut put = |key: &str, value: Value| resource.insert(key.into(), value);
        put("resourceType", "Observation".into());
        put("id", self.names.uuid(key).into());
        put("status", "preliminary".into());
        put(
            "category",
            json!([{ "coding": [{ "system": CATEGORY, "code": category }] }]),
        );
        put("code", json!({ "text": text }));
        put(
            "subject",
            json!({ "reference": format!("urn:uuid:{}", self.patient) }),
        );
        if let Some(date) = self.date {
            put("effectiveDateTime", date.into());
        }
        put(
            "device",
            json!({ "reference": format!("urn:uuid:{}", self.device) }),
        );
        put(
            "bodySite",
            json!({ "text": format!("{} shoulder and arm", self.session.side.id()) }),
        );
        resource
    }

    fn exercise_title(&self) -> &str {
        let exercise = self.models.exercise(&self.session.exercise);
        exercise.map_or(self.session.exercise.as_str(), |exercise| {
            exercise.title.as_str()
        })
    }

    /// How many repetitions there were and how they were judged, with the cautions.
    fn repetitions(&self) -> Value {
        let reps = &self.session.reps;
        let text = format!("Repetitions: {}", self.exercise_title());
        let mut resource = self.start("repetitions", "therapy", &text);
        resource.insert("valueInteger".into(), reps.len().into());
        let of = |verdict: Verdict| reps.iter().filter(|rep| rep.verdict == verdict).count();
        let mut parts: Vec<(String, usize)> = [
            Verdict::Within,
            Verdict::Near,
            Verdict::Outside,
            Verdict::CannotTell,
        ]
        .map(|verdict| {
            (
                format!("Repetitions judged {}", verdict.words()),
                of(verdict),
            )
        })
        .into();
        let complete = reps.iter().filter(|rep| rep.complete).count();
        parts.push(("Complete repetitions".into(), complete));
        parts.push(("Sets".into(), self.session.sets.len()));
        let parts: Vec<Value> = parts
            .into_iter()
            .map(|(text, count)| json!({ "code": { "text": text }, "valueInteger": count }))
            .collect();
        resource.insert("component".into(), parts.into());
        let notes: Vec<Value> = self
            .session
            .cautions
            .iter()
            .map(|text| json!({ "text": text }))
            .collect();
        if !notes.is_empty() {
            resource.insert("note".into(), notes.into());
        }
        resource.into()
    }

    /// What the person said, on scales of 0 to 10.
    fn reported(&self) -> Vec<Value> {
        let Some(said) = self.session.reported else {
            return Vec::new();
        };
        [
            (
                "pain-before",
                "Pain before the exercise, 0 to 10",
                said.pain_before,
            ),
            (
                "pain-during",
                "Worst pain during the exercise, 0 to 10",
                said.pain_during,
            ),
            (
                "pain-after",
                "Pain after the exercise, 0 to 10",
                said.pain_after,
            ),
            ("effort", "Effort, 0 to 10", said.effort),
        ]
        .into_iter()
        .filter_map(|(key, text, value)| {
            let value = value.filter(|value| value.is_finite())?;
            let mut resource = self.start(key, "survey", text);
            let quantity =
                json!({ "value": value, "unit": "score", "system": UCUM, "code": "{score}" });
            resource.insert("valueQuantity".into(), quantity);
            Some(resource.into())
        })
        .collect()
    }

    fn measure(&self, id: &str) -> Value {
        let card = measures::card(id);
        let title = card.map_or(id, |card| card.title);
        let side = mean::of(self.session, id);
        let unit = self.unit(id);
        let text = format!("{title} ({id})");
        let mut resource = self.start(id, "therapy", &text);
        let mut parts = Vec::new();
        match &side.parts {
            Ok(found) => {
                resource.insert("valueQuantity".into(), quantity(found.mean, unit));
                parts = interval(found, unit);
            }
            Err(why) => {
                resource.insert("dataAbsentReason".into(), absent(why));
            }
        }
        resource.insert("method".into(), json!({ "text": self.method(&side) }));
        if let Some(note) = self.judged(id) {
            resource.insert("note".into(), json!([{ "text": note }]));
        }
        if let Some(range) = self.limits(id, unit) {
            resource.insert("referenceRange".into(), json!([range]));
        }
        let reps = self.session.reps.iter();
        parts.extend(reps.filter_map(|rep| Some(repetition(rep, rep.readings.get(id)?, unit))));
        resource.insert("component".into(), parts.into());
        resource.into()
    }

    fn unit(&self, id: &str) -> &str {
        let mut rows = self
            .session
            .reps
            .iter()
            .filter_map(|rep| rep.readings.get(id));
        rows.next().map_or("1", |row| row.unit.as_str())
    }

    fn method(&self, side: &mean::Side) -> String {
        let from = match self.session.clip.space {
            Space::Image => "one picture of a video",
            Space::World => "points in space",
        };
        let view = self.session.clip.view.as_ref();
        let view = view.map_or(String::new(), |view| format!(", seen from {}", view.name));
        format!(
            "Mean over {} of {} complete repetitions of `{}`, from {from}{view}",
            side.repetitions, side.of, self.session.exercise
        )
    }

    /// In which repetitions a judged measure was not within.
    fn judged(&self, id: &str) -> Option<String> {
        let with = |verdict: Verdict| -> Vec<String> {
            let reps = self.session.reps.iter();
            reps.filter(|rep| {
                let mut found = rep.findings.iter();
                found.any(|one| one.measure == id && one.verdict == verdict)
            })
            .map(|rep| rep.number.to_string())
            .collect()
        };
        let words: Vec<String> = [Verdict::Outside, Verdict::Near, Verdict::CannotTell]
            .into_iter()
            .map(|verdict| (verdict, with(verdict)))
            .filter(|(_, reps)| !reps.is_empty())
            .map(|(verdict, reps)| format!("{} in repetition {}", verdict.words(), reps.join(", ")))
            .collect();
        (!words.is_empty()).then(|| format!("Judged by the whole interval: {}.", words.join("; ")))
    }

    /// The limits in force, as a reference range: those of the plan where it changed them.
    fn limits(&self, id: &str, unit: &str) -> Option<Value> {
        let mut changed = self
            .session
            .plan
            .iter()
            .flat_map(|plan| &plan.changed_limits);
        let changed = changed.rfind(|own| own.measure == id);
        let default = self.models.exercise(&self.session.exercise)?.limit(id);
        let (ends, source) = match (changed, default) {
            (Some(own), _) => (
                own.now,
                format!("the treating clinician's plan: {}", own.reason),
            ),
            (None, Some(limit)) => {
                let source = self.models.source(&limit.source);
                let cited = source.map_or(limit.source.clone(), |source| source.citation.clone());
                ([limit.low, limit.high], cited)
            }
            (None, None) => return None,
        };
        let mut range = Map::new();
        for (key, end) in ["low", "high"].into_iter().zip(ends) {
            if let Some(value) = end.filter(|value| value.is_finite()) {
                range.insert(key.into(), quantity(value, unit));
            }
        }
        let text = format!("Limits agreed for this exercise. Source: {source}");
        range.insert("text".into(), text.into());
        Some(range.into())
    }
}

fn interval(parts: &Parts, unit: &str) -> Vec<Value> {
    let [low, high] = parts.interval();
    [("lower", low), ("upper", high)]
        .map(|(end, value)| {
            json!({
                "code": { "text": format!("95 % interval of the mean, {end} end") },
                "valueQuantity": quantity(value, unit),
            })
        })
        .into_iter()
        .chain([json!({
            "code": { "text": "Share of the frames that were seen" },
            "valueQuantity": quantity(100.0 * parts.observed, "%"),
        })])
        .collect()
}

fn repetition(rep: &Rep, row: &ReadingRow, unit: &str) -> Value {
    let incomplete = if rep.complete { "" } else { ", incomplete" };
    let code = json!({ "text": format!("Repetition {}{incomplete}", rep.number) });
    match (row.value.filter(|value| value.is_finite()), &row.why) {
        (Some(value), _) => json!({ "code": code, "valueQuantity": quantity(value, unit) }),
        (None, Some(why)) => json!({ "code": code, "dataAbsentReason": absent(why) }),
        (None, None) => {
            let unknown = json!({ "coding": [{ "system": ABSENT, "code": "unknown" }] });
            json!({ "code": code, "dataAbsentReason": unknown })
        }
    }
}

/// A number with its unit, as UCUM writes it.
fn quantity(value: f64, unit: &str) -> Value {
    let (words, code) = match unit {
        "deg" => ("degrees", "deg"),
        "s" => ("s", "s"),
        "deg_s" => ("degrees times seconds", "deg.s"),
        "%" => ("%", "%"),
        _ => ("1", "1"),
    };
    let value = (value * 1e4).round() / 1e4;
    json!({ "value": value, "unit": words, "system": UCUM, "code": code })
}

/// A reason as HL7's list tells it, and in our words.
fn absent(why: &Reason) -> Value {
    let code = match why.code.as_str() {
        "not-in-exercise" | "not-in-review" => "not-applicable",
        "no-repetition" | "too-few-repetitions" | "incomplete-repetition" => "not-performed",
        "no-scapular-landmark" | "no-trunk-top" | "single-image" => "unsupported",
        "not-finite" => "not-a-number",
        _ => "unknown",
    };
    json!({
        "coding": [{ "system": ABSENT, "code": code }],
        "text": format!("{} ({})", why.text, why.code),
    })
}
