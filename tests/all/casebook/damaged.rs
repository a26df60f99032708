//! A file that was cut or whose bytes changed: never a panic, clear words, and the file is left as it is.

use super::{Desk, answer, command, errors, output};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use std::process::Output;

/// Single bytes that are changed.
const FLIPS: usize = 150;

/// What a damaged file may lead to: clear words, or an answer that is the right one.
fn judged(out: &Output, right: &str, what: &str) -> bool {
    let said = errors(out);
    assert!(!said.contains("panicked"), "{what}: {said}");
    if out.status.success() {
        let answer = String::from_utf8_lossy(&out.stdout);
        assert_eq!(answer, right, "{what}: a wrong answer without a word");
        return false;
    }
    let known = [
        "casebook/corrupt",
        "casebook/not-a-casebook",
        "casebook/newer",
        "casebook/empty",
    ];
    let code = known
        .iter()
        .any(|code| said.starts_with(&format!("error[{code}]")));
    assert!(code && said.contains("\n   try "), "{what}: {said}");
    true
}

/// A book with several people, and what `list` says of it.
fn sound(desk: &Desk) -> (Vec<u8>, String) {
    for number in 0..4 {
        desk.added(
            number,
            ["wren-1", "grebe-2"][number % 2],
            &format!("2026-03-{:02}", number + 1),
        );
    }
    let said = answer(desk.command("list"));
    (std::fs::read(desk.book()).expect("the book"), said)
}

fn tried(book: &Path, bytes: &[u8], right: &str, what: &str) -> bool {
    std::fs::write(book, bytes).expect("a file");
    let told = judged(&output(command("list", book)), right, what);
    assert_eq!(
        std::fs::read(book).expect("the book"),
        bytes,
        "{what}: the file was changed"
    );
    told
}

#[test]
fn changed_bytes_are_told_or_do_not_matter() {
    let desk = Desk::new();
    let (bytes, right) = sound(&desk);
    let book = desk.path("damaged.casebook");
    let seed = 41;
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut told = 0;
    for flip in 0..FLIPS {
        // Every byte of the header, then anywhere.
        let at = match flip {
            flip if flip < 100 => flip,
            _ => random.random_range(0..bytes.len()),
        };
        let mut damaged = bytes.clone();
        damaged[at] ^= 1 << random.random_range(0..8);
        told += usize::from(tried(
            &book,
            &damaged,
            &right,
            &format!("byte {at}, seed {seed}"),
        ));
    }
    println!(
        "{FLIPS} single bits changed: {told} told, {} did not matter",
        FLIPS - told
    );
    assert!(told > FLIPS / 3, "only {told} of {FLIPS} were told");
}

#[test]
fn a_text_that_changed_is_told_though_the_database_is_sound() {
    let desk = Desk::new();
    let (bytes, right) = sound(&desk);
    let book = desk.path("damaged.casebook");
    for (from, to) in [
        ("grebe-2", "grebe-3"),
        ("2026-03-02", "2026-03-12"),
        ("scapular-raise", "forward--raise"),
    ] {
        let at: Vec<usize> = (0..bytes.len() - from.len())
            .filter(|at| bytes[*at..].starts_with(from.as_bytes()))
            .collect();
        assert!(!at.is_empty(), "{from}");
        let mut damaged = bytes.clone();
        for at in at {
            damaged[at..at + to.len()].copy_from_slice(to.as_bytes());
        }
        assert!(
            tried(&book, &damaged, &right, from),
            "{from} was not noticed"
        );
    }
}

#[test]
fn blocks_of_nothing_and_cut_files_are_told() {
    let desk = Desk::new();
    let (bytes, right) = sound(&desk);
    let book = desk.path("damaged.casebook");
    let (mut told, mut cases) = (0, 0);
    for at in (0..bytes.len()).step_by(bytes.len() / 40) {
        let mut damaged = bytes.clone();
        let end = (at + 512).min(bytes.len());
        damaged[at..end].fill(0);
        told += usize::from(tried(&book, &damaged, &right, &format!("zeros at {at}")));
        assert!(
            tried(&book, &bytes[..at], &right, &format!("cut at {at}")),
            "cut at {at}"
        );
        cases += 1;
    }
    println!(
        "{cases} cuts told; of {cases} blocks of zeros {told} told, the others did not matter"
    );
    assert!(told > cases / 2, "only {told} of {cases}");
}

#[test]
fn writing_into_a_damaged_book_is_refused_and_the_check_says_what_is_whole() {
    let desk = Desk::new();
    let (bytes, _) = sound(&desk);
    let book = desk.path("damaged.casebook");
    // A page in the middle is lost.
    let mut damaged = bytes.clone();
    let middle = bytes.len() / 2 / 4096 * 4096;
    damaged[middle..middle + 4096].fill(0xa5);
    std::fs::write(&book, &damaged).expect("a file");
    let mut add = command("add", &book);
    add.arg(desk.review(9))
        .args(["--person", "wren-1", "--date", "2026-04-01"]);
    let mut remove = command("remove", &book);
    remove.args(["--person", "wren-1", "--yes"]);
    let mut backup = command("backup", &book);
    backup.arg("--to").arg(desk.path("copy"));
    for one in [add, remove, backup] {
        let said = errors(&output(one));
        assert!(said.starts_with("error[casebook/corrupt]"), "{said}");
    }
    let out = output(command("check", &book));
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    assert_eq!(out.status.code(), Some(1), "{said}");
    assert!(
        said.starts_with("damaged; ") && said.contains("\n- "),
        "{said}"
    );
    assert_eq!(
        std::fs::read(&book).expect("the book"),
        damaged,
        "the file was changed"
    );
    assert!(!desk.path("copy").exists());
}

#[test]
fn files_of_other_kinds_are_refused() {
    let desk = Desk::new();
    let other = desk.path("other.sqlite");
    let connection = rusqlite::Connection::open(&other).expect("a file");
    connection
        .execute_batch("CREATE TABLE person (id)")
        .expect("a table");
    drop(connection);
    let text = desk.path("text");
    std::fs::write(&text, "a text that is longer than any head of a file").expect("a file");
    for path in [&other, &text, &desk.dir.path().to_path_buf()] {
        let said = errors(&output(command("list", path)));
        assert!(
            said.starts_with("error[casebook/not-a-casebook]"),
            "{}: {said}",
            path.display()
        );
    }
    // Somebody else's trigger in a casebook is not run.
    desk.added(1, "wren-1", "2026-03-14");
    let connection = rusqlite::Connection::open(desk.book()).expect("the book");
    connection
        .execute_batch("CREATE TRIGGER lose AFTER INSERT ON session BEGIN DELETE FROM session; END")
        .expect("a trigger");
    drop(connection);
    let said = errors(&desk.add(&desk.review(2), "wren-1", "2026-03-15"));
    assert!(said.starts_with("error[casebook/corrupt]"), "{said}");
}
