//! Checks that need more than one file: every source named exists, every finding is explained.

use super::Models;
use super::error::ModelError;
use super::note::ExplanationKind;
use super::{parameter, vocabulary};

/// Adds a fault for every reference that leads nowhere.
pub(crate) fn across(models: &Models, faults: &mut Vec<ModelError>) {
    for exercise in models.exercises.values() {
        let file = || format!("exercises/{}.toml", exercise.id);
        cite(models, &exercise.source, faults, || {
            (file(), "source".to_owned())
        });
        cite(models, &exercise.repetition.source, faults, || {
            (file(), "repetition.source".to_owned())
        });
        if let Some(plane) = &exercise.plane {
            cite(models, &plane.source, faults, || {
                (file(), "plane.source".to_owned())
            });
        }
        for limit in exercise.limits.iter().chain(&exercise.settable) {
            let at = || format!("limits.{}", limit.measure);
            cite(models, &limit.source, faults, || {
                (file(), format!("{}.source", at()))
            });
            for (side, finding) in [("below", &limit.below), ("above", &limit.above)] {
                let Some(finding) = finding else { continue };
                if !is_finding(&finding.code, models) {
                    faults.push(ModelError::new(
                        &file(),
                        format!("{}.{side}.code", at()),
                        format!("no finding `{}` is explained in notes.toml", finding.code),
                        "add a [[note]] with that code and kind = \"finding\", or use a known code",
                    ));
                }
            }
        }
    }
    for skeleton in models.skeletons.values() {
        cite(models, &skeleton.source, faults, || {
            let file = format!("skeletons/{}.toml", skeleton.id);
            (file, "source".to_owned())
        });
    }
    let tables = [
        ("linkage.toml", models.linkage.parameters()),
        ("landmarks.toml", models.landmarks.parameters()),
    ];
    for (file, table) in &tables {
        parameter::check(file, table, faults);
        for (key, figure) in table {
            let at = |end: &str| ((*file).to_owned(), format!("{key}.{end}"));
            cite(models, &figure.source, faults, || at("source"));
            if let Some(source) = &figure.sd_source {
                cite(models, source, faults, || at("sd_source"));
            }
        }
    }
    for floor in models.floors.values() {
        for source in &floor.sources {
            let at = || ("floors.toml".to_owned(), floor.measure.clone());
            cite(models, source, faults, at);
        }
    }
    texts(models, faults);
}

/// The same in patient's words, checklist and published values.
fn texts(models: &Models, faults: &mut Vec<ModelError>) {
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
        let at = || {
            (
                "progression.toml".to_owned(),
                format!("criterion[{i}].source"),
            )
        };
        cite(models, &one.source, faults, at);
    }
    for (i, row) in models.references.iter().enumerate() {
        let at = || {
            (
                "references.csv".to_owned(),
                format!("line {}: {}", i + 2, row.quantity),
            )
        };
        cite(models, &row.source, faults, at);
    }
}

/// Adds a fault if there is no such source; `at` tells file and key.
fn cite(
    models: &Models,
    source: &str,
    faults: &mut Vec<ModelError>,
    at: impl FnOnce() -> (String, String),
) {
    if models.sources.contains_key(source) {
        return;
    }
    let near = vocabulary::nearest(source, models.sources.keys().map(String::as_str));
    let (file, key) = at();
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

fn is_finding(code: &str, models: &Models) -> bool {
    models
        .explanations
        .get(code)
        .is_some_and(|text| text.kind == ExplanationKind::Finding)
}
