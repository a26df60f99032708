//! The numbers of the course: means, intervals, trends; SciPy's answers beside them.

use super::{Desk, REVIEW, answer};
use scaplane::reading::{Basis, Z_95};
use scaplane::session::{ReadingRow, Session};
use serde_json::Value;
use std::process::Command;

const MEASURE: &str = "peak-elevation";

/// The review with these values of a measure in its repetitions, each with a half-width.
fn with_values(number: usize, values: &[f64], half: f64) -> Session {
    let mut session = REVIEW.clone();
    session.clip.sha256 = format!("{number:064x}");
    let pattern = session.reps[0].clone();
    session.reps = values
        .iter()
        .zip(1..)
        .map(|(value, rep)| {
            let mut one = pattern.clone();
            one.number = rep;
            one.complete = true;
            one.readings.clear();
            let row = ReadingRow {
                value: Some(*value),
                low: Some(value - half),
                high: Some(value + half),
                unit: "deg".into(),
                basis: Some(Basis::Direct),
                observed: Some(1.0),
                random_sd: None,
                why: None,
            };
            one.readings.insert(MEASURE.into(), row);
            one
        })
        .collect();
    session
}

fn trend(desk: &Desk, person: &str) -> Value {
    let mut trend = desk.command("trend");
    trend.args(["--person", person, "--json", "-"]);
    serde_json::from_str(&answer(trend)).expect("JSON")
}

