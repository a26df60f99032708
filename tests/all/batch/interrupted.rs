//! Runs that are killed at random moments, and resumed.

use super::Study;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};

/// Kills that must have hit a running process.
const KILLS: usize = 50;

/// Modification time of every record, to see which clips were done again.
fn records(out: &Path) -> Vec<(String, std::time::SystemTime)> {
    let entries = std::fs::read_dir(out.join("clips")).expect("the results");
    let mut all: Vec<_> = entries
        .map(|entry| entry.expect("an entry"))
        .map(|entry| {
            let record = entry.path().join("record.json");
            let at = std::fs::metadata(record).and_then(|meta| meta.modified());
            (
                entry.file_name().to_string_lossy().into_owned(),
                at.expect("a record"),
            )
        })
        .collect();
    all.sort();
    all
}

#[test]
fn kills_at_random_moments_leave_the_tables_of_an_undisturbed_run() {
    let study = Study::new(9);
    let begun = Instant::now();
    study.run("calm", &["--jobs", "2"]);
    let whole = begun.elapsed();
    let calm = study.tables("calm");

    let seed = 20_261_125;
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let (mut kills, mut rounds, mut starts) = (0, 0, 0);
    while kills < KILLS {
        rounds += 1;
        let out = format!("round-{rounds}");
        let mut resume: &[&str] = &["--jobs", "2"];
        loop {
            starts += 1;
            assert!(
                starts < 20 * KILLS,
                "hardly any kill hits a running process"
            );
            let mut child = study
                .command(&out, resume)
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .expect("the program starts");
            let wait = whole.mul_f64(random.random_range(0.0..1.1));
            std::thread::sleep(wait.max(Duration::from_millis(1)));
            let running = child.try_wait().expect("a state").is_none();
            child.kill().expect("it is ours");
            child.wait().expect("an end");
            kills += usize::from(running);
            resume = &["--jobs", "2", "--resume"];
            if !running || kills >= KILLS {
                break;
            }
        }
        study.run(&out, resume);
        assert_eq!(study.tables(&out), calm, "round {rounds}, seed {seed}");
        let left: Vec<_> = std::fs::read_dir(study.path(&out))
            .expect("the folder")
            .map(|entry| {
                entry
                    .expect("an entry")
                    .file_name()
                    .to_string_lossy()
                    .into_owned()
            })
            .filter(|name| !name.ends_with(".tmp"))
            .collect();
        assert_eq!(left.len(), super::TABLES.len() + 3, "{left:?}");
    }
    println!(
        "{kills} kills of running processes in {rounds} rounds of {starts} starts, seed {seed}"
    );
    assert!(kills >= KILLS);
}

#[test]
fn resume_does_only_what_changed() {
    let study = Study::new(3);
    study.run("out", &[]);
    let first = records(&study.path("out"));
    let again = |more: &[&str], unchanged: usize| {
        let mut arguments = vec!["--resume"];
        arguments.extend(more);
        let output = study.run("out", &arguments);
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        let wanted = format!(
            "4 clips: {} reviewed, {unchanged} unchanged, 1 failed",
            3 - unchanged
        );
        assert!(said.starts_with(&wanted), "{more:?}: {said}");
        records(&study.path("out"))
    };
    assert_eq!(again(&[], 3), first);
    // Other bytes.
    let path = study.path("clips/001/track.json");
    let text = std::fs::read_to_string(&path).expect("the clip");
    std::fs::write(&path, format!("{text}\n")).expect("the clip");
    let second = again(&[], 2);
    assert_eq!(first.iter().filter(|one| !second.contains(one)).count(), 1);
    // Another option.
    again(&["--cutoff", "5"], 0);
    again(&["--cutoff", "5"], 3);
    // A report that somebody took away.
    let folder = study.path("out/clips").join(&second[0].0);
    let gone = [folder.join("reps.csv"), folder.join("left/reps.csv")];
    let removed = gone
        .iter()
        .filter(|path| std::fs::remove_file(path).is_ok())
        .count();
    assert_eq!(removed, 1);
    again(&["--cutoff", "5"], 2);
    // A report of which a power cut left as many other bytes.
    let report = ["review.json", "left/review.json"].map(|name| folder.join(name));
    let report = report.iter().find(|path| path.exists()).expect("a report");
    let whole = std::fs::read(report).expect("the report");
    std::fs::write(report, vec![0; whole.len()]).expect("the report");
    again(&["--cutoff", "5"], 2);
    assert_eq!(std::fs::read(report).expect("the report"), whole);
}
