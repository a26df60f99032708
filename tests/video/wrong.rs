//! What goes wrong with video on a busy day: each is told in words and leaves nothing broken.

use crate::dots::filmed;
use crate::render::{H264, Look, Rendered};
use assert_cmd::cargo::cargo_bin;
use scaplane::simulate::Exercise;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

fn film(folder: &Path, size: [u32; 2], pictures: usize) -> Rendered {
    let look = Look {
        exercise: Exercise::ScapularRaise,
        disturbed: false,
        size,
        ..Look::of_seed(2, pictures)
    };
    filmed(&look, folder, &H264).0
}

fn scaplane(line: &str, folder: &Path) -> Output {
    let mut command = Command::new(cargo_bin("scaplane"));
    command
        .args(line.split_whitespace())
        .current_dir(folder)
        .output()
        .expect("it runs")
}

/// Refused, and this is in the words.
fn told(line: &str, code: &str, words: &[&str], folder: &Path) {
    let said = refused(line, code, folder);
    for word in words {
        assert!(said.contains(word), "{line}: no `{word}` in {said}");
    }
}

/// Refused with this code, a place or a remedy, within 80 columns of meaning: what, where, what to do.
fn refused(line: &str, code: &str, folder: &Path) -> String {
    let output = scaplane(line, folder);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    println!("$ scaplane {line}\n{said}");
    assert!(!output.status.success(), "{line}");
    assert!(
        said.contains(&format!("error[{code}]")) && said.contains("   try "),
        "{line}: {said}"
    );
    assert!(!said.contains("panicked"), "{said}");
    for entry in std::fs::read_dir(folder.join("out")).into_iter().flatten() {
        let name = entry.expect("an entry").file_name();
        let name = name.to_string_lossy();
        assert!(
            !name.ends_with(".tmp") && !name.ends_with(".mp4"),
            "{line} left {name}"
        );
    }
    assert!(!folder.join("dots.json").exists(), "{line} left a track");
    said
}

fn ffmpeg(line: &str, folder: &Path) {
    let status = Command::new("ffmpeg")
        .args(["-v", "error", "-y"])
        .args(line.split_whitespace())
        .current_dir(folder)
        .status();
    assert!(status.is_ok_and(|status| status.success()), "{line}");
}

/// That of the dots of the rendered clip.
const COLOUR: &str = "#e14196";
const STICKERS: &str = "--track track.csv --size 270x480 --out dots.json";
const REVIEW: &str =
    "review track.csv --size 270x480 --exercise scapular-raise --side right --out out --video";

#[test]
fn videos_that_are_none_or_not_the_tracks_are_refused_in_words() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    film(folder, [270, 480], 90);
    ffmpeg("-f lavfi -i sine=duration=2 -c:a aac sound.mp4", folder);
    ffmpeg("-i clip.mp4 -t 1 short.mp4", folder);
    ffmpeg("-i clip.mp4 -vf transpose=1 lying.mp4", folder);
    std::fs::write(folder.join("empty.mp4"), "").expect("written");
    let whole = std::fs::read(folder.join("clip.mp4")).expect("a clip");
    std::fs::write(folder.join("cut.mp4"), &whole[..whole.len() / 2]).expect("written");
    for (video, code) in [
        ("empty.mp4", "video/unreadable"),
        ("sound.mp4", "video/unreadable"),
        ("cut.mp4", "video/unreadable"),
        ("absent.mp4", "video/unreadable"),
        ("short.mp4", "video/track-mismatch"),
        ("lying.mp4", "video/size-mismatch"),
    ] {
        refused(&format!("{REVIEW} {video}"), code, folder);
        // The reports that need no video are there.
        assert!(folder.join("out/review.json").exists(), "{video}");
        refused(
            &format!("stickers {video} {STICKERS} --colour green"),
            code,
            folder,
        );
    }
}

