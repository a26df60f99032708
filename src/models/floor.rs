//! The published error of each measure: what a difference must exceed to be more than error.
//!
//! In: `floors.toml`. Out: one [`Floor`] for every measure there is, so that a measure without a published error
//! is one that somebody looked for, and never a silent zero.

use super::error::ModelError;
use super::vocabulary::{self, MEASURES, Unit};
use serde::Deserialize;
use std::collections::BTreeMap;

/// The floor of one measure.
#[derive(Debug, Clone, PartialEq)]
pub struct Floor {
    /// Measure id.
    pub measure: String,
    /// Smallest difference that exceeds the error of measurement, in the measure's unit; `None` where no error
    /// was published.
    pub value: Option<f64>,
    /// Source ids, the figure's own first; empty where there is no figure.
    pub sources: Vec<String>,
    /// How the figure was had, or why there is none.
    pub note: String,
}

/// The file `floors.toml`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawFloors {
    floor: Vec<RawFloor>,
    without: Vec<RawWithout>,
}

/// A floor as written: the unit is in the key.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFloor {
    measure: String,
    floor: Option<f64>,
    floor_deg: Option<f64>,
    floor_s: Option<f64>,
    floor_deg_s: Option<f64>,
    source: String,
    #[serde(default)]
    also: Vec<String>,
    note: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawWithout {
    measures: Vec<String>,
    note: String,
}

impl RawFloor {
    /// The figure, if it is the only one and written with the measure's unit.
    fn value(&self, unit: Unit) -> Option<f64> {
        let written = [
            (Unit::One, self.floor),
            (Unit::Degrees, self.floor_deg),
            (Unit::Seconds, self.floor_s),
            (Unit::DegreeSeconds, self.floor_deg_s),
        ];
        let mut given = written
            .into_iter()
            .filter_map(|(unit, value)| Some((unit, value?)));
        match (given.next(), given.next()) {
            (Some((own, value)), None) if own == unit => Some(value),
            _ => None,
        }
    }
}

/// Checks the file and keys the floors by measure.
pub(crate) fn by_measure(
    raw: Option<RawFloors>,
    faults: &mut Vec<ModelError>,
) -> BTreeMap<String, Floor> {
    // A file that is missing or cannot be parsed has its fault already.
    let Some(raw) = raw else {
        return BTreeMap::new();
    };
    let mut floors = BTreeMap::new();
    let mut fault = |key: String, problem: String, remedy: String| {
        faults.push(ModelError::new("floors.toml", key, problem, remedy));
    };
    let mut add = |key: String, floor: Floor, fault: &mut dyn FnMut(String, String, String)| {
        if floor.note.trim().is_empty() {
            fault(
                format!("{key}.note"),
                "the note is empty".into(),
                "say how the figure was had, or why there is none".into(),
            );
        }
        if floors.contains_key(&floor.measure) {
            fault(
                format!("{key}.measure"),
                format!("`{}` stands here twice", floor.measure),
                "keep one of the two".into(),
            );
        }
        floors.insert(floor.measure.clone(), floor);
    };
    for (i, one) in raw.floor.into_iter().enumerate() {
        let key = format!("floor[{i}]");
        let Some(unit) = vocabulary::unit_of(&one.measure) else {
            unknown(&one.measure, &key, &mut fault);
            continue;
        };
        let value = one.value(unit);
        if !value.is_some_and(|value| value.is_finite() && value > 0.0) {
            fault(
                format!("{key}.floor{}", unit.key_suffix()),
                format!(
                    "`{}` has no single floor above zero in its unit",
                    one.measure
                ),
                format!("write floor{} = a number above zero", unit.key_suffix()),
            );
        }
        let floor = Floor {
            measure: one.measure,
            value,
            sources: [one.source].into_iter().chain(one.also).collect(),
            note: one.note,
        };
        add(key, floor, &mut fault);
    }
    for (i, group) in raw.without.into_iter().enumerate() {
        for measure in group.measures {
            let key = format!("without[{i}]");
            if vocabulary::unit_of(&measure).is_none() {
                unknown(&measure, &key, &mut fault);
                continue;
            }
            let floor = Floor {
                measure,
                value: None,
                sources: Vec::new(),
                note: group.note.clone(),
            };
            add(key, floor, &mut fault);
        }
    }
    for (measure, unit) in MEASURES {
        if !floors.contains_key(*measure) {
            fault(
                "(whole file)".into(),
                format!("`{measure}` stands nowhere"),
                format!(
                    "add a [[floor]] with floor{} and its source, or name it under [[without]]",
                    unit.key_suffix()
                ),
            );
        }
    }
    floors
}

fn unknown(measure: &str, key: &str, fault: &mut impl FnMut(String, String, String)) {
    let near = vocabulary::nearest(measure, MEASURES.iter().map(|(id, _)| *id));
    fault(
        format!("{key}.measure"),
        format!("no measure is called `{measure}`"),
        format!("the nearest id is `{}`", near.unwrap_or_default()),
    );
}
