//! A run that nothing disturbs: what it writes, what it says, and the shares of several machines.

use super::{Study, program, rows};
use std::fs::File;

#[test]
fn one_bad_clip_is_listed_and_the_others_are_done_in_order() {
    let study = Study::new(6);
    let output = study.run("out", &[]);
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(
        said.starts_with("7 clips: 6 reviewed, 0 unchanged, 1 failed\n"),
        "{said}"
    );
    let tables = study.tables("out");
    let failures = rows(&tables["failures.csv"]);
    assert_eq!(failures.len(), 1);
    assert_eq!(&failures[0][0], "7");
    assert_eq!(&failures[0][1], "clips/broken.json");
    assert!(
        failures[0].iter().all(|cell| !cell.is_empty()),
        "{:?}",
        failures[0]
    );
    let results = rows(&tables["batch.csv"]);
    // Clips 3 and 6 are measured on both sides.
    let numbers: Vec<&str> = results.iter().map(|row| &row[0]).collect();
    assert_eq!(numbers, ["1", "2", "3", "3", "4", "5", "6", "6"]);
    for row in &results {
        let folder = study.path("out").join(&row[6]);
        assert!(folder.join("review.json").is_file(), "{}", folder.display());
        assert!(folder.join("reps.csv").is_file() && !folder.join("review.html").exists());
    }
    let page = std::fs::read_to_string(study.path("out/summary.html")).expect("the page");
    for needle in [
        "Clips that could not be measured",
        "Side by side",
        "2026-03-02",
        "1 of 7 clips could not be measured",
    ] {
        assert!(page.contains(needle), "{needle}");
    }
    assert!(!page.contains("http://") && !page.contains("https://") && !page.contains("<script"));
}

#[test]
fn a_folder_gives_the_same_results_as_a_manifest_of_it() {
    let study = Study::new(2);
    let run = |name: &str, source: &str| {
        let output = program()
            .arg("batch")
            .arg(study.path(source))
            .arg("--out")
            .arg(study.path(name))
            .args([
                "--quiet",
                "--reports",
                "none",
                "--exercise",
                "scapular-raise",
                "--side",
                "right",
            ])
            .output()
            .expect("the program runs");
        assert_eq!(output.status.code(), Some(1), "{output:?}");
        rows(&study.tables(name)["reps.csv"])
    };
    std::fs::write(
        study.path("m.csv"),
        "clip\nclips/000/track.json\nclips/001/track.json\nclips/broken.json\n",
    )
    .expect("a manifest");
    let strip = |rows: Vec<csv::StringRecord>| -> Vec<Vec<String>> {
        rows.iter()
            .map(|row| row.iter().skip(4).map(String::from).collect())
            .collect()
    };
    let (folder, manifest) = (strip(run("a", "clips")), strip(run("b", "m.csv")));
    assert_eq!(folder.len(), 4);
    assert_eq!(folder, manifest);
}

/// A batch of one clip and both arms holds what a review of it holds, the other arm's means among it.
#[test]
fn both_arms_of_a_clip_are_as_in_a_review_of_it() {
    let study = Study::new(1);
    let clip = study.path("clips/000/track.json");
    let common = ["--exercise", "scapular-raise", "--side", "both", "--quiet"];
    let run = |command: &str, clip: &std::path::Path, out: &str| {
        let output = program()
            .arg(command)
            .arg(clip)
            .args(common)
            .arg("--out")
            .arg(study.path(out))
            .output()
            .expect("the program runs");
        assert!(output.status.success(), "{output:?}");
    };
    run("review", &clip, "alone");
    run("batch", &study.path("clips/000"), "batch");
    let results = rows(&study.tables("batch")["batch.csv"]);
    assert_eq!(results.len(), 2);
    for (row, side) in results.iter().zip(["left", "right"]) {
        let read =
            |path: std::path::PathBuf| std::fs::read(path.join("review.json")).expect("a review");
        let own = read(study.path("batch").join(&row[6]));
        assert_eq!(own, read(study.path("alone").join(side)), "{side}");
        let review: serde_json::Value = serde_json::from_slice(&own).expect("JSON");
        let other = &review["compare"]["other_side"];
        // The left arm rests: it has no mean that the right one could be held against.
        assert!(other.is_object(), "{side}");
        assert_eq!(other["peak-elevation"].is_object(), side == "left");
    }
}

