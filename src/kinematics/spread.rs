//! Propagation of errors from points and assumptions to angles, one mechanism for every kind of pose.
//!
//! Every uncertain number of a pose is nudged by one standard deviation up and down; the root mean square of
//! the two changes of an angle counts, so that a square root that runs into zero near the image plane is not
//! taken for certainty. Contributions of different numbers are independent and add in squares.

use super::Blade;
use super::angles::{Angles, Posture, angles, angles_beside};
use super::poses::{Courses, Poses};
use super::signal::Signal;
use super::together::{FramePulls, Pull, Pulls};
use crate::body::Side;
use crate::geom::wrap_180;
use rayon::prelude::*;

/// Samples of the spread a second: errors change no faster than postures (stated choice).
const SPREADS_PER_S: f64 = 3.0;

/// The same where a blade is seen: how errors pull elevation and upward rotation matters along a raise of a second
/// (stated choice).
const PULLS_PER_S: f64 = 12.0;

/// Adds a step to one number of a pose: how, to which of several like numbers, and by how much.
pub struct Step<P> {
    /// Adds it; the place says which of several like numbers is meant.
    pub add: fn(&mut P, [usize; 2], f64),
    /// That place.
    pub at: [usize; 2],
}

/// One uncertain number of a pose.
pub struct Nudge<P> {
    /// Which number it is, the same in every frame of a clip.
    pub number: usize,
    /// Standard deviation of its frame-to-frame noise.
    pub random: f64,
    /// Standard deviation of its error that stays the same through a clip.
    pub systematic: f64,
    /// Adds a step to it.
    pub step: Step<P>,
}

/// Anything a posture can be made of.
pub trait Pose: Clone + Sync {
    /// Errors of its points, the same in every frame.
    type Errors: Sync;
    /// Exercising side.
    fn side(&self) -> Side;
    /// The posture, if the points are there.
    fn posture(&self) -> Option<Posture> {
        self.posture_beside(None)
    }
    /// The same, beside a pose whose posture is known: what both have in common is not worked out again.
    fn posture_beside(&self, known: Option<(&Self, &Posture)>) -> Option<Posture>;
    /// Plane of elevation and elevation of the arm, degrees, as among [`Pose::angles`], and nothing else.
    fn arm_deg(&self) -> Option<(f64, f64)>;
    /// The uncertain numbers.
    fn nudges(&self, errors: &Self::Errors) -> Vec<Nudge<Self>>;
    /// What points on the blade do not show by themselves.
    fn blade(&self) -> &Blade;
    /// Angles of the posture.
    fn angles(&self) -> Angles {
        match self.posture() {
            Some(posture) => self.blade().on_bone(angles(&posture, self.side())),
            None => [None; Signal::COUNT],
        }
    }
}

/// Standard deviations of every angle, degrees: frame-to-frame part and clip-long part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AngleSpread {
    /// Frame-to-frame.
    pub random: [f64; Signal::COUNT],
    /// Clip-long.
    pub systematic: [f64; Signal::COUNT],
}

