//! `scaplane convert --to fhir` as a user runs it. Whether a bundle follows R4 is asked of HL7's own definitions by
//! `scripts/fhir-test`; here it is what stands in it.

use crate::support::{MODELS, recipe, run};
use scaplane::fhir::{Subject, bundle};
use scaplane::simulate::{Exercise, Format, Noise};
use serde_json::Value;
use std::process::{Command, Output};

fn observation<'a>(bundle: &'a Value, words: &str) -> &'a Value {
    let mut entries = bundle["entry"].as_array().expect("entries").iter();
    let found = entries.find(|entry| {
        let text = entry["resource"]["code"]["text"].as_str();
        text.is_some_and(|text| text.contains(words))
    });
    &found.unwrap_or_else(|| panic!("no observation of {words}"))["resource"]
}

#[test]
fn a_bundle_holds_each_measure_with_its_interval_limits_and_repetitions() {
    let recipe = recipe(Exercise::ScapularRaise, "front", 7, 4, Noise::typical());
    let (_, session) = run(&recipe, Format::Coco17Annotations);
    let subject = Subject {
        pseudonym: "P7",
        date: Some("2026-03-14".parse().expect("a day")),
    };
    let one = bundle(&session, &subject, &MODELS);
    assert_eq!(
        one,
        bundle(&session, &subject, &MODELS),
        "the same every time"
    );
    let text = one.to_string();
    assert!(!text.contains("NaN") && !text.contains("null"), "{text}");

    let peak = observation(&one, "(peak-elevation)");
    assert_eq!(peak["status"], "preliminary");
    assert_eq!(peak["effectiveDateTime"], "2026-03-14");
    assert_eq!(peak["valueQuantity"]["code"], "deg");
    assert_eq!(peak["referenceRange"][0]["low"]["value"], 120.0);
    let parts = peak["component"].as_array().expect("components");
    let part = |words: &str| {
        let mut parts = parts.iter();
        let found = parts.find(|part| {
            part["code"]["text"]
                .as_str()
                .is_some_and(|t| t.contains(words))
        });
        found.map_or(f64::NAN, |part| {
            part["valueQuantity"]["value"].as_f64().unwrap_or(f64::NAN)
        })
    };
    let value = peak["valueQuantity"]["value"].as_f64().expect("a number");
    assert!(part("lower end") < value && value < part("upper end"));
    let mean = (1..=4)
        .map(|n| part(&format!("Repetition {n}")))
        .sum::<f64>()
        / 4.0;
    assert!((mean - value).abs() < 1e-3, "{mean} {value}");

    // From the front one picture cannot tell the plane: no number, the reason in HL7's and in our words.
    let plane = observation(&one, "(plane-deviation)");
    assert!(plane.get("valueQuantity").is_none());
    assert_eq!(plane["dataAbsentReason"]["coding"][0]["code"], "unknown");
    assert!(
        plane["dataAbsentReason"]["text"]
            .as_str()
            .is_some_and(|t| t.contains("view"))
    );

    let other = Subject {
        pseudonym: "P8",
        ..subject
    };
    let ids = |bundle: &Value| -> Vec<String> {
        let entries = bundle["entry"].as_array().expect("entries").iter();
        entries.map(|entry| entry["fullUrl"].to_string()).collect()
    };
    let theirs = ids(&bundle(&session, &other, &MODELS));
    assert!(
        ids(&one).iter().all(|id| !theirs.contains(id)),
        "two people share an id"
    );
}

fn program(args: &[&str]) -> Output {
    Command::new(assert_cmd::cargo::cargo_bin!("scaplane"))
        .arg("convert")
        .args(args)
        .output()
        .expect("the program runs")
}

#[test]
fn what_cannot_become_a_bundle_is_refused_with_words() {
    let sample = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/sample-keypoints/front-view/track.json.gz"
    );
    let dir = tempfile::tempdir().expect("a temporary folder");
    let review = Command::new(assert_cmd::cargo::cargo_bin!("scaplane"))
        .args([
            "--quiet",
            "review",
            sample,
            "--exercise",
            "scapular-raise",
            "--out",
        ])
        .arg(dir.path())
        .output()
        .expect("the program runs");
    assert!(review.status.success());
    let path = dir.path().join("review.json").display().to_string();
    for (args, words) in [
        (
            vec![sample, "--to", "fhir", "--pseudonym", "P"],
            "is no review",
        ),
        (vec![&path, "--to", "fhir"], "--pseudonym"),
        (
            vec![&path, "--to", "fhir", "--pseudonym", "P", "--date", "14.3."],
            "2026-03-14",
        ),
        (vec![&path, "--to", "hl7"], "fhir"),
    ] {
        let output = program(&args);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains(words), "no `{words}` in {said}");
    }
    let good = program(&[&path, "--to", "fhir", "--pseudonym", "P"]);
    assert!(good.status.success());
    let bundle: Value = serde_json::from_slice(&good.stdout).expect("JSON");
    assert_eq!(bundle["type"], "collection");
    assert!(
        observation(&bundle, "Repetitions")
            .get("effectiveDateTime")
            .is_none()
    );
}
