//! The 17 COCO keypoints: detection results and an annotation file.
//!
//! Source: COCO data and results format: 17 triplets x, y, v; results carry the score in v and
//! one entry per detection; annotations carry v of 0, 1 (hidden) or 2 and the picture's size.
//! A frame without a person has no entry.

use std::io;

use serde::Serialize;
use serde_json::json;

use super::rounded;
use crate::simulate::clip::Clip;
use crate::simulate::observe::Person;
use crate::simulate::point::Point;

const POINTS: [Point; 17] = [
    Point::Nose,
    Point::LeftEye,
    Point::RightEye,
    Point::LeftEar,
    Point::RightEar,
    Point::LeftShoulder,
    Point::RightShoulder,
    Point::LeftElbow,
    Point::RightElbow,
    Point::LeftWrist,
    Point::RightWrist,
    Point::LeftHip,
    Point::RightHip,
    Point::LeftKnee,
    Point::RightKnee,
    Point::LeftAnkle,
    Point::RightAnkle,
];

#[derive(Serialize)]
struct Detection {
    image_id: usize,
    category_id: u32,
    keypoints: Vec<f64>,
    score: f64,
}

#[derive(Serialize)]
struct Annotation {
    id: usize,
    image_id: usize,
    category_id: u32,
    iscrowd: u32,
    num_keypoints: usize,
    keypoints: Vec<f64>,
    bbox: [f64; 4],
    area: f64,
}

fn triplets(person: &Person, mark: impl Fn(f64) -> f64) -> Vec<f64> {
    let mut numbers = Vec::with_capacity(51);
    for point in POINTS {
        let k = person.image[point];
        numbers.extend([rounded(k.x, 2), rounded(k.y, 2), mark(k.score)]);
    }
    numbers
}

fn mean_score(person: &Person) -> f64 {
    let sum: f64 = POINTS.iter().map(|point| person.image[*point].score).sum();
    rounded(sum / POINTS.len() as f64, 4)
}

/// A list of detections; `image_id` is the frame's number from 0.
pub(super) fn results(clip: &Clip) -> io::Result<Vec<u8>> {
    let mut detections = Vec::new();
    for (image_id, frame) in clip.frames.iter().enumerate() {
        for person in &frame.people {
            detections.push(Detection {
                image_id,
                category_id: 1,
                keypoints: triplets(person, |score| rounded(score, 4)),
                score: mean_score(person),
            });
        }
    }
    Ok(serde_json::to_vec(&detections)?)
}

/// v: 0 not labelled, 1 hidden, 2 seen.
fn label(score: f64) -> f64 {
    match score {
        s if s > 0.6 => 2.0,
        s if s > 0.2 => 1.0,
        _ => 0.0,
    }
}

fn annotation(id: usize, image_id: usize, person: &Person) -> Annotation {
    let mut keypoints = triplets(person, label);
    let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
    let mut num_keypoints = 0;
    for triplet in keypoints.chunks_exact_mut(3) {
        let [x, y, v] = triplet else { continue };
        if *v == 0.0 {
            (*x, *y) = (0.0, 0.0);
            continue;
        }
        num_keypoints += 1;
        low = [low[0].min(*x), low[1].min(*y)];
        high = [high[0].max(*x), high[1].max(*y)];
    }
    if num_keypoints == 0 {
        (low, high) = ([0.0; 2], [0.0; 2]);
    }
    let size = [high[0] - low[0], high[1] - low[1]];
    Annotation {
        id,
        image_id,
        category_id: 1,
        iscrowd: 0,
        num_keypoints,
        keypoints,
        bbox: [low[0], low[1], size[0], size[1]].map(|v| rounded(v, 2)),
        area: rounded(size[0] * size[1], 1),
    }
}

/// An annotation file with the picture's size and the names of the keypoints.
pub(super) fn annotations(clip: &Clip) -> io::Result<Vec<u8>> {
    let camera = &clip.truth.camera;
    let mut images = Vec::new();
    let mut annotations = Vec::new();
    for (image_id, frame) in clip.frames.iter().enumerate() {
        images.push(json!({
            "id": image_id,
            "file_name": format!("{image_id:06}.jpg"),
            "width": camera.width_px,
            "height": camera.height_px,
        }));
        for person in &frame.people {
            annotations.push(annotation(annotations.len() + 1, image_id, person));
        }
    }
    let names: Vec<&str> = POINTS.iter().map(|point| point.id()).collect();
    let whole = json!({
        "images": images,
        "annotations": serde_json::to_value(annotations)?,
        "categories": [{"id": 1, "name": "person", "supercategory": "person", "keypoints": names}],
    });
    Ok(serde_json::to_vec(&whole)?)
}