/// Spread of the angles of one pose, and how its constant errors pull elevation and upward rotation.
pub fn spread<P: Pose>(pose: &P, errors: &P::Errors) -> (AngleSpread, FramePulls) {
    let posture = pose.posture();
    let seen = posture
        .as_ref()
        .map(|posture| (posture, angles(posture, pose.side())));
    let middle = match &seen {
        Some((_, angles)) => pose.blade().on_bone(*angles),
        None => [None; Signal::COUNT],
    };
    let mut random = [0.0; Signal::COUNT];
    let mut systematic = [0.0; Signal::COUNT];
    let mut pulls = FramePulls::new();
    for nudge in pose.nudges(errors) {
        let step = nudge.random.hypot(nudge.systematic);
        if step <= 0.0 {
            continue;
        }
        let nudged = |sign: f64| {
            let mut other = pose.clone();
            (nudge.step.add)(&mut other, nudge.step.at, sign * step);
            match other.posture_beside(posture.as_ref().map(|posture| (pose, posture))) {
                Some(posture) => {
                    let known = seen.as_ref().map(|(posture, angles)| (*posture, angles));
                    let angles = angles_beside(&posture, other.side(), known);
                    other.blade().on_bone(angles)
                }
                None => [None; Signal::COUNT],
            }
        };
        let (up, down) = (nudged(1.0), nudged(-1.0));
        if nudge.systematic > 0.0
            && let (Some(up), Some(down)) =
                (Pull::between(&middle, &up), Pull::between(&middle, &down))
        {
            let share = nudge.systematic / step;
            pulls.insert(nudge.number, [up.scaled(share), down.scaled(share)]);
        }
        for signal in Signal::ALL {
            let i = signal.index();
            let Some(value) = middle[i] else { continue };
            let change = |other: Option<f64>| {
                other.map_or(0.0, |other| {
                    let change = other - value;
                    if signal.is_circular() {
                        wrap_180(change).abs()
                    } else {
                        change.abs()
                    }
                })
            };
            let change = (change(up[i]).powi(2) / 2.0 + change(down[i]).powi(2) / 2.0).sqrt();
            random[i] += (change * nudge.random / step).powi(2);
            systematic[i] += (change * nudge.systematic / step).powi(2);
        }
    }
    let spread = AngleSpread {
        random: random.map(f64::sqrt),
        systematic: systematic.map(f64::sqrt),
    };
    (spread, pulls)
}

