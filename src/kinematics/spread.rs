//! Propagation of errors from points and assumptions to angles, one mechanism for every kind of pose.
//!
//! Every uncertain number of a pose is nudged by one standard deviation up and down; the root mean square of
//! the two changes of an angle counts, so that a square root that runs into zero near the image plane is not
//! taken for certainty. Contributions of different numbers are independent and add in squares.

use super::Blade;
use super::angles::{Angles, Posture, angles_beside};
use super::poses::{Courses, Poses};
use super::signal::{Signal, Signals};
use super::together::{FramePulls, Pull, Pulls};
use crate::body::Side;
use crate::geom::wrap_180;
use rayon::prelude::*;

/// Samples of the spread a second: errors change no faster than postures (stated choice).
const SPREADS_PER_S: f64 = 3.0;

/// The same where a blade is seen: how errors pull elevation and upward rotation matters along a raise of a second
/// (stated choice).
const PULLS_PER_S: f64 = 12.0;

/// How a step is added to one number of a pose.
pub struct Step<P> {
    /// Adds it; the place says which of several like numbers is meant, such as point and axis.
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
    /// The angles that are worked out.
    fn wanted(&self) -> &Signals {
        &Signals::ALL
    }
    /// Angles of the posture.
    fn angles(&self) -> Angles {
        match self.posture() {
            Some(posture) => self.angles_of(&posture, None),
            None => [None; Signal::COUNT],
        }
    }
    /// Angles of this pose's posture, beside another posture whose angles between its points are known.
    fn angles_of(&self, posture: &Posture, known: Option<(&Posture, &Angles)>) -> Angles {
        let angles = angles_beside(posture, self.side(), self.wanted(), known);
        self.blade().on_bone(angles)
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
    let known = pose.posture().map(|posture| {
        (
            posture,
            angles_beside(&posture, pose.side(), pose.wanted(), None),
        )
    });
    let known = known.as_ref().map(|(posture, angles)| (posture, angles));
    let middle = match known {
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
            match other.posture_beside(known.map(|(posture, _)| (pose, posture))) {
                Some(posture) => other.angles_of(&posture, known),
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
            // Most numbers leave most angles as they are.
            if [up[i], down[i]] == [Some(value); 2] {
                continue;
            }
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
    use crate::kinematics::TrunkAxes;
    use crate::kinematics::assumptions::Spread;
    use crate::kinematics::lens::Lens;
    use crate::kinematics::lift::{CollarFrom, PicturePose, Turn};
    use crate::kinematics::pose::{Lower, PointErrors, Rightward, Role, TrunkPlan, Upper};
    use crate::kinematics::space::{CollarStart, RightwardFix, SpacePose};
    use nalgebra::{Matrix3, Vector2, Vector3};

    const fn spread(value: f64, sd: f64) -> Spread {
        Spread { value, sd }
    }

    const BLADE: Blade = Blade {
        internal_rotation_deg: spread(35.0, 5.0),
        internal_rotation_per_elevation: spread(0.05, 0.02),
        skin_per_elevation: spread(0.0, 0.03),
        dot_m: 0.01,
    };

    /// A body with an arm and a blade, metres, by role.
    fn point(role: Role, elbow: [f64; 3]) -> Option<[f64; 3]> {
        Some(match role {
            Role::HipLeft => [0.11, 0.02, 0.0],
            Role::HipRight => [-0.11, 0.0, 0.03],
            Role::ShoulderLeft => [0.19, 0.5, 0.01],
            Role::ShoulderRight => [-0.18, 0.52, 0.04],
            Role::Neck => [0.01, 0.53, -0.02],
            Role::Incisura => [0.0, 0.47, 0.08],
            Role::C7 => [0.01, 0.55, -0.06],
            Role::Xiphoid => [0.0, 0.29, 0.1],
            Role::T8 => [0.0, 0.31, -0.1],
            Role::Elbow => elbow,
            Role::Wrist => [elbow[0], elbow[1] + 0.2, elbow[2] + 0.15],
            Role::SternalEnd => [-0.03, 0.47, 0.05],
            Role::SpineRoot => [-0.07, 0.44, -0.06],
            Role::AcromialAngle => [-0.18, 0.53, -0.02],
            Role::InferiorAngle => [-0.1, 0.33, -0.07],
            _ => return None,
        })
    }

    const RAISED: [f64; 3] = [-0.4, 0.66, 0.12];
    const HANGING: [f64; 3] = [-0.24, 0.22, 0.08];

    /// Beside a known posture every nudged one is as it is worked out anew. Trunk and arm are taken over where `kept` says
    /// so of a number, and nowhere else: they come back marked.
    fn check<P: Pose>(pose: &P, errors: &P::Errors, kept: impl Fn(&Nudge<P>) -> [bool; 2]) {
        let known = pose.posture().expect("all points are there");
        let marked = Posture {
            trunk: TrunkAxes(Matrix3::repeat(9.0)),
            upper_arm: Some(Vector3::repeat(9.0)),
            ..known
        };
        for nudge in pose.nudges(errors) {
            for sign in [1.0, -1.0] {
                let mut other = pose.clone();
                let step = sign * nudge.random.hypot(nudge.systematic);
                (nudge.step.add)(&mut other, nudge.step.at, step);
                let anew = other.posture();
                let number = nudge.number;
                assert_eq!(other.posture_beside(Some((pose, &known))), anew, "{number}");
                let beside = other.posture_beside(Some((pose, &marked)));
                let beside = beside.expect("a nudge takes no point away");
                let taken = [
                    beside.trunk == marked.trunk,
                    beside.upper_arm == marked.upper_arm,
                ];
                assert_eq!(taken, kept(&nudge), "{number}");
            }
        }
    }

    #[test]
    fn a_posture_beside_another_in_one_picture_takes_over_what_is_as_it_was() {
        let errors = PointErrors {
            random: [Vector2::repeat(1.5); Role::COUNT],
            systematic: [Vector2::repeat(4.0); Role::COUNT],
        };
        let ends = |upper: Upper| match upper {
            Upper::Neck => vec![Role::HipLeft, Role::HipRight, Role::Neck],
            _ => vec![
                Role::HipLeft,
                Role::HipRight,
                Role::ShoulderLeft,
                Role::ShoulderRight,
            ],
        };
        for side in Side::BOTH {
            for (upper, elbow) in [
                (Upper::MidShoulder, RAISED),
                (Upper::Neck, RAISED),
                (Upper::Neck, HANGING),
            ] {
                let in_picture = |role| {
                    let [x, y, _] = point(role, elbow)?;
                    Some(Vector2::new(400.0 * x, 400.0 * y))
                };
                let pose = PicturePose {
                    side,
                    plan: TrunkPlan {
                        lower: Lower::Hips,
                        upper,
                        rightward: Rightward::Hips,
                    },
                    points: Role::ALL.map(in_picture),
                    lens: Lens {
                        centre: Vector2::new(12.0, -30.0),
                        centre_sd: 20.0,
                        focal: spread(1500.0, 200.0),
                    },
                    upper_arm: spread(130.0, 8.0),
                    forearm: spread(110.0, 8.0),
                    half_shoulder: spread(85.0, 6.0),
                    yaw: Turn::of(spread(25.0, 5.0)),
                    unseen_lean: Turn::of(spread(0.0, 4.0)),
                    elbow_depth_sign: 1.0,
                    elbow_sign_guessed: true,
                    plane_hint: Some(spread(35.0, 9.0)),
                    forearm_rule: ForearmRule::AlongUpperArm,
                    girdle: Role::shoulder(side),
                    collar: CollarFrom::Seen(spread(70.0, 5.0)),
                    collar_rest: Some(Vector2::new(-60.0, 190.0)),
                    blade: BLADE,
                    wanted: Signals::ALL,
                };
                check(&pose, &errors, |nudge| {
                    let of_clip = nudge.number.checked_sub(2 * Role::COUNT + 1);
                    let [trunk, arm] = match of_clip {
                        None => {
                            let role = Role::ALL[nudge.step.at[0]];
                            let arm = [Role::shoulder(side), Role::Elbow];
                            [!ends(upper).contains(&role), !arm.contains(&role)]
                        }
                        // In the order of the nudges: lengths, turns, lens, plane, collar, sign, blade.
                        Some(at) => [!matches!(at, 3 | 4), matches!(at, 1 | 9 | 11..)],
                    };
                    [trunk, trunk && arm]
                });
            }
        }
    }

    #[test]
    fn a_posture_beside_another_in_space_takes_over_the_trunk_where_it_is_as_it_was() {
        let errors = PointErrors {
            random: [Vector3::repeat(0.003); Role::COUNT],
            systematic: [Vector3::repeat(0.01); Role::COUNT],
        };
        let shoulders = [Role::ShoulderLeft, Role::ShoulderRight];
        let thorax = [Role::Xiphoid, Role::T8, Role::C7, Role::Incisura];
        for (lower, upper, rightward, ends) in [
            (
                Lower::Hips,
                Upper::MidShoulder,
                Rightward::Hips,
                &shoulders[..],
            ),
            (Lower::Hips, Upper::Neck, Rightward::FileAxes, &[Role::Neck]),
            (
                Lower::ThoraxPair,
                Upper::ThoraxPair,
                Rightward::Thorax,
                &thorax,
            ),
            (
                Lower::ThoraxPair,
                Upper::ThoraxPair,
                Rightward::Hips,
                &thorax,
            ),
        ] {
            for side in Side::BOTH {
                let pose = SpacePose {
                    side,
                    plan: TrunkPlan {
                        lower,
                        upper,
                        rightward,
                    },
                    points: Role::ALL.map(|role| point(role, RAISED).map(Vector3::from)),
                    girdle: Role::shoulder(side),
                    collar: CollarStart::Seen,
                    facing: Some(Vector3::z()),
                    rightward_fix: RightwardFix {
                        turn_deg: 3.0,
                        sd_deg: 4.0,
                        share: 0.4,
                    },
                    blade: BLADE,
                };
                // Points that say where right is are looked at whatever says it.
                let right = [Role::HipLeft, Role::HipRight, Role::Incisura];
                check(&pose, &errors, |nudge| {
                    let of_clip = nudge.number.checked_sub(6 * Role::COUNT);
                    let trunk = match of_clip {
                        None => {
                            let role = Role::ALL[nudge.step.at[0]];
                            !ends.contains(&role) && !right.contains(&role)
                        }
                        Some(at) => at > 0,
                    };
                    [trunk, false]
                });
            }
        }
    }
}
