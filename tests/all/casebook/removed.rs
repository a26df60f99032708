//! A person who is removed leaves no byte, and the others are untouched.

use super::{Desk, answer, command, output, whole};
use rusqlite::Connection;
use std::path::Path;

/// Times that a text stands in the book and in the files beside it.
fn traces(book: &Path, text: &str) -> usize {
    let count = |path: &Path| {
        let bytes = std::fs::read(path).unwrap_or_default();
        bytes
            .windows(text.len())
            .filter(|window| *window == text.as_bytes())
            .count()
    };
    ["", "-wal", "-shm", "-journal"]
        .iter()
        .map(|end| count(Path::new(&format!("{}{end}", book.display()))))
        .sum()
}

#[test]
fn no_byte_is_left_of_who_is_removed() {
    let desk = Desk::new();
    let (gone, stays) = ("grebe-secret-41", "wren-stays-12");
    for number in 0..6 {
        let mut add = desk.command("add");
        add.arg(desk.review(number))
            .args(["--date", &format!("2026-03-{:02}", number + 1)])
            .args(["--person", if number % 2 == 0 { gone } else { stays }])
            .args([
                "--remark",
                if number % 2 == 0 {
                    "remark-of-grebe"
                } else {
                    "fine"
                },
            ]);
        answer(add);
    }
    // A log that was not yet written back, as a killed program leaves it, holds the person too.
    let log = format!("{}-wal", desk.book().display());
    let open = Connection::open(desk.book()).expect("the book");
    let _ = open.query_row("SELECT count(*) FROM session", [], |row| {
        row.get::<_, i64>(0)
    });
    let mut add = desk.command("add");
    add.arg(desk.review(7))
        .args(["--person", gone, "--date", "2026-03-20"]);
    answer(add);
    let kept = (
        std::fs::read(desk.book()).expect("the book"),
        std::fs::read(&log).expect("a log"),
    );
    drop(open);
    std::fs::write(desk.book(), kept.0).expect("the book");
    std::fs::write(&log, kept.1).expect("the log");
    assert!(
        traces(&desk.book(), gone) > 0,
        "the search finds nothing at all"
    );
    assert!(traces(&desk.book(), "remark-of-grebe") > 0);
    let clip = format!("{:064x}", 7);
    assert!(traces(&desk.book(), &clip) > 0);

    let mut remove = desk.command("remove");
    remove.args(["--person", gone, "--yes"]);
    let said = answer(remove);
    assert!(said.contains("4 sessions were erased"), "{said}");
    assert!(
        said.contains("Backups, exports and notes elsewhere are not touched"),
        "{said}"
    );
    for text in [gone, "remark-of-grebe", &clip, "grebe"] {
        assert_eq!(traces(&desk.book(), text), 0, "{text}");
    }
    assert!(traces(&desk.book(), stays) > 0);
    assert_eq!(whole(&desk.book()), 3);
    assert!(!answer(desk.command("list")).contains(gone));
    // The book is used as before, and a number is not given twice.
    let said = desk.add(&desk.review(20), stays, "2026-04-01");
    assert!(
        String::from_utf8_lossy(&said.stdout).starts_with("added session 8"),
        "{said:?}"
    );
}

#[test]
fn one_session_is_removed_and_the_person_with_the_last() {
    let desk = Desk::new();
    for number in 1..=2 {
        desk.added(number, "wren-1", "2026-03-14");
    }
    for (number, left) in [(1, 1), (2, 0)] {
        let mut remove = command("remove", &desk.book());
        remove.args(["--session", &number.to_string(), "--yes"]);
        assert!(answer(remove).contains("1 session was erased"));
        assert_eq!(whole(&desk.book()), left);
    }
    assert_eq!(traces(&desk.book(), "wren-1"), 0);
    assert_eq!(answer(desk.command("list")), "the casebook is empty\n");
    let mut remove = desk.command("remove");
    remove.args(["--session", "2", "--yes"]);
    assert!(!output(remove).status.success());
}

