//! `scaplane convert`: a track in another layout, a review as an HL7 FHIR bundle.

use super::options::Reading;
use super::output;
use crate::compare::review_of;
use crate::convert::{Target, bytes, store, write};
use crate::fhir::{self, Subject};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::plan::Date;
use crate::readers;
use clap::Args;
use std::path::PathBuf;

/// Write a track as tidy CSV or native JSON, or a review as an HL7 FHIR R4 Bundle.
#[derive(Args)]
pub struct Convert {
    /// Track; for `--to fhir` a review.json that `scaplane review` wrote.
    clip: PathBuf,
    /// Target: tidy-2d, tidy-3d, native, or fhir.
    #[arg(long)]
    to: String,
    /// Whose session it is, for fhir: a name that is nobody's; without it that of the review's plan.
    #[arg(long)]
    pseudonym: Option<String>,
    /// Day of the session, for fhir, such as 2026-03-14.
    #[arg(long, value_parser = day)]
    date: Option<Date>,
    #[command(flatten)]
    reading: Reading,
    /// File to write; without it standard output.
    #[arg(long)]
    out: Option<PathBuf>,
}

/// The target that is no track.
const FHIR: &str = "fhir";

fn day(text: &str) -> Result<Date, String> {
    text.parse()
}

/// Runs the command.
pub fn run(args: &Convert, models: &Models, quiet: bool) -> Result<(), Fault> {
    if args.to == FHIR {
        return bundle(args, models, quiet);
    }
    let target = Target::from_id(&args.to).ok_or_else(|| {
        let known: Vec<&str> = Target::ALL.iter().map(|target| target.id()).collect();
        Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            format!("no target is called `{}`", args.to),
            Place::default().field("--to"),
            format!("one of {}, {FHIR}", known.join(", ")),
        )
    })?;
    let models = models.clone().with_every_joint();
    let opened = readers::open(&args.clip, &args.reading.options(), &models)?;
    for note in &opened.notes {
        output::mention(&note.text, quiet);
    }
    match &args.out {
        Some(path) => {
            write(&opened.track, target, path)?;
            output::mention(&format!("wrote {}", path.display()), quiet);
            Ok(())
        }
        None => output::say_bytes(&bytes(&opened.track, target)?),
    }
}

/// A review as an HL7 FHIR R4 Bundle.
fn bundle(args: &Convert, models: &Models, quiet: bool) -> Result<(), Fault> {
    let wrong = |what: String, place: Place, remedy: &str| {
        Fault::new(FaultKind::Usage, "usage/bad-value", what, place, remedy)
    };
    let name = args.clip.display().to_string();
    let session = review_of(&args.clip)?.ok_or_else(|| {
        wrong(
            format!("`{name}` is no review"),
            Place::file(&name),
            "a review.json that `scaplane review CLIP --out DIR` wrote",
        )
    })?;
    let planned = session.plan.as_ref().map(|plan| plan.pseudonym.as_str());
    let pseudonym = args.pseudonym.as_deref().or(planned).map(str::trim);
    let pseudonym = pseudonym.filter(|name| !name.is_empty()).ok_or_else(|| {
        wrong(
            "whose session it is is not stated".into(),
            Place::default().field("--pseudonym"),
            "--pseudonym with a name that is nobody's",
        )
    })?;
    let subject = Subject {
        pseudonym,
        date: args.date,
    };
    let text = format!("{:#}\n", fhir::bundle(&session, &subject, models));
    match &args.out {
        Some(path) => {
            store(text.as_bytes(), path)?;
            output::mention(&format!("wrote {}", path.display()), quiet);
            Ok(())
        }
        None => output::say(&text),
    }
}
