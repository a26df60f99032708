//! A session whose manifest names videos.

use crate::dots::filmed;
use crate::render::{H264, Look};
use assert_cmd::cargo::cargo_bin;
use scaplane::simulate::Exercise;
use std::path::{Path, PathBuf};
use std::process::Command;

fn batch(folder: &Path, more: &[&str]) -> (Option<i32>, String) {
    let output = Command::new(cargo_bin("scaplane"))
        .args(["batch", "session.csv", "--out", "out", "--reports", "page"])
        .args(more)
        .current_dir(folder)
        .output()
        .expect("it runs");
    let said = [output.stdout, output.stderr].concat();
    (
        output.status.code(),
        String::from_utf8_lossy(&said).into_owned(),
    )
}

fn results(folder: &Path, named: &str) -> PathBuf {
    let clips = std::fs::read_dir(folder.join("out/clips")).expect("results");
    let mut of = clips
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with(named));
    of.next().expect("a result").path()
}

#[test]
fn overlays_are_drawn_where_the_manifest_names_a_video_and_one_that_fails_stops_nothing() {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = temporary.path();
    let look = Look {
        exercise: Exercise::ScapularRaise,
        disturbed: false,
        size: [270, 480],
        ..Look::of_seed(2, 60)
    };
    filmed(&look, folder, &H264);
    for copy in ["lost.csv", "plain.csv"] {
        std::fs::copy(folder.join("track.csv"), folder.join(copy)).expect("a copy");
    }
    let manifest = "clip,exercise,side,size,video\n\
                    track.csv,scapular-raise,right,270x480,clip.mp4\n\
                    lost.csv,scapular-raise,right,270x480,absent.mp4\n\
                    plain.csv,scapular-raise,right,270x480,\n";
    std::fs::write(folder.join("session.csv"), manifest).expect("written");

    let (status, said) = batch(folder, &["--overlays"]);
    assert_eq!(status, Some(1), "{said}");
    assert!(said.contains("2 reviewed, 0 unchanged, 1 failed"), "{said}");
    let failures = std::fs::read_to_string(folder.join("out/failures.csv")).expect("a table");
    assert!(
        failures.lines().count() == 2
            && failures.contains("lost.csv")
            && failures.contains("absent.mp4"),
        "{failures}"
    );
    let drawn = results(folder, "track.csv");
    let page = std::fs::read_to_string(drawn.join("review.html")).expect("a page");
    assert!(page.contains("src=\"overlay.mp4\""));
    let film = std::fs::read(drawn.join("overlay.mp4")).expect("a film");
    assert!(!results(folder, "plain.csv").join("overlay.mp4").exists());

    // What is there is not drawn again; what was half lost is.
    let (_, said) = batch(folder, &["--overlays", "--resume"]);
    assert!(said.contains("0 reviewed, 2 unchanged, 1 failed"), "{said}");
    std::fs::write(drawn.join("overlay.mp4"), &film[..film.len() / 2]).expect("cut");
    let (_, said) = batch(folder, &["--overlays", "--resume"]);
    assert!(said.contains("1 reviewed, 1 unchanged, 1 failed"), "{said}");
    assert_eq!(
        std::fs::read(drawn.join("overlay.mp4"))
            .expect("a film")
            .len(),
        film.len()
    );

    // Another video is another result; without overlays none stays beside the reports.
    std::fs::copy(folder.join("clip.mp4"), folder.join("absent.mp4")).expect("a copy");
    let (status, said) = batch(folder, &["--overlays", "--resume"]);
    assert_eq!(status, Some(0), "{said}");
    assert!(said.contains("1 reviewed, 2 unchanged, 0 failed"), "{said}");
    let (_, said) = batch(folder, &["--resume"]);
    assert!(said.contains("2 reviewed, 1 unchanged, 0 failed"), "{said}");
    assert!(!drawn.join("overlay.mp4").exists());
    let page = std::fs::read_to_string(drawn.join("review.html")).expect("a page");
    assert!(!page.contains("<video"));
}
