//! An open estimator, run here on a public-domain picture, to a track: its export is read without any option.
//!
//! `SCAPLANE_ESTIMATOR_PYTHON` names a Python that has the packages of `scripts/estimator.txt` and scikit-image,
//! which carries the picture (a portrait of an astronaut, NASA, public domain). `scripts/check` makes it.

use super::{models, project};
use scaplane::body::{Joint, Side};
use scaplane::readers::{ReadOptions, open};
use std::path::{Path, PathBuf};
use std::process::Command;

/// Runs the estimator on a slow zoom over the picture; `None` where there is no estimator.
fn export(folder: &Path, frames: usize) -> Option<PathBuf> {
    let python = std::env::var_os("SCAPLANE_ESTIMATOR_PYTHON")?;
    let out = folder.join("astronaut.json");
    let picture = Command::new(&python)
        .args(["-c", "import os, skimage; print(os.path.join(os.path.dirname(skimage.__file__), 'data', 'astronaut.png'))"])
        .output()
        .expect("Python runs");
    let picture = String::from_utf8_lossy(&picture.stdout).trim().to_string();
    let run = Command::new(&python)
        .arg(project("scripts/export-landmarks.py"))
        .args([picture.as_str(), "--still", &frames.to_string(), "--out"])
        .arg(&out)
        .output()
        .expect("Python runs");
    assert!(
        run.status.success(),
        "{}",
        String::from_utf8_lossy(&run.stderr)
    );
    Some(out)
}

#[test]
fn an_estimators_own_export_is_read_without_options() {
    let folder = tempfile::tempdir().expect("a folder");
    let Some(out) = export(folder.path(), 45) else {
        println!("NOT RUN: no estimator; SCAPLANE_ESTIMATOR_PYTHON is not set");
        return;
    };
    let opened = open(&out, &ReadOptions::default(), models()).expect("it is read");
    assert_eq!(opened.facts.reader, "landmarks33-json");
    assert_eq!(
        (opened.facts.frames, opened.facts.frames_with_people),
        (45, 45)
    );
    assert_eq!(opened.facts.rate_hz, Some(30.0));
    let track = &opened.track;
    let picture = track.picture.as_ref().expect("a picture");
    let space = track.space.as_ref().expect("world coordinates");
    let column = |joint| track.column(joint).expect("a joint of the body");
    let [left, right] = Side::BOTH.map(|side| column(Joint::Shoulder(side)));
    let nose = column(Joint::Nose);
    for frame in 0..45 {
        let at = |column| picture.flat(frame, column).expect("seen");
        // She faces the camera: her left is on the picture's right, her head above her shoulders.
        assert!(at(left).x > at(right).x + 100.0);
        assert!(at(nose).y > at(left).y.max(at(right).y));
        let width = (space.point(frame, left).expect("seen")
            - space.point(frame, right).expect("seen"))
        .norm();
        assert!((0.2..0.5).contains(&width), "shoulders {width} m apart");
    }
    println!("45 frames of an estimator's own export");
}
