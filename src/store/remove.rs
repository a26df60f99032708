//! Removing: a person entirely, or one session, so that no byte of them is left in the file.
//!
//! Deleted cells are overwritten (`secure_delete`), the file is written anew (`VACUUM`), and the write-ahead log is
//! emptied. All of it needs the book alone: another program that has it open would keep the old log.

use super::fault;
use super::open::{self, Book};
use crate::note::{Fault, FaultKind, Place};
use rusqlite::{OpenFlags, OptionalExtension, TransactionBehavior};
use std::path::{Path, PathBuf};

/// What was removed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Removed {
    /// Sessions.
    pub sessions: usize,
}

impl Book {
    /// Removes a person with all sessions.
    ///
    /// # Errors
    /// There is no such person, another program has the book open, or the file cannot be written; nothing is changed
    /// then.
    pub fn remove_person(self, pseudonym: &str) -> Result<Removed, Fault> {
        let sessions = self.count("pseudonym = ?1", pseudonym)?;
        if !self.people()?.iter().any(|known| known == pseudonym) {
            return Err(no_person(&self.name(), pseudonym));
        }
        self.erase("DELETE FROM person WHERE pseudonym = ?1", pseudonym)?;
        Ok(Removed { sessions })
    }

    /// Removes one session; a person without any is removed too.
    ///
    /// # Errors
    /// As [`Book::remove_person`].
    pub fn remove_session(self, number: i64) -> Result<Removed, Fault> {
        let sessions = self.count("session.id = ?1", number)?;
        if sessions == 0 {
            return Err(no_session(&self.name(), number));
        }
        self.erase("DELETE FROM session WHERE id = ?1", number)?;
        Ok(Removed { sessions })
    }

    fn count(&self, condition: &str, value: impl rusqlite::ToSql) -> Result<usize, Fault> {
        let select = format!(
            "SELECT count(*) FROM session JOIN person ON person.id = session.person WHERE {condition}"
        );
        self.connection
            .query_row(&select, [value], |row| row.get::<_, i64>(0))
            .map(|count| count as usize)
            .map_err(|error| self.fault(&error))
    }

    /// Closes the book and opens it for this process alone, so that no other keeps an old log.
    fn erase(self, delete: &str, value: impl rusqlite::ToSql) -> Result<(), Fault> {
        let path = self.path().to_path_buf();
        drop(self);
        let erased = || -> rusqlite::Result<()> {
            let mut connection = open::connect(&path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
            connection.pragma_update(None, "locking_mode", "EXCLUSIVE")?;
            open::patiently(|| {
                connection
                    .query_row("SELECT 1 FROM person", [], |_| Ok(()))
                    .optional()
            })?;
            let transaction =
                connection.transaction_with_behavior(TransactionBehavior::Exclusive)?;
            transaction.execute(delete, [value])?;
            transaction.execute(
                "DELETE FROM person WHERE id NOT IN (SELECT person FROM session)",
                [],
            )?;
            transaction.commit()?;
            connection.execute_batch("VACUUM")?;
            connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
        };
        erased().map_err(|error| fault::of(&path, &error))
    }
}

/// No person of that pseudonym.
fn no_person(book: &str, pseudonym: &str) -> Fault {
    Fault::new(
        FaultKind::Usage,
        "casebook/no-person",
        format!("nobody in the casebook is called `{pseudonym}`"),
        Place::file(book),
        "a pseudonym that `scaplane casebook list` shows",
    )
}

/// No session of that number.
fn no_session(book: &str, number: i64) -> Fault {
    Fault::new(
        FaultKind::Usage,
        "casebook/no-session",
        format!("the casebook has no session {number}"),
        Place::file(book),
        "a number that `scaplane casebook list --person` shows",
    )
}

/// Files beside a book that look like copies of it: they may still hold whoever was removed.
pub fn copies_beside(book: &Path) -> Vec<PathBuf> {
    let name = book.file_name().unwrap_or_default().to_string_lossy();
    let folder = match book.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut copies: Vec<PathBuf> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| {
            let other = path.file_name().unwrap_or_default().to_string_lossy();
            other.starts_with(&format!("{name}.")) && other.ends_with(".backup")
        })
        .collect();
    copies.sort();
    copies
}
