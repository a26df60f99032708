//! The posture of the whole person at any time of a clip.
//!
//! In: channels filled by the plan. Out: trunk posture and both arms' joint angles in
//! degrees at a time in seconds. Nothing is sampled or measured here.

use nalgebra::Vector3;

use super::blade::OwnBlade;
use super::body::{ArmPose, SidePose, TrunkPose, about_x, about_y};
use super::channel::{Channel, minimum_jerk};
use super::curve::{Curve, GirdleHabit};
use super::exercise::{AxialRule, Coordinates, KeyPose, RepSignal};
use super::point::Side;
use super::random::Random;

// How far a set blade and a pushed-forward shoulder move the girdle, degrees.
// From memory, not verified: the clavicle can be pro- and retracted some 15 to 30 degrees.
const SET_RETRACTION_DEG: f64 = 6.0;
const SET_DEPRESSION_DEG: f64 = 2.0;
const SET_EXTERNAL_DEG: f64 = 5.0;
pub(super) const PUSH_PROTRACTION_DEG: f64 = 12.0;
const PUSH_INTERNAL_DEG: f64 = 7.0;

/// A slow wander about zero: two sines of unlike period.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Wander {
    amplitude: f64,
    waves: [(f64, f64); 2],
}

impl Wander {
    /// A wander of standard deviation `sd`, periods of about 2 to 8 s.
    pub(super) fn new(sd: f64, random: &mut Random) -> Self {
        let mut wave = |low, high| {
            let hertz = random.between(low, high);
            let phase = random.between(0.0, std::f64::consts::TAU);
            (hertz * std::f64::consts::TAU, phase)
        };
        Self {
            amplitude: sd,
            waves: [wave(0.12, 0.25), wave(0.28, 0.5)],
        }
    }

    pub(super) fn at(&self, time_s: f64) -> f64 {
        let [(a, p), (b, q)] = self.waves;
        self.amplitude * ((a * time_s + p).sin() + (b * time_s + q).sin())
    }
}

/// One arm's channels.
#[derive(Clone, Debug)]
pub(super) struct ArmCourse {
    pub working: bool,
    pub coordinates: Coordinates,
    pub axial: AxialRule,
    pub first: Channel,
    pub second: Channel,
    pub rotation: Channel,
    pub elbow: Channel,
    pub sway: Wander,
    pub elbow_sway: Wander,
}

impl ArmCourse {
    /// Adds a key pose.
    pub(super) fn key(&mut self, time_s: f64, pose: &KeyPose) {
        self.first.key(time_s, pose.first);
        self.second.key(time_s, pose.second);
        self.rotation.key(time_s, pose.rotation);
        self.elbow.key(time_s, pose.elbow);
    }

    /// Stands until `from_s`, then moves to `pose` by `to_s`.
    pub(super) fn move_to(&mut self, from_s: f64, to_s: f64, pose: &KeyPose) {
        self.first.move_to(from_s, to_s, pose.first);
        self.second.move_to(from_s, to_s, pose.second);
        self.rotation.move_to(from_s, to_s, pose.rotation);
        self.elbow.move_to(from_s, to_s, pose.elbow);
    }

    fn signal(&self, signal: RepSignal) -> &Channel {
        match signal {
            RepSignal::Elevation => &self.first,
            RepSignal::ElbowFlexion => &self.elbow,
            RepSignal::HumeralRotation => &self.rotation,
        }
    }
}

/// All channels of a clip.
#[derive(Clone, Debug)]
pub(super) struct Course {
    pub arms: [ArmCourse; 2],
    pub blade: Channel,
    pub push: Channel,
    pub hike: Channel,
    pub lowering: Channel,
    pub lean_right: Channel,
    pub lean_forward: Channel,
    pub turn: Channel,
    pub w: Channel,
    pub heading: Channel,
    pub stride: Channel,
    pub sway: [Wander; 5],
    pub curve: Curve,
    pub habit: GirdleHabit,
    pub own: OwnBlade,
}

/// Direction of the upper arm in the thorax from elevation and plane.
pub(super) fn direction(elevation_deg: f64, plane_deg: f64) -> Vector3<f64> {
    let (se, ce) = elevation_deg.to_radians().sin_cos();
    let (sp, cp) = plane_deg.to_radians().sin_cos();
    Vector3::new(sp * se, -ce, cp * se)
}

/// Elevation and plane of a direction, degrees.
fn elevation_and_plane(d: &Vector3<f64>) -> (f64, f64) {
    let elevation = d.x.hypot(d.z).atan2(-d.y);
    (elevation.to_degrees(), d.x.atan2(d.z).to_degrees())
}

/// Axial rotation that points the bent forearm toward `target` as well as it can. Near a
/// hanging arm the target gives way to "forward": upward would have no meaning there.
fn axial_toward(elevation_deg: f64, plane_deg: f64, target: [f64; 3]) -> f64 {
    let neutral = about_y(plane_deg) * about_x(-elevation_deg);
    let raised = minimum_jerk((elevation_deg - 12.0) / 28.0);
    let target = Vector3::x().lerp(&Vector3::from(target), raised);
    let x = neutral.column(0).dot(&target);
    let z = neutral.column(2).dot(&target);
    (-z).atan2(x).to_degrees()
}

