//! Adding a session: one transaction, on the disk when it is reported.

use super::entry::Told;
use super::open::Book;
use super::seal;
use crate::digest::sha256;
use crate::note::{Fault, FaultKind, Place};
use crate::plan::Date;
use crate::session::Session;
use rusqlite::{OptionalExtension, Transaction, TransactionBehavior, params};

/// A session to add.
#[derive(Debug, Clone)]
pub struct NewEntry {
    /// Pseudonym.
    pub person: String,
    /// Day of the session.
    pub date: Date,
    /// The result as text, kept byte for byte.
    pub review: String,
    /// The same, read.
    pub session: Session,
    /// What was entered about the day; what it does not say is taken from the result.
    pub told: Told,
}

/// What to do where the same clip is in the book with another result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Again {
    /// Refuse.
    Refuse,
    /// Put the new result in its place, under the same number.
    Replace,
}

/// What became of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Added {
    /// Stored under this number.
    New(i64),
    /// This very text was there already, under this number; nothing was changed.
    Known(i64),
    /// The result of the same clip was replaced.
    Replaced(i64),
}

impl Book {
    /// Stores a session.
    ///
    /// # Errors
    /// The result is in the book for somebody else, its clip is there with another result, or the file cannot be
    /// written; nothing is changed then.
    pub fn add(&mut self, new: &NewEntry, again: Again) -> Result<Added, Fault> {
        let path = self.path().to_path_buf();
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|error| super::fault::of(&path, &error))?;
        let refused = |error: rusqlite::Error| super::fault::of(&path, &error);
        let sha256 = sha256(new.review.as_bytes());
        if let Some((number, person)) = same_text(&transaction, &sha256).map_err(refused)? {
            return match person == new.person {
                true => Ok(Added::Known(number)),
                false => Err(others(new, number, "this result")),
            };
        }
        let same = same_clip(&transaction, new).map_err(refused)?;
        let added = match same {
            Some((number, person)) if person != new.person => {
                return Err(others(new, number, "a result of this clip"));
            }
            Some((number, _)) if again == Again::Refuse => {
                return Err(Fault::new(
                    FaultKind::Usage,
                    "casebook/same-clip",
                    format!(
                        "another result of the same clip, exercise and arm is in the book as session {number}"
                    ),
                    Place::default().field("--replace"),
                    "--replace to put this result in its place",
                ));
            }
            Some((number, _)) => Added::Replaced(number),
            None => Added::New(0),
        };
        let added = store(&transaction, new, &sha256, added).map_err(refused)?;
        transaction.commit().map_err(refused)?;
        Ok(added)
    }
}

fn others(new: &NewEntry, number: i64, what: &str) -> Fault {
    Fault::new(
        FaultKind::Usage,
        "casebook/other-person",
        format!("{what} is in the book for another person, as session {number}"),
        Place::default().field(format!("--person {}", new.person)),
        "the right pseudonym, or removing the wrong session first",
    )
}

fn same_text(
    transaction: &Transaction<'_>,
    sha256: &str,
) -> rusqlite::Result<Option<(i64, String)>> {
    let select = "SELECT session.id, pseudonym FROM session JOIN person ON person.id = session.person \
                  WHERE sha256 = ?1";
    transaction
        .query_row(select, [sha256], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()
}

fn same_clip(
    transaction: &Transaction<'_>,
    new: &NewEntry,
) -> rusqlite::Result<Option<(i64, String)>> {
    let select = "SELECT session.id, pseudonym FROM session JOIN person ON person.id = session.person \
                  WHERE clip_sha256 = ?1 AND exercise = ?2 AND side = ?3";
    let session = &new.session;
    transaction
        .query_row(
            select,
            (&session.clip.sha256, &session.exercise, session.side.id()),
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .optional()
}

fn store(
    transaction: &Transaction<'_>,
    new: &NewEntry,
    sha256: &str,
    added: Added,
) -> rusqlite::Result<Added> {
    transaction.execute(
        "INSERT INTO person (pseudonym) VALUES (?1) ON CONFLICT DO NOTHING",
        [&new.person],
    )?;
    let person: i64 = transaction.query_row(
        "SELECT id FROM person WHERE pseudonym = ?1",
        [&new.person],
        |row| row.get(0),
    )?;
    let number = match added {
        Added::Replaced(number) | Added::Known(number) => Some(number),
        Added::New(_) => None,
    };
    let told = new.told.clone().or(Told::of(&new.session));
    let said = told.reported;
    transaction.execute(
        "INSERT OR REPLACE INTO session (id, person, date, exercise, side, sha256, review, clip_sha256, operation_date, \
         phase, load_kg, resistance, pain_limit, pain_before, pain_during, pain_after, effort, remark) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18)",
        params![
            number,
            person,
            new.date.to_string(),
            new.session.exercise,
            new.session.side.id(),
            sha256,
            new.review,
            new.session.clip.sha256,
            told.operation_date,
            told.phase,
            told.load_kg,
            told.resistance,
            told.pain_limit,
            said.pain_before,
            said.pain_during,
            said.pain_after,
            said.effort,
            told.remark,
        ],
    )?;
    let stored = transaction.last_insert_rowid();
    seal::one(transaction, stored)?;
    Ok(match added {
        Added::New(_) => Added::New(stored),
        other => other,
    })
}
