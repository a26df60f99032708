//! What goes wrong with video on a busy day: each is told in words and leaves nothing broken.

use crate::dots::filmed;
use crate::render::{H264, Look, Rendered};
use assert_cmd::cargo::cargo_bin;
use scaplane::simulate::Exercise;
use std::path::Path;
use std::process::{Command, Output};

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

/// Refused with this code, a place or a remedy, within 80 columns of meaning: what, where, what to do.
fn refused(line: &str, code: &str, folder: &Path) {
    let output = scaplane(line, folder);
    let said = String::from_utf8_lossy(&output.stderr);
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
}

fn ffmpeg(line: &str, folder: &Path) {
    let status = Command::new("ffmpeg")
        .args(["-v", "error", "-y"])
        .args(line.split_whitespace())
        .current_dir(folder)
        .status();
    assert!(status.is_ok_and(|status| status.success()), "{line}");
}

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
