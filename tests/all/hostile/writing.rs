//! Writing where it cannot be finished: a full disk, a folder that is closed, a process that is killed.

use super::{finished, program, project, review};
use std::collections::BTreeMap;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// A sample whose review takes little time.
fn clip() -> PathBuf {
    project("sample-keypoints/front-view/track.json.gz")
}

/// Files of a folder and their bytes.
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|entry| {
            let bytes = fs::read(entry.path()).unwrap_or_default();
            (entry.file_name().to_string_lossy().into_owned(), bytes)
        })
        .collect()
}

/// The reports as they should be.
fn reference(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let run = finished(&mut review(&clip(), folder));
    assert!(run.status.success(), "{run:?}");
    let reports = contents(folder);
    assert!(reports.len() >= 3, "{:?}", reports.keys());
    reports
}

/// A small disk that is gone when dropped; none if this user may not mount one.
struct Disk(tempfile::TempDir);

impl Disk {
    fn of(kilobytes: u32, more: &str) -> Option<Disk> {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let mounted = Command::new("mount")
            .args([
                "-t",
                "tmpfs",
                "-o",
                &format!("size={kilobytes}k{more}"),
                "tmpfs",
            ])
            .arg(folder.path())
            .stderr(Stdio::null())
            .status();
        mounted
            .is_ok_and(|status| status.success())
            .then_some(Disk(folder))
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.0.path()).status();
    }
}

fn is_write_fault(run: &std::process::Output) {
    let message = String::from_utf8_lossy(&run.stderr);
    assert_eq!(run.status.code(), Some(1), "{message}");
    assert!(message.starts_with("error[write/io]: "), "{message}");
    assert!(
        message.contains("\n   at ") && message.contains("\n   try "),
        "{message}"
    );
    assert!(!message.contains("panicked"), "{message}");
}

#[test]
fn a_full_disk_leaves_the_folder_as_it_was() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let whole = reference(&folder.path().join("whole"));
    let total: usize = whole.values().map(Vec::len).sum();
    let largest = whole.values().map(Vec::len).max().unwrap_or_default();
    let mut ran = Vec::new();
    // Sizes at which the first, a middle and the last report no longer fit.
    for share in [0.05, 0.5, 0.8, 0.95] {
        let size = (share * total as f64 / 1024.0) as u32;
        let Some(disk) = Disk::of(size.max(8), "") else {
            break;
        };
        let earlier = disk.0.path().join("review.json");
        fs::write(&earlier, "{}").expect("it fits");
        let run = finished(&mut review(&clip(), disk.0.path()));
        is_write_fault(&run);
        let left = contents(disk.0.path());
        assert_eq!(left.len(), 1, "{share}: {:?}", left.keys());
        assert_eq!(left["review.json"], b"{}", "{share}");
        let mut convert = Command::new(program());
        convert
            .arg("convert")
            .arg(project("sample-keypoints/plane-drift/track.json.gz"));
        let target = disk.0.path().join("track.csv");
        let run = finished(convert.args(["--to", "tidy-3d", "--out"]).arg(&target));
        is_write_fault(&run);
        assert_eq!(
            contents(disk.0.path()).len(),
            1,
            "{share}: convert left something"
        );
        ran.push(format!("a disk of {size} kB"));
    }
    // A limit on the length of files, which needs no rights; its signal is ignored, so that the call fails.
    for share in [0.0, 0.5, 0.99] {
        let blocks = (share * largest as f64 / 512.0) as usize;
        let out = folder.path().join("limited");
        fs::create_dir_all(&out).expect("a folder");
        fs::write(out.join("review.json"), "{}").expect("an earlier report");
        let usual = review(&clip(), &out);
        let mut limited = Command::new("sh");
        limited
            .args([
                "-c",
                "trap '' XFSZ; ulimit -f \"$1\"; shift; exec \"$@\"",
                "sh",
            ])
            .arg(blocks.to_string())
            .arg(program())
            .args(usual.get_args());
        let run = finished(&mut limited);
        is_write_fault(&run);
        let left = contents(&out);
        assert_eq!(left.len(), 1, "{:?}", left.keys());
        assert_eq!(left["review.json"], b"{}");
        ran.push(format!("a limit of {blocks} blocks"));
    }
    println!("{} runs: {}", ran.len(), ran.join(", "));
    assert!(ran.len() >= 3);
}

#[test]
fn standard_output_that_is_full_is_told() {
    if !Path::new("/dev/full").exists() {
        println!("this system has no /dev/full: 0 cases ran");
        return;
    }
    let commands: [&[&str]; 3] = [
        &["exercises"],
        &["convert", "--to", "tidy-2d"],
        &["review", "--exercise", "scapular-raise", "--json", "-"],
    ];
    for arguments in commands {
        let full = fs::OpenOptions::new()
            .write(true)
            .open("/dev/full")
            .expect("/dev/full");
        let mut command = Command::new(program());
        command
            .args(arguments)
            .arg("--quiet")
            .stdout(Stdio::from(full))
            .stderr(Stdio::piped());
        if arguments.len() > 1 {
            command.arg(clip());
        }
        let run = command.output().expect("it runs");
        is_write_fault(&run);
    }
    println!("{} commands", commands.len());
}

