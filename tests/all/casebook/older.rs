//! A casebook of version 1, as a dump of SQL, is migrated: nothing is lost, and the older book is kept.

use super::{Desk, answer, errors, output, whole};
use rusqlite::Connection;
use std::path::Path;

/// Makes the book that the stored dump describes.
fn older(book: &Path) -> Vec<(i64, String, String)> {
    let dump = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/casebook/version-1.sql");
    let dump = std::fs::read_to_string(dump).expect("the dump");
    let connection = Connection::open(book).expect("a file");
    connection.execute_batch(&dump).expect("the dump is SQL");
    sessions(&connection)
}

fn sessions(connection: &Connection) -> Vec<(i64, String, String)> {
    connection
        .prepare("SELECT id, date, review FROM session ORDER BY id")
        .expect("the table")
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .expect("rows")
        .collect::<Result<_, _>>()
        .expect("rows")
}

#[test]
fn a_book_of_version_1_is_migrated_and_kept() {
    let desk = Desk::new();
    let before = older(&desk.book());
    assert!(before.len() >= 3);
    let out = output(desk.command("check"));
    assert!(
        String::from_utf8_lossy(&out.stdout).contains("of version 1"),
        "the check changes nothing"
    );

    let out = output(desk.command("list"));
    assert!(out.status.success(), "{}", errors(&out));
    assert!(
        errors(&out).contains("the older is kept as"),
        "{}",
        errors(&out)
    );
    assert_eq!(whole(&desk.book()), before.len());
    let now = Connection::open(desk.book()).expect("the book");
    assert_eq!(sessions(&now), before, "nothing is lost");
    let version: i32 = now
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .expect("a version");
    assert_eq!(version, scaplane::store::VERSION);
    // What the results said of their day is in the new columns.
    let told: (String, f64, f64, f64) = now
        .query_row(
            "SELECT phase, load_kg, pain_during, pain_limit FROM session WHERE id = 2",
            [],
            |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)),
        )
        .expect("a row");
    assert_eq!(told, ("strengthening".to_string(), 1.5, 2.0, 3.0));
    drop(now);

    let kept = desk.path("clinic.casebook.version-1.backup");
    let old = Connection::open(&kept).expect("the copy");
    assert_eq!(sessions(&old), before);
    let version: i32 = old
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .expect("a version");
    assert_eq!(version, 1);
    drop(old);
    // A second time nothing is migrated.
    assert!(errors(&output(desk.command("list"))).is_empty());
    let mut trend = desk.command("trend");
    trend.args(["--person", "wren-1"]);
    assert!(answer(trend).contains("strengthening"));
    // Who removes a person is told of the copy.
    let mut remove = desk.command("remove");
    remove.args(["--person", "wren-1", "--yes"]);
    assert!(answer(remove).contains("version-1.backup"));
}

#[test]
fn a_migration_that_fails_leaves_the_older_book() {
    let desk = Desk::new();
    older(&desk.book());
    let connection = Connection::open(desk.book()).expect("the book");
    connection
        .execute("UPDATE session SET review = '{' WHERE id = 3", [])
        .expect("a change");
    let before = sessions(&connection);
    drop(connection);
    let said = errors(&output(desk.command("list")));
    assert!(said.starts_with("error[casebook/corrupt]"), "{said}");
    let connection = Connection::open(desk.book()).expect("the book");
    assert_eq!(sessions(&connection), before);
    let version: i32 = connection
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .expect("a version");
    assert_eq!(version, 1);
}

#[test]
fn a_newer_book_is_left_alone() {
    let desk = Desk::new();
    desk.added(1, "wren-1", "2026-03-14");
    let connection = Connection::open(desk.book()).expect("the book");
    connection
        .pragma_update(None, "user_version", 99)
        .expect("a version");
    drop(connection);
    let before = std::fs::read(desk.book()).expect("the book");
    for action in ["list", "check"] {
        let said = errors(&output(desk.command(action)));
        assert!(said.starts_with("error[casebook/newer]"), "{said}");
    }
    let said = errors(&desk.add(&desk.review(2), "wren-1", "2026-03-15"));
    assert!(said.starts_with("error[casebook/newer]"), "{said}");
    assert_eq!(std::fs::read(desk.book()).expect("the book"), before);
}
