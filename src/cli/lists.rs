//! Lists and definitions: exercises, layouts, measures, codes.

use super::options;
use super::output::say;
use crate::measures as all;
use crate::models::{Models, SourceStatus};
use crate::note::{Fault, FaultKind, Place};
use crate::readers::READERS;
use clap::{Args, ValueEnum};
use std::fmt::Write;

// One of a list, or all of it; its help is that of the command.
#[derive(Args)]
pub struct One {
    /// Id; without it the whole list.
    id: Option<String>,
}

// A code; its help is that of the command.
#[derive(Args)]
pub struct Code {
    /// Code of a note, reason, error or finding, such as `wrong-view`.
    code: String,
}

// A schema; its help is that of the command.
#[derive(Args)]
pub struct Schema {
    /// Of what.
    #[arg(value_enum, default_value_t = SchemaOf::Review)]
    of: SchemaOf,
}

/// What has a schema.
#[derive(Clone, Copy, ValueEnum)]
enum SchemaOf {
    /// review.json, as JSON Schema.
    Review,
    /// compare.json, as JSON Schema.
    Compare,
    /// The tables of `scaplane batch`, as Table Schema.
    Tables,
    /// The columns of a manifest for `scaplane batch`.
    Manifest,
    /// The tables of `scaplane casebook export`, as Table Schema.
    Casebook,
}

/// `scaplane schema`.
pub fn schema(args: &Schema) -> Result<(), Fault> {
    match args.of {
        SchemaOf::Review => say(&format!("{:#}\n", crate::report::json::schema())),
        SchemaOf::Compare => say(&format!("{:#}\n", crate::report::json::comparison_schema())),
        SchemaOf::Tables => say(&format!("{:#}\n", crate::batch::tables::schema())),
        SchemaOf::Casebook => say(&format!(
            "{:#}\n",
            crate::report::casebook::tables::schema()
        )),
        SchemaOf::Manifest => {
            let mut out = String::new();
            for (name, about) in crate::batch::MANIFEST_COLUMNS {
                let _ = writeln!(out, "{name:<16} {about}");
            }
            say(&out)
        }
    }
}

fn cite(id: &str, models: &Models) -> String {
    models.source(id).map_or_else(
        || id.to_string(),
        |source| match source.status {
            SourceStatus::Memory => format!("{} (from memory, not verified)", source.citation),
            _ => source.citation.clone(),
        },
    )
}

/// `scaplane exercises`.
pub fn exercises(args: &One, models: &Models) -> Result<(), Fault> {
    let mut out = String::new();
    let Some(id) = &args.id else {
        for exercise in models.exercises.values() {
            let _ = writeln!(out, "{:<18} {}", exercise.id, exercise.title);
        }
        return say(&out);
    };
    let exercise = options::exercise(id, models)?;
    let _ = writeln!(
        out,
        "{}: {}\n{}\n",
        exercise.id, exercise.title, exercise.summary
    );
    let _ = writeln!(
        out,
        "Where to put the phone: {}\n",
        exercise.views.placement
    );
    for limit in &exercise.limits {
        let end = |end: Option<f64>| end.map_or("open".into(), |end| end.to_string());
        let _ = writeln!(
            out,
            "{} {} to {} {}{}\n  {}\n  Source: {}",
            limit.measure,
            end(limit.low),
            end(limit.high),
            limit.unit.symbol(),
            if limit.key { " (key)" } else { "" },
            limit.note,
            cite(&limit.source, models)
        );
    }
    for limit in exercise.limits.iter().chain(&exercise.settable) {
        let ends = [
            ("low", limit.low, &limit.below),
            ("high", limit.high, &limit.above),
        ];
        for (end, default, words) in ends {
            if let (None, Some(words)) = (default, words) {
                let _ = writeln!(
                    out,
                    "{} {end}: no default, a plan may set it\n  {}",
                    limit.measure, words.text
                );
            }
        }
    }
    let reported: Vec<&str> = exercise
        .report
        .iter()
        .map(|report| report.measure.as_str())
        .collect();
    let _ = writeln!(out, "\nReported, not judged: {}", reported.join(", "));
    say(&out)
}

/// `scaplane layouts`.
pub fn layouts(args: &One, models: &Models) -> Result<(), Fault> {
    let mut out = String::new();
    let Some(id) = &args.id else {
        let _ = writeln!(out, "Layouts (--layout):");
        for skeleton in models.skeletons.values() {
            let _ = writeln!(
                out,
                "  {:<14} {:>3} points  {}",
                skeleton.id,
                skeleton.keypoints.len(),
                skeleton.title
            );
        }
        let _ = writeln!(out, "\nFile formats (--format):");
        for reader in READERS {
            let _ = writeln!(out, "  {:<18} {}", reader.id(), reader.title());
        }
        return say(&out);
    };
    let skeleton = models.skeleton(id).ok_or_else(|| {
        let known: Vec<&str> = models.skeletons.keys().collect();
        Fault::new(
            FaultKind::Usage,
            "usage/unknown-layout",
            format!("no layout is called `{id}`"),
            Place::default(),
            format!("one of {}", known.join(", ")),
        )
    })?;
    let _ = writeln!(
        out,
        "{}: {}\n{}\nSource: {}",
        skeleton.id,
        skeleton.title,
        skeleton.note,
        cite(&skeleton.source, models)
    );
    for (index, name) in skeleton.keypoints.iter().enumerate() {
        let _ = writeln!(out, "  {index:>3} {name}");
    }
    say(&out)
}

/// `scaplane measures`.
pub fn measures(args: &One, _models: &Models) -> Result<(), Fault> {
    let mut out = String::new();
    let Some(id) = &args.id else {
        for card in all::cards() {
            let _ = writeln!(out, "{:<28} {:<6} {}", card.id, card.unit, card.title);
        }
        return say(&out);
    };
    let card = all::card(id).ok_or_else(|| {
        Fault::new(
            FaultKind::Usage,
            "usage/unknown-measure",
            format!("no measure is called `{id}`"),
            Place::default(),
            "one that `scaplane measures` lists",
        )
    })?;
    let _ = writeln!(
        out,
        "{} [{}]: {}\n{}\nNot measurable when: {}\nSource: {}",
        card.id, card.unit, card.title, card.definition, card.not_measurable_when, card.source
    );
    say(&out)
}

/// `scaplane explain`.
pub fn explain(args: &Code, models: &Models) -> Result<(), Fault> {
    let found = models.explain(&args.code).ok_or_else(|| {
        Fault::new(
            FaultKind::Usage,
            "usage/unknown-code",
            format!("no code is called `{}`", args.code),
            Place::default(),
            "a code from a result, such as wrong-view",
        )
    })?;
    say(&format!(
        "{}: {}\n\n{}\n\n{}\n",
        found.code, found.title, found.text, found.remedy
    ))
}