/// Spread of the angles of poses at a few frames a second, on all cores, and the pulls at those frames.
pub fn sampled_spreads<P: Poses>(
    poses: &P,
    courses: &Courses,
    errors: &<P::Pose as Pose>::Errors,
    rate_hz: Option<f64>,
) -> (Vec<(usize, AngleSpread)>, Pulls) {
    let per_s = if courses.get(Signal::UpwardRotation).is_some() {
        PULLS_PER_S
    } else {
        SPREADS_PER_S
    };
    let step = (rate_hz.unwrap_or(1.0) / per_s).round().max(1.0) as usize;
    let sampled: Vec<(usize, AngleSpread, FramePulls)> = (0..poses.frames().div_ceil(step))
        .into_par_iter()
        .filter_map(|sample| {
            let frame = sample * step;
            let pose = poses.at(frame);
            pose.posture()?;
            let (spread, pulls) = spread(&pose, errors);
            Some((frame, spread, pulls))
        })
        .collect();
    let mut spreads = Vec::with_capacity(sampled.len());
    let mut pulls = Vec::new();
    for (frame, spread, of_frame) in sampled {
        spreads.push((frame, spread));
        if !of_frame.is_empty() {
            pulls.push((frame, of_frame));
        }
    }
    (spreads, Pulls::new(pulls))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kinematics::ForearmRule;
    use crate::kinematics::assumptions::Spread;
    use crate::kinematics::lens::Lens;
    use crate::kinematics::lift::{CollarFrom, PicturePose};
    use crate::kinematics::pose::{Lower, PointErrors, Rightward, Role, TrunkPlan, Upper};
    use crate::kinematics::space::{CollarStart, RightwardFix, SpacePose};
    use nalgebra::{Vector2, Vector3};

    const fn spread(value: f64, sd: f64) -> Spread {
        Spread { value, sd }
    }

    const BLADE: Blade = Blade {
        internal_rotation_deg: spread(35.0, 5.0),
        internal_rotation_per_elevation: spread(0.05, 0.02),
        skin_per_elevation: spread(0.0, 0.03),
        dot_m: 0.01,
    };

    /// A body with a raised arm and a blade, metres, by role.
    fn point(role: Role) -> Option<[f64; 3]> {
        Some(match role {
            Role::HipLeft => [0.11, 0.02, 0.0],
            Role::HipRight => [-0.11, 0.0, 0.03],
            Role::ShoulderLeft => [0.19, 0.5, 0.01],
            Role::ShoulderRight => [-0.18, 0.52, 0.04],
            Role::Elbow => [-0.4, 0.66, 0.12],
            Role::Wrist => [-0.42, 0.9, 0.2],
            Role::SternalEnd => [-0.03, 0.47, 0.05],
            Role::SpineRoot => [-0.07, 0.44, -0.06],
            Role::AcromialAngle => [-0.18, 0.53, -0.02],
            Role::InferiorAngle => [-0.1, 0.33, -0.07],
            _ => return None,
        })
    }

    fn plan(rightward: Rightward) -> TrunkPlan {
        TrunkPlan {
            lower: Lower::Hips,
            upper: Upper::MidShoulder,
            rightward,
        }
    }

    /// Every posture beside a known one is the one that is worked out anew; so many shared its trunk axes.
    fn shared<P: Pose>(pose: &P, errors: &P::Errors) -> (usize, usize) {
        let known = pose.posture().expect("all points are there");
        let nudges = pose.nudges(errors);
        let (mut trunk, mut arm) = (0, 0);
        for nudge in &nudges {
            for sign in [1.0, -1.0] {
                let mut other = pose.clone();
                let step = sign * nudge.random.hypot(nudge.systematic);
                (nudge.step.add)(&mut other, nudge.step.at, step);
                let beside = other.posture_beside(Some((pose, &known)));
                assert_eq!(beside, other.posture(), "number {}", nudge.number);
                let beside = beside.expect("a nudge takes no point away");
                trunk += usize::from(beside.trunk == known.trunk);
                arm += usize::from(beside.upper_arm == known.upper_arm);
            }
        }
        assert!(0 < trunk && trunk < 2 * nudges.len());
        (trunk, arm)
    }

    #[test]
    fn a_posture_beside_another_is_the_one_worked_out_anew() {
        let in_picture = |role| point(role).map(|[x, y, _]| Vector2::new(400.0 * x, 400.0 * y));
        let pose = PicturePose {
            side: Side::Right,
            plan: plan(Rightward::Hips),
            points: Role::ALL.map(in_picture),
            lens: Lens {
                centre: Vector2::new(12.0, -30.0),
                centre_sd: 20.0,
                focal: spread(1500.0, 200.0),
            },
            upper_arm: spread(130.0, 8.0),
            forearm: spread(110.0, 8.0),
            half_shoulder: spread(85.0, 6.0),
            yaw_deg: spread(25.0, 5.0),
            unseen_lean_deg: spread(0.0, 4.0),
            elbow_depth_sign: 1.0,
            elbow_sign_guessed: true,
            plane_hint: Some(spread(35.0, 9.0)),
            forearm_rule: ForearmRule::AlongUpperArm,
            girdle: Role::ShoulderRight,
            collar: CollarFrom::Seen(spread(70.0, 5.0)),
            collar_rest: Some(Vector2::new(-60.0, 190.0)),
            blade: BLADE,
        };
        let errors = PointErrors {
            random: [Vector2::repeat(1.5); Role::COUNT],
            systematic: [Vector2::repeat(4.0); Role::COUNT],
        };
        let (trunk, arm) = shared(&pose, &errors);
        assert!(arm < trunk, "the elbow has no part in the trunk");

        for rightward in [Rightward::Hips, Rightward::FileAxes] {
            let pose = SpacePose {
                side: Side::Right,
                plan: plan(rightward),
                points: Role::ALL.map(|role| point(role).map(Vector3::from)),
                girdle: Role::ShoulderRight,
                collar: CollarStart::Seen,
                facing: Some(Vector3::z()),
                rightward_fix: RightwardFix {
                    turn_deg: 3.0,
                    sd_deg: 4.0,
                    share: 0.4,
                },
                blade: BLADE,
            };
            let errors = PointErrors {
                random: [Vector3::repeat(0.003); Role::COUNT],
                systematic: [Vector3::repeat(0.01); Role::COUNT],
            };
            shared(&pose, &errors);
        }
    }
}
