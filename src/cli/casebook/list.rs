//! `scaplane casebook list`: the people, or the sessions of one.

use super::{BookFile, choose};
use crate::cli::output;
use crate::models::Models;
use crate::note::Fault;
use crate::report::casebook::lists;
use crate::store::Filter;
use clap::Args;

/// List the people, or the sessions of one.
#[derive(Args)]
pub struct List {
    #[command(flatten)]
    book: BookFile,
    /// Pseudonym; without it all people.
    #[arg(long)]
    person: Option<String>,
}

/// Runs the command.
pub fn run(args: &List, models: &Models, quiet: bool) -> Result<(), Fault> {
    let book = args.book.open_to_read(quiet)?;
    match &args.person {
        Some(person) => {
            let entries = choose::of_person(&book, person)?;
            output::say(&lists::sessions(&entries, models))
        }
        None => output::say(&lists::people(&book.entries(&Filter::default())?)),
    }
}
