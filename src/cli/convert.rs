//! `scaplane convert`: a track in another layout.

use super::options::Reading;
use super::output;
use crate::convert::{Target, bytes, write};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::readers;
use clap::Args;
use std::path::PathBuf;

/// Write a track as tidy CSV or native JSON.
#[derive(Args)]
pub struct Convert {
    /// Track.
    clip: PathBuf,
    /// Target: tidy-2d, tidy-3d or native.
    #[arg(long)]
    to: String,
    #[command(flatten)]
    reading: Reading,
    /// File to write; without it standard output.
    #[arg(long)]
    out: Option<PathBuf>,
}

/// Runs the command.
pub fn run(args: &Convert, models: &Models, quiet: bool) -> Result<(), Fault> {
    let target = Target::from_id(&args.to).ok_or_else(|| {
        let known: Vec<&str> = Target::ALL.iter().map(|target| target.id()).collect();
        Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            format!("no target is called `{}`", args.to),
            Place::default().field("--to"),
            format!("one of {}", known.join(", ")),
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
