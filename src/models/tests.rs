//! Every shipped file loads; a broken copy of each kind is refused with its place; the figures
//! that were computed agree with the published rows they were computed from.

mod floors;
mod refusals;
mod words;

use std::collections::BTreeSet;
use std::path::Path;

use super::*;

/// What is built in, read and checked as a user's files are.
fn shipped() -> Models {
    match Models::from_files(&ModelFiles::embedded()) {
        Ok(models) => models,
        Err(errors) => panic!("{errors}"),
    }
}

#[test]
fn what_is_read_when_asked_for_is_what_is_read_at_once() {
    let late = Models {
        waiting: None,
        ..Models::embedded().expect("the built-in files")
    };
    assert_eq!(format!("{late:?}"), format!("{:?}", shipped()));
}

/// Changes one shipped file and returns the faults.
fn broken(path: &str, from: &str, to: &str) -> Vec<ModelError> {
    let files = ModelFiles::embedded();
    let text = files.text(path).expect("a shipped file").to_owned();
    assert!(text.contains(from), "{path} no longer holds `{from}`");
    let files = files.with(path, &text.replacen(from, to, 1));
    match Models::from_files(&files) {
        Ok(_) => panic!("{path} with `{to}` was accepted"),
        Err(ModelErrors(faults)) => faults,
    }
}

/// The change must be refused at that file and key, with words that hold `word`.
fn refused(path: &str, from: &str, to: &str, key: &str, word: &str) {
    let faults = broken(path, from, to);
    let hit = faults.iter().any(|fault| {
        fault.file == path
            && fault.key.contains(key)
            && fault.problem.contains(word)
            && !fault.remedy.trim().is_empty()
    });
    assert!(hit, "wanted {path} {key} `{word}`, got {faults:#?}");
}

#[test]
fn everything_shipped_loads() {
    let models = shipped();
    let exercises: Vec<&str> = models.exercises.keys().collect();
    assert_eq!(
        exercises,
        [
            "forward-press",
            "forward-raise",
            "frontal-raise",
            "outward-rotation",
            "overhead-press",
            "rotate-and-lower",
            "row",
            "scapular-raise",
            "wall-press",
            "wall-slide",
        ]
    );
    let counts = [
        ("azure-32", 32),
        ("body-25", 25),
        ("body-25b", 25),
        ("coco-17", 17),
        ("coco-18", 18),
        ("h36m-17", 17),
        ("halpe-136", 136),
        ("halpe-26", 26),
        ("halpe-68", 68),
        ("kinect-25", 25),
        ("landmarks-33", 33),
        ("mpi-15", 15),
        ("spine-37", 37),
        ("synth-52", 52),
        ("wholebody-133", 133),
    ];
    for (id, count) in counts {
        let skeleton = models.skeleton(id).expect(id);
        assert_eq!(skeleton.keypoints.len(), count, "{id}");
        assert_eq!(skeleton.order, Order::Fixed, "{id}");
    }
    assert_eq!(models.skeleton("tidy").map(|s| s.order), Some(Order::Free));
    assert_eq!(models.skeletons.len(), counts.len() + 1);
}

/// A file added to the folder without a rebuild would be missing from the program.
#[test]
fn what_was_parsed_at_build_time_is_what_the_files_say() {
    let files = ModelFiles::embedded();
    let mut typed = files.clone();
    let mut parsed = 0;
    for path in files.paths() {
        parsed += usize::from(files.parsed(path).is_some());
        // A text that was given is always read itself.
        typed = typed.with(path, files.text(path).expect("a shipped file"));
        assert_eq!(typed.parsed(path), None);
    }
    assert_eq!(parsed + 1, files.paths().count(), "all but the one CSV");
    let read = Models::from_files(&typed).expect("the shipped files");
    assert_eq!(format!("{read:?}"), format!("{:?}", shipped()));
}

#[test]
fn embedded_files_are_those_on_disk() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("models");
    let embedded = ModelFiles::embedded();
    let on_disk = ModelFiles::embedded()
        .overlaid(&folder)
        .expect("the folder reads");
    assert!(embedded.paths().eq(on_disk.paths()));
    for path in on_disk.paths() {
        assert_eq!(on_disk.origin(path), Some(Origin::Folder), "{path}");
        assert_eq!(embedded.text(path), on_disk.text(path), "{path}");
    }
}

#[test]
fn each_exercise_has_limits_with_sources_and_a_key() {
    let models = shipped();
    let mut limits = 0;
    for exercise in models.exercises.values() {
        assert!(exercise.limits.iter().any(|limit| limit.key));
        for limit in &exercise.limits {
            limits += 1;
            let source = models.source(&limit.source).expect("checked at load");
            assert!(!source.citation.is_empty());
            assert!(
                vocabulary::may_be_judged(&limit.measure),
                "{}",
                limit.measure
            );
        }
        assert!(!exercise.report.is_empty(), "{}", exercise.id);
    }
    assert!(limits >= 60, "only {limits} limits");
}

