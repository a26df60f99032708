//! `scaplane casebook export`: everything, for other programs.

use super::{BookFile, choose};
use crate::cli::output;
use crate::note::Fault;
use crate::report;
use crate::report::casebook::{everything_json, tables};
use crate::store::Filter;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Write everything as tables (CSV) and JSON.
///
/// sessions.csv has a row a session, readings.csv a row a repetition and measure, casebook.json the whole results.
/// `scaplane schema casebook` describes every column.
#[derive(Args)]
pub struct Export {
    #[command(flatten)]
    book: BookFile,
    /// Folder for the files.
    #[arg(long)]
    out: PathBuf,
    /// Pseudonym; without it all people.
    #[arg(long)]
    person: Option<String>,
    /// What is written; several with commas.
    #[arg(long, value_delimiter = ',', default_value = "tables,json")]
    to: Vec<Form>,
}

/// A form of the export. A new one is a line here and in [`files`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// sessions.csv and readings.csv.
    Tables,
    /// casebook.json with the whole results.
    Json,
}

/// Runs the command.
pub fn run(args: &Export, quiet: bool) -> Result<(), Fault> {
    let book = args.book.open(quiet)?;
    let entries = match &args.person {
        Some(person) => choose::of_person(&book, person)?,
        None => book.entries(&Filter::default())?,
    };
    std::fs::create_dir_all(&args.out).map_err(|error| report::write_fault(&args.out, &error))?;
    for form in [Form::Tables, Form::Json] {
        if !args.to.contains(&form) {
            continue;
        }
        let files = match form {
            Form::Tables => tables::write(&entries)?,
            Form::Json => vec![("casebook.json", everything_json(&entries)?.into_bytes())],
        };
        for (name, bytes) in files {
            let path = report::write_file(&args.out, name, &bytes)?;
            output::mention(&format!("wrote {}", path.display()), quiet);
        }
    }
    output::say(&format!("{} sessions exported\n", entries.len()))
}
