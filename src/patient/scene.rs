//! What a drawing shows that is not seen from where the phone stood: a plain figure, now and as it should be.

use super::pose::{Point, Pose, plus, times};

/// Two poses and the room that the limits leave.
pub(super) struct Scene {
    pub(super) now: Pose,
    pub(super) aim: Pose,
    pub(super) sector: Vec<Point>,
}

/// The edge of a sector: its corner, then the arc in steps of some five degrees.
pub(super) fn sector(
    corner: Point,
    radius: f64,
    [low, high]: [f64; 2],
    toward: impl Fn(f64) -> Point,
) -> Vec<Point> {
    let steps = ((high - low) / 5.0).ceil().clamp(1.0, 72.0) as u32;
    let arc = (0..=steps).map(|step| {
        let angle = low + (high - low) * f64::from(step) / f64::from(steps);
        plus(corner, times(toward(angle), radius))
    });
    std::iter::once(corner).chain(arc).collect()
}