impl Course {
    /// The arm of a side.
    pub(super) fn arm(&self, side: Side) -> &ArmCourse {
        let [left, right] = &self.arms;
        match side {
            Side::Left => left,
            Side::Right => right,
        }
    }

    /// Rate of the repetition's signal, degrees per second.
    pub(super) fn signal_rate(&self, side: Side, signal: RepSignal, time_s: f64) -> f64 {
        self.arm(side).signal(signal).rate(time_s)
    }

    fn stride_deg(&self, time_s: f64) -> f64 {
        // from memory, not verified: one stride a second in unhurried walking
        self.stride.at(time_s) * (std::f64::consts::TAU * 0.95 * time_s).sin()
    }

    fn arm_pose(&self, side: Side, time_s: f64) -> ArmPose {
        let arm = self.arm(side);
        let (first, second) = (arm.first.at(time_s), arm.second.at(time_s));
        let (mut elevation, mut plane) = match arm.coordinates {
            Coordinates::ElevationPlane => (first, second),
            Coordinates::PathAhead => {
                let (sb, cb) = second.to_radians().sin_cos();
                let (sf, cf) = first.to_radians().sin_cos();
                elevation_and_plane(&Vector3::new(sb, -cb * cf, cb * sf))
            }
        };
        let mut elbow = arm.elbow.at(time_s);
        if arm.working {
            plane += arm.sway.at(time_s);
        } else {
            elevation += arm.sway.at(time_s);
            elbow += arm.elbow_sway.at(time_s);
        }
        let stride = self.stride_deg(time_s);
        if stride != 0.0 {
            // arms swing against the leg of their side
            let mut d = direction(elevation, plane);
            d.x -= 0.9 * stride.to_radians() * side.sign();
            (elevation, plane) = elevation_and_plane(&d);
        }
        let axial = match arm.axial {
            AxialRule::Pose => arm.rotation.at(time_s) - plane,
            AxialRule::ForearmToward(target) => axial_toward(elevation, plane, target),
        };
        ArmPose {
            plane_deg: plane,
            elevation_deg: elevation,
            axial_deg: axial,
            elbow_flexion_deg: elbow.max(0.0),
        }
    }

    /// One arm and its girdle.
    pub(super) fn side(&self, side: Side, time_s: f64) -> SidePose {
        let arm = self.arm_pose(side, time_s);
        let (e, p) = (arm.elevation_deg, arm.plane_deg);
        let working = if self.arm(side).working { 1.0 } else { 0.0 };
        let lowering = working * self.lowering.at(time_s);
        let mut girdle = self.curve.pose(e, p, lowering, &self.habit);
        self.own.add_to(&mut girdle, e);
        let blade = working * self.blade.at(time_s);
        let push = working * self.push.at(time_s);
        // the hike comes with the first part of the raise and stays
        let hike = working * self.hike.at(time_s) * minimum_jerk((e - 9.0) / 36.0);
        girdle.clavicle_protraction_deg += PUSH_PROTRACTION_DEG * push - SET_RETRACTION_DEG * blade;
        girdle.clavicle_elevation_deg += hike - SET_DEPRESSION_DEG * blade;
        girdle.internal_rotation_deg += PUSH_INTERNAL_DEG * push - SET_EXTERNAL_DEG * blade;
        SidePose { arm, girdle }
    }

    /// The trunk.
    pub(super) fn trunk(&self, time_s: f64) -> TrunkPose {
        let [u, w, yaw, right, forward] = &self.sway;
        TrunkPose {
            u_m: u.at(time_s),
            w_m: self.w.at(time_s) + w.at(time_s),
            yaw_deg: self.heading.at(time_s) + self.turn.at(time_s) + yaw.at(time_s),
            lean_right_deg: self.lean_right.at(time_s) + right.at(time_s),
            lean_forward_deg: self.lean_forward.at(time_s) + forward.at(time_s),
            stride_deg: self.stride_deg(time_s),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulate::body::{forearm_in_humerus, humerus_rotation};

    #[test]
    fn the_forearm_is_aimed() {
        for (e, p) in [(50.0, 33.0), (45.0, 35.0), (80.0, 75.0), (25.0, -90.0)] {
            let axial_deg = axial_toward(e, p, [1.0, 0.0, 0.0]);
            let reach = |axial_deg: f64| {
                let arm = ArmPose {
                    plane_deg: p,
                    elevation_deg: e,
                    axial_deg,
                    elbow_flexion_deg: 90.0,
                };
                (humerus_rotation(&arm) * forearm_in_humerus(90.0)).x
            };
            for step in 0..360 {
                assert!(reach(axial_deg) >= reach(f64::from(step)) - 1e-12);
            }
        }
    }

    #[test]
    fn a_direction_gives_its_angles_back() {
        for (e, p) in [(50.0, 33.0), (0.5, -170.0), (150.0, 90.0)] {
            let (e2, p2) = elevation_and_plane(&direction(e, p));
            assert!((e - e2).abs() < 1e-9 && (p - p2).abs() < 1e-9);
        }
    }
}
