//! Every file of `tests/broken/`, given to the program: one clear message, the right status, nothing written.

use super::project;
use assert_cmd::Command;
use serde::Deserialize;
use std::collections::BTreeSet;

#[derive(Deserialize)]
struct Table {
    case: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    file: String,
    #[serde(default)]
    arguments: Vec<String>,
    code: String,
    exit: i32,
    #[serde(default)]
    place: String,
}

/// Cases of the table; a case that is lost must not pass unseen.
const CASES: usize = 131;

impl Case {
    fn path(&self) -> std::path::PathBuf {
        match self.file.strip_prefix("sample:") {
            Some(sample) => project("sample-keypoints").join(sample),
            None => project("tests/broken").join(&self.file),
        }
    }

    /// Runs the case and says what is not as it should be.
    fn faults(&self) -> Vec<String> {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let out = folder.path().join("out");
        let mut command = Command::cargo_bin("scaplane").expect("the program is built");
        command.arg("review").arg(self.path());
        if !self.arguments.iter().any(|one| one == "--exercise") {
            command.args(["--exercise", "scapular-raise"]);
        }
        let run = command
            .args(&self.arguments)
            .arg("--out")
            .arg(&out)
            .env("RUST_BACKTRACE", "0")
            .output()
            .expect("the program runs");
        let (answer, message) = (
            String::from_utf8_lossy(&run.stdout),
            String::from_utf8_lossy(&run.stderr),
        );
        let mut faults = Vec::new();
        let mut check = |holds: bool, what: &str| {
            if !holds {
                faults.push(format!("{what}\n{message}"));
            }
        };
        check(
            run.status.code() == Some(self.exit),
            &format!("status {:?}, not {}", run.status.code(), self.exit),
        );
        check(!message.contains("panicked"), "it panicked");
        if self.code == "ok" {
            check(out.join("review.json").is_file(), "no result was written");
            check(!message.contains("error"), "an error in spite of a result");
            return faults;
        }
        check(!out.exists(), "something was written to --out");
        check(answer.is_empty(), "something was answered");
        check(message.contains(&self.place), "the place is not named");
        check(
            message
                .lines()
                .any(|line| line.trim_start().contains("try ")),
            "nothing is advised",
        );
        if self.code == "arguments" {
            check(message.starts_with("error: "), "not the option parser");
            return faults;
        }
        let start = format!("error[{}]: ", self.code);
        check(message.starts_with(&start), &format!("not {start}"));
        check(
            message.matches("error[").count() == 1,
            "not exactly one message",
        );
        let lines: Vec<&str> = message.lines().collect();
        let named = |start: &str| lines.iter().filter(|line| line.starts_with(start)).count() == 1;
        check(named("   at "), "no line says where");
        check(named("   try "), "no line says what to do");
        check(
            lines
                .first()
                .is_some_and(|line| line.len() > start.len() + 10),
            "the message has no words",
        );
        faults
    }
}

fn cases() -> Vec<Case> {
    let text = std::fs::read_to_string(project("tests/broken/cases.toml")).expect("the table");
    toml::from_str::<Table>(&text)
        .expect("a table of cases")
        .case
}

#[test]
fn bad_input_is_refused_in_words() {
    let cases = cases();
    let bad: Vec<String> = cases
        .iter()
        .flat_map(|case| {
            let name = format!("{} {}", case.file, case.arguments.join(" "));
            case.faults()
                .into_iter()
                .map(move |fault| format!("{name}: {fault}"))
        })
        .collect();
    assert!(bad.is_empty(), "{}", bad.join("\n"));
    println!("{} cases of bad input", cases.len());
    assert_eq!(cases.len(), CASES);
}

#[test]
fn every_broken_file_has_a_case() {
    let named: BTreeSet<String> = cases().into_iter().map(|case| case.file).collect();
    let files = std::fs::read_dir(project("tests/broken")).expect("the folder");
    let without: Vec<String> = files
        .map(|entry| entry.expect("an entry").file_name())
        .map(|name| name.to_string_lossy().into_owned())
        .filter(|name| name != "cases.toml" && !named.contains(name))
        .collect();
    assert!(without.is_empty(), "no case names {without:?}");
}

/// The program on some clips, with what is piped in; exit status and messages.
fn run(clips: &[&str], out: &std::path::Path, piped: Vec<u8>) -> (Option<i32>, String) {
    let run = Command::cargo_bin("scaplane")
        .expect("the program is built")
        .arg("review")
        .args(clips)
        .args(["--exercise", "scapular-raise", "--out"])
        .arg(out)
        .write_stdin(piped)
        .output()
        .expect("the program runs");
    let message = String::from_utf8_lossy(&run.stderr).into_owned();
    (run.status.code(), message)
}

#[test]
fn what_is_piped_in_is_read_or_refused() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("out");
    let good =
        std::fs::read(project("sample-keypoints/clean-raise/track.csv.gz")).expect("a sample");
    let half = good[..good.len() / 2].to_vec();
    for (piped, code) in [(Vec::new(), "read/empty"), (half, "read/gzip")] {
        let (status, message) = run(&["-"], &out, piped);
        assert_eq!(status, Some(1), "{message}");
        assert!(message.starts_with(&format!("error[{code}]")), "{message}");
        assert!(
            message.contains("standard input") && !out.exists(),
            "{message}"
        );
    }
    let (status, message) = run(&["-"], &out, good);
    assert_eq!(status, Some(0), "{message}");
    assert!(out.join("review.json").is_file());
}

#[test]
fn one_bad_clip_does_not_stop_the_others() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let [good, bad] = [
        "sample-keypoints/clean-raise/track.csv.gz",
        "tests/broken/cut-off.json",
    ]
    .map(|path| project(path).display().to_string());
    let (status, message) = run(&[&bad, &good], folder.path(), Vec::new());
    assert_eq!(status, Some(1), "{message}");
    assert_eq!(message.matches("error[").count(), 1, "{message}");
    let written: Vec<_> = std::fs::read_dir(folder.path())
        .expect("the folder")
        .collect();
    assert_eq!(written.len(), 1, "the good clip alone has a result");
}

#[cfg(unix)]
#[test]
fn what_cannot_be_opened_is_said() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("out");
    let (status, message) = run(&["/dev/null"], &out, Vec::new());
    assert_eq!(status, Some(1), "{message}");
    assert!(message.starts_with("error[read/not-a-file]"), "{message}");
    let locked = folder.path().join("locked.json");
    std::fs::write(&locked, "[]").expect("it is written");
    std::fs::set_permissions(&locked, std::fs::Permissions::from_mode(0o000)).expect("it is mine");
    if std::fs::File::open(&locked).is_ok() {
        println!("NOT RUN: this user may read everything, so no file can be locked");
        return;
    }
    let (status, message) = run(&[&locked.display().to_string()], &out, Vec::new());
    assert_eq!(status, Some(1), "{message}");
    assert!(
        message.starts_with("error[read/io]") && !out.exists(),
        "{message}"
    );
}
