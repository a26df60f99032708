//! The 25 body keypoints of OpenPose's `--write_json`: one JSON file a frame.
//!
//! Source: OpenPose output documentation; `version`, `people`, `person_id` -1 without
//! tracking, 25 triplets x, y, score; an unknown point is `0,0,0`; no person is an empty list.

use std::io;

use serde::Serialize;

use super::rounded;
use crate::simulate::clip::{Clip, Frame};
use crate::simulate::observe::Person;
use crate::simulate::point::Point;

const POINTS: [Point; 25] = [
    Point::Nose,
    Point::Neck,
    Point::RightShoulder,
    Point::RightElbow,
    Point::RightWrist,
    Point::LeftShoulder,
    Point::LeftElbow,
    Point::LeftWrist,
    Point::MidHip,
    Point::RightHip,
    Point::RightKnee,
    Point::RightAnkle,
    Point::LeftHip,
    Point::LeftKnee,
    Point::LeftAnkle,
    Point::RightEye,
    Point::LeftEye,
    Point::RightEar,
    Point::LeftEar,
    Point::LeftFootIndex,
    Point::LeftSmallToe,
    Point::LeftHeel,
    Point::RightFootIndex,
    Point::RightSmallToe,
    Point::RightHeel,
];

#[derive(Serialize)]
struct Body {
    person_id: [i32; 1],
    pose_keypoints_2d: Vec<f64>,
    face_keypoints_2d: [f64; 0],
    hand_left_keypoints_2d: [f64; 0],
    hand_right_keypoints_2d: [f64; 0],
    pose_keypoints_3d: [f64; 0],
    face_keypoints_3d: [f64; 0],
    hand_left_keypoints_3d: [f64; 0],
    hand_right_keypoints_3d: [f64; 0],
}

#[derive(Serialize)]
struct Page {
    version: f64,
    people: Vec<Body>,
}

fn body(person: &Person) -> Body {
    let mut numbers = Vec::with_capacity(75);
    for point in POINTS {
        let k = person.image[point];
        if k.score <= 0.05 {
            numbers.extend([0.0; 3]);
        } else {
            numbers.extend([rounded(k.x, 3), rounded(k.y, 3), rounded(k.score, 6)]);
        }
    }
    Body {
        person_id: [-1],
        pose_keypoints_2d: numbers,
        face_keypoints_2d: [],
        hand_left_keypoints_2d: [],
        hand_right_keypoints_2d: [],
        pose_keypoints_3d: [],
        face_keypoints_3d: [],
        hand_left_keypoints_3d: [],
        hand_right_keypoints_3d: [],
    }
}

fn page(frame: &Frame) -> Page {
    Page {
        version: 1.3,
        people: frame.people.iter().map(body).collect(),
    }
}

/// `<stem>_<12 digits>_keypoints.json`, numbered from 0.
pub(super) fn file_name(stem: &str, index: usize) -> String {
    format!("{stem}_{index:012}_keypoints.json")
}

/// One frame's file.
pub(super) fn frame(frame: &Frame) -> io::Result<Vec<u8>> {
    Ok(serde_json::to_vec(&page(frame))?)
}

/// All frames in one list.
pub(super) fn list(clip: &Clip) -> io::Result<Vec<u8>> {
    let pages: Vec<Page> = clip.frames.iter().map(page).collect();
    Ok(serde_json::to_vec(&pages)?)
}
