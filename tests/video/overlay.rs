//! The way of a clinician: dots, review, the video with what was measured on it.

use crate::dots::filmed;
use crate::render::{H264, Look, Rendered};
use assert_cmd::cargo::cargo_bin;
use scaplane::simulate::{Exercise, Side};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// One whole repetition, undisturbed.
fn film(folder: &Path) -> (Rendered, PathBuf, PathBuf) {
    let look = Look {
        exercise: Exercise::ScapularRaise,
        disturbed: false,
        size: [540, 960],
        ..Look::of_seed(2, 300)
    };
    filmed(&look, folder, &H264)
}

fn scaplane(args: &[&str], folder: &Path) -> Output {
    let output = Command::new(cargo_bin("scaplane"))
        .args(args)
        .current_dir(folder)
        .output()
        .expect("it runs");
    assert!(
        output.status.success(),
        "{args:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    output
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut names: Vec<String> = entries
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

#[test]
fn dots_make_the_rhythm_direct_and_the_video_shows_it() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    let (rendered, _, _) = film(folder);
    let colour = format!("#{:02x}{:02x}{:02x}", 225, 65, 150);
    let dots = [
        "stickers",
        "clip.mp4",
        "--track",
        "track.csv",
        "--size",
        "540x960",
        "--colour",
        &colour,
    ];
    scaplane(&dots, folder);
    let review = [
        "review",
        "clip-dots.json",
        "--exercise",
        "scapular-raise",
        "--side",
        "right",
        "--out",
        "out",
    ];
    scaplane(&[&review[..], &["--video", "clip.mp4"]].concat(), folder);

    let session: Value =
        serde_json::from_slice(&std::fs::read(folder.join("out/review.json")).expect("a result"))
            .expect("JSON");
    let reading = &session["reps"][0]["readings"]["rhythm-share-raise-30-top"];
    let truth = rendered
        .clip
        .truth
        .reps_of(Side::Right)
        .next()
        .and_then(|rep| rep.value("rhythm-share-raise-30-top"));
    let (truth, low, high) = (
        truth.expect("true"),
        reading["low"].as_f64(),
        reading["high"].as_f64(),
    );
    assert_eq!(reading["basis"], "direct");
    println!("share of the blade: true {truth:.3}, measured {reading}");
    assert!(
        low < Some(truth) && high > Some(truth),
        "{truth}: {reading}"
    );

    let told = Command::new("ffprobe")
        .args([
            "-v",
            "error",
            "-show_entries",
            "stream=codec_name,pix_fmt,nb_frames:packet=pts_time",
            "-of",
            "json",
        ])
        .arg(folder.join("out/overlay.mp4"))
        .output()
        .expect("ffprobe");
    let told: Value = serde_json::from_slice(&told.stdout).expect("JSON");
    assert_eq!(told["streams"][0]["codec_name"], "h264");
    assert_eq!(told["streams"][0]["pix_fmt"], "yuv420p");
    assert_eq!(
        told["streams"][0]["nb_frames"],
        rendered.times_s.len().to_string()
    );
    let page = std::fs::read_to_string(folder.join("out/review.html")).expect("a page");
    assert!(page.contains("src=\"overlay.mp4\"") && page.contains("media-src 'self'"));

    // A limit that the raise leaves: its worst moment is there as a picture.
    let plan = "format = \"scaplane.plan/1\"\npseudonym = \"wren-1\"\nside = \"right\"\n[[exercise]]\n\
                id = \"scapular-raise\"\nsets = 1\nrepetitions = 1\n[[exercise.limit]]\n\
                measure = \"raise-time\"\nlow = 20\nreason = \"slowly, week 6\"\n";
    std::fs::write(folder.join("plan.toml"), plan).expect("written");
    scaplane(
        &[&review[..], &["--video", "clip.mp4", "--plan", "plan.toml"]].concat(),
        folder,
    );
    let stills: Vec<String> = names(&folder.join("out"))
        .into_iter()
        .filter(|name| name.starts_with("moment-"))
        .collect();
    assert!(!stills.is_empty());
    for name in stills {
        let still = image::open(folder.join("out").join(&name)).expect("a picture");
        assert_eq!([still.width(), still.height()], [540, 960], "{name}");
    }

    // Without a video nothing of the earlier one stays beside the new reports.
    scaplane(&review, folder);
    assert!(
        !names(&folder.join("out"))
            .iter()
            .any(|name| name.contains("overlay") || name.starts_with("moment-"))
    );
    let page = std::fs::read_to_string(folder.join("out/review.html")).expect("a page");
    assert!(!page.contains("<video"));
}

#[cfg(unix)]
#[test]
fn an_interrupt_leaves_no_broken_file() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    film(folder);
    let mut child = Command::new(cargo_bin("scaplane"))
        .args([
            "review",
            "track.csv",
            "--size",
            "540x960",
            "--exercise",
            "scapular-raise",
            "--side",
            "right",
        ])
        .args(["--video", "clip.mp4", "--out", "out"])
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it runs");
    // Until the video is being written.
    let out = folder.join("out");
    while !names(&out)
        .iter()
        .any(|name| name.ends_with(".tmp") && names(&out).len() > 3)
    {
        assert!(
            child.try_wait().expect("a child").is_none(),
            "it was too fast to be stopped"
        );
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    let stopped = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(stopped.is_ok_and(|status| status.success()));
    let output = child.wait_with_output().expect("an end");
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains("video/stopped"));
    let left = names(&out);
    assert!(left.contains(&"review.html".to_string()), "{left:?}");
    assert!(
        !left
            .iter()
            .any(|name| name.ends_with(".mp4") || name.ends_with(".tmp")),
        "{left:?}"
    );
}
