//! What cannot be compared is refused with code, place and remedy.

use super::command::{program, review_to, sample};
use std::path::Path;
use std::process::Output;

fn refused(output: &Output, status: i32, code: &str, words: &[&str]) {
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(status), "{said}");
    assert!(said.contains(&format!("error[{code}]")), "{code}: {said}");
    assert!(said.contains("\n   try "), "no remedy: {said}");
    for word in words {
        assert!(said.contains(word), "{code}: no `{word}` in {said}");
    }
    assert!(output.stdout.is_empty());
}

fn run(args: &[&str]) -> Output {
    program()
        .arg("compare")
        .args(args)
        .output()
        .expect("the program runs")
}

#[test]
fn what_cannot_be_compared_is_refused_with_words() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let path = |name: &str| dir.path().join(name).display().to_string();
    let drift = sample("plane-drift/track.json.gz");
    let raise = review_to(
        Path::new(&path("raise")),
        "plane-drift/track.json.gz",
        "scapular-raise",
    );
    let press = review_to(
        Path::new(&path("press")),
        "flared-elbow/track",
        "wall-press",
    );
    refused(
        &run(&[&raise, &press]),
        2,
        "compare/exercises-differ",
        &["scapular-raise", "wall-press", "   at "],
    );
    refused(&run(&[&raise, &raise]), 2, "compare/same", &["right arm"]);
    refused(&run(&[&raise]), 2, "compare/one-arm", &["second review"]);
    refused(
        &run(&[&drift, "--exercise", "scapular-raise", "--side", "right"]),
        2,
        "compare/one-arm",
        &["--side both"],
    );
    refused(
        &run(&[&raise, &drift, "--side", "both"]),
        2,
        "compare/which-arm",
        &["--side-b"],
    );
    refused(
        &run(&[&raise, &drift, "--side", "left"]),
        2,
        "compare/which-arm",
        &["right arm, not of the left"],
    );
    refused(
        &run(&[&raise, &drift, "--exercise", "row"]),
        2,
        "compare/exercises-differ",
        &["not of `row`"],
    );
    refused(&run(&[&drift]), 2, "usage/bad-value", &["--exercise"]);
    let other = review_to(
        Path::new(&path("other")),
        "clean-raise/track.csv.gz",
        "scapular-raise",
    );
    for option in [
        &["--view", "front"][..],
        &["--cutoff", "4"],
        &["--fps", "25"],
        &["--mirrored"],
        &["--map", "nose=N", "--map", "neck=K"],
    ] {
        let both = run(&[&[raise.as_str(), &other][..], option].concat());
        refused(
            &both,
            2,
            "compare/reviewed-before",
            &[option[0], "clips themselves"],
        );
    }
    // What a person said of pain is shown by other commands: here it is no option.
    assert_eq!(
        run(&[&raise, &other, "--pain-during", "2"]).status.code(),
        Some(2)
    );
    let text = std::fs::read_to_string(&raise).expect("the review");
    for (name, from, to, status, code) in [
        (
            "new.json",
            "scaplane.review/1",
            "scaplane.review/2",
            2,
            "compare/version",
        ),
        ("cut.json", "\"reps\"", "\"repz\"", 1, "compare/malformed"),
    ] {
        assert!(text.contains(from));
        std::fs::write(path(name), text.replace(from, to)).expect("a file");
        refused(&run(&[&raise, &path(name)]), status, code, &[name]);
    }
    let missing = path("nowhere.json");
    let output = run(&[&raise, &missing]);
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains("nowhere.json"));
    let long = "x".repeat(200);
    let named = run(&[&raise, &drift, "--name-a", &long]);
    assert_eq!(named.status.code(), Some(2));
}
