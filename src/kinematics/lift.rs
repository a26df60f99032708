//! A posture from one picture: directions recovered from foreshortening.
//!
//! *Definition.* Scaled orthography with a perspective correction. All lengths are in pixels at the depth
//! of the trunk. A point at height `w` above that depth (toward the phone) is seen magnified by
//! `1 / (1 - w / f)` about the picture's centre, `f` being the focal length in pixels. A segment of known
//! length L from a point of known depth then has two possible depths, the roots of a quadratic (Taylor
//! 2000, CVIU 80:349-363: one depth sign a segment and one free scale); which root is meant comes from
//! what the exercise says, and where it does not say, both count in the spread.
//!
//! *Not measurable when* the two roots mean different answers and nothing settles the sign; the spread
//! then says so and the reading becomes *cannot tell*.

mod nudges;

use super::Blade;
use super::angles::{Posture, TrunkAxes, arm_deg, plane_and_elevation_deg};
use super::assumptions::Spread;
use super::lens::Lens;
use super::pose::{Lower, PointErrors, Role, TrunkPlan, Upper};
use super::signal::Signals;
use super::spread::{Nudge, Pose};
use crate::body::Side;
use crate::geom::direction;
use nalgebra::{Vector2, Vector3};

/// How the forearm's depth is settled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ForearmRule {
    /// The elbow is nearly straight: the root nearer to the upper arm's direction.
    AlongUpperArm,
    /// The hand is in front of the elbow: the root farther forward.
    Forward,
}

/// Where the collar bone starts in a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CollarFrom {
    /// At rest beside the girdle, at this share of the shoulder's distance from the midline.
    Trunk(f64),
    /// A point on the collar bone is in the track; its distance from the resting girdle, pixels.
    Seen(Spread),
}

/// An angle with its sine and cosine, which all poses of a clip share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    deg: Spread,
    sin: f64,
    cos: f64,
}

impl Turn {
    /// Of an angle in degrees.
    pub fn of(deg: Spread) -> Turn {
        let (sin, cos) = deg.value.to_radians().sin_cos();
        Turn { deg, sin, cos }
    }

    /// Turned further by so many degrees.
    fn further(self, step: f64) -> Turn {
        Turn::of(Spread {
            value: self.deg.value + step,
            ..self.deg
        })
    }
}

/// Picture points of one frame and what is assumed to lift them.
#[derive(Debug, Clone, Copy)]
pub struct PicturePose {
    /// Exercising side.
    pub side: Side,
    /// How the trunk is built.
    pub plan: TrunkPlan,
    /// Points by [`Role`] index, pixels, y up.
    pub points: [Option<Vector2<f64>>; Role::COUNT],
    /// Camera.
    pub lens: Lens,
    /// Length of the upper arm, pixels at trunk depth.
    pub upper_arm: Spread,
    /// Length of the forearm, pixels at trunk depth.
    pub forearm: Spread,
    /// Distance of the shoulder point from the midline, pixels at trunk depth.
    pub half_shoulder: Spread,
    /// Turn of the trunk: 0 faces the phone, 90 faces the picture's right.
    pub yaw: Turn,
    /// Lean of the trunk toward the phone: not seen, taken as 0.
    pub unseen_lean: Turn,
    /// +1 when the elbow is nearer to the phone than the shoulder, -1 when farther.
    pub elbow_depth_sign: f64,
    /// Whether the sign is only a guess, so that the other must be counted in the spread.
    pub elbow_sign_guessed: bool,
    /// Plane of elevation found in the middle of the arc, degrees, to settle the depth near the poles.
    pub plane_hint: Option<Spread>,
    /// Rule for the forearm.
    pub forearm_rule: ForearmRule,
    /// The point by which the girdle is followed.
    pub girdle: Role,
    /// Where the collar bone starts.
    pub collar: CollarFrom,
    /// Resting offset of the girdle, see [`PicturePose::girdle_offset`].
    pub collar_rest: Option<Vector2<f64>>,
    /// What dots on the blade do not show by themselves.
    pub blade: Blade,
    /// The angles that are worked out: nobody asks for others, or this view hides them.
    pub wanted: Signals,
}

/// Sine of the elevation below which the plane alone gives the depth (40 degrees from a pole), and above
/// which the length alone does (50 degrees); stated choice.
const POLE_SIN: f64 = 0.64;
const MIDDLE_SIN: f64 = 0.77;

