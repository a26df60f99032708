//! Is a casebook whole: SQLite's own check over every page and index, and the seal of every session.

use super::entry::{Row, SELECT};
use super::{open, schema};
use crate::note::Fault;
use rusqlite::Connection;
use std::path::Path;

/// Most problems that are listed.
const MOST: usize = 20;

/// What the check found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Health {
    /// Version of the schema.
    pub version: i32,
    /// People.
    pub people: usize,
    /// Sessions that are what was stored; not told of an older version, which has no seals.
    pub whole: usize,
    /// What is wrong, in words; empty if nothing is.
    pub problems: Vec<String>,
}

/// Checks a casebook without changing it, and goes on after a damaged session.
///
/// # Errors
/// The file is missing or is no casebook at all.
pub fn check(path: &Path) -> Result<Health, Fault> {
    open::there(path)?;
    let connection = open::to_read(path)?;
    let mut health = Health {
        version: schema::VERSION,
        ..Health::default()
    };
    match open::version(&connection, path)? {
        Some(version) => health.version = version,
        // A first add that was stopped before it stored anything.
        None => return Ok(health),
    }
    let mut found = Vec::new();
    if let Err(fault) = open::defined(&connection, path, health.version) {
        found.push(fault.what);
    }
    let nobody = "SELECT 'session ' || rowid || ' belongs to nobody' FROM pragma_foreign_key_check";
    for sql in ["PRAGMA integrity_check(20)", nobody] {
        match lines(&connection, sql) {
            Ok(said) => found.extend(said.into_iter().filter(|line| line != "ok")),
            Err(error) => found.push(error.to_string()),
        }
    }
    if health.version == schema::VERSION {
        let (whole, damaged) = sessions(&connection);
        health.whole = whole;
        found.extend(damaged);
    }
    health.people = connection
        .query_row("SELECT count(*) FROM person", [], |row| {
            row.get::<_, i64>(0)
        })
        .map_or(0, |count| count as usize);
    found.truncate(MOST);
    health.problems = found;
    Ok(health)
}

fn lines(connection: &Connection, sql: &str) -> rusqlite::Result<Vec<String>> {
    connection
        .prepare(sql)?
        .query_map([], |row| row.get(0))?
        .collect()
}

/// How many sessions are whole, and what is wrong with the others.
fn sessions(connection: &Connection) -> (usize, Vec<String>) {
    let mut whole = 0;
    let mut damaged = Vec::new();
    let mut look = || -> rusqlite::Result<()> {
        let mut statement = connection.prepare(SELECT)?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let number: i64 = row.get(0)?;
            let read = Row::read(row)
                .map_err(|error| error.to_string())
                .and_then(Row::entry);
            match read {
                Ok(_) => whole += 1,
                Err(what) => damaged.push(format!("session {number} is damaged: {what}")),
            }
        }
        Ok(())
    };
    if let Err(error) = look() {
        damaged.push(format!("the sessions cannot be read to the end: {error}"));
    }
    (whole, damaged)
}
