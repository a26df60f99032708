use super::*;
use crate::body::Side;
use crate::track::{RecordingFrame, SpaceAxes, Timing};

const JOINTS: [Joint; 4] = [
    Joint::Shoulder(Side::Left),
    Joint::Shoulder(Side::Right),
    Joint::Elbow(Side::Left),
    Joint::MidHip,
];

/// Twelve frames of one body, facing the phone: the person's left is at the picture's right.
fn recording(scale: Scale, picture: &[[f32; 3]], space: &[[f32; 4]]) -> Recording {
    let mut recording = Recording::new("test", "test", JOINTS.to_vec());
    recording.scale = scale;
    recording.frames = (0..12)
        .map(|number| RecordingFrame {
            number,
            stamp_s: None,
            people: vec![Detection {
                id: None,
                picture: picture.to_vec(),
                space: space.to_vec(),
            }],
        })
        .collect();
    recording
}

const PIXELS: [[f32; 3]; 4] = [
    [700.0, 300.0, 0.9],
    [500.0, 300.0, 0.9],
    [720.0, 500.0, 0.2],
    [600.0, 650.0, 0.0],
];

fn stated(width: f64, height: f64) -> AssembleOptions {
    AssembleOptions {
        fps: Some(25.0),
        size: Some(PictureSize { width, height }),
        ..AssembleOptions::default()
    }
}

fn flat(track: &Track, joint: Joint) -> Option<[f64; 2]> {
    let at = track.picture.as_ref()?.flat(0, track.column(joint)?)?;
    Some([at.x, at.y])
}

#[test]
fn pixels_are_centred_and_turned_up() {
    let mut clip = recording(Scale::Unknown, &PIXELS, &[]);
    clip.least_score = 0.3;
    let done = assemble(clip, &stated(1000.0, 800.0)).unwrap();
    let track = done.track;
    assert_eq!(
        flat(&track, Joint::Shoulder(Side::Left)),
        Some([200.0, 100.0])
    );
    assert_eq!(
        flat(&track, Joint::Elbow(Side::Left)),
        None,
        "below the least score"
    );
    assert_eq!(flat(&track, Joint::MidHip), None, "a score of 0");
    assert_eq!((track.depth, track.frames()), (DepthKind::None, 12));
    assert_eq!(track.timeline.timing(), Timing::Stated);
}

#[test]
fn a_mirrored_picture_swaps_labels_and_turns_back() {
    let clip = recording(Scale::Pixels, &PIXELS, &[]);
    let options = AssembleOptions {
        mirrored: true,
        ..stated(1000.0, 800.0)
    };
    let track = assemble(clip, &options).unwrap().track;
    // What was called the left shoulder at x = +200 is the right one, and in the true picture it is at -200.
    assert_eq!(
        flat(&track, Joint::Shoulder(Side::Right)),
        Some([-200.0, 100.0])
    );
    assert_eq!(
        flat(&track, Joint::Shoulder(Side::Left)),
        Some([0.0, 100.0])
    );
}

#[test]
fn shares_of_the_picture_need_its_size() {
    let shares = PIXELS.map(|[x, y, s]| [x / 1000.0, y / 800.0, s]);
    let fault = assemble(
        recording(Scale::Unknown, &shares, &[]),
        &AssembleOptions::default(),
    );
    assert_eq!(fault.unwrap_err().code, "read/size-needed");
    let done = assemble(
        recording(Scale::Unknown, &shares, &[]),
        &stated(1000.0, 800.0),
    )
    .unwrap();
    let [x, y] = flat(&done.track, Joint::Shoulder(Side::Left)).unwrap();
    assert!((x - 200.0).abs() < 1e-3 && (y - 100.0).abs() < 1e-3);
    let world = [[0.0, 0.0, 0.0, 1.0]; 4];
    let mut both = recording(Scale::Normalised, &shares, &world);
    (both.axes, both.metres_per_unit) = (SpaceAxes::CAMERA, Some(1.0));
    let done = assemble(both, &AssembleOptions::default()).unwrap();
    assert!(done.track.picture.is_none() && done.track.space.is_some());
    assert!(
        done.notes
            .iter()
            .any(|note| note.code == "read/picture-left-out")
    );
}

