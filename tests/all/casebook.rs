//! `scaplane casebook` as a user runs it: the program itself, on reviews of simulated clips.

mod concurrent;
mod course;
mod damaged;
mod exported;
mod full;
mod killed;
mod older;
mod removed;
mod told;
mod whole;

use crate::support::{recipe, run};
use scaplane::report::json;
use scaplane::session::Session;
use scaplane::simulate::{Exercise, Format, Noise};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::LazyLock;

/// A review of a short simulated clip; it is changed by the tests that need others.
static REVIEW: LazyLock<Session> = LazyLock::new(|| {
    let recipe = recipe(Exercise::ScapularRaise, "oblique", 5, 3, Noise::default());
    run(&recipe, Format::Landmarks33Object).1
});

/// A folder with a casebook and reviews.
struct Desk {
    dir: tempfile::TempDir,
}

impl Desk {
    fn new() -> Desk {
        Desk {
            dir: tempfile::tempdir().expect("a temporary folder"),
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    fn book(&self) -> PathBuf {
        self.path("clinic.casebook")
    }

    /// A review that differs from every other by its number.
    fn review(&self, number: usize) -> PathBuf {
        let mut session = REVIEW.clone();
        session.clip.sha256 = format!("{number:064x}");
        self.write(&format!("review-{number}.json"), &session)
    }

    fn write(&self, name: &str, session: &Session) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, json::review(session)).expect("a review");
        path
    }

    /// `scaplane casebook ACTION --book BOOK ...`.
    fn command(&self, action: &str) -> Command {
        command(action, &self.book())
    }

    fn add(&self, review: &Path, person: &str, date: &str) -> Output {
        self.command("add")
            .arg(review)
            .args(["--person", person, "--date", date])
            .output()
            .expect("the program runs")
    }

    /// Adds one review and asserts that it was.
    fn added(&self, number: usize, person: &str, date: &str) {
        let out = self.add(&self.review(number), person, date);
        assert!(out.status.success(), "{}", errors(&out));
    }
}

fn command(action: &str, book: &Path) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("scaplane"));
    command.args(["casebook", action, "--book"]).arg(book);
    command
}

fn output(mut command: Command) -> Output {
    command.output().expect("the program runs")
}

fn answer(command: Command) -> String {
    let out = output(command);
    assert!(out.status.success(), "{}", errors(&out));
    String::from_utf8(out.stdout).expect("text")
}

fn errors(out: &Output) -> String {
    String::from_utf8_lossy(&out.stderr).into_owned()
}

/// Number of the sessions that `check` finds whole; panics if anything is wrong.
fn whole(book: &Path) -> usize {
    counted(&output(command("check", book)))
}

/// The same from what `check` printed.
fn counted(out: &Output) -> usize {
    let said = String::from_utf8_lossy(&out.stdout);
    let count = said
        .starts_with("whole: ")
        .then(|| said.rsplit_once(", "))
        .flatten()
        .and_then(|(_, rest)| rest.split(' ').next()?.parse().ok());
    count.unwrap_or_else(|| panic!("{said}{}", errors(out)))
}
