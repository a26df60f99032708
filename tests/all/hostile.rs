//! Hostile input and hostile surroundings: whatever a file, a folder or the system does, the program ends with
//! a result, or with one message that says what, where and what to do; it never panics, hangs, writes half a
//! report, or writes where an archive tells it to.
#![allow(clippy::result_large_err)] // as the library

mod archives;
mod bombs;
mod damage;
mod npz;
mod packed;
#[cfg(unix)]
mod paths;
mod values;
#[cfg(unix)]
mod writing;

use crate::support::MODELS;
use scaplane::note::{Fault, Place};
use scaplane::readers::{Opened, ReadOptions, Source, open_source};
use scaplane::track::PictureSize;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

/// A path below the project's folder.
fn project(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// The built program.
fn program() -> PathBuf {
    assert_cmd::cargo::cargo_bin("scaplane")
}

/// What is stated about every file here, so that none is refused for want of it.
fn options() -> ReadOptions {
    ReadOptions {
        fps: Some(30.0),
        size: Some(PictureSize {
            width: 1080.0,
            height: 1920.0,
        }),
        ..ReadOptions::default()
    }
}

fn read(name: &str, bytes: Vec<u8>) -> Result<Opened, Fault> {
    open_source(&Source::from_bytes(name, bytes), &options(), &MODELS)
}

/// What is wrong with a result, if anything is.
fn unsound(result: &Result<Opened, Fault>) -> Option<String> {
    match result {
        Ok(opened) => {
            let track = &opened.track;
            let times = track.timeline.times_s();
            let in_order = times.windows(2).all(|pair| pair[0] < pair[1]);
            let seen = track.picture.is_some() || track.space.is_some();
            (!in_order || !seen).then(|| "a track without order or points".to_string())
        }
        Err(fault) => {
            let text = fault.to_string();
            let whole = fault.place != Place::default()
                && fault.place.file.is_some()
                && fault.what.len() > 10
                && fault.remedy.len() > 5
                && text.len() < 2000
                && !text.chars().any(|c| c.is_control() && c != '\n');
            (!whole).then(|| format!("a message that does not help: {fault:?}"))
        }
    }
}

/// Longest time that a refusal may take, on a machine that is busy with other tests.
const PATIENCE: Duration = Duration::from_secs(240);

/// Runs a command to its end; one that hangs is stopped and fails the test.
fn finished(command: &mut Command) -> Output {
    let mut child = command
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let started = Instant::now();
    while child.try_wait().expect("it can be waited for").is_none() {
        if started.elapsed() > PATIENCE {
            child.kill().expect("it can be stopped");
            panic!("{command:?} hung");
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    child.wait_with_output().expect("its words")
}

/// `scaplane review` on a clip.
fn review(clip: &Path, out: &Path) -> Command {
    let mut command = Command::new(program());
    command.arg("review").arg(clip);
    command.args([
        "--exercise",
        "scapular-raise",
        "--fps",
        "30",
        "--quiet",
        "--out",
    ]);
    command.arg(out).env("RUST_BACKTRACE", "0");
    command
}

/// What is wrong with a refusal by the program, if anything is: it must be the one message of that code.
fn not_refused(run: &Output, code: &str) -> Option<String> {
    let message = String::from_utf8_lossy(&run.stderr);
    let good = run.status.code() == Some(1)
        && message.starts_with(&format!("error[{code}]: "))
        && message.matches("error[").count() == 1
        && message.contains("\n   at ")
        && message.contains("\n   try ")
        && !message.contains("panicked");
    (!good).then(|| format!("{:?}, not {code}: {message}", run.status))
}

/// Every file below a folder, sorted.
fn files_below(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        match path.is_dir() {
            true => found.extend(files_below(&path)),
            false => found.push(path),
        }
    }
    found.sort();
    found
}
