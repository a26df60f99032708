//! What is wrong is told with code, place and remedy, and nothing is changed.

use super::{Desk, REVIEW, answer, errors, output, whole};
use std::process::Command;

fn refused(command: Command, code: &str, status: i32) -> String {
    let out = output(command);
    let said = errors(&out);
    assert!(
        said.starts_with(&format!("error[{code}]")),
        "{code}: {said}"
    );
    assert!(said.contains("\n   try "), "{said}");
    assert_eq!(out.status.code(), Some(status), "{said}");
    said
}

#[test]
fn a_day_and_a_person_are_asked_for_and_never_guessed() {
    let desk = Desk::new();
    let review = desk.review(1);
    let mut add = desk.command("add");
    add.arg(&review).args(["--person", "wren-1"]);
    refused(add, "casebook/no-date", 2);
    let mut add = desk.command("add");
    add.arg(&review).args(["--date", "2026-03-14"]);
    refused(add, "casebook/no-person-stated", 2);
    let mut add = desk.command("add");
    add.arg(&review)
        .args(["--person", " ", "--date", "2026-03-14"]);
    refused(add, "usage/bad-value", 2);
    let mut add = desk.command("add");
    add.arg(&review)
        .args(["--person", "wren-1", "--date", "2026-02-30"]);
    assert_eq!(output(add).status.code(), Some(2));
    let mut add = desk.command("add");
    add.arg(&review)
        .args(["--person", "wren-1", "--date", "2026-03-14"])
        .args(["--phase", "two\nlines"]);
    refused(add, "usage/bad-value", 2);
    assert!(!desk.book().exists(), "no book is made for nothing");
}

#[test]
fn what_is_no_result_is_refused() {
    let desk = Desk::new();
    let other = desk.path("other.json");
    for text in ["", "{", "[1]", "{\"format\": \"scaplane.review/2\"}"] {
        std::fs::write(&other, text).expect("a file");
        let mut add = desk.command("add");
        add.arg(&other)
            .args(["--person", "wren-1", "--date", "2026-03-14"]);
        refused(add, "casebook/not-a-review", 1);
    }
    let mut session = REVIEW.clone();
    session.format = "scaplane.review/2".into();
    let newer = desk.write("newer.json", &session);
    let mut add = desk.command("add");
    add.arg(newer)
        .args(["--person", "wren-1", "--date", "2026-03-14"]);
    refused(add, "casebook/not-a-review", 1);
    let mut add = desk.command("add");
    add.arg(desk.path("none.json"))
        .args(["--person", "wren-1", "--date", "2026-03-14"]);
    refused(add, "casebook/unread", 1);
    std::fs::create_dir(desk.path("empty")).expect("a folder");
    let mut add = desk.command("add");
    add.arg(desk.path("empty"))
        .args(["--person", "wren-1", "--date", "2026-03-14"]);
    refused(add, "casebook/not-a-review", 1);
    // One bad result does not stop the others.
    let mut add = desk.command("add");
    add.arg(desk.review(1)).arg(&other).arg(desk.review(2));
    add.args(["--person", "wren-1", "--date", "2026-03-14"]);
    let out = output(add);
    assert_eq!(out.status.code(), Some(1));
    assert_eq!(whole(&desk.book()), 2);
}

