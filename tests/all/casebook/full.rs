//! A disk that is full, or read-only: a small file system in memory, which only root may mount.

use super::{Desk, answer, command, errors, output, whole};
use std::path::{Path, PathBuf};
use std::process::Command;

/// A mounted file system; taken away at the end.
struct Small(PathBuf);

impl Small {
    fn mount(at: &Path, size: &str) -> Option<Small> {
        std::fs::create_dir_all(at).expect("a folder");
        let run = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"])
            .arg(at)
            .output();
        match run {
            Ok(out) if out.status.success() => Some(Small(at.to_path_buf())),
            Ok(out) => {
                println!(
                    "no file system could be mounted ({}): 0 cases ran",
                    errors(&out).trim()
                );
                None
            }
            Err(error) => {
                println!("mount cannot be run ({error}): 0 cases ran");
                None
            }
        }
    }
}

impl Drop for Small {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).output();
    }
}

#[test]
fn a_full_disk_loses_nothing() {
    let desk = Desk::new();
    let small = desk.path("small");
    let Some(mounted) = Small::mount(&small, "1m") else {
        return;
    };
    let book = small.join("clinic.casebook");
    let add = |number: usize| {
        let mut add = command("add", &book);
        add.arg(desk.review(number))
            .args(["--person", "wren-1", "--date", "2026-03-14"]);
        output(add)
    };
    let mut there = 0;
    let refused = loop {
        let out = add(there);
        if !out.status.success() {
            break out;
        }
        there += 1;
        assert!(there < 1_000, "the disk is never full");
    };
    let said = errors(&refused);
    assert!(
        said.starts_with("error[casebook/disk-full]") && said.contains("try"),
        "{said}"
    );
    assert!(there > 0, "not one session had room");
    // What was reported is there. The check needs a little room for the readers' file.
    let ballast = small.join("ballast");
    assert_eq!(add(there).status.code(), Some(1), "it is still full");
    let kept = desk.path("kept.casebook");
    std::fs::copy(&book, &kept).expect("a copy");
    for end in ["-wal", "-shm"] {
        let from = small.join(format!("clinic.casebook{end}"));
        if from.exists() {
            std::fs::copy(from, desk.path(&format!("kept.casebook{end}"))).expect("a copy");
        }
    }
    assert_eq!(whole(&kept), there);
    assert!(!ballast.exists());
    // A copy has no room, and leaves no half of one.
    let mut backup = command("backup", &book);
    backup.arg("--to").arg(small.join("copy"));
    let said = errors(&output(backup));
    assert!(said.starts_with("error[casebook/disk-full]"), "{said}");
    let left: Vec<String> = std::fs::read_dir(&small)
        .expect("the folder")
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .filter(|name| !name.starts_with("clinic.casebook"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
    // With room the same command works.
    let more = Command::new("mount")
        .args(["-o", "remount,size=8m"])
        .arg(&small)
        .output()
        .expect("mount runs");
    assert!(more.status.success(), "{}", errors(&more));
    assert!(add(there).status.success());
    assert_eq!(whole(&book), there + 1);

    // Read-only: told, and nothing is changed.
    let fixed = Command::new("mount")
        .args(["-o", "remount,ro"])
        .arg(&small)
        .output()
        .expect("mount runs");
    assert!(fixed.status.success(), "{}", errors(&fixed));
    let before = std::fs::read(&book).expect("the book");
    let said = errors(&add(there + 1));
    assert!(said.starts_with("error[casebook/read-only]"), "{said}");
    assert_eq!(std::fs::read(&book).expect("the book"), before);
    let mut remove = command("remove", &book);
    remove.args(["--person", "wren-1", "--yes"]);
    let said = errors(&output(remove));
    assert!(said.starts_with("error[casebook/read-only]"), "{said}");
    // What only reads works, and a copy can be made.
    assert_eq!(whole(&book), there + 1);
    assert!(answer(command("list", &book)).contains("wren-1"));
    let mut trend = command("trend", &book);
    trend.args(["--person", "wren-1"]);
    assert!(answer(trend).contains("wren-1"));
    let mut backup = command("backup", &book);
    let copy = desk.path("copy.casebook");
    answer({
        backup.arg("--to").arg(&copy);
        backup
    });
    assert_eq!(whole(&copy), there + 1);
    assert_eq!(std::fs::read(&book).expect("the book"), before);
    // A book that was not closed: its last changes are not passed over.
    let remount = |how: &str| {
        let run = Command::new("mount")
            .args(["-o", &format!("remount,{how}")])
            .arg(&small)
            .output()
            .expect("mount runs");
        assert!(run.status.success(), "{}", errors(&run));
    };
    remount("rw");
    let log = small.join("clinic.casebook-wal");
    std::fs::write(&log, [1; 64]).expect("a log");
    let _ = std::fs::remove_file(small.join("clinic.casebook-shm"));
    remount("ro");
    for action in ["list", "check"] {
        let out = output(command(action, &book));
        let said = errors(&out);
        assert!(said.starts_with("error[casebook/read-only]"), "{said}");
        assert!(said.contains("log beside it"), "{said}");
    }
    assert_eq!(std::fs::read(&log).expect("the log"), [1; 64]);
    println!("{there} sessions had room on a disk of a megabyte");
    drop(mounted);
}
