//! The turn of the trunk over time in one picture.

use super::picture::IN_PICTURE;
use super::view::ViewEstimate;
use super::{Assumptions, Noise, Series};
use crate::body::{Joint, Side};
use crate::geom::median;
use crate::reading::Why;
use crate::track::{Layer, Track};

/// Turn of the trunk over time from the width of the hips, where the view shows it.
pub(super) fn trunk_turn(
    track: &Track,
    layer: &Layer,
    trunk_px: &[Option<f64>],
    view: &ViewEstimate,
    noise: &Noise,
    assumptions: &Assumptions,
    side: Side,
) -> Result<Series, Why> {
    let (Some(left), Some(right)) = (
        track.column(Joint::Hip(Side::Left)),
        track.column(Joint::Hip(Side::Right)),
    ) else {
        return Err(Why::TrunkUnseen);
    };
    if view.sin().abs() < IN_PICTURE {
        return Err(Why::WrongView);
    }
    let sign = view.sin().signum();
    let toward = match side {
        Side::Right => -1.0,
        Side::Left => 1.0,
    };
    let yaw = |frame: usize| {
        let across = layer.flat(frame, right)?.x - layer.flat(frame, left)?.x;
        let width = assumptions.hip_width.value * (*trunk_px.get(frame)?)?;
        Some(sign * (-across / width).clamp(-1.0, 1.0).acos().to_degrees())
    };
    let turned: Vec<Option<f64>> = (0..layer.frames()).map(yaw).collect();
    let middle = median(turned.iter().copied().flatten()).ok_or(Why::TrunkUnseen)?;
    let typical = median(trunk_px.iter().copied().flatten()).ok_or(Why::TrunkUnseen)?;
    let width_px = assumptions.hip_width.value * typical;
    let hip_noise: f64 = [left, right]
        .iter()
        .filter_map(|column| noise.picture.get(*column))
        .map(|sd| sd[0] * sd[0])
        .sum::<f64>()
        .sqrt();
    let body = assumptions.hip_width.sd / assumptions.hip_width.value * view.cos().abs();
    let value = turned
        .into_iter()
        .map(|deg| deg.map(|deg| toward * (deg - middle)));
    Ok(Series::even(
        value,
        (hip_noise / width_px / view.sin().abs()).to_degrees(),
        (body / view.sin().abs()).to_degrees(),
    ))
}
