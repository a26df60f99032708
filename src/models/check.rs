//! Checks that need more than one file: every source named exists, every finding is explained.

use super::Models;
use super::error::ModelError;
use super::note::ExplanationKind;
use super::{parameter, vocabulary};

/// Adds a fault for every reference from one file to another that leads nowhere.
pub(crate) fn across(models: &Models, faults: &mut Vec<ModelError>) {
    let mut cites: Vec<(String, String, &str)> = Vec::new();
    for exercise in models.exercises.values() {
        let file = format!("exercises/{}.toml", exercise.id);
        let mut cite = |key: String, source| cites.push((file.clone(), key, source));
        cite("source".to_owned(), exercise.source.as_str());
        cite(
            "repetition.source".to_owned(),
            exercise.repetition.source.as_str(),
        );
        if let Some(plane) = &exercise.plane {
            cite("plane.source".to_owned(), plane.source.as_str());
        }
        for limit in exercise.limits.iter().chain(&exercise.settable) {
            let at = format!("limits.{}", limit.measure);
            cite(format!("{at}.source"), limit.source.as_str());
            for (side, finding) in [("below", &limit.below), ("above", &limit.above)] {
                let Some(finding) = finding else { continue };
                if !is_finding(&finding.code, models) {
                    faults.push(ModelError::new(
                        &file,
                        format!("{at}.{side}.code"),
                        format!("no finding `{}` is explained in notes.toml", finding.code),
                        "add a [[note]] with that code and kind = \"finding\", or use a known code",
                    ));
                }
            }
        }
    }
    for skeleton in models.skeletons.values() {
        let file = format!("skeletons/{}.toml", skeleton.id);
        cites.push((file, "source".to_owned(), skeleton.source.as_str()));
    }
    let tables = [
        ("linkage.toml", models.linkage.parameters()),
        ("landmarks.toml", models.landmarks.parameters()),
    ];
    for (file, table) in &tables {
        parameter::check(file, table, faults);
        for (key, figure) in table {
            cites.push((
                (*file).to_owned(),
                format!("{key}.source"),
                figure.source.as_str(),
            ));
            if let Some(source) = &figure.sd_source {
                cites.push((
                    (*file).to_owned(),
                    format!("{key}.sd_source"),
                    source.as_str(),
                ));
            }
        }
    }
    for (i, praise) in models.patient.praise().iter().enumerate() {
        for code in praise
            .instead_of
            .iter()
            .filter(|code| !is_finding(code, models))
        {
            faults.push(ModelError::new(
                "patient-words.toml",
                format!("praise[{i}].instead_of"),
                format!("no finding `{code}` is explained in notes.toml"),
                "name a finding that an exercise can make of that measure",
            ));
        }
    }
    for (i, one) in models.progression.iter().enumerate() {
        let key = format!("criterion[{i}].source");
        cites.push(("progression.toml".to_owned(), key, one.source.as_str()));
    }
    for (i, row) in models.references.iter().enumerate() {
        let key = format!("line {}: {}", i + 2, row.quantity);
        cites.push(("references.csv".to_owned(), key, row.source.as_str()));
    }
    for floor in models.floors.values() {
        for source in &floor.sources {
            cites.push((
                "floors.toml".to_owned(),
                floor.measure.clone(),
                source.as_str(),
            ));
        }
    }
    for (file, key, source) in cites {
        if !models.sources.contains_key(source) {
            let near = vocabulary::nearest(source, models.sources.keys().map(String::as_str));
            faults.push(ModelError::new(
                &file,
                key,
                format!("there is no source `{source}` in sources.toml"),
                format!(
                    "add it there; the nearest id is `{}`",
                    near.unwrap_or_default()
                ),
            ));
        }
    }
}

fn is_finding(code: &str, models: &Models) -> bool {
    models
        .explanations
        .get(code)
        .is_some_and(|text| text.kind == ExplanationKind::Finding)
}