/// What is printed, and what stays, when the question is answered on a terminal.
#[cfg(unix)]
fn answered(book: &Path, typed: &[u8]) -> (String, String) {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use std::io::Write;
    use std::process::Stdio;
    let terminal = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a terminal");
    grantpt(&terminal).expect("its other end");
    unlockpt(&terminal).expect("its other end");
    let name = ptsname(&terminal, Vec::new()).expect("a name");
    let keyboard = std::fs::OpenOptions::new()
        .read(true)
        .write(true)
        .open(name.to_str().expect("plain"))
        .expect("its other end");
    let mut remove = command("remove", book);
    remove.args(["--person", "grebe-secret-41"]);
    remove.stdin(Stdio::from(keyboard));
    remove.stdout(Stdio::piped()).stderr(Stdio::piped());
    let child = remove.spawn().expect("the program starts");
    let mut terminal = std::fs::File::from(terminal);
    terminal.write_all(typed).expect("typed");
    let out = child.wait_with_output().expect("an end");
    assert!(out.status.success(), "{}", super::errors(&out));
    let said = String::from_utf8(out.stdout.clone()).expect("text");
    (said, super::errors(&out))
}

#[cfg(unix)]
#[test]
fn the_terminal_is_asked_and_only_yes_removes() {
    let desk = Desk::new();
    desk.added(1, "grebe-secret-41", "2026-03-14");
    desk.added(2, "wren-stays-12", "2026-03-14");
    // Control and D is the end of what is typed.
    for typed in ["no\n", "y\n", "\n", "yes please\n", "\u{4}"] {
        let (said, asked) = answered(&desk.book(), typed.as_bytes());
        assert_eq!(said, "nothing was removed\n", "{typed:?}");
        assert!(
            asked.contains(
                "Remove `grebe-secret-41` with all sessions for good? Type yes to go on."
            ),
            "{asked}"
        );
        assert_eq!(whole(&desk.book()), 2, "{typed:?}");
    }
    let (said, _) = answered(&desk.book(), b" Yes \n");
    assert!(said.contains("1 session was erased"), "{said}");
    assert_eq!(whole(&desk.book()), 1);
    assert_eq!(traces(&desk.book(), "grebe-secret-41"), 0);
    // Nobody there to be asked.
    let mut remove = desk.command("remove");
    remove.args(["--person", "wren-stays-12"]);
    remove.stdin(std::process::Stdio::null());
    let out = output(remove);
    assert_eq!(out.status.code(), Some(2));
    assert!(super::errors(&out).starts_with("error[casebook/unconfirmed]"));
    assert_eq!(whole(&desk.book()), 1);
}

#[test]
fn a_removal_that_is_killed_removes_all_or_nothing() {
    const KILLS: usize = 30;
    let desk = Desk::new();
    for number in 0..6 {
        let person = ["grebe-secret-41", "wren-stays-12"][number % 2];
        desk.added(number, person, &format!("2026-03-{:02}", number + 1));
    }
    let kept = std::fs::read(desk.book()).expect("the book");
    let remove = |book: &Path| {
        let mut remove = command("remove", book);
        remove.args(["--person", "grebe-secret-41", "--yes"]);
        remove.stdout(std::process::Stdio::null());
        remove.stderr(std::process::Stdio::null());
        remove.spawn().expect("the program starts")
    };
    let calm = desk.path("calm.casebook");
    std::fs::write(&calm, &kept).expect("a book");
    let begun = std::time::Instant::now();
    remove(&calm).wait().expect("an end");
    let whole_time = begun.elapsed();
    assert_eq!(whole(&calm), 3);
    let (mut killed, mut gone) = (0, 0);
    for number in 0..KILLS {
        let book = desk.path(&format!("book-{number}"));
        std::fs::write(&book, &kept).expect("a book");
        let mut child = remove(&book);
        std::thread::sleep(whole_time.mul_f64(number as f64 / KILLS as f64));
        killed += usize::from(child.try_wait().expect("a state").is_none());
        child.kill().expect("it is ours");
        child.wait().expect("an end");
        match whole(&book) {
            3 => {
                gone += 1;
                assert_eq!(traces(&book, "grebe-secret-41"), 0, "kill {number}");
            }
            left => assert_eq!(left, 6, "kill {number}"),
        }
        assert!(traces(&book, "wren-stays-12") > 0);
    }
    println!(
        "{killed} removals killed while running: {gone} of {KILLS} had removed all, the others nothing"
    );
    assert!(killed > 0);
}
