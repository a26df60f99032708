//! Plain long tables: one row per frame and point.
//!
//! 2-D: `frame,time_s,person,point,x,y,score`, pixels, y down. 3-D: `frame,time_s,point,x,y,z`,
//! metres, the room's axes (x right in the picture, y up, z toward the camera). A point of which
//! nothing is known has no row.

use std::io;

use super::rounded;
use crate::simulate::clip::Clip;
use crate::simulate::point::Point;

/// Points of the 2-D table.
const PLANE_POINTS: [Point; 23] = [
    Point::Nose,
    Point::LeftEye,
    Point::RightEye,
    Point::LeftEar,
    Point::RightEar,
    Point::Neck,
    Point::LeftShoulder,
    Point::RightShoulder,
    Point::LeftElbow,
    Point::RightElbow,
    Point::LeftWrist,
    Point::RightWrist,
    Point::LeftIndex,
    Point::RightIndex,
    Point::LeftPinky,
    Point::RightPinky,
    Point::LeftHip,
    Point::RightHip,
    Point::MidHip,
    Point::LeftKnee,
    Point::RightKnee,
    Point::LeftAnkle,
    Point::RightAnkle,
];

/// Coloured dots on the shoulder blades.
const DOTS: [Point; 8] = [
    Point::LeftAc,
    Point::RightAc,
    Point::LeftAa,
    Point::RightAa,
    Point::LeftTs,
    Point::RightTs,
    Point::LeftAi,
    Point::RightAi,
];

/// Bony landmarks that only a three-dimensional system gives.
const BONY: [Point; 18] = [
    Point::Ij,
    Point::Px,
    Point::C7,
    Point::T8,
    Point::LeftSc,
    Point::RightSc,
    Point::LeftAc,
    Point::RightAc,
    Point::LeftAa,
    Point::RightAa,
    Point::LeftTs,
    Point::RightTs,
    Point::LeftAi,
    Point::RightAi,
    Point::LeftEl,
    Point::RightEl,
    Point::LeftEm,
    Point::RightEm,
];

/// Points of the 3-D exports.
pub(super) fn space_points() -> impl Iterator<Item = Point> {
    PLANE_POINTS.into_iter().chain(BONY)
}

fn finish(table: csv::Writer<Vec<u8>>) -> io::Result<Vec<u8>> {
    table
        .into_inner()
        .map_err(|error| io::Error::other(error.to_string()))
}

/// The 2-D table; a skin dot that cannot be seen has no row.
pub(super) fn tidy2d(clip: &Clip) -> io::Result<Vec<u8>> {
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record(["frame", "time_s", "person", "point", "x", "y", "score"])?;
    let dots: &[Point] = if clip.recipe.extras.skin_dots {
        &DOTS
    } else {
        &[]
    };
    for (index, frame) in clip.frames.iter().enumerate() {
        let (number, time) = (index.to_string(), rounded(frame.time_s, 6).to_string());
        for (place, person) in frame.people.iter().enumerate() {
            let dots = if frame.subject == Some(place) {
                dots
            } else {
                &[]
            };
            let seen_dots = dots.iter().filter(|dot| person.image[**dot].score > 0.6);
            for point in PLANE_POINTS.iter().chain(seen_dots) {
                let k = person.image[*point];
                if k.score <= 0.0 {
                    continue;
                }
                table.write_record([
                    number.as_str(),
                    &time,
                    &place.to_string(),
                    point.id(),
                    &rounded(k.x, 3).to_string(),
                    &rounded(k.y, 3).to_string(),
                    &rounded(k.score, 4).to_string(),
                ])?;
            }
        }
    }
    finish(table)
}

/// The 3-D table of the exercising person.
pub(super) fn tidy3d(clip: &Clip) -> io::Result<Vec<u8>> {
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record(["frame", "time_s", "point", "x", "y", "z"])?;
    let seen = clip.frames.iter().zip(clip.markers()).enumerate();
    for (index, (frame, markers)) in seen.filter(|seen| seen.1.0.subject.is_some()) {
        let (number, time) = (index.to_string(), rounded(frame.time_s, 6).to_string());
        for point in space_points() {
            let p = markers[point];
            let [x, y, z] = [p.x, p.y, p.z].map(|v| rounded(v, 6).to_string());
            table.write_record([number.as_str(), &time, point.id(), &x, &y, &z])?;
        }
    }
    finish(table)
}