fn series(course: &Value) -> &Value {
    let all = course["series"].as_array().expect("a list");
    all.iter()
        .find(|one| one["measure"] == MEASURE)
        .expect("the measure")
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

/// Days since the first session and the mean of each.
const COURSE: [(u32, f64); 8] = [
    (1, 101.0),
    (4, 104.5),
    (9, 103.0),
    (11, 109.5),
    (17, 112.0),
    (20, 118.0),
    (25, 117.0),
    (31, 126.0),
];

#[test]
fn slope_and_interval_are_those_of_scipy() {
    let desk = Desk::new();
    for (place, (day, mean)) in COURSE.iter().enumerate() {
        let session = with_values(place, &[mean - 1.0, *mean, mean + 1.0], 2.0);
        let path = desk.write("one.json", &session);
        let out = desk.add(&path, "wren-1", &format!("2026-03-{day:02}"));
        assert!(out.status.success());
    }
    let course = trend(&desk, "wren-1");
    let found = series(&course)["trend"].clone();
    // scipy.stats.theilslopes(y, x, 0.95) of SciPy 1.17.1, x in weeks since the first day: slope, intercept, low, high.
    let stored = SCIPY;
    let scipy = scipy().unwrap_or(stored);
    for ((key, want), kept) in ["slope_per_week", "intercept", "low", "high"]
        .iter()
        .zip(scipy)
        .zip(stored)
    {
        let got = number(&found[*key]);
        assert!((got - want).abs() < 1e-4, "{key}: {got} is not {want}");
        assert!(
            (kept - want).abs() < 1e-9,
            "{key}: stored {kept}, now {want}"
        );
    }
    assert_eq!(found["direction"], "rises");
    assert_eq!(found["days"], 8);
    // Mann-Kendall: 26 of 28 pairs rise, S = 24; exact two-sided p from the counts of permutations by inversions: 70/8!.
    assert!(
        (number(&found["p"]) - 70.0 / 40_320.0).abs() < 1e-5,
        "{}",
        found["p"]
    );
    let said = found["text"].as_str().expect("a sentence");
    assert!(
        said.contains("rose by") && said.contains("over 8 days"),
        "{said}"
    );
}

/// Slope a week, intercept, lower and upper end.
const SCIPY: [f64; 4] = [
    5.804_166_666_666_667,
    99.970_833_333_333_33,
    4.038_461_538_461_539,
    7.875,
];

/// The same from SciPy itself, where SCAPLANE_PYTHON names a Python that has it.
fn scipy() -> Option<[f64; 4]> {
    let Some(python) = std::env::var_os("SCAPLANE_PYTHON") else {
        println!("SCAPLANE_PYTHON is not set: the stored answers of SciPy are used");
        return None;
    };
    let points: Vec<String> = COURSE
        .iter()
        .map(|(day, mean)| format!("({day}, {mean})"))
        .collect();
    let script = format!(
        "from scipy.stats import theilslopes\nc = [{}]\n\
         r = theilslopes([m for _, m in c], [(d - c[0][0]) / 7 for d, _ in c], 0.95)\n\
         print(r[0], r[1], r[2], r[3])",
        points.join(", ")
    );
    let run = Command::new(python)
        .args(["-c", &script])
        .output()
        .expect("Python runs");
    assert!(
        run.status.success(),
        "{}",
        String::from_utf8_lossy(&run.stderr)
    );
    let numbers: Vec<f64> = String::from_utf8_lossy(&run.stdout)
        .split_whitespace()
        .map(|text| text.parse().expect("a number"))
        .collect();
    Some([numbers[0], numbers[1], numbers[2], numbers[3]])
}

#[test]
fn the_scatter_shrinks_with_repetitions_and_the_systematic_part_does_not() {
    let half = 4.0;
    let mut widths = Vec::new();
    for count in [3_usize, 12, 48] {
        let desk = Desk::new();
        let values: Vec<f64> = (0..count).map(|k| 120.0 + (k % 3) as f64).collect();
        let mut session = with_values(1, &values, half);
        let rows = session
            .reps
            .iter_mut()
            .flat_map(|rep| rep.readings.values_mut());
        rows.for_each(|row| row.random_sd = Some(0.5));
        let path = desk.write("one.json", &session);
        assert!(desk.add(&path, "wren-1", "2026-03-01").status.success());
        let course = trend(&desk, "wren-1");
        let point = &series(&course)["points"][0];
        assert!((number(&point["value"]) - 121.0).abs() < 1e-9);
        widths.push((number(&point["high"]) - number(&point["low"])) / 2.0);
    }
    // Half-width 4 less the random part 1.96 x 0.5 is 3.878; it is the floor.
    let floor = (half * half - (Z_95 * 0.5_f64).powi(2)).sqrt();
    assert!(widths[0] > widths[1] && widths[1] > widths[2], "{widths:?}");
    assert!(
        widths.iter().all(|width| *width >= floor - 1e-3),
        "{widths:?}"
    );
    assert!(widths[2] < floor * 1.01, "{widths:?}");
    // With 3: s = 1, t(0.975, 2) = 4.3027, so the scatter is 2.4841.
    assert!((widths[0] - floor.hypot(2.4841)).abs() < 1e-3, "{widths:?}");
}

#[test]
fn four_days_claim_nothing_and_another_evidence_is_not_compared() {
    let desk = Desk::new();
    for day in 1..=4 {
        let session = with_values(day, &[100.0 + 5.0 * day as f64; 3], 1.0);
        let path = desk.write("one.json", &session);
        assert!(
            desk.add(&path, "wren-1", &format!("2026-03-{day:02}"))
                .status
                .success()
        );
    }
    let course = trend(&desk, "wren-1");
    assert_eq!(series(&course)["trend"]["direction"], "not-claimed");
    assert!(series(&course)["trend"]["slope_per_week"].is_null());
    // A second session of a day is no further day.
    let path = desk.write("one.json", &with_values(9, &[130.0; 3], 1.0));
    assert!(desk.add(&path, "wren-1", "2026-03-04").status.success());
    assert_eq!(
        series(&trend(&desk, "wren-1"))["trend"]["direction"],
        "not-claimed"
    );
    for day in 5..=7 {
        let mut session = with_values(day, &[100.0 + 5.0 * day as f64; 3], 1.0);
        session.clip.view = None;
        let path = desk.write("one.json", &session);
        assert!(
            desk.add(&path, "wren-1", &format!("2026-03-{day:02}"))
                .status
                .success()
        );
    }
    let course = trend(&desk, "wren-1");
    assert_eq!(series(&course)["trend"]["direction"], "rises");
    assert_eq!(course["changes"][0]["what"], "view");
    let mut session = with_values(8, &[140.0; 3], 1.0);
    for rep in &mut session.reps {
        for row in rep.readings.values_mut() {
            row.basis = Some(Basis::Proxy);
        }
    }
    let path = desk.write("one.json", &session);
    assert!(desk.add(&path, "wren-1", "2026-03-08").status.success());
    let course = trend(&desk, "wren-1");
    assert_eq!(series(&course)["trend"]["direction"], "not-comparable");
}

#[test]
fn the_checklist_is_the_clinics() {
    let desk = Desk::new();
    for (number, side) in [(1, "right"), (2, "left")] {
        let mut session = with_values(number, &[125.0 + 20.0 * (number as f64 - 1.0); 8], 2.0);
        session.side = serde_json::from_value(side.into()).expect("a side");
        let path = desk.write("one.json", &session);
        assert!(desk.add(&path, "wren-1", "2026-03-01").status.success());
    }
    let state = |more: &[&str], id: &str| {
        let mut trend = desk.command("trend");
        trend
            .args(["--person", "wren-1", "--side", "right", "--json", "-"])
            .args(more);
        let course: Value = serde_json::from_str(&answer(trend)).expect("JSON");
        let all = course["checklist"].as_array().expect("a list").clone();
        let item = all.iter().find(|item| item["id"] == id).cloned();
        item.map(|item| item["state"].as_str().expect("text").to_string())
    };
    // 125 with an interval of 2 against at least 120, and 20 short of the other arm.
    assert_eq!(state(&[], "range-against-limit").as_deref(), Some("met"));
    assert_eq!(state(&[], "range-of-other-arm").as_deref(), Some("not-met"));
    // One repetition shows nothing of how repetitions differ.
    let path = desk.write("one.json", &with_values(3, &[150.0], 2.0));
    assert!(desk.add(&path, "wren-2", "2026-03-01").status.success());
    let mut single = desk.command("trend");
    single.args(["--person", "wren-2", "--json", "-"]);
    let course: Value = serde_json::from_str(&answer(single)).expect("JSON");
    let items = course["checklist"].as_array().expect("a list");
    let range = items
        .iter()
        .find(|item| item["id"] == "range-against-limit");
    assert_eq!(range.expect("it is there")["state"], "cannot-tell");
    // The clinic's own list.
    let models = desk.path("models");
    std::fs::create_dir(&models).expect("a folder");
    let own = "[[criterion]]\nid = \"own\"\ntitle = \"Close enough\"\nsource = \"common-practice\"\nnote = \"Ours.\"\n\
               test = { close-to-other-arm = { measure = \"peak-elevation\", short_by_at_most = 30, days = 1 } }\n";
    std::fs::write(models.join("progression.toml"), own).expect("a file");
    let folder = models.to_string_lossy().into_owned();
    let more = ["--models", folder.as_str()];
    assert_eq!(state(&more, "own").as_deref(), Some("met"));
    // 20 short, each mean within 2: between arms the errors may be opposite, so that 16 to 24 is as far as it is known.
    for (most, told) in [
        (25, "met"),
        (23, "cannot-tell"),
        (17, "cannot-tell"),
        (15, "not-met"),
    ] {
        let list = own.replace(
            "short_by_at_most = 30",
            &format!("short_by_at_most = {most}"),
        );
        std::fs::write(models.join("progression.toml"), list).expect("a file");
        assert_eq!(state(&more, "own").as_deref(), Some(told), "{most}");
    }
    std::fs::write(models.join("progression.toml"), own).expect("a file");
    assert_eq!(state(&more, "range-against-limit"), None);
    for (from, to) in [
        ("short_by_at_most = 30", "short_by_at_most = 999"),
        ("peak-elevation", "peak"),
        ("common-practice", "nobody"),
    ] {
        std::fs::write(models.join("progression.toml"), own.replace(from, to)).expect("a file");
        let mut trend = desk.command("trend");
        trend
            .args(["--person", "wren-1", "--side", "right"])
            .args(more);
        let out = super::output(trend);
        assert_eq!(out.status.code(), Some(2), "{to}");
        assert!(
            super::errors(&out).contains("progression.toml"),
            "{to}: {}",
            super::errors(&out)
        );
    }
}