#[test]
fn a_folder_that_is_closed_is_told() {
    let mut ran = Vec::new();
    if let Some(disk) = Disk::of(4096, ",ro") {
        for out in [disk.0.path().to_path_buf(), disk.0.path().join("below")] {
            is_write_fault(&finished(&mut review(&clip(), &out)));
            ran.push("a disk that is only read");
        }
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("closed");
    fs::create_dir(&out).expect("a folder");
    fs::write(out.join("review.html"), "earlier").expect("an earlier report");
    fs::set_permissions(&out, fs::Permissions::from_mode(0o555)).expect("mine");
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o755)).expect("mine");
    let usual = review(&folder.path().join("track.json.gz"), &out);
    fs::copy(clip(), folder.path().join("track.json.gz")).expect("a copy");
    // Rights do not bind the administrator: then another user runs a copy of the program.
    let mut command = match fs::write(out.join("probe"), "") {
        Ok(()) => {
            fs::remove_file(out.join("probe")).expect("mine");
            let copy = folder.path().join("scaplane");
            fs::copy(program(), &copy).expect("a copy");
            fs::set_permissions(&copy, fs::Permissions::from_mode(0o755)).expect("mine");
            ran.push("a closed folder, as another user");
            let mut command = Command::new("setpriv");
            command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]);
            command.arg(&copy).args(usual.get_args());
            command
        }
        Err(_) => {
            ran.push("a closed folder");
            usual
        }
    };
    is_write_fault(&finished(&mut command));
    assert_eq!(contents(&out).len(), 1, "something was left");
    // A file where the folder should be, and a folder where a report should be.
    let file = folder.path().join("a-file");
    fs::write(&file, "").expect("a file");
    is_write_fault(&finished(&mut review(&clip(), &file)));
    let taken = folder.path().join("taken");
    fs::create_dir_all(taken.join("reps.csv/inner")).expect("folders");
    is_write_fault(&finished(&mut review(&clip(), &taken)));
    assert_eq!(contents(&taken).len(), 1, "a report was written beside it");
    ran.extend(["a file as folder", "a folder as report"]);
    println!("{} cases: {}", ran.len(), ran.join(", "));
}

/// Kills of a process that writes.
const KILLS: usize = 30;

#[test]
fn a_killed_process_leaves_whole_reports_or_none() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let started = Instant::now();
    let whole = reference(&folder.path().join("whole"));
    let usual = started.elapsed();
    let out = folder.path().join("out");
    let (mut before, mut during, mut after, mut left_behind) = (0, 0, 0, 0);
    for kill in 0..KILLS {
        // Every third folder holds an earlier run's reports, which must not stand beside new ones.
        let earlier = kill % 3 == 0;
        fs::create_dir_all(&out).expect("a folder");
        for name in whole.keys().filter(|_| earlier) {
            fs::write(out.join(name), "earlier").expect("an earlier report");
        }
        let mut child = review(&clip(), &out)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("it starts");
        if kill % 2 == 0 {
            // At some moment of the usual time, the later half of which is where it writes.
            let share = 0.4 + 0.7 * (kill as f64 / KILLS as f64);
            std::thread::sleep(usual.mul_f64(share));
        } else {
            // Soon after it began to write.
            let fresh = |folder: &Path| {
                contents(folder)
                    .keys()
                    .any(|name| name.starts_with(".scaplane-"))
            };
            while !fresh(&out) && child.try_wait().expect("it can be asked").is_none() {
                std::thread::sleep(Duration::from_micros(200));
            }
            std::thread::sleep(Duration::from_micros(700 * kill as u64));
        }
        let _ = child.kill();
        child.wait().expect("it ended");
        let left = contents(&out);
        let reports: Vec<_> = left
            .iter()
            .filter(|(name, _)| whole.contains_key(*name))
            .collect();
        let new = reports
            .iter()
            .filter(|(name, bytes)| whole[*name] == **bytes)
            .count();
        let old = reports
            .iter()
            .filter(|(_, bytes)| bytes.as_slice() == b"earlier")
            .count();
        assert_eq!(
            new + old,
            reports.len(),
            "kill {kill}: a report is half written"
        );
        assert!(
            new == 0 || old == 0,
            "kill {kill}: reports of two runs stand beside each other"
        );
        let temporary = |name: &String| name.starts_with(".scaplane-") && name.ends_with(".tmp");
        let stray: Vec<&String> = left
            .keys()
            .filter(|name| !whole.contains_key(*name))
            .collect();
        assert!(
            stray.iter().all(|name| temporary(name)),
            "kill {kill}: {stray:?}"
        );
        left_behind += usize::from(!stray.is_empty());
        match (stray.is_empty(), new) {
            (true, 0) => before += 1,
            (true, count) if count == whole.len() => after += 1,
            _ => during += 1,
        }
        // A later run writes whatever is there, and takes away what is old enough to be nobody's.
        if !stray.is_empty() {
            let old = std::time::SystemTime::now() - Duration::from_secs(2 * 3600);
            for name in &stray {
                let file = fs::File::options()
                    .write(true)
                    .open(out.join(name))
                    .expect("it is mine");
                file.set_modified(old).expect("its age");
            }
            assert!(finished(&mut review(&clip(), &out)).status.success());
            assert_eq!(contents(&out), whole, "kill {kill}: after a later run");
        }
        fs::remove_dir_all(&out).expect("mine");
    }
    println!(
        "{KILLS} kills: {before} before writing, {during} while writing, {after} after; {left_behind} left temporary files"
    );
    assert!(during > 0, "no kill met the writing");
}
