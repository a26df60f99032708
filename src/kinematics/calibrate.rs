//! Rulers of a picture track: length of the trunk over time and of the arm's segments, in pixels.

use super::assumptions::{Assumptions, Spread};
use super::lengths::PicturePoses;
use super::lift::PicturePose;
use super::pose::Role;
use super::poses::Poses;
use crate::body::Side;
use crate::dsp::window::over_windows;
use crate::geom::{quantile, quantile_of_sorted};
use nalgebra::Vector2;

/// Tilt of a segment from the trunk line, degrees, within which it lies in the image plane whatever the
/// view (hanging or overhead); stated choice: at 25 degrees at most a tenth of the length is lost.
const ALONG_TRUNK_DEG: f64 = 25.0;

/// Quantile of the seen lengths that stands for the whole length: the median, since noise lengthens a seen
/// segment about as much as a few degrees out of the image plane shorten it.
const TYPICAL: f64 = 0.5;

/// Frames needed along the trunk line to take the length from them (one second at 30 Hz, stated choice).
const ENOUGH_FRAMES: usize = 30;

/// Quantile of the trunk's length at which the shoulders rest (stated choice: a quarter of a repetition or
/// more is spent at rest).
const RESTING: f64 = 0.25;

/// Trunk length by frame: a running low quantile, so that neither a noisy hip nor a raised shoulder (which
/// lifts the middle of the shoulders and lengthens the line) changes the ruler; `None` where there is no
/// value within the window.
pub fn trunk_ruler(lengths: &[Option<f64>], half_window: usize) -> Vec<Option<f64>> {
    let finite: Vec<Option<f64>> = (lengths.iter())
        .map(|length| length.filter(|px| px.is_finite()))
        .collect();
    over_windows(&finite, half_window, |window| {
        quantile_of_sorted(window, RESTING)
    })
}

/// Length of a segment as a share of the trunk length.
///
/// *Definition* the median of its seen share over the frames in which it runs along the trunk line
/// (there it lies in the image plane); with too few such frames the assumed share of bodies, raised to
/// what was seen if the segment was ever seen longer.
/// *Source* of the idea: Taylor 2000; of the assumed shares: `models/landmarks.toml`.
pub fn segment_share(
    segments: &[Option<(Vector2<f64>, Vector2<f64>)>],
    trunk_px: &[Option<f64>],
    assumed: Spread,
    point_error_share: f64,
) -> Spread {
    let shares: Vec<(f64, f64)> = segments
        .iter()
        .zip(trunk_px)
        .filter_map(|(segment, trunk)| {
            let ((segment, up), trunk) = ((*segment)?, (*trunk)?);
            let length = segment.norm();
            let tilt = (-segment.dot(&up) / length).clamp(-1.0, 1.0).acos();
            Some((length / trunk, tilt.to_degrees()))
        })
        .collect();
    let within = |wanted: fn(f64) -> bool| -> Vec<f64> {
        shares
            .iter()
            .filter(|(_, tilt)| wanted(*tilt))
            .map(|(share, _)| *share)
            .collect()
    };
    // A hanging segment is at the depth of its start; an overhead one may lean toward the phone.
    let hanging = within(|tilt| tilt < ALONG_TRUNK_DEG);
    let along = if hanging.len() >= ENOUGH_FRAMES {
        hanging
    } else {
        within(|tilt| !(ALONG_TRUNK_DEG..=180.0 - ALONG_TRUNK_DEG).contains(&tilt))
    };
    let plausible = |share: f64| (share - assumed.value).abs() < 4.0 * assumed.sd;
    if along.len() >= ENOUGH_FRAMES
        && let Some(share) = quantile(along, TYPICAL).filter(|share| plausible(*share))
    {
        return Spread {
            value: share,
            sd: point_error_share,
        };
    }
    let longest = quantile(shares.iter().map(|(share, _)| *share), 0.95).unwrap_or(0.0);
    Spread {
        value: assumed
            .value
            .max(longest.min(assumed.value + 2.0 * assumed.sd)),
        sd: assumed.sd,
    }
}

/// Segment lengths as shares of the trunk length.
pub(super) struct Rulers {
    pub(super) upper_arm: Spread,
    pub(super) forearm: Spread,
}

impl Rulers {
    pub(super) fn of(
        poses: &PicturePoses<'_>,
        trunk_px: &[Option<f64>],
        assumptions: &Assumptions,
        side: Side,
        magnified: f64,
    ) -> Rulers {
        // Half of what the points' own errors make of a length: the same errors are nudged point by point.
        let point_error =
            std::f64::consts::FRAC_1_SQRT_2 * assumptions.limb_m / assumptions.trunk_m;
        let share = |from: Role, to: Role, assumed: Spread| {
            let segments = poses.map(|pose: &PicturePose| {
                let (lower, upper) = pose.trunk_line()?;
                let up = (upper - lower).try_normalize(1e-9)?;
                let at = |role: Role| pose.points.get(role as usize).copied().flatten();
                Some(((at(to)? - at(from)?) / magnified, up))
            });
            segment_share(&segments, trunk_px, assumed, point_error)
        };
        let shoulder = Role::shoulder(side);
        let (upper_arm, forearm) = rayon::join(
            || share(shoulder, Role::Elbow, assumptions.upper_arm),
            || share(Role::Elbow, Role::Wrist, assumptions.forearm),
        );
        Rulers { upper_arm, forearm }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ruler_is_the_quantile_of_each_window() {
        let lengths: Vec<Option<f64>> = (0..80)
            .map(|frame| (frame % 7 != 3).then(|| 200.0 + f64::from(frame * 37 % 23)))
            .collect();
        for half in [1, 5, 100] {
            let by_definition: Vec<Option<f64>> = (0..lengths.len())
                .map(|frame| {
                    let window =
                        &lengths[frame.saturating_sub(half)..lengths.len().min(frame + half + 1)];
                    quantile(window.iter().copied().flatten(), RESTING)
                })
                .collect();
            assert_eq!(trunk_ruler(&lengths, half), by_definition);
        }
    }

    #[test]
    fn a_hanging_arm_gives_its_own_length() {
        let up = Vector2::y();
        let hanging = vec![Some((Vector2::new(5.0, -130.0), up)); 40];
        let raised = vec![Some((Vector2::new(90.0, 20.0), up)); 100];
        let segments: Vec<_> = hanging.into_iter().chain(raised).collect();
        let trunk = vec![Some(200.0); 140];
        let share = segment_share(
            &segments,
            &trunk,
            Spread {
                value: 0.64,
                sd: 0.05,
            },
            0.03,
        );
        assert!((share.value - 130.1 / 200.0).abs() < 1e-3, "{share:?}");
        assert_eq!(share.sd, 0.03);
    }

    #[test]
    fn without_such_frames_bodies_in_general_speak() {
        let segments = vec![Some((Vector2::new(90.0, 20.0), Vector2::y())); 100];
        let share = segment_share(
            &segments,
            &vec![Some(200.0); 100],
            Spread {
                value: 0.64,
                sd: 0.05,
            },
            0.03,
        );
        assert_eq!(
            share,
            Spread {
                value: 0.64,
                sd: 0.05
            }
        );
    }
}
