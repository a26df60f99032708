//! A posture from world coordinates: nothing is lifted, every vector is in the track.

use super::Blade;
use super::angles::{Posture, TrunkAxes, arm_deg};
use super::pose::{Lower, PointErrors, Rightward, Role, TrunkPlan, Upper};
use super::poses::{Poses, points_of};
use super::spread::{Nudge, Pose, Step};
use crate::body::Side;
use crate::track::Layer;
use nalgebra::Vector3;

/// Where the collar bone starts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CollarStart {
    /// Its sternal end is in the track.
    Seen,
    /// A fixed place in the trunk: offset from the lower end of the trunk line in trunk axes (right-side
    /// convention), same unit as the points.
    Fixed(Vector3<f64>),
    /// Unknown: no collar vector.
    Unknown,
}

/// World points of one frame.
#[derive(Debug, Clone, Copy)]
pub struct SpacePose {
    /// Exercising side.
    pub side: Side,
    /// How the trunk is built.
    pub plan: TrunkPlan,
    /// Points by [`Role`] index, metres.
    pub points: [Option<Vector3<f64>>; Role::COUNT],
    /// The point by which the girdle is followed.
    pub girdle: Role,
    /// Where the collar bone starts.
    pub collar: CollarStart,
    /// Forward direction from which turning is counted.
    pub facing: Option<Vector3<f64>>,
    /// Turn of the rightward direction from the hips' line, settled on the resting shoulders.
    pub rightward_fix: RightwardFix,
    /// What markers on the blade do not show by themselves.
    pub blade: Blade,
}

/// A turn of the rightward direction about the trunk line.
///
/// Hips are close together, so an error of depth turns their line a lot. At rest the line of the shoulders,
/// twice as wide, shows how the trunk faces; the constant part of the hips' error is taken out with it. Over
/// time the hips alone say how the trunk turns: the shoulders' motion is what is measured.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct RightwardFix {
    /// Turn in degrees, from Z toward X.
    pub turn_deg: f64,
    /// Its standard deviation.
    pub sd_deg: f64,
    /// Share of a constant turn of the hips' line that the fix takes out, 0..1.
    pub share: f64,
}

impl SpacePose {
    fn at(&self, role: Role) -> Option<Vector3<f64>> {
        self.points.get(role as usize).copied().flatten()
    }

    fn middle(&self, a: Role, b: Role) -> Option<Vector3<f64>> {
        Some((self.at(a)? + self.at(b)?) / 2.0)
    }

    /// Lower and upper end of the trunk line.
    pub fn trunk_line(&self) -> Option<(Vector3<f64>, Vector3<f64>)> {
        let lower = match self.plan.lower {
            Lower::ThoraxPair => self.middle(Role::Xiphoid, Role::T8)?,
            Lower::ThoraxPoint => self.at(Role::TrunkLower)?,
            Lower::Hips => self.middle(Role::HipLeft, Role::HipRight)?,
            Lower::MidHip => self.at(Role::MidHip)?,
        };
        let upper = match self.plan.upper {
            Upper::ThoraxPair => self.middle(Role::Incisura, Role::C7)?,
            Upper::ThoraxPoint => self.at(Role::TrunkUpper)?,
            Upper::Neck => self.at(Role::Neck)?,
            Upper::MidShoulder => self.middle(Role::ShoulderLeft, Role::ShoulderRight)?,
        };
        Some((lower, upper))
    }

    /// Trunk axes.
    pub fn trunk_axes(&self) -> Option<TrunkAxes> {
        let (lower, upper) = self.trunk_line()?;
        let up = upper - lower;
        let rightward = match self.plan.rightward {
            Rightward::Hips => self.at(Role::HipRight)? - self.at(Role::HipLeft)?,
            // Forward (from the trunk line to the notch above the breast bone) x up = right.
            Rightward::Thorax => (self.at(Role::Incisura)? - upper).cross(&up),
            Rightward::FileAxes => Vector3::z(),
        };
        let plain = TrunkAxes::from_line(up, rightward)?;
        let (sin, cos) = self.rightward_fix.turn_deg.to_radians().sin_cos();
        let turned: Vector3<f64> = plain.0.column(2) * cos + plain.0.column(0) * sin;
        TrunkAxes::from_line(up, turned)
    }

    /// Turn of the line of the shoulders from the rightward direction, about the trunk line, degrees.
    pub fn shoulder_turn_deg(&self) -> Option<f64> {
        let across = self.at(Role::ShoulderRight)? - self.at(Role::ShoulderLeft)?;
        let local = self.trunk_axes()?.0.tr_mul(&across);
        Some(local.x.atan2(local.z).to_degrees())
    }

    /// Turn of the line of the hips about the vertical, degrees; `None` if the hips say nothing.
    fn hip_turn_deg(&self) -> Option<f64> {
        let across = self.at(Role::HipRight)? - self.at(Role::HipLeft)?;
        Some(across.x.atan2(across.z).to_degrees())
    }

    /// Whether all that the trunk axes are made of is as in another pose of the clip.
    fn has_trunk_of(&self, other: &SpacePose) -> bool {
        let made_of = |pose: &SpacePose| {
            let points = [Role::HipLeft, Role::HipRight, Role::Incisura];
            let points = points.map(|role| pose.at(role));
            (pose.trunk_line(), points, pose.rightward_fix.turn_deg)
        };
        made_of(self) == made_of(other)
    }

