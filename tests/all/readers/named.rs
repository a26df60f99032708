//! Points with names of the user's own: listed by `inspect`, mapped by `--map`.

use super::project;
use assert_cmd::Command;

fn inspect(file: &str, arguments: &[&str]) -> (Option<i32>, String, String) {
    let run = Command::cargo_bin("scaplane")
        .expect("the program is built")
        .arg("inspect")
        .arg(project("tests/exports/tables").join(file))
        .args(arguments)
        .output()
        .expect("the program runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (run.status.code(), text(&run.stdout), text(&run.stderr))
}

#[test]
fn names_without_a_joint_are_listed_with_what_to_do() {
    let (status, answer, message) = inspect("dlc-one-mapped.csv", &[]);
    assert_eq!(status, Some(0), "{message}");
    let line = answer
        .lines()
        .find(|line| line.starts_with("unmatched"))
        .unwrap_or_else(|| panic!("{answer}"));
    for word in ["hand_tape", "cup", "wrist-right", "--map"] {
        assert!(line.contains(word), "{word}: {line}");
    }
    let mapped = ["--map", "right_wrist=HandTape", "--map", "left_wrist=CUP"];
    let (status, answer, message) = inspect("dlc-one-mapped.csv", &mapped);
    assert_eq!(status, Some(0), "{message}");
    assert!(!answer.contains("unmatched"), "{answer}");
}

#[test]
fn without_any_known_name_the_message_says_how_to_map() {
    for file in [
        "dlc-own-names.csv",
        "sleap-own-names.csv",
        "tidy-wide-own-names.csv",
        "sleap-project-pickled.json",
    ] {
        let (status, answer, message) = inspect(file, &[]);
        assert_eq!((status, answer.as_str()), (Some(1), ""), "{file}");
        assert!(message.starts_with("error[read/layout]"), "{message}");
        assert!(message.contains("--map left_shoulder=NAME"), "{message}");
    }
}

#[test]
fn a_name_that_is_not_there_lists_those_that_are() {
    let (status, _, message) = inspect("dlc-own-names.csv", &["--map", "left_shoulder=LeftSh"]);
    assert_eq!(status, Some(2), "{message}");
    for name in [
        "LShldr", "RShldr", "RElb", "RWr", "LElb", "LWr", "LPelv", "RPelv",
    ] {
        assert!(message.contains(name), "{name}: {message}");
    }
    let (status, _, message) = inspect("dlc-own-names.csv", &["--map", "left_sholder=LShldr"]);
    assert_eq!(status, Some(2), "{message}");
    for name in ["left_shoulder", "right_elbow", "c7"] {
        assert!(message.contains(name), "{name}: {message}");
    }
}