/// Cosine between sight line and plane normal below which the plane is seen edge-on (stated choice).
const EDGE_ON: f64 = 0.3;

/// The same below which a spine of the scapula has no value (3 degrees; stated choice).
const NO_VALUE: f64 = 0.05;

/// Both possible vectors of a segment, nearer to the phone first.
type Roots = [Vector3<f64>; 2];

impl PicturePose {
    fn at(&self, role: Role) -> Option<Vector2<f64>> {
        self.points.get(role as usize).copied().flatten()
    }

    fn middle(&self, a: Role, b: Role) -> Option<Vector2<f64>> {
        Some((self.at(a)? + self.at(b)?) / 2.0)
    }

    /// Lower and upper end of the trunk line in the picture.
    pub fn trunk_line(&self) -> Option<(Vector2<f64>, Vector2<f64>)> {
        let lower = match self.plan.lower {
            Lower::MidHip => self.at(Role::MidHip)?,
            _ => self.middle(Role::HipLeft, Role::HipRight)?,
        };
        let upper = match self.plan.upper {
            Upper::Neck => self.at(Role::Neck)?,
            _ => self.middle(Role::ShoulderLeft, Role::ShoulderRight)?,
        };
        Some((lower, upper))
    }

    /// Place of the girdle from the point on the collar bone, else from the lower end of the trunk line:
    /// across (picture's right positive) and along the trunk line, pixels.
    pub fn girdle_offset(&self) -> Option<Vector2<f64>> {
        let (lower, upper) = self.trunk_line()?;
        let up = (upper - lower).try_normalize(1e-9)?;
        let from = match self.collar {
            CollarFrom::Trunk(_) => lower,
            CollarFrom::Seen(_) => self.at(Role::SternalEnd)?,
        };
        let offset = self.at(self.girdle)? - from;
        Some(Vector2::new(
            offset.dot(&Vector2::new(up.y, -up.x)),
            offset.dot(&up),
        ))
    }

    fn collar_length(&self) -> f64 {
        match self.collar {
            CollarFrom::Trunk(sternal_end) => self.half_shoulder.value * (1.0 - sternal_end),
            CollarFrom::Seen(length) => length.value,
        }
    }

    /// Trunk axes from the picture's trunk line and the turn.
    fn trunk_axes(&self) -> Option<TrunkAxes> {
        let (lower, upper) = self.trunk_line()?;
        let up = (upper - lower).try_normalize(1e-9)?;
        let (yaw, lean) = (self.yaw, self.unseen_lean);
        let up3 = Vector3::new(up.x * lean.cos, up.y * lean.cos, lean.sin);
        let across = Vector3::new(up.y, -up.x, 0.0);
        TrunkAxes::from_line(up3, -across * yaw.cos + Vector3::z() * yaw.sin)
    }

    /// Position at trunk scale of a picture point that lies `depth` pixels nearer than the trunk.
    fn undo_perspective(&self, point: Vector2<f64>, depth: f64) -> Vector2<f64> {
        (point - self.lens.centre) * (1.0 - depth / self.lens.focal.value)
    }

    /// The two vectors of length `length` from a known start to where `end` is seen.
    ///
    /// When the segment looks longer than it can be, the point of the sight line nearest to the reachable
    /// sphere is taken: the segment then lies in the image plane.
    fn roots(&self, start: Vector3<f64>, end: Vector2<f64>, length: f64) -> Roots {
        let seen = end - self.lens.centre;
        let flat = self.undo_perspective(end, start.z) - start.xy();
        let shift = seen / self.lens.focal.value;
        let a = 1.0 + shift.norm_squared();
        let b = flat.dot(&shift);
        let root = (b * b - a * (flat.norm_squared() - length * length))
            .max(0.0)
            .sqrt();
        [1.0, -1.0].map(|sign| {
            let depth = (b + sign * root) / a;
            let across = flat - shift * depth;
            Vector3::new(across.x, across.y, depth)
        })
    }