    /// Moves a point along an axis.
    fn move_point(&mut self, [point, axis]: [usize; 2], step: f64) {
        if let Some(Some(point)) = self.points.get_mut(point) {
            point[axis] += step;
        }
    }

    /// Moves a hip along an axis; what this turns the line of the hips by is taken back as far as the fix says.
    fn move_hip(&mut self, hip: [usize; 2], step: f64) {
        let before = self.hip_turn_deg();
        self.move_point(hip, step);
        if let (Some(before), Some(after)) = (before, self.hip_turn_deg()) {
            self.rightward_fix.turn_deg -=
                self.rightward_fix.share * crate::geom::wrap_180(after - before);
        }
    }

    /// Place of the girdle from the lower end of the trunk line, in trunk axes, right-side convention.
    pub fn girdle_in_trunk(&self) -> Option<Vector3<f64>> {
        let (lower, _) = self.trunk_line()?;
        let girdle = self.at(self.girdle)?;
        Some(self.trunk_axes()?.express(girdle - lower, self.side))
    }
}

/// The poses of a clip in space.
pub struct SpacePoses<'a> {
    /// Where the points are.
    pub layer: &'a Layer,
    /// Its columns by [`Role`].
    pub columns: [Option<usize>; Role::COUNT],
    /// What all frames have in common; its points do not count.
    pub every: SpacePose,
}

impl Poses for SpacePoses<'_> {
    type Pose = SpacePose;

    fn frames(&self) -> usize {
        self.layer.frames()
    }

    // Inlined, so that what nobody looks at need not be made.
    #[inline(always)]
    fn at(&self, frame: usize) -> SpacePose {
        SpacePose {
            points: points_of(&self.columns, |column| self.layer.point(frame, column)),
            ..self.every
        }
    }
}

impl Pose for SpacePose {
    type Errors = PointErrors<3>;

    fn side(&self) -> Side {
        self.side
    }

    fn posture_beside(&self, known: Option<(&SpacePose, &Posture)>) -> Option<Posture> {
        let (lower, _) = self.trunk_line()?;
        let trunk = match known.filter(|(pose, _)| self.has_trunk_of(pose)) {
            Some((_, posture)) => posture.trunk,
            None => self.trunk_axes()?,
        };
        let shoulder = self.at(Role::shoulder(self.side));
        let elbow = self.at(Role::Elbow);
        let between = |a: Option<Vector3<f64>>, b: Option<Vector3<f64>>| Some(b? - a?);
        let collar_start = match self.collar {
            CollarStart::Seen => self.at(Role::SternalEnd),
            CollarStart::Fixed(local) => {
                let mut local = local;
                if self.side == Side::Left {
                    local.z = -local.z;
                }
                Some(lower + trunk.0 * local)
            }
            CollarStart::Unknown => None,
        };
        let aa = self.at(Role::AcromialAngle);
        let blade =
            between(self.at(Role::SpineRoot), aa).zip(between(self.at(Role::InferiorAngle), aa));
        Some(Posture {
            trunk,
            upper_arm: between(shoulder, elbow),
            forearm: between(elbow, self.at(Role::Wrist)),
            collar: between(collar_start, self.at(self.girdle)),
            blade,
            vertical: Vector3::y(),
            facing: self.facing,
        })
    }

    fn arm_deg(&self) -> Option<(f64, f64)> {
        let trunk = self.trunk_axes()?;
        let arm = self.at(Role::Elbow)? - self.at(Role::shoulder(self.side))?;
        arm_deg(&trunk, arm, self.side)
    }

    fn nudges(&self, errors: &PointErrors<3>) -> Vec<Nudge<Self>> {
        let mut out = Vec::with_capacity(3 * Role::COUNT);
        for role in Role::ALL {
            let index = role as usize;
            let (Some(Some(_)), Some(random), Some(systematic)) = (
                self.points.get(index),
                errors.random.get(index),
                errors.systematic.get(index),
            ) else {
                continue;
            };
            for axis in 0..3 {
                // With the collar's start fixed at its own resting place, the shoulder's constant error
                // and the trunk's cancel in the girdle angles; measures take differences for that reason.
                let is_hip = matches!(role, Role::HipLeft | Role::HipRight);
                let share = if is_hip {
                    self.rightward_fix.share
                } else {
                    0.0
                };
                let split = share > 0.0;
                out.push(Nudge {
                    number: 2 * (3 * index + axis),
                    random: random[axis],
                    systematic: if split { 0.0 } else { systematic[axis] },
                    step: Step {
                        add: SpacePose::move_point,
                        at: [index, axis],
                    },
                });
                if split {
                    out.push(Nudge {
                        number: 2 * (3 * index + axis) + 1,
                        random: 0.0,
                        systematic: systematic[axis],
                        step: Step {
                            add: SpacePose::move_hip,
                            at: [index, axis],
                        },
                    });
                }
            }
        }
        let mut number = 6 * Role::COUNT;
        let mut clip_long = |sd: f64, add: fn(&mut SpacePose, [usize; 2], f64)| {
            out.push(Nudge {
                number,
                random: 0.0,
                systematic: sd,
                step: Step { add, at: [0, 0] },
            });
            number += 1;
        };
        clip_long(self.rightward_fix.sd_deg, |pose, _, step| {
            pose.rightward_fix.turn_deg += step;
        });
        if self.at(Role::SpineRoot).is_some() {
            clip_long(self.blade.skin_per_elevation.sd, |pose, _, step| {
                pose.blade.skin_per_elevation.value += step;
            });
        }
        out
    }

    fn blade(&self) -> &Blade {
        &self.blade
    }
}