#[test]
fn dots_that_are_not_there_are_told() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    let rendered = film(folder, [270, 480], 60);
    let row = &rendered.dots[0];
    let at = |dot: usize| format!("{:.0},{:.0}", row[dot].0.x, row[dot].0.y);
    let [acromion, root, inferior] = [0, 1, 2].map(at);
    let marks = |a: &str, b: &str, c: &str, when: &str| {
        format!(
            "stickers clip.mp4 {STICKERS} --dot acromial-angle={a} --dot spine-root={b} --dot inferior-angle={c} \
             --at {when}"
        )
    };
    for (line, code) in [
        (
            format!("stickers clip.mp4 {STICKERS} --colour yellow"),
            "stickers/not-found",
        ),
        (
            format!("stickers clip.mp4 {STICKERS} --colour #cd967d"),
            "stickers/not-found",
        ),
        (marks("5000,5000", &root, &inferior, "0"), "stickers/mark"),
        (marks(&root, &root, &inferior, "0"), "stickers/mark"),
        (marks("20,20", &root, &inferior, "0"), "stickers/mark"),
        (marks(&acromion, &root, &inferior, "99"), "video/at-beyond"),
        (
            "stickers clip.mp4 --track track.csv --still still.png --at 99".into(),
            "video/at-beyond",
        ),
    ] {
        refused(&line, code, folder);
    }
    assert!(!folder.join("still.png").exists());
}

#[test]
fn a_track_without_a_face_has_the_head_hidden_from_the_shoulders_and_says_so() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    film(folder, [270, 480], 60);
    let table = std::fs::read_to_string(folder.join("track.csv")).expect("a table");
    let is_face = |line: &&str| {
        ["nose", "eye", "ear"]
            .iter()
            .any(|part| line.contains(part))
    };
    assert!(table.lines().any(|line| is_face(&line)), "{table:.200}");
    let faceless: Vec<&str> = table.lines().filter(|line| !is_face(line)).collect();
    std::fs::write(folder.join("track.csv"), faceless.join("\n")).expect("written");
    let output = scaplane(&format!("{REVIEW} clip.mp4"), folder);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    assert!(said.contains("above the shoulders"), "{said}");
    assert!(folder.join("out/overlay.mp4").exists());
}

#[test]
fn a_cut_off_video_is_told_in_words() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    film(folder, [270, 480], 90);
    // The list of pictures at the end, as phones write it, and at the beginning.
    ffmpeg("-i clip.mp4 -c copy -movflags +faststart early.mp4", folder);
    for name in ["clip", "early"] {
        let whole = std::fs::read(folder.join(format!("{name}.mp4"))).expect("a clip");
        std::fs::write(folder.join("cut.mp4"), &whole[..whole.len() / 2]).expect("written");
        let line = format!("{REVIEW} cut.mp4");
        let output = scaplane(&line, folder);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        println!("{name}: {said}");
        assert!(!output.status.success() && !said.contains("moov"), "{said}");
        let words: &[&str] = match name {
            "clip" => &["video/unreadable", "cut off", "copied again"],
            _ => &["video/track-mismatch", "90 frames"],
        };
        assert!(
            words.iter().all(|word| said.contains(word)),
            "{name}: {said}"
        );
        assert!(!folder.join("out/overlay.mp4").exists());
    }
}

#[test]
fn missing_programs_are_named() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    film(folder, [540, 960], 60);
    let bare = |line: &str| {
        let mut command = Command::new(cargo_bin("scaplane"));
        command.args(line.split_whitespace()).current_dir(folder);
        let output = command.env("PATH", folder).output().expect("it runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        (output.status.success(), said)
    };
    let (good, said) = bare(&format!(
        "{} clip.mp4",
        REVIEW.replace("270x480", "540x960")
    ));
    assert!(
        !good
            && said.contains("error[video/encoder]")
            && said.contains("ffmpeg: that program is not installed"),
        "{said}"
    );
    assert!(folder.join("out/review.html").exists());
    let left: Vec<_> = std::fs::read_dir(folder.join("out"))
        .expect("reports")
        .flatten()
        .collect();
    assert!(!left.iter().any(|entry| {
        entry
            .path()
            .extension()
            .is_some_and(|ext| ext == "tmp" || ext == "mp4")
    }));
    // The dots need no encoder; without ffprobe the times are the decoder's, which is told.
    let (good, said) = bare(&format!(
        "stickers clip.mp4 --track track.csv --size 540x960 --out dots.json --colour {COLOUR}"
    ));
    assert!(good && said.contains("ffprobe is not installed"), "{said}");
}

