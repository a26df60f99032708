//! Which sessions a command is about: of one person, one exercise, one arm.

use super::BookFile;
use crate::body::Side;
use crate::models::{Exercise, Models};
use crate::note::{Fault, FaultKind, Place};
use crate::store::{Book, Entry, Filter};
use clap::{Args, ValueEnum};
use std::collections::BTreeSet;

/// One arm.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum OneSide {
    /// Left.
    Left,
    /// Right.
    Right,
}

impl OneSide {
    /// The side.
    pub fn side(self) -> Side {
        match self {
            OneSide::Left => Side::Left,
            OneSide::Right => Side::Right,
        }
    }
}

/// A person and, as far as needed, exercise and arm.
#[derive(Args)]
pub struct Whose {
    #[command(flatten)]
    pub book: BookFile,
    /// Pseudonym.
    #[arg(long)]
    pub person: String,
    /// Exercise; needed where the person did several.
    #[arg(long)]
    pub exercise: Option<String>,
    /// Arm; needed where both are in the book.
    #[arg(long)]
    pub side: Option<OneSide>,
}

/// The sessions of one person and exercise, both arms, with the arm that is asked for.
pub struct Chosen<'a> {
    /// Sessions in order of day.
    pub entries: Vec<Entry>,
    /// The arm.
    pub side: Side,
    /// The exercise.
    pub exercise: &'a Exercise,
}

/// The sessions of a person.
pub fn of_person(book: &Book, person: &str) -> Result<Vec<Entry>, Fault> {
    let entries = book.entries(&Filter {
        person: Some(person.to_string()),
        ..Filter::default()
    })?;
    if entries.is_empty() {
        return Err(Fault::new(
            FaultKind::Usage,
            "casebook/no-person",
            format!("nobody in the casebook is called `{person}`"),
            Place::file(book.path().display().to_string()),
            "a pseudonym that `scaplane casebook list` shows",
        ));
    }
    Ok(entries)
}

impl Whose {
    /// The sessions asked for.
    pub fn choose<'a>(&self, models: &'a Models, quiet: bool) -> Result<Chosen<'a>, Fault> {
        let book = self.book.open_to_read(quiet)?;
        let mut entries = of_person(&book, &self.person)?;
        let exercises: BTreeSet<String> = entries
            .iter()
            .map(|entry| entry.session.exercise.clone())
            .collect();
        let id = one_of("--exercise", self.exercise.clone(), exercises)?;
        entries.retain(|entry| entry.session.exercise == id);
        let sides: BTreeSet<String> = entries
            .iter()
            .map(|entry| entry.session.side.id().to_string())
            .collect();
        let side = self.side.map(|side| side.side().id().to_string());
        let side = match one_of("--side", side, sides)?.as_str() {
            "left" => Side::Left,
            _ => Side::Right,
        };
        Ok(Chosen {
            exercise: exercise(&id, models)?,
            entries,
            side,
        })
    }
}

/// The definition of an exercise that is in the book.
pub fn exercise<'a>(id: &str, models: &'a Models) -> Result<&'a Exercise, Fault> {
    crate::cli::options::exercise(id, models)
}

/// What is stated, if the book has it; else the only one there is.
fn one_of(option: &str, stated: Option<String>, there: BTreeSet<String>) -> Result<String, Fault> {
    let known: Vec<&str> = there.iter().map(String::as_str).collect();
    let refused = |what: String| {
        Fault::new(
            FaultKind::Usage,
            "casebook/which",
            what,
            Place::default().field(option),
            format!("{option} with one of {}", known.join(", ")),
        )
    };
    match (stated, known.as_slice()) {
        (Some(stated), known) if known.contains(&stated.as_str()) => Ok(stated),
        (Some(stated), _) => Err(refused(format!(
            "the person has no session with `{stated}`"
        ))),
        (None, [only]) => Ok(only.to_string()),
        (None, known) => Err(refused(format!(
            "the person has sessions with {}",
            known.join(", ")
        ))),
    }
}