/// What the trade asks for, measured on the data: which measure is the exercise itself.
#[test]
fn key_measures_are_those_that_are_the_exercise() {
    let models = shipped();
    let wanted: [(&str, &[&str]); 10] = [
        ("scapular-raise", &["plane-deviation", "peak-elevation"]),
        ("frontal-raise", &["peak-elevation"]),
        ("forward-raise", &["peak-elevation"]),
        ("overhead-press", &["plane-deviation"]),
        ("wall-press", &["elbow-path"]),
        ("forward-press", &["elbow-path"]),
        ("rotate-and-lower", &["peak-elevation"]),
        ("outward-rotation", &["outward-rotation-peak"]),
        ("row", &["elbow-range"]),
        ("wall-slide", &["peak-elevation"]),
    ];
    for (id, measures) in wanted {
        let exercise = models.exercise(id).expect(id);
        let keys = exercise.limits.iter().filter(|limit| limit.key);
        let keys: Vec<&str> = keys.map(|limit| limit.measure.as_str()).collect();
        assert_eq!(keys, measures, "{id}");
    }
}

/// The rhythm bands are the healthy 5-95 % ratios turned into shares, end for end.
#[test]
fn rhythm_bands_follow_from_the_published_ratios() {
    let models = shipped();
    for (id, plane) in [
        ("scapular-raise", "scaption"),
        ("frontal-raise", "abduction"),
        ("forward-raise", "flexion"),
    ] {
        let find = |quantity: &str| {
            let mut rows = models.references.iter();
            rows.find(|row| row.quantity == quantity && row.plane == plane)
                .map(|row| row.value)
                .expect("a published row")
        };
        let limit = models
            .exercise(id)
            .and_then(|e| e.limit("rhythm-share-raise-30-top"));
        let limit = limit.expect("a rhythm limit");
        let low = 1.0 / (1.0 + find("shr-ratio-p95"));
        let high = 1.0 / (1.0 + find("shr-ratio-p05"));
        assert!((limit.low.expect("low") - low).abs() < 6e-4, "{id} {low}");
        assert!(
            (limit.high.expect("high") - high).abs() < 6e-4,
            "{id} {high}"
        );
        assert!(!limit.key, "{id}");
    }
}

/// Each coupling is one published increment over another, 30 to 120 degrees of elevation.
#[test]
fn linkage_couplings_follow_from_the_published_curves() {
    let models = shipped();
    let link = &models.linkage;
    let value = |quantity: &str, plane: &str, at: f64| {
        let mut rows = models.references.iter();
        rows.find(|row| {
            row.source == "ludewig-2009"
                && row.quantity == quantity
                && row.plane == plane
                && row.at_deg() == Some(at)
        })
        .map(|row| row.value)
        .expect("a published point")
    };
    let mut checked = 0;
    for (quantity, curve) in [
        ("sc-elevation", &link.clavicle_rise_per_upward_rotation),
        (
            "sc-retraction",
            &link.clavicle_retraction_per_upward_rotation,
        ),
        (
            "sc-posterior-rotation",
            &link.clavicle_posterior_rotation_per_upward_rotation,
        ),
        (
            "st-posterior-tilt",
            &link.posterior_tilt_per_upward_rotation,
        ),
    ] {
        for (plane, figure) in [
            ("abduction", &curve.abduction),
            ("scaption", &curve.scaption),
            ("flexion", &curve.flexion),
        ] {
            let rise = |q: &str| value(q, plane, 120.0) - value(q, plane, 30.0);
            let coupling = rise(quantity) / rise("st-upward-rotation");
            assert!(
                (figure.value - coupling).abs() < 6e-4,
                "{quantity} {plane} {coupling}"
            );
            checked += 1;
        }
    }
    for (quantity, curve) in [
        ("sc-elevation", &link.clavicle_elevation_at_30_deg),
        ("sc-retraction", &link.clavicle_retraction_at_30_deg),
        ("st-upward-rotation", &link.upward_rotation_at_30_deg),
    ] {
        for (plane, figure) in [
            ("abduction", &curve.abduction),
            ("scaption", &curve.scaption),
            ("flexion", &curve.flexion),
        ] {
            assert!((figure.value - value(quantity, plane, 30.0)).abs() < 1e-9);
            checked += 1;
        }
    }
    assert_eq!(checked, 21);
}

