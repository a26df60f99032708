//! Open recordings, if they are at hand: exports of estimators of real clips, markers on a shoulder blade, and a
//! depth camera. They lie in `../shared/data`, or where SCAPLANE_OPEN_DATA says; without them each test says so.
//!
//! What each must give is known from the files themselves, counted here without the readers.

use super::{has_note, models};
use scaplane::body::{Joint, Side};
use scaplane::pipeline::{Ask, Provenance, review};
use scaplane::readers::{Opened, ReadOptions, open};
use scaplane::track::{DepthKind, PictureSize, Presence, Timing};
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// A folder of the open data, if it is there.
fn data(folder: &str) -> Option<PathBuf> {
    let root = std::env::var_os("SCAPLANE_OPEN_DATA")
        .map_or_else(|| super::project("../shared/data"), PathBuf::from);
    let path = root.join(folder);
    if path.is_dir() {
        return Some(path);
    }
    println!(
        "NOT RUN: the open data `{folder}` are not at {}",
        root.display()
    );
    None
}

fn opened(path: &Path, size: Option<(f64, f64)>) -> Opened {
    let options = ReadOptions {
        size: size.map(|(width, height)| PictureSize { width, height }),
        ..ReadOptions::default()
    };
    open(path, &options, models()).unwrap_or_else(|fault| panic!("{fault}"))
}

/// Repetitions of a raise found on a side.
fn repetitions(opened: &Opened, side: Side) -> usize {
    let provenance = Provenance {
        source: "open data".into(),
        sha256: opened.sha256.clone(),
        reader: opened.facts.reader.into(),
        notes: opened.notes.clone(),
    };
    let exercise = models()
        .exercise("scapular-raise")
        .expect("a built-in exercise");
    let ask = Ask {
        side: Some(side),
        ..Ask::default()
    };
    let review = review(opened.track.clone(), &provenance, exercise, models(), &ask);
    review.session.reps.len()
}

fn no_repetition(opened: &Opened, name: &str) {
    for side in Side::BOTH {
        assert_eq!(
            repetitions(opened, side),
            0,
            "{name}: a {side} raise was made up"
        );
    }
}

const HIPS: [Joint; 3] = [
    Joint::Hip(Side::Left),
    Joint::Hip(Side::Right),
    Joint::MidHip,
];

/// Frames in which a joint was seen in each layer that is there: picture, space.
fn seen(opened: &Opened, joint: Joint) -> Vec<usize> {
    let track = &opened.track;
    let column = track.column(joint);
    [&track.picture, &track.space]
        .into_iter()
        .flatten()
        .map(|layer| {
            let there = |frame: &usize| {
                column.is_some_and(|column| layer.presence(*frame, column) == Presence::Seen)
            };
            (0..track.frames()).filter(there).count()
        })
        .collect()
}

