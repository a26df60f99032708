//! Paths that are no files: pipes, devices, loops, files that may not be read.

use super::packed::{frames, table};
use super::{finished, not_refused, program, review};
use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::Path;
use std::process::{Command, Stdio};

fn pipe(path: &Path) {
    let made = Command::new("mkfifo").arg(path).status().expect("mkfifo");
    assert!(made.success());
}

/// A folder of frames.
fn folder_of_frames() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, bytes) in frames(40, "") {
        fs::write(folder.path().join(name), bytes).expect("a frame");
    }
    folder
}

#[test]
fn what_is_no_file_is_refused_at_once() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    pipe(&at("pipe"));
    symlink(at("pipe"), at("to-pipe")).expect("a link");
    symlink(at("loop"), at("loop")).expect("a link");
    symlink(at("nothing"), at("dangling")).expect("a link");
    let _socket = std::os::unix::net::UnixListener::bind(at("socket")).expect("a socket");
    let long = folder.path().join("x".repeat(300));
    let cases = [
        (at("pipe"), "read/not-a-file"),
        (at("to-pipe"), "read/not-a-file"),
        (at("socket"), "read/not-a-file"),
        ("/dev/zero".into(), "read/not-a-file"),
        ("/dev/null".into(), "read/not-a-file"),
        (at("loop"), "read/io"),
        (at("dangling"), "read/io"),
        (at("nothing"), "read/io"),
        (at("pipe").join("below"), "read/io"),
        (long, "read/io"),
        (folder.path().into(), "read/folder"),
    ];
    for (path, code) in &cases {
        let out = at("out");
        let run = finished(&mut review(path, &out));
        assert_eq!(not_refused(&run, code), None, "{}", path.display());
        assert!(!out.exists());
    }
    println!("{} paths that are no files", cases.len());
}

#[test]
fn a_pipe_is_read_as_standard_input() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("pipe");
    pipe(&path);
    let table = table();
    let writer = {
        let (path, table) = (path.clone(), table.clone());
        std::thread::spawn(move || fs::write(path, table))
    };
    let input = fs::File::open(&path).expect("the other end");
    let run = Command::new(program())
        .args(["convert", "-", "--to", "tidy-2d", "--size", "1080x1920"])
        .stdin(Stdio::from(input))
        .output()
        .expect("it runs");
    writer.join().expect("a thread").expect("it was written");
    assert!(run.status.success(), "{run:?}");
    assert_eq!(run.stdout, table);
}

#[test]
fn odd_entries_of_a_folder_are_left_out_or_told() {
    // Folders, and loops of them, are left out with a note.
    let folder = folder_of_frames();
    symlink(folder.path(), folder.path().join("again")).expect("a link");
    symlink("..", folder.path().join("up.json")).expect("a link");
    fs::create_dir(folder.path().join("inner.json")).expect("a folder");
    fs::write(folder.path().join("notes.txt"), "as dictated").expect("notes");
    fs::write(folder.path().join("table.csv"), "a,b\n").expect("a table");
    let mut inspect = Command::new(program());
    let run = finished(
        inspect
            .arg("inspect")
            .arg(folder.path())
            .args(["--fps", "30"]),
    );
    let answer = String::from_utf8_lossy(&run.stdout);
    assert!(run.status.success(), "{run:?}");
    assert!(answer.contains("40, 40 with a person"), "{answer}");
    assert!(answer.contains("5 entries of another kind"), "{answer}");
    // A frame that cannot be read is told: without it the times would be wrong.
    let out = folder.path().join("out");
    type Spoil = fn(&Path);
    let spoil: [(&str, Spoil); 3] = [
        ("read/not-a-file", pipe),
        ("read/io", |path| symlink("nowhere", path).expect("a link")),
        ("read/io", |path| symlink(path, path).expect("a link")),
    ];
    for (code, spoil) in spoil {
        let folder = folder_of_frames();
        let path = folder.path().join("track_000000000007_keypoints.json");
        fs::remove_file(&path).expect("a frame");
        spoil(&path);
        let run = finished(&mut review(folder.path(), &out));
        assert_eq!(not_refused(&run, code), None);
        let message = String::from_utf8_lossy(&run.stderr);
        assert!(message.contains("000000000007"), "{message}");
    }
}

#[test]
fn kinds_of_frames_do_not_mix() {
    let folder = folder_of_frames();
    // A frame of another export among them.
    let other = br#"[{"image_id":7,"category_id":1,"keypoints":[1,2,3],"score":1}]"#;
    let path = folder.path().join("track_000000000007_keypoints.json");
    fs::write(&path, other).expect("another frame");
    let out = folder.path().join("out");
    let run = finished(&mut review(folder.path(), &out));
    assert!(!run.status.success() && !out.exists(), "{run:?}");
    let message = String::from_utf8_lossy(&run.stderr);
    assert!(
        message.contains("000000000007") && message.contains("   try "),
        "{message}"
    );
}

#[test]
fn what_may_not_be_read_is_refused() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o755)).expect("mine");
    let file = folder.path().join("locked.csv");
    fs::write(&file, table()).expect("a file");
    let inside = folder.path().join("frames");
    fs::create_dir(&inside).expect("a folder");
    for (name, bytes) in frames(12, "") {
        fs::write(inside.join(name), bytes).expect("a frame");
    }
    let frame = inside.join("track_000000000003_keypoints.json");
    let closed = folder.path().join("closed");
    fs::create_dir(&closed).expect("a folder");
    for path in [&file, &frame, &closed] {
        fs::set_permissions(path, fs::Permissions::from_mode(0o000)).expect("mine");
    }
    // Rights do not bind the administrator: then another user runs a copy of the program.
    let other_user = fs::File::open(&file).is_ok();
    let copy = folder.path().join("scaplane");
    let start = |clip: &Path| {
        let usual = review(clip, &folder.path().join("out"));
        if !other_user {
            return usual;
        }
        let mut command = Command::new("setpriv");
        command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]);
        command.arg(&copy).args(usual.get_args());
        command
    };
    if other_user {
        fs::copy(program(), &copy).expect("a copy");
        fs::set_permissions(&copy, fs::Permissions::from_mode(0o755)).expect("mine");
    }
    for (clip, named) in [
        (&file, "locked.csv"),
        (&inside, "000000000003"),
        (&closed, "closed"),
    ] {
        let run = finished(&mut start(clip));
        assert_eq!(not_refused(&run, "read/io"), None, "{}", clip.display());
        let message = String::from_utf8_lossy(&run.stderr);
        assert!(
            message.contains(named) && message.contains("ermission"),
            "{message}"
        );
    }
    fs::set_permissions(&closed, fs::Permissions::from_mode(0o755)).expect("mine");
    println!(
        "3 locked paths, {}",
        if other_user {
            "as another user"
        } else {
            "as this user"
        }
    );
}
