//! Open data. The folder is `../shared/data` or `$SCAPLANE_OPEN_DATA`; nothing of it is in the project.

use crate::support::{MODELS, open_data};
use scaplane::body::Side;
use scaplane::pipeline::{Ask, Provenance, review, signals};
use scaplane::readers::{ReadOptions, Source, open, open_source};
use scaplane::session::Session;
use scaplane::track::{PictureSize, Track};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;

fn judged(track: Track, exercise: &str, side: Side) -> Session {
    let provenance = Provenance {
        source: "open data".into(),
        sha256: String::new(),
        reader: String::new(),
        notes: Vec::new(),
    };
    let exercise = MODELS.exercise(exercise).expect("an exercise");
    let ask = Ask {
        side: Some(side),
        ..Ask::default()
    };
    review(track, &provenance, exercise, &MODELS, &ask).session
}

/// Thoracoscapular shoulder motion (Seth, Dong, Matias, Delp 2019, Front Neurorobot 13:90), one subject:
/// upward rotation rises and falls with the arm; in the shrug the blade moves and the arm does not.
#[test]
fn scapular_markers_rise_and_fall_and_the_shrug_is_no_repetition() {
    let Some(folder) = open_data().map(|folder| folder.join("scapula-markers")) else {
        return;
    };
    let read = |name: &str| {
        open(&folder.join(name), &ReadOptions::default(), &MODELS)
            .expect("the markers can be read")
            .track
    };
    let mut ran = 0;
    for (name, exercise) in [("ABD", "frontal-raise"), ("FLX", "forward-raise")] {
        for trial in 1..=3 {
            let file = format!("{name}{trial:02}.trc");
            let session = judged(read(&file), exercise, Side::Right);
            assert_eq!(session.reps.len(), 1, "{file}: one repetition a trial");
            let rep = &session.reps[0];
            let peak = rep.readings["peak-elevation"].value.expect("measured");
            assert!((140.0..165.0).contains(&peak), "{file}: peak {peak}");
            let scapular = MODELS.exercise(exercise).expect("an exercise");
            let kinematics = signals(read(&file), scapular, &MODELS, Side::Right, None);
            let upward = kinematics
                .signal(scaplane::kinematics::Signal::UpwardRotation)
                .expect("blade");
            let at = |frame: u64| upward.at(frame as usize).expect("a value");
            let rise = at(rep.peak_frame) - at(rep.start_frame);
            let fall = at(rep.peak_frame) - at(rep.end_frame);
            println!(
                "{file}: peak {peak:.0}, upward rotation rises {rise:.1} and falls {fall:.1} degrees"
            );
            // The authors' own model gives the blade's rotation in the .mot beside it, in other axes; the
            // two need only rise and fall alike.
            let (model_rise, model_fall) =
                model_rotation(&folder.join(file.replace(".trc", ".mot")))
                    .expect("the model's angles");
            println!("    the authors' model: rises {model_rise:.1} and falls {model_fall:.1}");
            assert!(
                (rise - model_rise).abs() < 20.0,
                "{file}: rise {rise}, model {model_rise}"
            );
            assert!(
                (fall - model_fall).abs() < 20.0,
                "{file}: fall {fall}, model {model_fall}"
            );
            ran += 1;
        }
    }
    for trial in 1..=3 {
        let file = format!("SHRUG{trial:02}.trc");
        let session = judged(read(&file), "frontal-raise", Side::Right);
        assert_eq!(
            session.reps.len(),
            0,
            "{file}: the arm stays under 20 degrees"
        );
        ran += 1;
    }
    assert_eq!(ran, 9);
}

/// Rise and fall of `scapula_upward_rot` in a model's motion file, degrees.
fn model_rotation(path: &Path) -> Option<(f64, f64)> {
    let text = std::fs::read_to_string(path).ok()?;
    let mut lines = text.split_once("endheader")?.1.trim().lines();
    let column = lines
        .next()?
        .split_whitespace()
        .position(|name| name == "scapula_upward_rot")?;
    let values: Vec<f64> = lines
        .filter_map(|line| line.split_whitespace().nth(column)?.parse().ok())
        .collect();
    let top = values.iter().copied().reduce(f64::max)?;
    Some((top - values.first()?, top - values.last()?))
}

