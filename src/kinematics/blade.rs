//! What dots on the blade do not show by themselves: how far its spine stands out of the picture, and how far skin runs
//! ahead of the bone.
//!
//! *Definition.* The spine of the scapula (root to acromial angle) lies in the upright plane that is turned out of the
//! frontal plane by the internal rotation. One picture shows its shadow only, which is steeper than it: with internal
//! rotation p a person turned straight away shows tan(seen) = tan(upward rotation) / cos(p). So the spine is
//! lifted into that plane, with perspective and the turn of the person, as an upper arm is into its plane of elevation.
//! The internal rotation is a published mean at the arm's elevation; its spread between people, and that of its change
//! with elevation, go into every interval.
//!
//! *Not measurable when* the plane is seen too obliquely: then little says how steep the spine is. And when the lifted
//! spine grows longer on the way up than skin slides: bone does not, so it stands in another plane than assumed.

use super::Blade;
use super::angles::Angles;
use super::signal::Signal;
use super::view::ViewEstimate;
use crate::body::Side;
use crate::geom::{median, quantile};
use crate::reading::Z_95;

/// Elevation at which the internal rotation is stated, degrees.
const STATED_AT_DEG: f64 = 30.0;

/// Share of the spine's level part that must be seen for its upward rotation (60 degrees out of the picture; stated
/// choice: beyond it the shadow is more than twice as steep as the spine).
const LEAST_SEEN: f64 = 0.5;

/// Share of the frames that count as low, and as high (stated choice).
const QUARTER: f64 = 0.25;

/// Whether the lifted spine keeps its length, `(upward rotation, length)` by frame, as far as two dots that slide by
/// `slide` each (standard deviation, unit of the lengths) can tell.
pub(super) fn keeps_length(spines: &[(f64, f64)], slide: f64) -> bool {
    let rotation = |share: f64| quantile(spines.iter().map(|(rotation, _)| *rotation), share);
    let (Some(low), Some(high)) = (rotation(QUARTER), rotation(1.0 - QUARTER)) else {
        return true;
    };
    let typical = |within: &dyn Fn(f64) -> bool| {
        median(
            spines
                .iter()
                .filter(|(rotation, _)| within(*rotation))
                .map(|(_, length)| *length),
        )
    };
    let (Some(before), Some(after)) = (
        typical(&|rotation| rotation <= low),
        typical(&|rotation| rotation >= high),
    ) else {
        return true;
    };
    (after - before).abs() <= Z_95 * std::f64::consts::SQRT_2 * slide
}

impl Blade {
    /// Whether a view shows the spine of the scapula well enough to tell how steep it is.
    pub(super) fn is_seen_in(&self, view: &ViewEstimate, side: Side) -> bool {
        let out_deg = match side {
            Side::Right => view.yaw_deg.value + self.internal_rotation_deg.value,
            Side::Left => view.yaw_deg.value - self.internal_rotation_deg.value,
        };
        out_deg.to_radians().cos().abs() >= LEAST_SEEN
    }

    /// Internal rotation at an elevation of the arm, or as stated where that is unknown, degrees.
    pub(super) fn internal_rotation_at(&self, elevation_deg: Option<f64>) -> f64 {
        let raised = elevation_deg.map_or(0.0, |deg| deg - STATED_AT_DEG);
        self.internal_rotation_deg.value + self.internal_rotation_per_elevation.value * raised
    }

    /// Takes what the skin gained over the bone out of the upward rotation.
    pub(super) fn on_bone(&self, mut angles: Angles) -> Angles {
        let elevation = angles[Signal::Elevation.index()];
        let rotation = &mut angles[Signal::UpwardRotation.index()];
        if let (Some(elevation), Some(rotation)) = (elevation, rotation) {
            *rotation -= self.skin_per_elevation.value * elevation;
        }
        angles
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kinematics::Spread;

    const BLADE: Blade = Blade {
        internal_rotation_deg: Spread {
            value: 34.0,
            sd: 9.0,
        },
        internal_rotation_per_elevation: Spread {
            value: -0.02,
            sd: 0.06,
        },
        skin_per_elevation: Spread {
            value: 0.05,
            sd: 0.05,
        },
        dot_m: 0.01,
    };

    #[test]
    fn the_internal_rotation_goes_with_the_arm_and_the_skin_is_taken_out() {
        assert_eq!(BLADE.internal_rotation_at(None), 34.0);
        assert!((BLADE.internal_rotation_at(Some(130.0)) - 32.0).abs() < 1e-12);
        let mut angles: Angles = [None; Signal::COUNT];
        angles[Signal::UpwardRotation.index()] = Some(40.0);
        assert_eq!(BLADE.on_bone(angles), angles);
        angles[Signal::Elevation.index()] = Some(100.0);
        let bone = BLADE.on_bone(angles)[Signal::UpwardRotation.index()];
        assert!(bone.is_some_and(|deg| (deg - 35.0).abs() < 1e-12));
    }

    #[test]
    fn a_spine_seen_as_if_it_grew_is_told() {
        let spine = |grown: f64| -> Vec<(f64, f64)> {
            (0..100)
                .map(|frame| f64::from(frame) / 100.0)
                .map(|share| (10.0 + 40.0 * share, 100.0 * (1.0 + grown * share)))
                .collect()
        };
        assert!(keeps_length(&spine(0.1), 10.0));
        assert!(!keeps_length(&spine(0.6), 10.0));
        assert!(keeps_length(&[], 10.0));
    }

    #[test]
    fn turned_with_the_blade_edge_on_it_is_not_seen() {
        let view = |yaw_deg: f64| ViewEstimate {
            yaw_deg: Spread {
                value: yaw_deg,
                sd: 8.0,
            },
            stated: false,
            sign_known: true,
        };
        assert!(BLADE.is_seen_in(&view(180.0), Side::Right));
        assert!(!BLADE.is_seen_in(&view(-150.0), Side::Right));
        assert!(BLADE.is_seen_in(&view(-150.0), Side::Left));
        assert!(!BLADE.is_seen_in(&view(150.0), Side::Left));
    }
}
