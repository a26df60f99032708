//! `scaplane casebook note`: one page of a session for the chart.

use super::choose::{self, OneSide};
use super::{BookFile, show};
use crate::cli::output;
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::report;
use crate::report::casebook::{note_page, note_text, sheet};
use clap::Args;
use std::path::PathBuf;

/// Name of the page.
const PAGE: &str = "note.html";
/// Name of the plain text.
const TEXT: &str = "note.txt";

/// Write a one-page note of a session for the chart, as HTML and plain text.
#[derive(Args)]
pub struct Note {
    #[command(flatten)]
    book: BookFile,
    /// Pseudonym; the note is of the latest session.
    #[arg(long, required_unless_present = "session")]
    person: Option<String>,
    /// Number of the session.
    #[arg(long)]
    session: Option<i64>,
    /// Exercise of the latest session.
    #[arg(long)]
    exercise: Option<String>,
    /// Arm of the latest session.
    #[arg(long)]
    side: Option<OneSide>,
    /// Folder for note.html and note.txt; without it the text is only printed.
    #[arg(long)]
    out: Option<PathBuf>,
}

/// Runs the command.
pub fn run(args: &Note, models: &Models, quiet: bool) -> Result<(), Fault> {
    let book = args.book.open_to_read(quiet)?;
    let entry = match (args.session, &args.person) {
        (Some(number), person) => {
            let entry = show::session(&book, number)?;
            if let Some(person) = person
                && *person != entry.person
            {
                return Err(Fault::new(
                    FaultKind::Usage,
                    "casebook/other-person",
                    format!("session {number} is not of `{person}`"),
                    Place::default().field("--session"),
                    "a number that `scaplane casebook list --person` shows",
                ));
            }
            entry
        }
        (None, person) => {
            let entries = choose::of_person(&book, person.as_deref().unwrap_or_default())?;
            let asked = |entry: &crate::store::Entry| {
                let session = &entry.session;
                args.exercise
                    .as_ref()
                    .is_none_or(|id| *id == session.exercise)
                    && args.side.is_none_or(|side| side.side() == session.side)
            };
            let latest = entries.into_iter().rfind(asked);
            latest.ok_or_else(|| {
                Fault::new(
                    FaultKind::Usage,
                    "casebook/which",
                    "the person has no session of that exercise and arm",
                    Place::default().field("--exercise"),
                    "what `scaplane casebook list --person` shows",
                )
            })?
        }
    };
    let sheet = sheet(&entry, &show::context(&entry, models));
    let text = note_text(&sheet);
    if let Some(out) = &args.out {
        let page = note_page(&sheet).map_err(|error| report::refused(PAGE, error))?;
        std::fs::create_dir_all(out).map_err(|error| report::write_fault(out, &error))?;
        for (name, text) in [(PAGE, &page), (TEXT, &text)] {
            let path = report::write_file(out, name, text.as_bytes(), report::Settling::Now)?;
            output::mention(&format!("wrote {}", path.display()), quiet);
        }
    }
    output::say(&text)
}
