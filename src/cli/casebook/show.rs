//! `scaplane casebook show`: one session as it was reviewed.

use super::BookFile;
use crate::cli::output;
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::report::casebook::lists;
use crate::report::{Context, text};
use crate::store::{Book, Entry, Filter};
use clap::Args;

/// Show one session as `review` printed it, or its review.json.
#[derive(Args)]
pub struct Show {
    #[command(flatten)]
    book: BookFile,
    /// Number of the session, as `list` and `add` print it.
    #[arg(long)]
    session: i64,
    /// `-` prints the stored review.json, byte for byte.
    #[arg(long, value_name = "-")]
    json: Option<String>,
}

/// One session of a book.
pub fn session(book: &Book, number: i64) -> Result<Entry, Fault> {
    let entries = book.entries(&Filter {
        number: Some(number),
        ..Filter::default()
    })?;
    entries.into_iter().next().ok_or_else(|| {
        Fault::new(
            FaultKind::Usage,
            "casebook/no-session",
            format!("the casebook has no session {number}"),
            Place::file(book.path().display().to_string()),
            "a number that `scaplane casebook list --person` shows",
        )
    })
}

/// The words of an entry's exercise; its id where no definition is left.
pub fn context(entry: &Entry, models: &Models) -> Context {
    match models.exercise(&entry.session.exercise) {
        Some(exercise) => Context::of(exercise, models),
        None => Context::titled(&entry.session.exercise),
    }
}

/// Runs the command.
pub fn run(args: &Show, models: &Models, quiet: bool) -> Result<(), Fault> {
    if args.json.as_deref().is_some_and(|target| target != "-") {
        return Err(Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            "the result is printed to standard output only",
            Place::default().field("--json"),
            "--json - to print it",
        ));
    }
    let entry = session(&args.book.open_to_read(quiet)?, args.session)?;
    if args.json.is_some() {
        return output::say(&entry.review);
    }
    let context = context(&entry, models);
    output::say(&lists::heading(&entry))?;
    output::say(&text::terminal(&entry.session, &context, output::colour()))
}