#[test]
fn nobody_gets_into_the_course_of_another() {
    let desk = Desk::new();
    desk.added(1, "wren-1", "2026-03-14");
    let mut add = desk.command("add");
    add.arg(desk.review(1))
        .args(["--person", "wren-2", "--date", "2026-03-14"]);
    let said = refused(add, "casebook/other-person", 2);
    assert!(said.contains("session 1"), "{said}");
    // The same clip, reviewed anew.
    let mut session = REVIEW.clone();
    session.clip.sha256 = format!("{:064x}", 1);
    session.program.version = "9.9.9".into();
    let anew = desk.write("anew.json", &session);
    let add = |more: &[&str], person: &str| {
        let mut add = desk.command("add");
        add.arg(&anew)
            .args(["--person", person, "--date", "2026-03-14"])
            .args(more);
        add
    };
    refused(add(&[], "wren-1"), "casebook/same-clip", 2);
    refused(add(&["--replace"], "wren-2"), "casebook/other-person", 2);
    assert!(answer(add(&["--replace"], "wren-1")).starts_with("replaced session 1"));
    let mut show = desk.command("show");
    show.args(["--session", "1", "--json", "-"]);
    assert!(answer(show).contains("9.9.9"));
    assert_eq!(whole(&desk.book()), 1);
    // A plan of somebody else.
    let plan = desk.path("plan.toml");
    let text = "format = \"scaplane.plan/1\"\npseudonym = \"wren-7\"\nside = \"right\"\n";
    std::fs::write(&plan, text).expect("a plan");
    let mut add = desk.command("add");
    add.arg(desk.review(2)).arg("--plan").arg(&plan);
    add.args(["--person", "wren-1", "--date", "2026-03-14"]);
    refused(add, "casebook/other-person", 2);
}

#[test]
fn what_is_not_there_is_said() {
    let desk = Desk::new();
    for action in ["list", "check"] {
        refused(desk.command(action), "casebook/missing", 1);
    }
    assert!(!desk.book().exists());
    desk.added(1, "wren-1", "2026-03-14");
    let mut list = desk.command("list");
    list.args(["--person", "wren"]);
    refused(list, "casebook/no-person", 2);
    let mut show = desk.command("show");
    show.args(["--session", "7"]);
    refused(show, "casebook/no-session", 2);
    let mut remove = desk.command("remove");
    remove.args(["--person", "wren", "--yes"]);
    refused(remove, "casebook/no-person", 2);
    let mut remove = desk.command("remove");
    remove
        .args(["--person", "wren-1"])
        .stdin(std::process::Stdio::null());
    refused(remove, "casebook/unconfirmed", 2);
    let mut trend = desk.command("trend");
    trend.args(["--person", "wren-1", "--exercise", "row"]);
    refused(trend, "casebook/which", 2);
    assert_eq!(whole(&desk.book()), 1);
}

#[test]
fn a_plan_is_taken_and_what_is_stated_comes_before_it() {
    let desk = Desk::new();
    let plan = desk.path("plan.toml");
    let text = "format = \"scaplane.plan/1\"\npseudonym = \"wren-7\"\nside = \"right\"\n\
                operation_date = 2026-01-05\nphase = \"early\"\npain_limit = 3\n\
                [[exercise]]\nid = \"scapular-raise\"\nsets = 1\nrepetitions = 3\nload_kg = 2.5\n";
    std::fs::write(&plan, text).expect("a plan");
    let mut add = desk.command("add");
    add.arg(desk.review(1)).arg("--plan").arg(&plan);
    add.args([
        "--date",
        "2026-03-30",
        "--load-kg",
        "1",
        "--pain-during",
        "3",
    ]);
    assert!(answer(add).contains("wren-7"));
    let mut trend = desk.command("trend");
    trend.args(["--person", "wren-7", "--json", "-"]);
    let course: serde_json::Value = serde_json::from_str(&answer(trend)).expect("JSON");
    let visit = &course["sessions"][0];
    assert_eq!(visit["weeks_since_operation"], 12.0);
    assert_eq!(visit["load_kg"], 1.0);
    assert_eq!(visit["phase"], "early");
    let state = |id: &str| {
        let list = course["checklist"].as_array().expect("a list");
        let item = list.iter().find(|item| item["id"] == id).expect("a line");
        assert!(!item["source"].as_str().expect("text").is_empty());
        item["state"].as_str().expect("text").to_string()
    };
    assert_eq!(state("weeks-since-operation"), "met");
    assert_eq!(state("pain-below-limit"), "not-met");
    assert_eq!(state("pain-during"), "not-met");
    assert_eq!(state("protocol-allows"), "not-entered");
    assert_eq!(state("range-of-other-arm"), "not-entered");
    assert_eq!(state("prescription-done"), "not-entered");
    assert_eq!(state("no-drift"), "cannot-tell");
}