#[test]
fn exports_of_estimators_are_read() {
    let Some(folder) = data("estimator-exports") else {
        return;
    };
    let mut cases = 0;

    let clip = opened(&folder.join("openpose_body25"), None);
    assert_eq!(
        (clip.facts.reader, clip.facts.layout.as_str()),
        ("openpose", "body-25")
    );
    assert_eq!(
        (clip.track.frames(), clip.facts.frames_with_people),
        (93, 93)
    );
    assert_eq!(clip.track.timeline.timing(), Timing::Assumed);
    // A confidence of 0 says missing: hips in all frames, the left wrist in 44.
    HIPS.into_iter()
        .for_each(|hip| assert_eq!(seen(&clip, hip), [0]));
    assert_eq!(seen(&clip, Joint::Wrist(Side::Left)), [93 - 44]);
    assert_eq!(seen(&clip, Joint::Shoulder(Side::Right)), [93]);
    no_repetition(&clip, "openpose_body25");
    cases += 1;

    // A selfie: the hips are extrapolated to below the picture, and are unseen with and without its size.
    for (size, layers) in [(None, 1), (Some((540.0, 720.0)), 2)] {
        let clip = opened(&folder.join("test_video.blazepose33.csv"), size);
        assert_eq!(clip.facts.reader, "landmarks33-csv");
        assert_eq!(clip.track.frames(), 58);
        assert_eq!(clip.track.picture.is_some(), size.is_some());
        assert_eq!(clip.track.depth, DepthKind::Guessed);
        HIPS.into_iter()
            .for_each(|hip| assert_eq!(seen(&clip, hip), vec![0; layers]));
        assert_eq!(seen(&clip, Joint::Shoulder(Side::Left)), vec![58; layers]);
        let rate = clip.track.timeline.rate_hz().expect("58 frames");
        assert!((rate - 29.9).abs() < 0.05, "{rate}");
        no_repetition(&clip, "test_video");
        cases += 1;
    }

    // Pixels of a picture of 320 x 240; the hips are guessed at y 252 and below, some of them confidently.
    for size in [None, Some((320.0, 240.0))] {
        let clip = opened(&folder.join("blazepose33_signer.csv"), size);
        assert_eq!(clip.track.frames(), 97);
        assert_eq!(clip.track.depth, DepthKind::None);
        assert_eq!(clip.track.timeline.timing(), Timing::Stamped);
        let rate = clip.track.timeline.rate_hz().expect("97 frames");
        assert!((rate - 25.0).abs() < 0.01, "{rate}");
        if size.is_some() {
            HIPS.into_iter()
                .for_each(|hip| assert_eq!(seen(&clip, hip), [0]));
        }
        assert_eq!(seen(&clip, Joint::Shoulder(Side::Left)), [97]);
        no_repetition(&clip, "blazepose33_signer");
        cases += 1;
    }
    println!("{cases} readings of estimators' exports");
    assert_eq!(cases, 5);
}

/// The angle between two directions, degrees.
fn angle(a: nalgebra::Vector3<f64>, b: nalgebra::Vector3<f64>) -> f64 {
    a.angle(&b).to_degrees()
}

#[test]
fn markers_of_a_shoulder_blade_are_read() {
    let Some(folder) = data("scapula-markers") else {
        return;
    };
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)
        .expect("the folder")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|end| end == "trc"))
        .collect();
    files.sort();
    for path in &files {
        let name = path
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let text = std::fs::read_to_string(path).expect("text");
        let rows: Vec<Vec<f64>> = text
            .lines()
            .skip(5)
            .map(|line| {
                line.split('\t')
                    .filter_map(|cell| cell.trim().parse().ok())
                    .collect()
            })
            .filter(|row: &Vec<f64>| !row.is_empty())
            .collect();
        let clip = opened(path, None);
        let track = &clip.track;
        assert_eq!(clip.facts.reader, "trc", "{name}");
        assert_eq!(track.frames(), rows.len(), "{name}");
        assert_eq!(track.depth, DepthKind::Measured, "{name}");
        let rate = track.timeline.rate_hz().expect("many frames");
        assert!((rate - 100.0).abs() < 0.01, "{name}: {rate}");
        // `ij` is the origin of the axes: 0, 0, 0 throughout, and there.
        assert!(has_note(&clip, "read/origin-marker"), "{name}");
        assert_eq!(seen(&clip, Joint::Incisura), [rows.len()], "{name}");

        let layer = track.space.as_ref().expect("markers lie in space");
        let at = |frame: usize, joint: Joint| {
            let column = track
                .column(joint)
                .unwrap_or_else(|| panic!("{name}: no {joint:?}"));
            layer
                .point(frame, column)
                .unwrap_or_else(|| panic!("{name}: no {joint:?} in {frame}"))
        };
        let (shoulder, elbow) = (Joint::Shoulder(Side::Right), Joint::Elbow(Side::Right));
        let mut highest = 0.0_f64;
        for (frame, row) in rows.iter().enumerate() {
            // gu is the first marker, centelbow the second; millimetres, y up as it is.
            for (joint, first) in [(shoulder, 2), (elbow, 5)] {
                for axis in 0..3 {
                    let metres = row[first + axis] / 1000.0;
                    assert!(
                        (at(frame, joint)[axis] - metres).abs() < 1e-6,
                        "{name} {frame}"
                    );
                }
            }
            let arm = at(frame, elbow) - at(frame, shoulder);
            let down = at(frame, Joint::TrunkLower) - at(frame, Joint::TrunkUpper);
            highest = highest.max(angle(arm, down));
        }
        match name.starts_with("SHRUG") {
            true => assert!(highest < 20.0, "{name}: {highest}"),
            false => assert!((140.0..160.0).contains(&highest), "{name}: {highest}"),
        }
    }
    println!("{} marker files", files.len());
    assert_eq!(files.len(), 9);
}

