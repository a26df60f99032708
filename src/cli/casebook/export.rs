//! `scaplane casebook export`: everything, for other programs.

use super::{BookFile, choose};
use crate::cli::output;
use crate::fhir::{self, Subject};
use crate::models::Models;
use crate::note::Fault;
use crate::report;
use crate::report::casebook::{everything_json, tables};
use crate::session::Session;
use crate::store::{Entry, Filter};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Write everything as tables (CSV), JSON, or HL7 FHIR R4.
///
/// sessions.csv has a row a session, readings.csv a row a repetition and measure, casebook.json the whole results,
/// session-NUMBER.fhir.json a Bundle a session.
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

/// A form of the export. A new one is a line here and in [`Form::files`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// sessions.csv and readings.csv.
    Tables,
    /// casebook.json with the whole results.
    Json,
    /// A Bundle (HL7 FHIR R4) for each session.
    Fhir,
}

impl Form {
    /// The files of this form: name and content.
    fn files(self, entries: &[Entry], models: &Models) -> Result<Vec<(String, Vec<u8>)>, Fault> {
        Ok(match self {
            Form::Tables => tables::write(entries)?
                .into_iter()
                .map(|(name, bytes)| (name.to_string(), bytes))
                .collect(),
            Form::Json => vec![(
                "casebook.json".into(),
                everything_json(entries)?.into_bytes(),
            )],
            Form::Fhir => entries.iter().map(|entry| bundle(entry, models)).collect(),
        })
    }
}

/// A session as a Bundle: the result, with pain and effort as the casebook has them.
fn bundle(entry: &Entry, models: &Models) -> (String, Vec<u8>) {
    let session = Session {
        reported: Some(entry.told.reported),
        ..entry.session.clone()
    };
    let subject = Subject {
        pseudonym: &entry.person,
        date: entry.date.parse().ok(),
    };
    let text = format!("{:#}\n", fhir::bundle(&session, &subject, models));
    (
        format!("session-{}.fhir.json", entry.number),
        text.into_bytes(),
    )
}

/// Runs the command.
pub fn run(args: &Export, models: &Models, quiet: bool) -> Result<(), Fault> {
    let book = args.book.open_to_read(quiet)?;
    let entries = match &args.person {
        Some(person) => choose::of_person(&book, person)?,
        None => book.entries(&Filter::default())?,
    };
    std::fs::create_dir_all(&args.out).map_err(|error| report::write_fault(&args.out, &error))?;
    for form in [Form::Tables, Form::Json, Form::Fhir] {
        if !args.to.contains(&form) {
            continue;
        }
        for (name, bytes) in form.files(&entries, models)? {
            let path = report::write_file(&args.out, &name, &bytes, report::Settling::Now)?;
            output::mention(&format!("wrote {}", path.display()), quiet);
        }
    }
    let told = match entries.len() {
        1 => "1 session exported\n".to_string(),
        count => format!("{count} sessions exported\n"),
    };
    output::say(&told)
}
