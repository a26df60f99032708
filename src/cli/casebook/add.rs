//! `scaplane casebook add`: results into the casebook, each in a transaction of its own.

use super::BookFile;
use super::gather::{self, Found};
use crate::cli::options::Told as Said;
use crate::cli::output;
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::plan::{self, Date, Plan};
use crate::session::Session;
use crate::store::{Added, Again, Book, NewEntry, Told};
use clap::Args;
use std::path::PathBuf;
use std::process::ExitCode;

/// Add results: review.json files, or the output folder of review or batch.
///
/// The same result is never stored twice. A session that is reported as added is on the disk, whatever happens
/// afterwards. The day is stated, or told by the manifest of a batch; it is never guessed.
#[derive(Args)]
pub struct Add {
    #[command(flatten)]
    book: BookFile,
    /// Results: review.json, or a folder with some.
    #[arg(required = true)]
    results: Vec<PathBuf>,
    /// Pseudonym of the person; without it that of the batch, the plan or the result. Of a batch only this person's
    /// results are added.
    #[arg(long)]
    person: Option<String>,
    /// Day of the session, such as 2026-03-14; without it that of the batch.
    #[arg(long)]
    date: Option<Date>,
    /// Plan of the treating clinician: pseudonym, day of the operation, phase, load and pain limit.
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// Day of the operation.
    #[arg(long, value_name = "DATE")]
    operation_date: Option<Date>,
    /// Phase, in the clinic's own words.
    #[arg(long, allow_hyphen_values = true)]
    phase: Option<String>,
    /// Load, kilograms.
    #[arg(long, value_parser = load)]
    load_kg: Option<f64>,
    /// Band, cable or wall, in words.
    #[arg(long, allow_hyphen_values = true)]
    resistance: Option<String>,
    #[command(flatten)]
    said: Said,
    /// A remark of your own.
    #[arg(long, allow_hyphen_values = true)]
    remark: Option<String>,
    /// Where the same clip is in the book with another result, put this one in its place.
    #[arg(long)]
    replace: bool,
}

/// Kilograms that an arm can lift.
fn load(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(load) if (0.0..=500.0).contains(&load) => Ok(load),
        _ => Err("a load is a number of kilograms from 0 to 500".into()),
    }
}

/// Runs the command; the exit status is 1 if any result could not be added.
pub fn run(args: &Add, models: &Models, quiet: bool) -> Result<ExitCode, Fault> {
    let plan = match &args.plan {
        Some(path) => Some(plan::read(path, models)?),
        None => None,
    };
    let mut found = Vec::new();
    for path in &args.results {
        found.extend(gather::gather(path)?);
    }
    let mine = |one: &Found| match (&args.person, &one.person) {
        (Some(wanted), Some(person)) => wanted == person,
        _ => true,
    };
    let all = found.len();
    found.retain(mine);
    if found.len() < all {
        let text = format!(
            "{} results of other people were left out",
            all - found.len()
        );
        output::mention(&text, quiet);
    }
    let several = found.len() > 1;
    let mut book: Option<Book> = None;
    let mut status = ExitCode::SUCCESS;
    for one in &found {
        let added = new_entry(args, plan.as_ref(), one).and_then(|new| {
            // A book is not made before there is something to put into it.
            let book = match &mut book {
                Some(book) => book,
                none => none.insert(args.book.open_or_create(quiet)?),
            };
            let again = match args.replace {
                true => Again::Replace,
                false => Again::Refuse,
            };
            Ok((book.add(&new, again)?, new))
        });
        match added {
            Ok((added, new)) => output::say(&said(added, &new))?,
            // What is wrong with the book or the disk is wrong with all that would follow.
            Err(fault) if several && of_one(fault.code) => {
                output::complain(&fault);
                status = ExitCode::from(1);
            }
            Err(fault) => return Err(fault),
        }
    }
    Ok(status)
}

/// Whether a fault is of one result and the others can be added.
fn of_one(code: &str) -> bool {
    [
        "casebook/unread",
        "casebook/not-a-review",
        "casebook/same-clip",
        "casebook/other-person",
        "casebook/no-date",
        "casebook/no-person-stated",
    ]
    .contains(&code)
}

fn said(added: Added, new: &NewEntry) -> String {
    let what = format!(
        "{}, {}, {}, {} arm",
        new.person,
        new.date,
        new.session.exercise,
        new.session.side.id()
    );
    match added {
        Added::New(number) => format!("added session {number}: {what}\n"),
        Added::Known(number) => format!("already there as session {number}: {what}\n"),
        Added::Replaced(number) => format!("replaced session {number}: {what}\n"),
    }
}