    /// The vector along the sight line of `end` that lies in the plane of elevation `plane_deg`; `None` when
    /// the sight line runs within that plane but for an angle of this sine.
    ///
    /// Near hanging and overhead the length of a segment says little about its depth, but the plane in which
    /// the arm moved through the middle of the arc says much.
    fn in_plane(
        &self,
        trunk: &TrunkAxes,
        start: Vector3<f64>,
        end: Vector2<f64>,
        plane_deg: f64,
        edge_on: f64,
    ) -> Option<Vector3<f64>> {
        let (sin, cos) = plane_deg.to_radians().sin_cos();
        let rightward = match self.side {
            Side::Right => 1.0,
            Side::Left => -1.0,
        };
        let normal: Vector3<f64> = trunk.0.column(0) * cos - trunk.0.column(2) * (rightward * sin);
        let flat = self.undo_perspective(end, start.z) - start.xy();
        let shift = (end - self.lens.centre) / self.lens.focal.value;
        let sight = Vector3::new(-shift.x, -shift.y, 1.0);
        let across = sight.dot(&normal);
        if across.abs() < edge_on {
            return None;
        }
        let flat = Vector3::new(flat.x, flat.y, 0.0);
        Some(flat - sight * (flat.dot(&normal) / across))
    }

    /// Upper arm from its length in the middle of the arc and from its plane near the poles.
    fn lift_upper_arm(
        &self,
        trunk: &TrunkAxes,
        shoulder: Vector3<f64>,
        elbow: Vector2<f64>,
    ) -> Vector3<f64> {
        let [near, far] = self.roots(shoulder, elbow, self.upper_arm.value);
        let by_length = if self.elbow_depth_sign >= 0.0 {
            near
        } else {
            far
        };
        let by_plane = self
            .plane_hint
            .and_then(|plane| self.in_plane(trunk, shoulder, elbow, plane.value, EDGE_ON));
        let (Some(by_plane), Some(along)) = (by_plane, direction(by_length)) else {
            return by_length;
        };
        let Some(planar) = direction(by_plane) else {
            return by_length;
        };
        let cos = along.dot(&trunk.0.column(1));
        let sin = (1.0 - cos * cos).max(0.0).sqrt();
        let share = ((sin - POLE_SIN) / (MIDDLE_SIN - POLE_SIN)).clamp(0.0, 1.0);
        (along * share + planar * (1.0 - share)) * self.upper_arm.value
    }

    /// Direction of the spine of the scapula in the picture.
    fn seen_spine(&self) -> Option<Vector2<f64>> {
        (self.at(Role::AcromialAngle)? - self.at(Role::SpineRoot)?).try_normalize(1e-9)
    }

    /// Spine of the scapula (root to acromial angle) in the plane in which it stands, and the line from the inferior
    /// angle to the acromial angle as seen, of which only the side matters here.
    fn lift_blade(
        &self,
        trunk: &TrunkAxes,
        upper_arm: Option<Vector3<f64>>,
    ) -> Option<(Vector3<f64>, Vector3<f64>)> {
        let (root, outer) = (self.at(Role::SpineRoot)?, self.at(Role::AcromialAngle)?);
        let border = outer - self.at(Role::InferiorAngle)?;
        let elevation = upper_arm
            .and_then(|arm| direction(trunk.express(arm, self.side)))
            .and_then(plane_and_elevation_deg)
            .map(|(_, elevation)| elevation);
        let plane_deg = self.blade.internal_rotation_at(elevation);
        let start = (root - self.lens.centre).push(0.0);
        // Whether a clip's view shows the blade well enough is settled once for all frames; here only what has no value.
        let spine = self.in_plane(trunk, start, outer, plane_deg, NO_VALUE)?;
        Some((spine, border.push(0.0)))
    }

    /// Whether all that the trunk axes are made of is as in another pose of the clip.
    fn has_trunk_of(&self, other: &PicturePose) -> bool {
        let made_of = |pose: &PicturePose| {
            let turns = [pose.yaw, pose.unseen_lean].map(|turn| turn.deg.value);
            (pose.trunk_line(), turns)
        };
        made_of(self) == made_of(other)
    }

    /// Whether all that the upper arm is lifted by, beside the trunk axes, is as in another pose of the clip.
    fn has_arm_of(&self, other: &PicturePose) -> bool {
        let made_of = |pose: &PicturePose| {
            let points = [Role::shoulder(pose.side), Role::Elbow].map(|role| pose.at(role));
            let lengths = [pose.half_shoulder, pose.upper_arm].map(|length| length.value);
            let depth = (pose.elbow_depth_sign, pose.plane_hint);
            (points, lengths, pose.lens, depth)
        };
        made_of(self) == made_of(other)
    }

