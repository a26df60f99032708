//! From where the phone saw the person: the turn of the trunk.

use super::assumptions::{Assumptions, Spread};
use crate::body::{Joint, Side, ViewName};
use crate::geom::{median, wrap_180};
use crate::reading::Z_95;
use crate::track::{Layer, Track};

/// Turn of the trunk to the phone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ViewEstimate {
    /// 0 faces the phone, 90 faces the picture's right, -90 its left, 180 the back; with its spread.
    pub yaw_deg: Spread,
    /// Whether the user stated the view.
    pub stated: bool,
    /// Whether left and right turn can be told apart.
    pub sign_known: bool,
}

impl ViewEstimate {
    /// Name of the view.
    pub fn name(&self) -> ViewName {
        ViewName::of_yaw(self.yaw_deg.value)
    }

    /// Share of the person's forward direction that lies in the picture plane, -1..1.
    pub fn sin(&self) -> f64 {
        self.yaw_deg.value.to_radians().sin()
    }

    /// Share of the person's rightward direction that lies in the picture plane, -1..1.
    pub fn cos(&self) -> f64 {
        self.yaw_deg.value.to_radians().cos()
    }
}

/// Turn from the widths of shoulders and hips in the picture.
///
/// *Definition* cos(turn) = signed width / (assumed width share x trunk length); the sign of the turn from
/// the nose or the ears against the middle of the shoulders.
/// *Not measurable when* neither both shoulders nor both hips are seen with a trunk line.
pub fn from_picture(
    track: &Track,
    layer: &Layer,
    trunk_px: &[Option<f64>],
    assumptions: &Assumptions,
    stated: Option<ViewName>,
) -> Option<ViewEstimate> {
    let width = |make: fn(Side) -> Joint, share: Spread, point_sd_m: f64| {
        let left = track.column(make(Side::Left))?;
        let right = track.column(make(Side::Right))?;
        let shares = trunk_px.iter().enumerate().filter_map(|(frame, trunk)| {
            let across = layer.flat(frame, right)?.x - layer.flat(frame, left)?.x;
            Some(-across / (trunk.as_ref()? * share.value))
        });
        let cos = median(shares)?;
        let body = cos.abs() * share.sd / share.value;
        let points = point_sd_m * std::f64::consts::SQRT_2 / (share.value * assumptions.trunk_m);
        Some(Spread {
            value: cos,
            sd: body.hypot(points),
        })
    };
    let shoulders = || {
        let share = assumptions.shoulder_width;
        width(Joint::Shoulder, share, assumptions.shoulder_m)
    };
    let hips = || width(Joint::Hip, assumptions.hip_width, assumptions.hip_m);
    let (facing_right, (shoulders, hips)) =
        rayon::join(|| head_ahead(track, layer), || rayon::join(shoulders, hips));
    let estimates: Vec<Spread> = [shoulders, hips].into_iter().flatten().collect();
    let weight: f64 = estimates.iter().map(|e| e.sd.powi(-2)).sum();
    if !(weight.is_finite() && weight > 0.0) {
        return None;
    }
    let cos = estimates
        .iter()
        .map(|e| e.value * e.sd.powi(-2))
        .sum::<f64>()
        / weight;
    let cos_sd = weight.sqrt().recip();

    let measured = if cos.abs() + Z_95 * cos_sd >= 1.0 {
        // Facing or turned away, as far as the widths can tell: bodies differ by as much as such a turn
        // takes from the width.
        let doubt = if stated.is_some() { 1.0 } else { 1.5 };
        let value = if cos > 0.0 { 0.0 } else { 180.0 };
        let looks_turned = cos.abs().min(1.0).acos().to_degrees() / 2.0;
        ViewEstimate {
            yaw_deg: Spread {
                value,
                sd: (assumptions.stated_view_sd_deg * doubt).max(looks_turned),
            },
            stated: stated.is_some(),
            sign_known: true,
        }
    } else {
        let turn = cos.acos().to_degrees();
        let sin = (1.0 - cos * cos).sqrt();
        let sign = match facing_right {
            Some(ahead) if ahead < 0.0 => -1.0,
            _ => 1.0,
        };
        ViewEstimate {
            yaw_deg: Spread {
                value: sign * turn,
                sd: (cos_sd / sin).to_degrees(),
            },
            stated: stated.is_some(),
            sign_known: facing_right.is_some(),
        }
    };
    Some(match stated.and_then(ViewName::yaw_deg) {
        // A stated view settles the sign, and the turn itself when the widths say something else.
        Some(stated_deg) if wrap_180(measured.yaw_deg.value - stated_deg).abs() > 40.0 => {
            ViewEstimate {
                yaw_deg: Spread {
                    value: stated_deg,
                    sd: assumptions.stated_view_sd_deg,
                },
                stated: true,
                sign_known: true,
            }
        }
        Some(_) => ViewEstimate {
            sign_known: true,
            ..measured
        },
        None => measured,
    })
}

/// How far the head's front is to the picture's right of the shoulders' middle, in pixels; `None` when no
/// head point is there.
fn head_ahead(track: &Track, layer: &Layer) -> Option<f64> {
    let left = track.column(Joint::Shoulder(Side::Left))?;
    let right = track.column(Joint::Shoulder(Side::Right))?;
    let nose = track.column(Joint::Nose)?;
    let ears: Vec<usize> = Side::BOTH
        .iter()
        .filter_map(|side| track.column(Joint::Ear(*side)))
        .collect();
    median((0..layer.frames()).filter_map(|frame| {
        let nose = layer.flat(frame, nose)?.x;
        let ear_xs: Vec<f64> = ears
            .iter()
            .filter_map(|ear| layer.flat(frame, *ear))
            .map(|ear| ear.x)
            .collect();
        let behind = if ear_xs.is_empty() {
            (layer.flat(frame, left)?.x + layer.flat(frame, right)?.x) / 2.0
        } else {
            ear_xs.iter().sum::<f64>() / ear_xs.len() as f64
        };
        Some(nose - behind)
    }))
}
