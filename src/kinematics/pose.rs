//! The joints of one frame that angles are made of, and the plan by which the trunk is built from them.

use crate::body::{Joint, Side};
use crate::track::Track;
use nalgebra::SVector;

/// A point that enters a posture, seen from the exercising side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Role {
    HipLeft,
    HipRight,
    MidHip,
    ShoulderLeft,
    ShoulderRight,
    Neck,
    TrunkUpper,
    TrunkLower,
    Incisura,
    C7,
    Xiphoid,
    T8,
    Elbow,
    Wrist,
    SternalEnd,
    Acromion,
    SpineRoot,
    AcromialAngle,
    InferiorAngle,
}

impl Role {
    /// Number of roles.
    pub const COUNT: usize = 19;
    /// Every role in the order of its index.
    pub const ALL: [Role; Role::COUNT] = [
        Role::HipLeft,
        Role::HipRight,
        Role::MidHip,
        Role::ShoulderLeft,
        Role::ShoulderRight,
        Role::Neck,
        Role::TrunkUpper,
        Role::TrunkLower,
        Role::Incisura,
        Role::C7,
        Role::Xiphoid,
        Role::T8,
        Role::Elbow,
        Role::Wrist,
        Role::SternalEnd,
        Role::Acromion,
        Role::SpineRoot,
        Role::AcromialAngle,
        Role::InferiorAngle,
    ];

    /// The joint that plays the role for a side.
    pub fn joint(self, side: Side) -> Joint {
        match self {
            Role::HipLeft => Joint::Hip(Side::Left),
            Role::HipRight => Joint::Hip(Side::Right),
            Role::MidHip => Joint::MidHip,
            Role::ShoulderLeft => Joint::Shoulder(Side::Left),
            Role::ShoulderRight => Joint::Shoulder(Side::Right),
            Role::Neck => Joint::Neck,
            Role::TrunkUpper => Joint::TrunkUpper,
            Role::TrunkLower => Joint::TrunkLower,
            Role::Incisura => Joint::Incisura,
            Role::C7 => Joint::C7,
            Role::Xiphoid => Joint::Xiphoid,
            Role::T8 => Joint::T8,
            Role::Elbow => Joint::Elbow(side),
            Role::Wrist => Joint::Wrist(side),
            Role::SternalEnd => Joint::SternalEnd(side),
            Role::Acromion => Joint::Acromion(side),
            Role::SpineRoot => Joint::SpineRoot(side),
            Role::AcromialAngle => Joint::AcromialAngle(side),
            Role::InferiorAngle => Joint::InferiorAngle(side),
        }
    }

    /// Whether the point is one of the three that define the blade.
    pub fn is_on_blade(self) -> bool {
        matches!(
            self,
            Role::SpineRoot | Role::AcromialAngle | Role::InferiorAngle
        )
    }

    /// The shoulder of a side.
    pub fn shoulder(side: Side) -> Role {
        match side {
            Side::Left => Role::ShoulderLeft,
            Side::Right => Role::ShoulderRight,
        }
    }

    /// The point by which the girdle is followed, the same in every frame of a clip: the acromion where the
    /// track has it, for it goes with the collar bone and the blade only; else the shoulder.
    pub fn girdle(track: &Track, side: Side) -> Role {
        if track.coverage(Joint::Acromion(side)) >= ENOUGH {
            Role::Acromion
        } else {
            Role::shoulder(side)
        }
    }
}

/// Errors of the points of a clip by [`Role`] and axis, standard deviations in the points' unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PointErrors<const D: usize> {
    /// Frame-to-frame noise.
    pub random: [SVector<f64, D>; Role::COUNT],
    /// What stays the same through a clip.
    pub systematic: [SVector<f64, D>; Role::COUNT],
}

/// Lower end of the trunk line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lower {
    /// Middle of PX and T8.
    ThoraxPair,
    /// A marker given as that middle.
    ThoraxPoint,
    /// Middle of the hips.
    Hips,
    /// A marker given as that middle.
    MidHip,
}

/// Upper end of the trunk line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Upper {
    /// Middle of IJ and C7.
    ThoraxPair,
    /// A marker given as that middle.
    ThoraxPoint,
    /// A true neck point.
    Neck,
    /// Middle of the shoulders: moves a little with the girdle, which the intervals carry.
    MidShoulder,
}

/// What says where the person's right is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rightward {
    /// Perpendicular to the plane through IJ and the trunk line (ISB thorax).
    Thorax,
    /// From the left hip to the right hip.
    Hips,
    /// The file's own axes, taken as X forward and Z right, because nothing else is there.
    FileAxes,
}

/// From which joints the trunk is built, the same in every frame of a clip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TrunkPlan {
    /// Lower end.
    pub lower: Lower,
    /// Upper end.
    pub upper: Upper,
    /// Right.
    pub rightward: Rightward,
}

/// Share of frames in which a joint must be seen to build the trunk on it (stated choice).
const ENOUGH: f64 = 0.5;

impl TrunkPlan {
    /// The best plan that the track's coverage allows; `None` if there is no trunk line.
    pub fn choose(track: &Track) -> Option<TrunkPlan> {
        let seen = |joint: Joint| track.coverage(joint) >= ENOUGH;
        let both = |make: fn(Side) -> Joint| Side::BOTH.into_iter().all(|side| seen(make(side)));
        let in_space = track.space.is_some();
        let thorax_lower = if seen(Joint::Xiphoid) && seen(Joint::T8) {
            Some(Lower::ThoraxPair)
        } else {
            seen(Joint::TrunkLower).then_some(Lower::ThoraxPoint)
        };
        let thorax_upper = if seen(Joint::Incisura) && seen(Joint::C7) {
            Some(Upper::ThoraxPair)
        } else {
            seen(Joint::TrunkUpper).then_some(Upper::ThoraxPoint)
        };
        let (lower, upper) = match (thorax_lower, thorax_upper) {
            (Some(lower), Some(upper)) if in_space => (lower, upper),
            _ => {
                let lower = if both(Joint::Hip) {
                    Lower::Hips
                } else {
                    seen(Joint::MidHip).then_some(Lower::MidHip)?
                };
                let upper = if seen(Joint::Neck) {
                    Upper::Neck
                } else {
                    both(Joint::Shoulder).then_some(Upper::MidShoulder)?
                };
                (lower, upper)
            }
        };
        let on_thorax = matches!(upper, Upper::ThoraxPair | Upper::ThoraxPoint);
        let rightward = if on_thorax && seen(Joint::Incisura) {
            Rightward::Thorax
        } else if both(Joint::Hip) {
            Rightward::Hips
        } else {
            Rightward::FileAxes
        };
        Some(TrunkPlan {
            lower,
            upper,
            rightward,
        })
    }
}