    /// Depth of the shoulder toward the phone from the turn of the trunk.
    fn shoulder_depth(&self, trunk: &TrunkAxes) -> f64 {
        let outward = match self.side {
            Side::Right => trunk.0.column(2)[2],
            Side::Left => -trunk.0.column(2)[2],
        };
        outward * self.half_shoulder.value
    }

    /// Place of the shoulder.
    fn lift_shoulder(&self, trunk: &TrunkAxes) -> Option<Vector3<f64>> {
        let depth = self.shoulder_depth(trunk);
        let flat = self.undo_perspective(self.at(Role::shoulder(self.side))?, depth);
        Some(flat.push(depth))
    }

    /// Upper arm of a shoulder.
    fn lift_arm(&self, trunk: &TrunkAxes, shoulder: Vector3<f64>) -> Option<Vector3<f64>> {
        Some(self.lift_upper_arm(trunk, shoulder, self.at(Role::Elbow)?))
    }

    fn choose_forearm(&self, trunk: &TrunkAxes, arm: Vector3<f64>, roots: Roots) -> Vector3<f64> {
        let [near, far] = roots;
        let along = |v: Vector3<f64>| direction(v).map_or(0.0, |v| v.dot(&arm.normalize()));
        let ahead = |v: Vector3<f64>| direction(v).map_or(0.0, |v| trunk.express(v, self.side).x);
        let take_near = match self.forearm_rule {
            ForearmRule::AlongUpperArm => along(near) >= along(far),
            // When both are equally far forward the picture looks along the side-to-side axis, and a hand
            // stays near the elbow's own depth: the root nearer to the upper arm's depth is taken.
            ForearmRule::Forward if (ahead(near) - ahead(far)).abs() > 0.2 => {
                ahead(near) > ahead(far)
            }
            ForearmRule::Forward => along(near) >= along(far),
        };
        if take_near { near } else { far }
    }
}

impl Pose for PicturePose {
    type Errors = PointErrors<2>;

    fn side(&self) -> Side {
        self.side
    }

    fn posture_beside(&self, known: Option<(&PicturePose, &Posture)>) -> Option<Posture> {
        let known = known.filter(|(pose, _)| self.has_trunk_of(pose));
        let trunk = match known {
            Some((_, posture)) => posture.trunk,
            None => self.trunk_axes()?,
        };
        let shoulder = self.lift_shoulder(&trunk);
        let upper_arm = match known.filter(|(pose, _)| self.has_arm_of(pose)) {
            Some((_, posture)) => posture.upper_arm,
            None => shoulder.and_then(|shoulder| self.lift_arm(&trunk, shoulder)),
        };
        let forearm =
            shoulder
                .zip(upper_arm)
                .zip(self.at(Role::Wrist))
                .map(|((shoulder, arm), wrist)| {
                    let roots = self.roots(shoulder + arm, wrist, self.forearm.value);
                    self.choose_forearm(&trunk, arm, roots)
                });
        let collar = self
            .collar_rest
            .zip(self.girdle_offset())
            .map(|(rest, now)| {
                let moved = now - rest;
                let across = trunk.0.column(1).xy();
                let across = Vector2::new(across.y, -across.x);
                let outward = match self.side {
                    Side::Right => 1.0,
                    Side::Left => -1.0,
                };
                let resting = trunk.0.column(2) * (outward * self.collar_length());
                let moved = across * moved.x + trunk.0.column(1).xy() * moved.y;
                resting + Vector3::new(moved.x, moved.y, 0.0)
            });
        let blade = self.lift_blade(&trunk, upper_arm);
        Some(Posture {
            trunk,
            upper_arm,
            forearm,
            collar,
            blade,
            vertical: Vector3::y(),
            facing: None,
        })
    }

    fn arm_deg(&self) -> Option<(f64, f64)> {
        let trunk = self.trunk_axes()?;
        let arm = self.lift_arm(&trunk, self.lift_shoulder(&trunk)?)?;
        arm_deg(&trunk, arm, self.side)
    }

    fn nudges(&self, errors: &PointErrors<2>) -> Vec<Nudge<Self>> {
        nudges::of(self, errors)
    }

    fn blade(&self) -> &Blade {
        &self.blade
    }

    fn wanted(&self) -> &Signals {
        &self.wanted
    }
}
