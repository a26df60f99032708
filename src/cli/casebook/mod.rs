//! `scaplane casebook`: the reviews of people over weeks, in one file.

mod add;
mod backup;
mod check;
mod choose;
mod export;
mod gather;
mod list;
mod note;
mod remove;
mod show;
mod trend;

use crate::models::Models;
use crate::note::Fault;
use crate::store::Book;
use clap::{Args, Subcommand};
use std::path::PathBuf;
use std::process::ExitCode;

/// Keep the reviews of people over weeks in one file, and show their course.
///
/// The file is an SQLite database on your own disk; people are pseudonyms. Nothing in it decides anything.
#[derive(Args)]
pub struct Casebook {
    #[command(subcommand)]
    action: Action,
}

#[derive(Subcommand)]
enum Action {
    /// Add results: review.json files, or the output folder of review or batch.
    Add(add::Add),
    /// List the people, or the sessions of one.
    List(list::List),
    /// Show one session as `review` printed it, or its review.json.
    Show(show::Show),
    /// Show the course of a person in an exercise: every measure with its interval, phases, load and pain, and the
    /// clinic's checklist.
    Trend(trend::Trend),
    /// Write a one-page note of a session for the chart, as HTML and plain text.
    Note(note::Note),
    /// Write everything as tables (CSV) and JSON.
    Export(export::Export),
    /// Remove a person entirely, or one session.
    Remove(remove::Remove),
    /// Say whether the casebook is whole.
    Check(check::Check),
    /// Copy the casebook to a new file, also while others work in it.
    Backup(backup::Backup),
}

/// The file.
#[derive(Args)]
struct BookFile {
    /// The casebook.
    #[arg(long = "book", value_name = "FILE")]
    path: PathBuf,
}

impl BookFile {
    /// Opens a casebook that is there.
    fn open(&self, quiet: bool) -> Result<Book, Fault> {
        migrated(Book::open(&self.path)?, quiet)
    }

    /// Opens it to read, also on a medium that may not be written.
    fn open_to_read(&self, quiet: bool) -> Result<Book, Fault> {
        migrated(Book::open_to_read(&self.path)?, quiet)
    }

    /// Opens it, or makes a new one.
    fn open_or_create(&self, quiet: bool) -> Result<Book, Fault> {
        migrated(Book::open_or_create(&self.path)?, quiet)
    }
}

fn migrated(book: Book, quiet: bool) -> Result<Book, Fault> {
    if let Some(copy) = book.copy_of_older() {
        super::output::mention(
            &format!(
                "the casebook was of an older version and was brought to this one; the older is kept as {}",
                copy.display()
            ),
            quiet,
        );
    }
    Ok(book)
}

/// Runs the command.
pub fn run(args: &Casebook, models: &Models, quiet: bool) -> Result<ExitCode, Fault> {
    match &args.action {
        Action::Add(args) => return add::run(args, models, quiet),
        Action::Check(args) => return check::run(args),
        Action::List(args) => list::run(args, models, quiet)?,
        Action::Show(args) => show::run(args, models, quiet)?,
        Action::Trend(args) => trend::run(args, models, quiet)?,
        Action::Note(args) => note::run(args, models, quiet)?,
        Action::Export(args) => export::run(args, models, quiet)?,
        Action::Remove(args) => remove::run(args, quiet)?,
        Action::Backup(args) => backup::run(args, quiet)?,
    }
    Ok(ExitCode::SUCCESS)
}