fn new_entry(args: &Add, plan: Option<&Plan>, found: &Found) -> Result<NewEntry, Fault> {
    let (review, session) = gather::read(&found.path)?;
    let file = || Place::file(found.path.display().to_string());
    let of_result = session.plan.as_ref().map(|plan| plan.pseudonym.as_str());
    let of_plan = plan.map(|plan| plan.pseudonym.as_str());
    let stated = args.person.as_deref().or(found.person.as_deref());
    let Some(person) = stated.or(of_plan).or(of_result) else {
        return Err(Fault::new(
            FaultKind::Usage,
            "casebook/no-person-stated",
            "whose session it is, is not stated",
            file(),
            "--person with a pseudonym, or a plan",
        ));
    };
    let person = pseudonym(person)?;
    if let Some(other) = of_plan
        .into_iter()
        .chain(of_result)
        .find(|other| other.trim() != person)
    {
        return Err(Fault::new(
            FaultKind::Usage,
            "casebook/other-person",
            format!("the plan of `{other}` belongs to it, and `{person}` is stated"),
            file(),
            "the pseudonym of the plan, or another plan or result",
        ));
    }
    let of_batch = found.date.as_deref().and_then(|text| text.parse().ok());
    let Some(date) = args.date.or(of_batch) else {
        return Err(Fault::new(
            FaultKind::Usage,
            "casebook/no-date",
            "the day of the session is not stated",
            file(),
            "--date with a day such as 2026-03-14, or a manifest with a column `date` for the batch",
        ));
    };
    let told = told(args, plan, &session);
    one_line(&told)?;
    if let Some(day) = &told.operation_date
        && day.parse::<Date>().is_err()
    {
        return Err(Fault::new(
            FaultKind::Malformed,
            "casebook/not-a-review",
            format!("the day of the operation in the result, `{day}`, is no day"),
            file(),
            "--operation-date with a day such as 2026-01-31",
        ));
    }
    Ok(NewEntry {
        person: person.to_string(),
        date,
        review,
        told,
        session,
    })
}

/// What is stated, then what the plan says, then what the result says.
fn told(args: &Add, plan: Option<&Plan>, session: &Session) -> Told {
    let stated = Told {
        operation_date: args.operation_date.map(|day| day.to_string()),
        phase: args.phase.clone(),
        load_kg: args.load_kg,
        resistance: args.resistance.clone(),
        pain_limit: None,
        reported: args.said.session().unwrap_or_default(),
        remark: args.remark.clone(),
    };
    let prescribed = plan.and_then(|plan| plan.prescription(&session.exercise));
    let of_plan = Told {
        operation_date: plan.and_then(|plan| Some(plan.operation_date?.to_string())),
        phase: plan.and_then(|plan| plan.phase.clone()),
        load_kg: prescribed.and_then(|one| one.load_kg),
        resistance: prescribed.and_then(|one| one.resistance.clone()),
        pain_limit: plan.and_then(|plan| plan.pain_limit),
        ..Told::default()
    };
    stated.or(of_plan).or(Told::of(session))
}

/// Longest text that is entered, characters: a line or two of a note.
const LONGEST: usize = 500;

/// Texts stand in lists, tables and notes: each is one line.
fn one_line(told: &Told) -> Result<(), Fault> {
    for (option, text) in [
        ("--phase", &told.phase),
        ("--resistance", &told.resistance),
        ("--remark", &told.remark),
    ] {
        let bad =
            |text: &String| text.chars().any(char::is_control) || text.chars().count() > LONGEST;
        if text.as_ref().is_some_and(bad) {
            return Err(Fault::new(
                FaultKind::Usage,
                "usage/bad-value",
                format!("a text has one line of at most {LONGEST} characters"),
                Place::default().field(option),
                "a shorter text on one line",
            ));
        }
    }
    Ok(())
}

/// A pseudonym that a plan could have too.
fn pseudonym(text: &str) -> Result<&str, Fault> {
    let name = text.trim();
    if name.is_empty() || name.chars().count() > 64 || name.chars().any(char::is_control) {
        return Err(Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            "a pseudonym has 1 to 64 characters on one line",
            Place::default().field("--person"),
            "a word that is nobody's name, such as wren-17",
        ));
    }
    Ok(name)
}
