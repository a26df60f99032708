//! A seal over a session: SHA-256 of all its columns, which tells whether a byte changed on the disk.
//!
//! It guards against accident, not against somebody who writes a new seal.

use super::entry::{Row, SELECT};
use crate::digest::Sha256;
use rusqlite::Transaction;

/// The seal of a row.
pub fn of(row: &Row) -> String {
    let mut hash = Sha256::new();
    let mut field = |text: Option<&str>| match text {
        Some(text) => {
            hash.update((text.len() as u64 + 1).to_le_bytes());
            hash.update(text.as_bytes());
        }
        None => hash.update(0_u64.to_le_bytes()),
    };
    field(Some(&row.number.to_string()));
    field(Some(&row.person));
    field(Some(&row.date));
    field(Some(&row.exercise));
    field(Some(&row.side));
    field(Some(&row.sha256));
    field(Some(&row.review));
    field(row.clip_sha256.as_deref());
    let told = &row.told;
    for text in [
        &told.operation_date,
        &told.phase,
        &told.resistance,
        &told.remark,
    ] {
        field(text.as_deref());
    }
    let said = &told.reported;
    for number in [
        told.load_kg,
        told.pain_limit,
        said.pain_before,
        said.pain_during,
        said.pain_after,
        said.effort,
    ] {
        field(number.map(|number| format!("{number:?}")).as_deref());
    }
    hash.hex()
}

/// Seals every session: the step that SQL cannot take.
pub fn all(transaction: &Transaction<'_>) -> rusqlite::Result<()> {
    let numbers: Vec<i64> = transaction
        .prepare("SELECT id FROM session")?
        .query_map([], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    for number in numbers {
        one(transaction, number)?;
    }
    Ok(())
}

/// Seals one session.
pub fn one(transaction: &Transaction<'_>, number: i64) -> rusqlite::Result<()> {
    let select = format!("{SELECT} WHERE session.id = ?1");
    let row = transaction.query_row(&select, [number], Row::read)?;
    transaction.execute(
        "UPDATE session SET seal = ?1 WHERE id = ?2",
        (of(&row), number),
    )?;
    Ok(())
}