/// A session of the depth camera as a long table: its frames numbered anew, 33 ms apart, because only frames
/// with a label were kept and the gaps between them are no gaps of the movement.
fn long_table(text: &str) -> (String, usize, f64) {
    let mut lines = text.lines();
    let head: Vec<&str> = lines.next().expect("a head").split(',').collect();
    let mut table = String::from("frame,time_s,point,x,y,z,score\n");
    let (mut frames, mut first_elbow) = (0, f64::NAN);
    for (number, line) in lines.enumerate() {
        let row: Vec<&str> = line.split(',').collect();
        let cell = |column: &str| {
            let at = head
                .iter()
                .position(|name| *name == column)
                .expect("a column");
            row[at]
        };
        for name in head.iter().filter_map(|name| name.strip_suffix("_x")) {
            let [x, y, z, tracked] =
                ["x", "y", "z", "tracked"].map(|part| cell(&format!("{name}_{part}")));
            let time = 0.033 * number as f64;
            writeln!(table, "{number},{time:.3},{name},{x},{y},{z},{tracked}").expect("memory");
        }
        if number == 0 {
            first_elbow = cell("ElbowRight_y").parse().expect("a number");
        }
        frames += 1;
    }
    (table, frames, first_elbow)
}

#[test]
fn sessions_of_a_depth_camera_are_read_in_space() {
    let Some(folder) = data("rehab-kinect") else {
        return;
    };
    let mut sessions = 0;
    for entry in std::fs::read_dir(folder.join("sessions")).expect("the sessions") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let text = std::fs::read_to_string(&path).expect("text");
        let (table, frames, elbow_y) = long_table(&text);
        let clip = super::read(&name, table.into_bytes(), &ReadOptions::default());
        let clip = clip.unwrap_or_else(|fault| panic!("{name}: {fault}"));
        let track = &clip.track;
        assert_eq!(clip.facts.reader, "tidy-csv", "{name}");
        assert_eq!(clip.facts.layout, "kinect-25", "{name}");
        assert_eq!(track.frames(), frames, "{name}");
        assert!(
            track.picture.is_none() && track.depth == DepthKind::Measured,
            "{name}"
        );
        assert_eq!(track.timeline.timing(), Timing::Stamped, "{name}");
        let end = 0.033 * (frames - 1) as f64;
        assert!((track.timeline.duration_s() - end).abs() < 1e-6, "{name}");
        // Inferred joints have half a score and count as seen.
        for joint in [
            Joint::Shoulder(Side::Left),
            Joint::Elbow(Side::Right),
            Joint::Wrist(Side::Left),
            Joint::Hip(Side::Right),
            Joint::Neck,
        ] {
            assert_eq!(seen(&clip, joint), [frames], "{name}: {joint:?}");
        }
        // Metres and y up, as the camera has them: nothing turned, nothing scaled.
        let layer = track.space.as_ref().expect("a space layer");
        let column = track.column(Joint::Elbow(Side::Right)).expect("an elbow");
        let at = layer.point(0, column).expect("seen");
        assert!((at.y - elbow_y).abs() < 1e-6, "{name}: {} {elbow_y}", at.y);
        sessions += 1;
    }
    println!("{sessions} sessions of a depth camera");
    assert_eq!(sessions, 5);
}