#[test]
fn the_dot_that_is_missing_is_named_and_dots_too_small_are_told() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    film(folder, [540, 960], 60);
    let line = format!(
        "stickers clip.mp4 --track track.csv --size 540x960 --out dots.json --colour {COLOUR} --dot mid-back=yellow"
    );
    let said = refused(&line, "stickers/not-found", folder);
    assert!(
        said.contains("missing most often: middle of the back (looked for around"),
        "{said}"
    );
    assert!(!said.contains("acromial"), "{said}");
    ffmpeg("-i clip.mp4 -vf scale=108:192 small.mp4", folder);
    told(
        &format!(
            "stickers small.mp4 --track track.csv --size 540x960 --out dots.json --colour {COLOUR}"
        ),
        "stickers/not-found",
        &["pixels wide in this video, too small", "larger dots"],
        folder,
    );
    told(
        "stickers clip.mp4 --track track.csv --still still.png --at -1",
        "video/at-beyond",
        &["no picture at -1.00 s"],
        folder,
    );
}

/// A mounted file system of that size; taken away at the end.
struct Small(PathBuf);

impl Small {
    fn mount(at: &Path, size: &str) -> Option<Small> {
        std::fs::create_dir_all(at).expect("a folder");
        let mut mount = Command::new("mount");
        mount
            .args(["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"])
            .arg(at);
        let mounted = mount.output().is_ok_and(|out| out.status.success());
        if !mounted {
            println!("no file system could be mounted: the full disk is not tested");
        }
        mounted.then(|| Small(at.to_path_buf()))
    }
}

impl Drop for Small {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).output();
    }
}

#[test]
fn a_full_disk_is_told_and_leaves_no_part_of_a_video() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    film(folder, [540, 960], 150);
    let out = folder.join("out");
    let Some(_mounted) = Small::mount(&out, "320k") else {
        return;
    };
    let line = format!("{} clip.mp4", REVIEW.replace("270x480", "540x960"));
    let said = refused(&line, "video/encoder", folder);
    assert!(said.contains("room on the disk"), "{said}");
    assert!(out.join("review.json").exists());
}

#[cfg(unix)]
#[test]
fn a_killed_run_leaves_no_video_that_could_be_taken_for_one() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    film(folder, [540, 960], 150);
    let line = format!("{} clip.mp4", REVIEW.replace("270x480", "540x960"));
    let out = folder.join("out");
    let mut child = Command::new(cargo_bin("scaplane"))
        .args(line.split_whitespace())
        .current_dir(folder)
        .stderr(Stdio::null())
        .stdout(Stdio::null())
        .spawn()
        .expect("it runs");
    // The page is there before the video is begun.
    while !out.join("review.html").exists() {
        assert!(
            child.try_wait().expect("a child").is_none(),
            "it was too fast to be killed"
        );
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    child.kill().expect("killed");
    child.wait().expect("an end");
    assert!(!out.join("overlay.mp4").exists());
    let again = scaplane(&line, folder);
    assert!(
        again.status.success(),
        "{}",
        String::from_utf8_lossy(&again.stderr)
    );
    let shown = Command::new("ffprobe")
        .args([
            "-v",
            "error",
            "-count_packets",
            "-show_entries",
            "stream=nb_read_packets",
            "-of",
            "csv=p=0",
        ])
        .arg(out.join("overlay.mp4"))
        .output()
        .expect("ffprobe");
    assert_eq!(String::from_utf8_lossy(&shown.stdout).trim(), "150");
}
