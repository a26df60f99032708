//! Points of the collar bone and the blade reach the girdle, wherever on the bone they lie.

use crate::support::{pairs, recipe, reviewed_bytes, true_count};
use nalgebra::Vector3;
use scaplane::body::Side as Measured;
use scaplane::pipeline::Ask;
use scaplane::session::Session;
use scaplane::simulate::{Clip, Exercise, Noise, Point, Points, Side, simulate};
use std::fmt::Write;

const BODY: [Point; 10] = [
    Point::Nose,
    Point::LeftShoulder,
    Point::RightShoulder,
    Point::LeftElbow,
    Point::RightElbow,
    Point::LeftWrist,
    Point::RightWrist,
    Point::LeftHip,
    Point::RightHip,
    Point::LeftEye,
];

/// Where the layout has a point beside the body, metres in the room.
type Place = fn(&Points) -> Vector3<f64>;

/// As a picture table that has one more point under a name of the layout.
fn reviewed_with(clip: &Clip, extra: Option<(&str, Place)>) -> Session {
    let mut table = String::from("frame,time_s,point,x,y,score\n");
    for (index, frame) in clip.truth.frames.iter().enumerate() {
        let mut row = |name: &str, place: Vector3<f64>| {
            let (x, y) = clip
                .truth
                .camera
                .project(&place)
                .expect("before the camera");
            let time = frame.time_s;
            writeln!(table, "{index},{time:.6},{name},{x:.4},{y:.4},1").expect("a string");
        };
        for point in BODY {
            row(point.id(), frame.points[point]);
        }
        if let Some((name, place)) = extra {
            row(name, place(&frame.points));
        }
    }
    let ask = Ask {
        side: Some(Measured::Right),
        ..Ask::default()
    };
    reviewed_bytes(
        clip,
        "csv",
        table.into_bytes(),
        clip.recipe.exercise.id(),
        &ask,
    )
}

/// Rise of the joint centre and of the collar bone from the start of the set to a repetition's peak.
fn true_rises(clip: &Clip, start: usize, peak: usize) -> [f64; 2] {
    let at = |frame: usize| clip.truth.frames[frame].arm(Side::Right);
    [
        at(peak).girdle_elevation_deg - at(start).girdle_elevation_deg,
        at(peak).clavicle_elevation_deg - at(start).clavicle_elevation_deg,
    ]
}

/// A collar point gives the same rise of the shoulder from any place along the bone; the acromion gives the
/// bone's own; and a point too near to the shoulder to have a direction changes nothing.
#[test]
fn a_point_of_the_collar_bone_serves_from_anywhere_along_it() {
    let breast_bone: Place = |points| points[Point::RightSc];
    let middle: Place = |points| (points[Point::RightSc] + points[Point::RightShoulder]) / 2.0;
    let beside: Place = |points| points[Point::RightShoulder] * 0.9 + points[Point::RightSc] * 0.1;
    let acromion: Place = |points| points[Point::RightAc];
    let (mut compared, mut covered) = (0, 0);
    for seed in 1..=3 {
        let clip = simulate(&recipe(
            Exercise::ScapularRaise,
            "front",
            seed,
            4,
            Noise::none(),
        ))
        .expect("a sound recipe");
        let rises = |extra: Option<(&str, Place)>| -> Vec<(f64, f64, f64)> {
            let session = reviewed_with(&clip, extra);
            assert_eq!(session.reps.len(), true_count(&clip));
            pairs(&clip, &session)
                .iter()
                .map(|(_, rep)| {
                    let reading = &rep.readings["girdle-rise"];
                    let told = |value: Option<f64>| value.expect("seen from the front");
                    (told(reading.value), told(reading.low), told(reading.high))
                })
                .collect()
        };
        let start = clip.truth.reps[0].start_frame;
        let plain = rises(None);
        for (name, place, which, tolerance_deg) in [
            ("right_sternal_end", breast_bone, 0, 1.5),
            ("right_sternal_end", middle, 0, 1.5),
            ("right_acromion", acromion, 1, 3.5),
        ] {
            let found = rises(Some((name, place)));
            assert!(
                found
                    .iter()
                    .zip(&plain)
                    .any(|(a, b)| (a.0 - b.0).abs() > 0.05),
                "{name} was not used"
            );
            for (truth, (value, low, high)) in clip.truth.reps.iter().zip(&found) {
                let wanted = true_rises(&clip, start, truth.peak_frame)[which];
                println!("{name} {seed}: {value:.1} ({low:.1} to {high:.1}) for {wanted:.1}");
                assert!((value - wanted).abs() < tolerance_deg, "{name}");
                covered += usize::from((*low..=*high).contains(&wanted));
                compared += 1;
            }
        }
        assert_eq!(rises(Some(("right_sternal_end", beside))), plain);
    }
    println!("{covered} of {compared} intervals hold the truth");
    assert_eq!(compared, 36);
    assert!(covered >= 35);
}
