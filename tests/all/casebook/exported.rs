//! The export read back: tables and JSON hold what was added.

use super::{Desk, REVIEW, answer};
use serde_json::Value;
use std::process::Command;

#[test]
fn tables_and_json_hold_everything() {
    let desk = Desk::new();
    for number in 0..3 {
        let mut add = desk.command("add");
        add.arg(desk.review(number))
            .args(["--date", &format!("2026-03-{:02}", number + 1)])
            .args(["--person", ["=HYPERLINK(0)", "wren-1"][number % 2]])
            .args(["--remark", "-2+3", "--load-kg", "1.25"]);
        answer(add);
    }
    let mut export = desk.command("export");
    export.arg("--out").arg(desk.path("out"));
    assert_eq!(answer(export), "3 sessions exported\n");
    let table = |name: &str| -> Vec<csv::StringRecord> {
        let mut table = csv::ReaderBuilder::new()
            .has_headers(false)
            .from_path(desk.path("out").join(name))
            .expect("a table");
        table.records().map(|row| row.expect("a row")).collect()
    };
    let schema = Command::new(assert_cmd::cargo::cargo_bin!("scaplane"))
        .args(["schema", "casebook"])
        .output()
        .expect("the program runs");
    let schema: Value = serde_json::from_slice(&schema.stdout).expect("JSON");
    for (place, name) in ["sessions.csv", "readings.csv"].iter().enumerate() {
        let rows = table(name);
        let fields = schema["resources"][place]["schema"]["fields"]
            .as_array()
            .expect("fields");
        let names: Vec<&str> = fields
            .iter()
            .map(|field| field["name"].as_str().expect("a name"))
            .collect();
        assert_eq!(
            rows[0].iter().collect::<Vec<_>>(),
            names,
            "{name} is as its schema says"
        );
        for row in &rows[1..] {
            for cell in row {
                let formula = cell.starts_with(['=', '+', '@'])
                    || (cell.starts_with('-') && cell.parse::<f64>().is_err());
                assert!(!formula, "{name}: {cell} would be a formula");
            }
        }
    }
    let sessions = table("sessions.csv");
    assert_eq!(sessions.len(), 4);
    assert!(
        sessions
            .iter()
            .any(|row| &row[1] == "'=HYPERLINK(0)" && &row[8] == "1.25" && &row[15] == "'-2+3")
    );
    let readings = table("readings.csv");
    let each: usize = REVIEW.reps.iter().map(|rep| rep.readings.len()).sum();
    assert_eq!(readings.len(), 1 + 3 * each);
    // A number in the table is the number of the result, to the last digit.
    let review: Value =
        serde_json::from_str(&std::fs::read_to_string(desk.review(0)).expect("the review"))
            .expect("JSON");
    let mut compared = 0;
    for row in readings.iter().filter(|row| &row[0] == "1") {
        let rep = row[6].parse::<usize>().expect("a number") - 1;
        let reading = &review["reps"][rep]["readings"][&row[8]];
        assert_eq!(row[10].parse::<f64>().ok(), reading["value"].as_f64());
        assert_eq!(row[11].parse::<f64>().ok(), reading["low"].as_f64());
        compared += 1;
    }
    assert_eq!(compared, each);

    let all: Value = serde_json::from_str(
        &std::fs::read_to_string(desk.path("out/casebook.json")).expect("the export"),
    )
    .expect("JSON");
    assert_eq!(all["format"], "scaplane.casebook/1");
    let people = all["people"].as_array().expect("people");
    assert_eq!(people.len(), 2);
    let first = &people[0]["sessions"][0];
    assert_eq!(people[0]["pseudonym"], "=HYPERLINK(0)");
    assert_eq!(first["review"], review, "the whole result is there");
    // One person alone.
    let mut export = desk.command("export");
    export
        .arg("--out")
        .arg(desk.path("one"))
        .args(["--person", "wren-1", "--to", "json"]);
    assert_eq!(answer(export), "1 session exported\n");
    assert!(!desk.path("one/sessions.csv").exists());
}

#[test]
fn a_bundle_a_session_says_what_was_entered() {
    let desk = Desk::new();
    let mut add = desk.command("add");
    add.arg(desk.review(0))
        .args(["--date", "2026-03-01", "--person", "wren-1"])
        .args(["--pain-after", "3"]);
    answer(add);
    let mut export = desk.command("export");
    export
        .arg("--out")
        .arg(desk.path("out"))
        .args(["--to", "fhir"]);
    assert_eq!(answer(export), "1 session exported\n");
    assert!(!desk.path("out/casebook.json").exists());
    let text = std::fs::read_to_string(desk.path("out/session-1.fhir.json")).expect("a bundle");
    let bundle: Value = serde_json::from_str(&text).expect("JSON");
    let resources: Vec<&Value> = bundle["entry"]
        .as_array()
        .expect("entries")
        .iter()
        .map(|entry| &entry["resource"])
        .collect();
    assert_eq!(resources[0]["identifier"][0]["value"], "wren-1");
    let pain: Vec<_> = resources
        .iter()
        .filter(|one| {
            one["code"]["text"]
                .as_str()
                .is_some_and(|text| text.to_lowercase().contains("pain"))
        })
        .filter_map(|one| one["valueQuantity"]["value"].as_f64())
        .collect();
    assert_eq!(pain, [3.0]);
    let observed = resources
        .iter()
        .filter(|one| one["resourceType"] == "Observation");
    for one in observed {
        assert_eq!(one["effectiveDateTime"], "2026-03-01");
    }
}