#[test]
fn guessed_points_outside_the_picture_are_unseen_in_both_layers() {
    let shares = [
        [0.6, 0.4, 0.9],
        [0.4, 0.4, 0.9],
        [0.7, 0.6, 0.9],
        [0.5, 1.3, 0.9],
    ];
    let world = [
        [0.2, -0.5, 0.1, 0.9],
        [-0.2, -0.5, 0.1, 0.9],
        [0.3, -0.2, 0.1, 0.9],
        [0.0, 0.0, 0.0, 0.9],
    ];
    let mut clip = recording(Scale::Normalised, &shares, &world);
    (clip.axes, clip.metres_per_unit) = (SpaceAxes::CAMERA, Some(1.0));
    clip.extrapolates = true;
    let track = assemble(clip, &stated(100.0, 100.0)).unwrap().track;
    assert_eq!(track.coverage(Joint::MidHip), 0.0);
    assert_eq!(flat(&track, Joint::MidHip), None);
    let left = track.space.as_ref().unwrap().point(0, 0).unwrap();
    let expected = Vector3::new(0.2, 0.5, -0.1);
    assert!(
        (left - expected).norm() < 1e-6,
        "y up, z toward the camera: {left}"
    );
    assert_eq!(track.depth, DepthKind::Guessed);
}

#[test]
fn marker_axes_and_units_are_found() {
    // Millimetres, z up, person of 0.35 m shoulder width.
    let world = [
        [175.0, 10.0, 1400.0, 1.0],
        [-175.0, 10.0, 1400.0, 1.0],
        [200.0, 10.0, 1100.0, 1.0],
        [0.0, 10.0, 900.0, 1.0],
    ];
    let mut clip = recording(Scale::Unknown, &[], &world);
    clip.measured_depth = true;
    let done = assemble(clip, &AssembleOptions::default()).unwrap();
    let left = done.track.space.as_ref().unwrap().point(0, 0).unwrap();
    assert!(
        (left - Vector3::new(0.175, 1.4, -0.01)).norm() < 1e-6,
        "{left}"
    );
    assert_eq!(done.track.depth, DepthKind::Measured);
    let codes: Vec<_> = done.notes.iter().map(|note| note.code.as_str()).collect();
    assert_eq!(
        codes,
        [
            "read/rate-assumed",
            "read/axes-assumed",
            "read/handedness-assumed",
            "read/units-assumed"
        ]
    );
}

#[test]
fn usage_and_too_few_frames() {
    for fps in [0.0, -30.0, f64::NAN, f64::INFINITY] {
        let options = AssembleOptions {
            fps: Some(fps),
            ..AssembleOptions::default()
        };
        let fault = assemble(recording(Scale::Pixels, &PIXELS, &[]), &options).unwrap_err();
        assert_eq!((fault.code, fault.exit_status()), ("usage/bad-value", 2));
    }
    let fault = assemble(recording(Scale::Pixels, &PIXELS, &[]), &stated(0.0, 10.0)).unwrap_err();
    assert_eq!(fault.code, "usage/bad-value");
    let mut short = recording(Scale::Pixels, &PIXELS, &[]);
    short.frames.arrange(&[0, 1, 2]);
    let fault = assemble(short, &AssembleOptions::default()).unwrap_err();
    assert_eq!(fault.code, "read/too-few-frames");
    assert!(fault.what.starts_with("3 frames are in the clip"));
}

#[test]
fn the_middle_of_the_hips_is_no_better_seen_than_each_hip() {
    let joints = vec![
        Joint::Shoulder(Side::Left),
        Joint::Hip(Side::Left),
        Joint::Hip(Side::Right),
        Joint::MidHip,
    ];
    // The right hip lies far below the picture; the middle of both lies just inside it.
    let shares = [
        [0.6, 0.4, 0.9],
        [0.6, 0.6, 0.9],
        [0.4, 1.3, 0.9],
        [0.5, 0.95, 0.9],
    ];
    let world = [
        [0.2, -0.5, 0.1, 0.9],
        [0.1, 0.0, 0.1, 0.9],
        [-0.1, 0.0, 0.1, 0.9],
        [0.0, 0.0, 0.1, 0.9],
    ];
    let mut clip = recording(Scale::Normalised, &shares, &world);
    clip.joints = joints;
    (clip.axes, clip.metres_per_unit) = (SpaceAxes::CAMERA, Some(1.0));
    clip.extrapolates = true;
    let track = assemble(clip, &stated(100.0, 100.0)).unwrap().track;
    let seen = |joint: Joint| (flat(&track, joint).is_some(), track.coverage(joint));
    assert_eq!(seen(Joint::Hip(Side::Left)), (true, 1.0));
    assert_eq!(seen(Joint::Hip(Side::Right)), (false, 0.0));
    assert_eq!(seen(Joint::MidHip), (false, 0.0));
}
