//! The arm seen across its own plane: how high it goes, where the phone saw it from its tip.
//!
//! In: the elevation that was judged and its limit. Out: two poses of a plain figure whose arm lies in the picture, and
//! the sector that the limit leaves. The elevation and the bend of the elbow are measured; the proportions are drawing
//! practice. `None` where the arm shows well from where the phone stood.

use super::aim::{Moment, inside};
use super::pose::{Point, Pose, length, plus, times, turned};
use super::scene::{Scene, sector};
use crate::body::Side;
use crate::models::Limit;
use crate::session::Rep;

/// Share of its length from which an arm shows well enough (drawing practice, no source).
const SHOWS: f64 = 0.6;
/// Upper arm and forearm with hand in the drawing's box (drawing practice, no source).
const UPPER: f64 = 0.15;
const FORE: f64 = 0.16;
/// Where the shoulder and the hip are drawn.
const SHOULDER: Point = [0.4, 0.6];
const HIP: Point = [0.4, 0.35];

pub(super) fn of(moment: &Moment<'_>, rep: &Rep, limit: &Limit) -> Option<Scene> {
    let now = rep.readings.get(&limit.measure)?.value?;
    let aim = inside(limit)?;
    let shows = [now, aim].iter().all(|elevation| {
        moment
            .lifted(*elevation)
            .is_some_and(|arm| length(arm) >= SHOWS)
    });
    if shows {
        return None;
    }
    let bend = moment.bend();
    let ends = [limit.low.unwrap_or(0.0), limit.high.unwrap_or(180.0)];
    Some(Scene {
        now: figure(now, bend, moment.side()),
        aim: figure(aim, bend, moment.side()),
        sector: sector(SHOULDER, UPPER + FORE, ends, toward),
    })
}

/// Toward an elevation: 0 hanging, 180 up; the arm goes to the right of the picture.
fn toward(elevation_deg: f64) -> Point {
    let (sin, cos) = elevation_deg.to_radians().sin_cos();
    [sin, -cos]
}

fn figure(elevation_deg: f64, bend_deg: f64, side: Side) -> Pose {
    let mut pose = Pose::default();
    let way = toward(elevation_deg);
    let elbow = plus(SHOULDER, times(way, UPPER));
    pose.put("shoulder", side, SHOULDER);
    pose.put("hip", side, HIP);
    pose.put("elbow", side, elbow);
    let fore = turned(way, bend_deg.to_radians());
    pose.put("wrist", side, plus(elbow, times(fore, FORE)));
    pose
}
