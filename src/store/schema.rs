//! The tables of a casebook and how an older book gets to the newest ones.
//!
//! A migration is a file of SQL, and where SQL does not suffice a function after it. Each runs in one transaction
//! with the step of `user_version`, so that a book is of one version or the next.

use super::seal;
use rusqlite::{Connection, Transaction};

/// `scap` as the file's application id: tells a casebook from any other SQLite file.
pub const APPLICATION_ID: i32 = 0x7363_6170;

/// One step from a version to the next.
struct Migration {
    sql: &'static str,
    after: fn(&Transaction<'_>) -> rusqlite::Result<()>,
}

const MIGRATIONS: [Migration; 2] = [
    Migration {
        sql: include_str!("migrations/1.sql"),
        after: |_| Ok(()),
    },
    Migration {
        sql: include_str!("migrations/2.sql"),
        after: seal::all,
    },
];

/// Version of the schema that this program writes.
pub const VERSION: i32 = MIGRATIONS.len() as i32;

/// Brings a book from a version to the newest, within a transaction of the caller.
pub fn migrate(transaction: &Transaction<'_>, from: i32) -> rusqlite::Result<()> {
    let done = usize::try_from(from).unwrap_or(0);
    for migration in MIGRATIONS.iter().skip(done) {
        transaction.execute_batch(migration.sql)?;
        (migration.after)(transaction)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", VERSION)
}

/// Every table and index as the file defines it.
pub fn definitions(connection: &Connection) -> rusqlite::Result<Vec<(String, Option<String>)>> {
    connection
        .prepare("SELECT name, sql FROM sqlite_schema ORDER BY name")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect()
}

/// The definitions that a book of a version has.
pub fn expected(version: i32) -> rusqlite::Result<Vec<(String, Option<String>)>> {
    let mut connection = Connection::open_in_memory()?;
    let transaction = connection.transaction()?;
    let upto = usize::try_from(version).unwrap_or(0);
    for migration in MIGRATIONS.iter().take(upto) {
        transaction.execute_batch(migration.sql)?;
    }
    definitions(&transaction)
}
