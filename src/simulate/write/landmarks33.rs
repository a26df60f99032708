//! The 33 body landmarks: JSON object, JSON list and wide CSV.
//!
//! Image landmarks are normalised (x by the width, y by the height) and may lie outside 0..1;
//! z has about the scale of x, is 0 at mid-hip and smaller nearer the camera. World landmarks
//! are metres about mid-hip: x to the picture's right, y down, z away from the camera. There is
//! exactly one person: all 33 or none. Visibility stays high for points that face away.

use std::io;

use serde::Serialize;

use super::rounded;
use crate::simulate::clip::Clip;
use crate::simulate::observe::Person;
use crate::simulate::point::Point;
use crate::simulate::truth::CameraTruth;

const POINTS: [Point; 33] = [
    Point::Nose,
    Point::LeftEyeInner,
    Point::LeftEye,
    Point::LeftEyeOuter,
    Point::RightEyeInner,
    Point::RightEye,
    Point::RightEyeOuter,
    Point::LeftEar,
    Point::RightEar,
    Point::MouthLeft,
    Point::MouthRight,
    Point::LeftShoulder,
    Point::RightShoulder,
    Point::LeftElbow,
    Point::RightElbow,
    Point::LeftWrist,
    Point::RightWrist,
    Point::LeftPinky,
    Point::RightPinky,
    Point::LeftIndex,
    Point::RightIndex,
    Point::LeftThumb,
    Point::RightThumb,
    Point::LeftHip,
    Point::RightHip,
    Point::LeftKnee,
    Point::RightKnee,
    Point::LeftAnkle,
    Point::RightAnkle,
    Point::LeftHeel,
    Point::RightHeel,
    Point::LeftFootIndex,
    Point::RightFootIndex,
];

#[derive(Clone, Copy, Serialize)]
struct Landmark {
    x: f64,
    y: f64,
    z: f64,
    visibility: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    presence: Option<f64>,
}

impl Landmark {
    fn with_presence(mut self) -> Self {
        self.presence = Some(rounded(0.5 + 0.5 * self.visibility, 5));
        self
    }
}

fn is_of_the_head(point: Point) -> bool {
    point == Point::Nose
        || (Point::LeftEyeInner as usize..Point::LeftShoulder as usize).contains(&(point as usize))
}

fn visibility(point: Point, score: f64) -> f64 {
    if is_of_the_head(point) && score > 0.2 {
        // this estimator does not lower the visibility of a face that looks away
        return 0.9995;
    }
    rounded((score * 1.06).clamp(0.005, 0.9999), 5)
}

/// Image and world landmarks of a person.
fn landmarks(person: &Person, camera: &CameraTruth) -> (Vec<Landmark>, Vec<Landmark>) {
    let (width, height) = (f64::from(camera.width_px), f64::from(camera.height_px));
    let depth_scale = camera.focal_px / camera.distance_m / width;
    let mut image = Vec::with_capacity(33);
    let mut world = Vec::with_capacity(33);
    for point in POINTS {
        let (k, w) = (person.image[point], person.world[point]);
        let visibility = visibility(point, k.score);
        image.push(Landmark {
            x: rounded(k.x / width, 6),
            y: rounded(k.y / height, 6),
            z: rounded(w.z * depth_scale, 6),
            visibility,
            presence: None,
        });
        world.push(Landmark {
            x: rounded(w.x, 6),
            y: rounded(w.y, 6),
            z: rounded(w.z, 6),
            visibility,
            presence: None,
        });
    }
    (image, world)
}

#[derive(Serialize)]
struct Row {
    frame: usize,
    timestamp_ms: f64,
    landmarks: Vec<Landmark>,
    world_landmarks: Vec<Landmark>,
}

#[derive(Serialize)]
struct Whole {
    width: u32,
    height: u32,
    frames: Vec<Row>,
}

/// One object with the picture's size and a list of frames.
pub(super) fn object(clip: &Clip) -> io::Result<Vec<u8>> {
    let camera = &clip.truth.camera;
    let frames = clip.frames.iter().enumerate().map(|(index, frame)| {
        let found = frame.person().map(|person| landmarks(person, camera));
        let (landmarks, world_landmarks) = found.unwrap_or_default();
        Row {
            frame: index,
            timestamp_ms: rounded(frame.time_s * 1000.0, 3),
            landmarks,
            world_landmarks,
        }
    });
    Ok(serde_json::to_vec(&Whole {
        width: camera.width_px,
        height: camera.height_px,
        frames: frames.collect(),
    })?)
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Outcome {
    timestamp: f64,
    landmarks: Vec<Vec<Landmark>>,
    world_landmarks: Vec<Vec<Landmark>>,
}

/// A list with one result a frame, people inside each; time stamps in milliseconds.
pub(super) fn list(clip: &Clip) -> io::Result<Vec<u8>> {
    let camera = &clip.truth.camera;
    let with_presence = |list: Vec<Landmark>| -> Vec<Landmark> {
        list.into_iter().map(Landmark::with_presence).collect()
    };
    let outcomes: Vec<Outcome> = clip
        .frames
        .iter()
        .map(|frame| {
            let found = frame.person().map(|person| landmarks(person, camera));
            let (image, world) = found.unzip();
            Outcome {
                timestamp: rounded(frame.time_s * 1000.0, 3),
                landmarks: image.into_iter().map(with_presence).collect(),
                world_landmarks: world.into_iter().map(with_presence).collect(),
            }
        })
        .collect();
    Ok(serde_json::to_vec(&outcomes)?)
}

/// One row a frame: `frame,time_s,x0,y0,z0,v0,…,wx0,wy0,wz0,…`; empty cells without a person.
pub(super) fn wide(clip: &Clip) -> io::Result<Vec<u8>> {
    let camera = &clip.truth.camera;
    let mut table = csv::Writer::from_writer(Vec::new());
    let mut head = vec!["frame".to_owned(), "time_s".to_owned()];
    for index in 0..POINTS.len() {
        head.extend(["x", "y", "z", "v"].map(|name| format!("{name}{index}")));
    }
    for index in 0..POINTS.len() {
        head.extend(["wx", "wy", "wz"].map(|name| format!("{name}{index}")));
    }
    table.write_record(&head)?;
    for (index, frame) in clip.frames.iter().enumerate() {
        let mut row = vec![index.to_string(), rounded(frame.time_s, 6).to_string()];
        if let Some(person) = frame.person() {
            let (image, world) = landmarks(person, camera);
            for l in image {
                row.extend([l.x, l.y, l.z, l.visibility].map(|v| v.to_string()));
            }
            for l in world {
                row.extend([l.x, l.y, l.z].map(|v| v.to_string()));
            }
        } else {
            row.resize(head.len(), String::new());
        }
        table.write_record(&row)?;
    }
    table
        .into_inner()
        .map_err(|error| io::Error::other(error.to_string()))
}
