//! `scaplane batch` as a user runs it: the program itself, on simulated clips.

mod interrupted;
mod planned;
mod read_back;
mod whole;

use crate::support::recipe;
use scaplane::simulate::{Exercise, Format, Noise, simulate};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Tables that every run writes, by whether their bytes must be the same in every run.
const TABLES: [&str; 5] = [
    "batch.csv",
    "reps.csv",
    "reps.parquet",
    "readings.parquet",
    "failures.csv",
];

/// A folder with clips, one of them broken, and a manifest that lists them.
struct Study {
    dir: tempfile::TempDir,
}

impl Study {
    /// So many good clips of a few distinct recordings, and one that cannot be read.
    fn new(clips: usize) -> Study {
        let dir = tempfile::tempdir().expect("a temporary folder");
        let kinds: Vec<Vec<u8>> = (1..=3)
            .map(|seed| {
                let recipe = recipe(
                    Exercise::ScapularRaise,
                    "oblique",
                    seed,
                    2,
                    Noise::default(),
                );
                let clip = simulate(&recipe).expect("a sound recipe");
                clip.bytes(Format::Coco17Annotations)
                    .expect("the clip can be written")
            })
            .collect();
        let mut manifest = String::from("clip,exercise,side,person,date\n");
        for number in 0..clips {
            let folder = dir.path().join(format!("clips/{number:03}"));
            std::fs::create_dir_all(&folder).expect("a folder");
            std::fs::write(folder.join("track.json"), &kinds[number % kinds.len()])
                .expect("a clip");
            let side = ["right", "left", "both"][number % 3];
            manifest.push_str(&format!(
                "clips/{number:03}/track.json,scapular-raise,{side},P{},2026-03-{:02}\n",
                number / 4,
                number % 28 + 1
            ));
        }
        std::fs::write(dir.path().join("clips/broken.json"), "{\"frames\": [").expect("a clip");
        manifest.push_str("clips/broken.json,scapular-raise,right,,\n");
        std::fs::write(dir.path().join("manifest.csv"), manifest).expect("a manifest");
        Study { dir }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// The command that does the manifest into a folder, without the pages that no table needs.
    fn command(&self, out: &str, more: &[&str]) -> Command {
        let mut command = program();
        command
            .arg("batch")
            .arg(self.path("manifest.csv"))
            .arg("--out")
            .arg(self.path(out))
            .args(["--quiet", "--reports", "csv"])
            .args(more);
        command
    }

    fn run(&self, out: &str, more: &[&str]) -> Output {
        self.command(out, more).output().expect("the program runs")
    }

    fn tables(&self, out: &str) -> BTreeMap<&'static str, Vec<u8>> {
        tables(&self.path(out))
    }
}

fn program() -> Command {
    Command::new(assert_cmd::cargo::cargo_bin!("scaplane"))
}

fn tables(out: &Path) -> BTreeMap<&'static str, Vec<u8>> {
    TABLES
        .iter()
        .map(|name| {
            let bytes = std::fs::read(out.join(name));
            (
                *name,
                bytes.unwrap_or_else(|error| panic!("{name}: {error}")),
            )
        })
        .collect()
}

fn rows(bytes: &[u8]) -> Vec<csv::StringRecord> {
    let mut table = csv::Reader::from_reader(bytes);
    table.records().map(|row| row.expect("a row")).collect()
}
