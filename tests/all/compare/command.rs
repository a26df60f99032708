//! The command as a user runs it, and what it prints and writes.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;

pub fn program() -> Command {
    Command::new(assert_cmd::cargo::cargo_bin!("scaplane"))
}

/// A sample that comes with the program.
pub fn sample(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-keypoints");
    folder.join(name).display().to_string()
}

/// Reviews a sample into a folder; the path of its review.json.
pub fn review_to(out: &Path, clip: &str, exercise: &str) -> String {
    let output = program()
        .args(["--quiet", "review", &sample(clip), "--exercise", exercise])
        .args(["--side", "right", "--out"])
        .arg(out)
        .output()
        .expect("the program runs");
    assert!(output.status.success());
    out.join("review.json").display().to_string()
}

fn compared(args: &[&str]) -> String {
    let output = program()
        .args(["--quiet", "compare"])
        .args(args)
        .output()
        .expect("the program runs");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{said}");
    String::from_utf8(output.stdout).expect("text")
}

/// Every kind of comparison of the samples, as JSON.
pub fn kinds(dir: &Path) -> Vec<(&'static str, Value)> {
    let clean = sample("clean-raise/track.csv.gz");
    let drift = sample("plane-drift/track.json.gz");
    let front = sample("front-view/track.json.gz");
    let markers = sample("markers/track.trc.gz");
    let review = review_to(
        &dir.join("drift"),
        "plane-drift/track.json.gz",
        "scapular-raise",
    );
    let raise = ["--exercise", "scapular-raise", "--json", "-"];
    let json = |args: &[&str]| {
        let all: Vec<&str> = args.iter().chain(&raise).copied().collect();
        serde_json::from_str(&compared(&all)).expect("JSON")
    };
    vec![
        ("two clips", json(&[&clean, &drift, "--side", "right"])),
        (
            "review and clip",
            json(&[&review, &clean, "--side", "right"]),
        ),
        ("unlike views", json(&[&drift, &front, "--side", "right"])),
        ("one clip of a hanging left arm", json(&[&front])),
        ("markers", json(&[&markers, &drift, "--side", "right"])),
        (
            "an arm that hung",
            json(&[&drift, &clean, "--side", "right", "--side-b", "left"]),
        ),
    ]
}

#[test]
fn every_comparison_follows_the_schema_and_a_damaged_one_does_not() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let printed = program()
        .args(["schema", "compare"])
        .output()
        .expect("the program runs");
    let schema: Value = serde_json::from_slice(&printed.stdout).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a valid schema");
    let kinds = kinds(dir.path());
    let mut verdicts = 0;
    for (name, value) in &kinds {
        let errors: Vec<String> = validator
            .iter_errors(value)
            .map(|error| format!("{error} at {}", error.instance_path()))
            .collect();
        assert!(errors.is_empty(), "{name}: {errors:?}");
        let rows = value["measures"].as_array().expect("rows");
        verdicts += rows.len();
        for row in rows {
            for (key, low, high) in [("a", "low", "high"), ("b", "low", "high")] {
                let side = &row[key];
                if let (Some(v), Some(l), Some(h)) = (
                    side["value"].as_f64(),
                    side[low].as_f64(),
                    side[high].as_f64(),
                ) {
                    assert!(l <= v && v <= h, "{name}: {row}");
                }
            }
        }
    }
    assert!(verdicts > 80, "{verdicts} rows");
    // A judgement without a difference, a value without an interval, and a third verdict are no comparison.
    type Damage = fn(&mut Value);
    let damages: [Damage; 4] = [
        |v| v["measures"][0]["verdict"] = "better".into(),
        |v| v["measures"][0]["a"]["why"] = serde_json::json!({"code": "x", "text": "x"}),
        |v| {
            v["measures"][0]["a"]
                .as_object_mut()
                .expect("a side")
                .remove("low");
        },
        |v| v["format"] = "scaplane.compare/9".into(),
    ];
    for damage in damages {
        let mut value = kinds[0].1.clone();
        assert!(value["measures"][0]["a"]["value"].is_f64());
        damage(&mut value);
        assert!(!validator.is_valid(&value), "{value:#}");
    }
}