/// The published ratios follow from the published curves: (HT - ST) / ST over 30 to 120.
#[test]
fn published_ratios_follow_from_the_curves() {
    let models = shipped();
    let mut checked = 0;
    let rows = || models.references.iter();
    for row in rows().filter(|row| row.source == "ludewig-2009-ratio") {
        let (from, to) = row.range_deg().expect("a range");
        let st = |at: f64| {
            rows()
                .find(|r| {
                    r.source == "ludewig-2009"
                        && r.quantity == "st-upward-rotation"
                        && r.plane == row.plane
                        && r.at_deg() == Some(at)
                })
                .map(|r| r.value)
                .expect("a point")
        };
        let turned = st(to) - st(from);
        let ratio = (to - from - turned) / turned;
        assert!((ratio - row.value).abs() < 6e-3, "{} {ratio}", row.plane);
        checked += 1;
    }
    assert_eq!(checked, 12);
}

#[test]
fn layouts_agree_with_known_indices() {
    let models = shipped().with_every_joint();
    let at = |layout: &str, joint: &str| models.skeleton(layout).and_then(|s| s.joint(joint));
    let one = |index| Some(JointSource::Keypoint(index));
    let mid = |a, b| Some(JointSource::Midpoint(a, b));
    for (layout, joint, wanted) in [
        ("body-25", "shoulder-right", one(2)),
        ("body-25", "mid-hip", one(8)),
        ("body-25", "neck", None),
        ("coco-18", "mid-hip", mid(11, 8)),
        ("mpi-15", "nose", None),
        ("coco-17", "wrist-right", one(10)),
        ("halpe-26", "neck", one(18)),
        ("halpe-26", "mid-hip", one(19)),
        ("wholebody-133", "index-left", one(96)),
        ("wholebody-133", "index-right", one(117)),
        ("wholebody-133", "pinky-right", one(129)),
        ("landmarks-33", "pinky-left", one(17)),
        ("landmarks-33", "index-right", one(20)),
        ("h36m-17", "shoulder-left", one(11)),
        ("h36m-17", "neck", one(8)),
        ("kinect-25", "shoulder-right", one(8)),
        ("kinect-25", "neck", one(20)),
        ("azure-32", "elbow-right", one(13)),
        ("azure-32", "sternal-end-left", one(4)),
        ("azure-32", "sternal-end-right", one(11)),
        ("spine-37", "c7", one(18)),
        ("spine-37", "t8", one(29)),
        ("spine-37", "mid-hip", mid(11, 12)),
        ("synth-52", "acromion-right", one(18)),
        ("synth-52", "elbow-lateral-left", one(21)),
        ("synth-52", "c7", one(48)),
        ("tidy", "neck", one(1)),
    ] {
        assert_eq!(at(layout, joint), wanted, "{layout} {joint}");
    }
}

/// Every body layout carries what the arm measures need, and sides are never crossed.
#[test]
fn every_layout_has_both_arms_and_the_trunk() {
    for skeleton in shipped().skeletons.values() {
        for part in ["shoulder", "elbow", "wrist", "hip"] {
            for side in ["left", "right"] {
                let joint = format!("{part}-{side}");
                let Some(JointSource::Keypoint(index)) = skeleton.joint(&joint) else {
                    panic!("{} has no {joint}", skeleton.id)
                };
                let name = normalised_name(&skeleton.keypoints[index]);
                let marks = [side.to_owned(), format!("{}{part}", &side[..1])];
                let fits = marks.iter().any(|mark| name.contains(mark.as_str()));
                assert!(fits, "{} {joint} -> {name}", skeleton.id);
            }
        }
        assert!(skeleton.joint("mid-hip").is_some(), "{}", skeleton.id);
    }
}

#[test]
fn marker_names_of_one_right_arm_are_understood() {
    let models = shipped();
    let tidy = models.skeleton("tidy").expect("tidy");
    for (name, joint) in [
        ("gu", "shoulder-right"),
        ("centelbow", "elbow-right"),
        ("EpL", "elbow-lateral-right"),
        ("centpxt8", "trunk-lower"),
        ("centijc7", "trunk-upper"),
        ("ij", "incisura"),
        ("ts", "spine-root-right"),
        ("aa", "acromial-angle-right"),
        ("ai", "inferior-angle-right"),
        ("left_TS", "spine-root-left"),
        ("LeftShoulder", "shoulder-left"),
        ("r.elbow", "elbow-right"),
    ] {
        let index = tidy.index_of(name);
        assert_eq!(
            index.map(JointSource::Keypoint),
            tidy.joint(joint),
            "{name}"
        );
    }
    assert_eq!(tidy.index_of("left_shoulder_marker"), None);
}

/// Every joint id of a closed list is reachable in the free layout; the neck only by a name that says that it
/// is a true one, as the name alone does not tell.
#[test]
fn free_names_reach_every_joint() {
    let models = shipped().with_every_joint();
    let tidy = models.skeleton("tidy").expect("tidy");
    for joint in vocabulary::JOINTS {
        assert!(tidy.joint(joint).is_some(), "{joint}");
        assert!(tidy.index_of(joint).is_some(), "{joint} is no name");
    }
    let neck = tidy.index_of("neck").map(JointSource::Keypoint);
    assert_ne!(neck, tidy.joint("neck"), "a neck that does not say so");
}