/// IntelliRehabDS (Miron et al. 2021, Data 6(5):46), one patient, Kinect v2: the labelled number of
/// repetitions in every session, after renumbering the frames.
#[test]
fn labelled_repetitions_are_counted_in_every_session() {
    let Some(folder) = open_data().map(|folder| folder.join("rehab-kinect")) else {
        return;
    };
    let mut labelled: BTreeMap<String, usize> = BTreeMap::new();
    let mut labels = csv::Reader::from_path(folder.join("reps.csv")).expect("labels");
    for row in labels.records() {
        *labelled
            .entry(row.expect("a row")[0].to_string())
            .or_default() += 1;
    }
    // Which arm moves is told by the data: the upstream naming of sides is mirrored.
    for (session, wanted) in &labelled {
        let exercise = if session.contains("abduction") {
            "frontal-raise"
        } else {
            "forward-raise"
        };
        let text = tidy(&folder.join("sessions").join(format!("{session}.csv")));
        let source = Source::from_bytes("session.csv", text.into_bytes());
        let track = open_source(&source, &ReadOptions::default(), &MODELS)
            .expect("a tidy CSV")
            .track;
        let counts: Vec<usize> = Side::BOTH
            .into_iter()
            .map(|side| judged(track.clone(), exercise, side).reps.len())
            .collect();
        println!(
            "{session}: labelled {wanted}, counted left {} right {}",
            counts[0], counts[1]
        );
        assert!(
            counts.contains(wanted),
            "{session}: labelled {wanted}, counted {counts:?}"
        );
    }
    assert_eq!(labelled.len(), 5);
}

/// The wide session file as tidy long CSV with frames numbered anew at the sensor's 30 Hz.
fn tidy(path: &Path) -> String {
    let mut reader = csv::Reader::from_path(path).expect("a session");
    let header = reader.headers().expect("a header").clone();
    let points: Vec<(usize, &str)> = header
        .iter()
        .enumerate()
        .filter_map(|(column, name)| Some((column, name.strip_suffix("_x")?)))
        .collect();
    let mut out = String::from("frame,time_s,point,x,y,z,score\n");
    for (frame, row) in reader.records().enumerate() {
        let row = row.expect("a row");
        for (column, point) in &points {
            let cell = |offset: usize| row.get(column + offset).unwrap_or("");
            let _ = writeln!(
                out,
                "{frame},{:.4},{point},{},{},{},{}",
                frame as f64 / 30.0,
                cell(0),
                cell(1),
                cell(2),
                cell(3)
            );
        }
    }
    out
}

/// Estimator exports of people who talk and wave: no repetition, and the hips are said to be unseen.
#[test]
fn waving_people_make_no_repetition_and_unseen_hips_are_named() {
    let Some(folder) = open_data().map(|folder| folder.join("estimator-exports")) else {
        return;
    };
    let small = Some(PictureSize {
        width: 540.0,
        height: 720.0,
    });
    let cases = [
        ("openpose_body25", None, None),
        ("test_video.blazepose33.csv", small, None),
        ("blazepose33_signer.csv", None, Some(25.0)),
    ];
    for (name, size, fps) in cases {
        let options = ReadOptions {
            size,
            fps,
            ..ReadOptions::default()
        };
        let opened = open(&folder.join(name), &options, &MODELS).expect("readable");
        for side in Side::BOTH {
            let session = judged(opened.track.clone(), "scapular-raise", side);
            assert_eq!(session.reps.len(), 0, "{name} {side}");
            let said = session
                .notes
                .iter()
                .find(|note| note.code == "reps/none")
                .expect("said");
            println!("{name} {side}: {}", said.text);
            assert!(
                said.text.contains("hips were not seen"),
                "{name} {side}: {}",
                said.text
            );
        }
    }
}