#[test]
fn a_review_and_its_clip_compare_alike() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let clean = sample("clean-raise/track.csv.gz");
    let drift = sample("plane-drift/track.json.gz");
    let review = review_to(
        &dir.path().join("drift"),
        "plane-drift/track.json.gz",
        "scapular-raise",
    );
    let folder = dir.path().join("drift").display().to_string();
    let json = |a: &str| -> Value {
        let common = [
            "--exercise",
            "scapular-raise",
            "--side",
            "right",
            "--json",
            "-",
        ];
        let all: Vec<&str> = [a, &clean].into_iter().chain(common).collect();
        serde_json::from_str(&compared(&all)).expect("JSON")
    };
    let (of_clip, of_review) = (json(&drift), json(&review));
    assert_eq!(of_review, json(&folder), "the folder of a review");
    assert_eq!(of_review["a"]["given_as"], "review");
    let mut alike = 0;
    let rows = |value: &Value| value["measures"].as_array().expect("rows").clone();
    for (one, other) in rows(&of_clip).iter().zip(&rows(&of_review)) {
        assert_eq!(one["verdict"], other["verdict"]);
        if let (Some(x), Some(y)) = (
            one["difference"]["low"].as_f64(),
            other["difference"]["low"].as_f64(),
        ) {
            assert!((x - y).abs() < 2e-3, "{one}\n{other}");
            alike += 1;
        }
    }
    assert!(alike > 5, "{alike} differences");
}

#[test]
fn the_summary_is_80_columns_wide_and_says_what_the_reference_is_worth() {
    let clean = sample("clean-raise/track.csv.gz");
    let drift = sample("plane-drift/track.json.gz");
    let press = sample("flared-elbow/track");
    let arms = compared(&[&press, "--exercise", "wall-press"]);
    let days = compared(&[
        &clean,
        &drift,
        "--exercise",
        "scapular-raise",
        "--side",
        "right",
        "--name-a",
        "week 12",
        "--name-b",
        "week 16",
    ]);
    for text in [&arms, &days] {
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
        for word in ["Cannot tell", "no diagnosis", "error of the measure"] {
            assert!(text.contains(word), "no `{word}` in {text}");
        }
        assert!(!text.contains("NaN") && !text.contains('\u{1b}'));
    }
    assert!(arms.contains("imperfect reference"));
    assert!(arms.contains("A: left arm") && arms.contains("B: right arm"));
    assert!(days.contains("week 12") && days.contains("Week 16 minus week 12"));
}

/// Options of a clip hold for the clip, and it is said that the review stays as it is.
#[test]
fn options_beside_a_review_are_said_to_hold_for_the_clip_only() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let review = review_to(dir.path(), "plane-drift/track.json.gz", "scapular-raise");
    let clip = sample("clean-raise/track.csv.gz");
    for (a, b, words) in [
        (
            &review,
            &clip,
            "--cutoff: for the clip B only; A stays as it was reviewed before.",
        ),
        (
            &clip,
            &review,
            "--cutoff: for the clip A only; B stays as it was reviewed before.",
        ),
    ] {
        let common = [a.as_str(), b, "--side", "right", "--cutoff", "5"];
        let json: Value =
            serde_json::from_str(&compared(&[&common[..], &["--json", "-"]].concat()))
                .expect("JSON");
        let notes = json["notes"].as_array().expect("notes");
        let note = notes.iter().find(|note| note["code"] == "compare/one-clip");
        assert_eq!(note.expect("it is noted")["text"], words);
        let shown = compared(&common).replace('\n', " ").replace("  ", " ");
        assert!(shown.contains(words), "{shown}");
    }
    let plain = compared(&[&review, &clip, "--side", "right", "--json", "-"]);
    assert!(!plain.contains("compare/one-clip"));
}

/// `review --side both` puts the other arm's means beside each arm's readings.
#[test]
fn a_review_of_both_arms_holds_the_other_one() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let output = program()
        .args(["--quiet", "review", &sample("clean-raise/track.csv.gz")])
        .args(["--exercise", "scapular-raise", "--side", "both", "--out"])
        .arg(dir.path())
        .output()
        .expect("the program runs");
    assert!(output.status.success());
    let read = |side: &str| -> Value {
        let path: PathBuf = dir.path().join(side).join("review.json");
        serde_json::from_slice(&std::fs::read(path).expect("a review")).expect("JSON")
    };
    let (left, right) = (read("left"), read("right"));
    let other = &left["compare"]["other_side"]["peak-elevation"];
    let values: Vec<f64> = right["reps"]
        .as_array()
        .expect("repetitions")
        .iter()
        .filter(|rep| rep["complete"] == true)
        .filter_map(|rep| rep["readings"]["peak-elevation"]["value"].as_f64())
        .collect();
    assert!(values.len() > 2);
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    assert!((other["value"].as_f64().expect("a value") - mean).abs() < 1e-3);
    let validator = jsonschema::validator_for(&scaplane::report::json::schema()).expect("a schema");
    assert!(validator.is_valid(&left) && validator.is_valid(&right));
}
