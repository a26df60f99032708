//! The arm seen from above: the one view that shows a plane, wherever the phone stood.
//!
//! In: the plane that was judged and the plane aimed at. Out: two poses of a plain figure that faces up the picture,
//! and the sector that the limits leave. The directions are measured; the proportions are drawing practice.

use super::pose::{Point, Pose};
use super::scene::{Scene, sector};
use crate::body::Side;
use crate::models::{Exercise, Limit};
use crate::session::Rep;

/// Upper arm, forearm with hand, and half the shoulders' breadth in the drawing's box (drawing practice, no source).
const UPPER: f64 = 0.16;
const FORE: f64 = 0.17;
const HALF_BREADTH: f64 = 0.1;
/// Where the middle of the shoulders is drawn.
const MIDDLE: Point = [0.5, 0.5];

pub(super) fn of(rep: &Rep, limit: &Limit, exercise: &Exercise, side: Side) -> Option<Scene> {
    let aim = exercise.plane.as_ref()?.aim_deg;
    let deviation = rep.readings.get(&limit.measure)?.value?;
    let ends = [aim + limit.low?, aim + limit.high?];
    Some(Scene {
        now: figure(aim + deviation, side),
        aim: figure(aim, side),
        sector: sector(shoulder(side), UPPER + FORE, ends, |plane| {
            toward(plane, side)
        }),
    })
}

/// Toward a plane: 0 to the side, 90 ahead, which is up the picture.
fn toward(plane_deg: f64, side: Side) -> Point {
    let (sin, cos) = plane_deg.to_radians().sin_cos();
    [outward(side) * cos, sin]
}

/// The person faces up the picture, so that the right arm is on the right.
fn outward(side: Side) -> f64 {
    match side {
        Side::Left => -1.0,
        Side::Right => 1.0,
    }
}

fn shoulder(side: Side) -> Point {
    [MIDDLE[0] + outward(side) * HALF_BREADTH, MIDDLE[1]]
}

fn along(from: Point, way: Point, far: f64) -> Point {
    [from[0] + way[0] * far, from[1] + way[1] * far]
}

fn figure(plane_deg: f64, side: Side) -> Pose {
    let mut pose = Pose::default();
    for side in [Side::Left, Side::Right] {
        pose.put("shoulder", side, shoulder(side));
    }
    let (from, way) = (shoulder(side), toward(plane_deg, side));
    pose.put("elbow", side, along(from, way, UPPER));
    pose.put("wrist", side, along(from, way, UPPER + FORE));
    pose
}
