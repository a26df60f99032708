//! Where the collar bone of a picture starts and where the girdle rests.
//!
//! In: the poses of a clip in pixels. Out: the resting offset of the girdle, and the length to a point on the
//! collar bone where the track has one and the view shows it.

use super::lengths::PicturePoses;
use super::lift::{CollarFrom, PicturePose};
use super::picture::IN_PICTURE;
use super::pose::Role;
use super::poses::Poses;
use super::view::ViewEstimate;
use super::{Assumptions, Spread};
use crate::body::{Joint, Side};
use crate::geom::{median, quantile};
use crate::track::Track;
use nalgebra::Vector2;

/// Rise of the hanging arm's end, as a share of the arm, up to which the arm rests (stated choice).
const RESTING_SHARE: f64 = 0.02;

/// Least distance of a point on the collar bone from the girdle, in trunk lengths (some 5 cm; stated choice):
/// nearer, two points give no direction.
const LEAST_COLLAR: f64 = 0.1;

/// Distance between a point on the collar bone and the resting girdle, in trunk lengths, where the track has
/// such a point and the view shows the distance. The poses then count from that point.
pub(super) fn seen_collar(
    poses: &mut PicturePoses<'_>,
    track: &Track,
    view: &ViewEstimate,
    assumptions: &Assumptions,
    side: Side,
) -> Option<Spread> {
    let faced = view.cos().abs();
    if faced < IN_PICTURE || track.coverage(Joint::SternalEnd(side)) < 0.5 {
        return None;
    }
    let before = poses.every.collar;
    poses.every.collar = CollarFrom::Seen(Spread {
        value: 0.0,
        sd: 0.0,
    });
    let length = resting_girdle(poses, side).map_or(0.0, |rest| rest.x.abs() / faced);
    if length < LEAST_COLLAR {
        poses.every.collar = before;
        return None;
    }
    let turned = view.yaw_deg.sd.to_radians() * view.sin().abs() / faced;
    let placed = std::f64::consts::SQRT_2 * assumptions.skin_marker_m / assumptions.trunk_m / faced;
    Some(Spread {
        value: length,
        sd: placed.hypot(length * turned),
    })
}

/// Resting offset of the girdle in trunk lengths: median over the tenth of the frames in which the elbow is
/// lowest along the trunk line.
pub(super) fn resting_girdle(poses: &PicturePoses<'_>, side: Side) -> Option<Vector2<f64>> {
    let placed = poses.map(|pose: &PicturePose| {
        let (lower, upper) = pose.trunk_line()?;
        let (up, length) = ((upper - lower).try_normalize(1e-9)?, (upper - lower).norm());
        let at = |role: Role| pose.points.get(role as usize).copied().flatten();
        let hang = (at(Role::Elbow)? - at(Role::shoulder(side))?).dot(&up) / length;
        Some((hang, pose.girdle_offset()? / length))
    });
    let placed = || placed.iter().flatten();
    let low = quantile(placed().map(|(hang, _)| *hang), 0.1)?;
    let resting = || placed().filter(|(hang, _)| *hang <= low + RESTING_SHARE);
    Some(Vector2::new(
        median(resting().map(|(_, place)| place.x))?,
        median(resting().map(|(_, place)| place.y))?,
    ))
}