#[test]
fn shares_together_are_the_whole() {
    let study = Study::new(8);
    study.run("whole", &[]);
    let whole = study.tables("whole");
    let mut parts: Vec<csv::StringRecord> = Vec::new();
    let mut failures = 0;
    for part in 1..=3 {
        let out = format!("part-{part}");
        study.run(&out, &["--shard", &format!("{part}/3")]);
        parts.extend(rows(&study.tables(&out)["reps.csv"]));
        failures += rows(&study.tables(&out)["failures.csv"]).len();
    }
    // Within a clip the order is that of its part.
    parts.sort_by_key(|row| row[0].parse::<u64>().expect("a number"));
    let whole = rows(&whole["reps.csv"]);
    // Two repetitions each of three clips of the right arm and two of both; the left arm rests.
    assert_eq!(whole.len(), 10);
    assert_eq!((parts, failures), (whole, 1));
}

#[test]
fn a_second_run_in_the_folder_is_refused_and_changes_nothing() {
    let study = Study::new(1);
    study.run("out", &[]);
    let before = study.tables("out");
    let lock = File::options()
        .write(true)
        .open(study.path("out/.batch.lock"))
        .expect("the lock file");
    lock.try_lock().expect("the first run has ended");
    let second = study.run("out", &[]);
    assert_eq!(second.status.code(), Some(1));
    let said = String::from_utf8_lossy(&second.stderr).into_owned();
    assert!(
        said.contains("error[batch/locked]") && said.contains("try "),
        "{said}"
    );
    assert_eq!(study.tables("out"), before);
}

#[test]
fn wrong_usage_is_told_before_any_work() {
    let study = Study::new(1);
    let fails = |arguments: &[&str], code: &str| {
        let mut command = program();
        command
            .args(arguments)
            .arg("--out")
            .arg(study.path("none"))
            .arg("--quiet");
        let output = command.output().expect("the program runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{arguments:?} {said}");
        assert!(said.contains(code), "{arguments:?} {said}");
    };
    let clips = study.path("clips").display().to_string();
    let manifest = study.path("manifest.csv").display().to_string();
    let track = study.path("clips/000/track.json").display().to_string();
    fails(&["batch", &clips], "batch/no-exercise");
    fails(
        &["batch", &clips, "--exercise", "jump"],
        "usage/unknown-exercise",
    );
    fails(
        &["batch", &manifest, "--reports", "video"],
        "usage/bad-value",
    );
    fails(&["batch", &manifest, "--shard", "4/3"], "2/8");
    fails(&["batch", &track], "batch/manifest");
}

#[test]
fn fail_on_outside_gives_its_own_status() {
    let study = Study::new(1);
    // A limit that nobody keeps: whatever the clip is, it is outside.
    let models = study.path("models/exercises");
    std::fs::create_dir_all(&models).expect("a folder");
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("models/exercises/scapular-raise.toml"))
        .expect("the file");
    let (head, tail) = text
        .split_once("measure = \"peak-elevation\"")
        .expect("a limit");
    let mut lines: Vec<String> = tail.lines().map(String::from).collect();
    let low = lines
        .iter_mut()
        .find(|line| line.starts_with("low"))
        .expect("a lower end");
    *low = "low_deg = 179.0".to_string();
    let changed = format!("{head}measure = \"peak-elevation\"{}", lines.join("\n"));
    std::fs::write(models.join("scapular-raise.toml"), changed).expect("the file");
    let models = study.path("models").display().to_string();
    let output = study.run("out", &["--fail-on", "outside", "--models", &models]);
    assert_eq!(output.status.code(), Some(3), "{output:?}");
}
