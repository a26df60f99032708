//! The whole path: review, add, list, show, trend, note, export, backup, check, remove.

use super::{Desk, answer, command, errors, output, whole};
use std::path::Path;
use std::process::Command;

/// Runs the program itself.
fn program(arguments: &[&str]) {
    let out = Command::new(assert_cmd::cargo::cargo_bin!("scaplane"))
        .arg("--quiet")
        .args(arguments)
        .output()
        .expect("the program runs");
    assert!(out.status.success(), "{arguments:?}: {}", errors(&out));
}

fn sample(name: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-keypoints");
    root.join(name).to_string_lossy().into_owned()
}

#[test]
fn reviews_of_samples_go_through_every_command() {
    let desk = Desk::new();
    let out = desk.path("drift");
    program(&[
        "review",
        &sample("plane-drift/track.json.gz"),
        "--exercise",
        "scapular-raise",
        "--side",
        "right",
        "--out",
        &out.to_string_lossy(),
    ]);
    let mut add = desk.command("add");
    add.arg(&out)
        .args([
            "--person",
            "wren-1",
            "--date",
            "2026-03-16",
            "--pain-during",
            "1",
        ])
        .args([
            "--operation-date",
            "2025-12-15",
            "--phase",
            "strengthening",
            "--load-kg",
            "1.5",
        ]);
    assert_eq!(
        answer(add),
        "added session 1: wren-1, 2026-03-16, scapular-raise, right arm\n"
    );
    let twice = desk.add(&out.join("review.json"), "wren-1", "2026-03-16");
    assert!(String::from_utf8_lossy(&twice.stdout).starts_with("already there as session 1"));
    assert_eq!(whole(&desk.book()), 1);

    assert!(answer(desk.command("list")).contains("wren-1"));
    let mut list = desk.command("list");
    list.args(["--person", "wren-1"]);
    let said = answer(list);
    assert!(
        said.contains("strengthening") && said.contains("1.5 kg"),
        "{said}"
    );

    let mut show = desk.command("show");
    show.args(["--session", "1", "--json", "-"]);
    let kept = std::fs::read_to_string(out.join("review.json")).expect("the review");
    assert_eq!(answer(show), kept, "the result is kept byte for byte");
    let mut show = desk.command("show");
    show.args(["--session", "1"]);
    let said = answer(show);
    assert!(said.contains("13.0 weeks after the operation") && said.contains("FINDINGS"));

    for action in ["trend", "note"] {
        let mut one = desk.command(action);
        one.args(["--person", "wren-1", "--out"])
            .arg(desk.path(action));
        let said = answer(one);
        let widest = said.lines().map(|line| line.chars().count()).max();
        assert!(widest <= Some(80), "{action}: {widest:?}\n{said}");
    }
    let page = std::fs::read_to_string(desk.path("trend/course.html")).expect("the page");
    assert!(page.contains("Nothing here decides by itself") && page.contains("<svg"));
    let note = std::fs::read_to_string(desk.path("note/note.txt")).expect("the note");
    for wanted in [
        "RANGE",
        "FINDINGS",
        "DRIFT",
        "PAIN AS ENTERED",
        "during 1 of 10",
        "WHAT THE VIEW",
        "THE CLINICIAN'S ACTION",
        "analysed of",
        "13.0 weeks",
    ] {
        assert!(note.contains(wanted), "{wanted}: {note}");
    }

    let copy = desk.path("copy.casebook");
    let mut backup = desk.command("backup");
    backup.arg("--to").arg(&copy);
    answer(backup);
    assert_eq!(whole(&copy), 1);
    let mut again = desk.command("backup");
    again.arg("--to").arg(&copy);
    assert!(errors(&output(again)).starts_with("error[casebook/exists]"));
    let mut list = command("list", &copy);
    list.args(["--person", "wren-1"]);
    assert!(answer(list).contains("strengthening"));
}

#[test]
fn the_folder_of_a_batch_says_whose_and_of_which_day() {
    let desk = Desk::new();
    let out = desk.path("session");
    program(&[
        "batch",
        &sample("session.csv"),
        "--reports",
        "none",
        "--out",
        &out.to_string_lossy(),
    ]);
    let mut add = desk.command("add");
    add.arg(&out);
    let said = answer(add);
    assert_eq!(said.lines().count(), 6, "{said}");
    assert!(
        said.contains("P-03, 2026-03-16, wall-press, left arm"),
        "{said}"
    );
    let mut again = desk.command("add");
    again.arg(&out).args(["--person", "P-01"]);
    let said = answer(again);
    assert_eq!(said.matches("already there").count(), 2, "{said}");
    assert_eq!(whole(&desk.book()), 6);

    // Both arms are there: which is meant must be said; the recording changed: it is flagged.
    let mut trend = desk.command("trend");
    trend.args(["--person", "P-03"]);
    assert!(errors(&output(trend)).contains("--side with one of left, right"));
    let mut trend = desk.command("trend");
    trend.args(["--person", "P-01"]);
    let said = answer(trend)
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(
        said.contains(
            "File format changed: landmarks33-csv from 2026-03-09, landmarks33-json from 2026-03-16"
        ),
        "{said}"
    );
}
