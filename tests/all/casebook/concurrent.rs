//! Two writers at once: both end up in the book; who waits too long is told.

use super::{Desk, command, errors, output, whole};
use std::process::Stdio;

#[test]
fn two_writers_at_once_both_end_up_in() {
    const EACH: usize = 5;
    for round in 0..10 {
        let desk = Desk::new();
        let writers: Vec<_> = (0..2)
            .map(|writer| {
                let reviews: Vec<_> = (0..EACH)
                    .map(|number| desk.review(100 * writer + number))
                    .collect();
                let mut add = desk.command("add");
                add.args(reviews)
                    .args([
                        "--person",
                        &format!("wren-{writer}"),
                        "--date",
                        "2026-03-14",
                    ])
                    .stdout(Stdio::piped())
                    .stderr(Stdio::piped());
                add.spawn().expect("the program starts")
            })
            .collect();
        for writer in writers {
            let out = writer.wait_with_output().expect("an end");
            assert!(out.status.success(), "round {round}: {}", errors(&out));
            assert_eq!(String::from_utf8_lossy(&out.stdout).lines().count(), EACH);
        }
        assert_eq!(whole(&desk.book()), 2 * EACH, "round {round}");
    }
}

#[test]
fn a_writer_that_holds_the_book_too_long_is_told_of() {
    let desk = Desk::new();
    desk.added(1, "wren-1", "2026-03-14");
    let other = rusqlite::Connection::open(desk.book()).expect("the book");
    other.execute_batch("BEGIN IMMEDIATE").expect("a writer");
    let out = desk.add(&desk.review(2), "wren-1", "2026-03-15");
    assert!(
        errors(&out).starts_with("error[casebook/locked]"),
        "{}",
        errors(&out)
    );
    // Reading goes on meanwhile, and removing is refused as a whole.
    let mut list = desk.command("list");
    list.args(["--person", "wren-1"]);
    assert!(output(list).status.success());
    other.execute_batch("ROLLBACK").expect("an end");
    let mut remove = desk.command("remove");
    remove.args(["--person", "wren-1", "--yes"]);
    let out = output(remove);
    assert!(
        errors(&out).starts_with("error[casebook/locked]"),
        "{}",
        errors(&out)
    );
    drop(other);
    assert_eq!(whole(&desk.book()), 1);
    assert!(
        desk.add(&desk.review(2), "wren-1", "2026-03-15")
            .status
            .success()
    );
    let mut backup = command("backup", &desk.book());
    backup.arg("--to").arg(desk.path("copy"));
    assert!(output(backup).status.success());
}
