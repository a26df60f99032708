//! Forward kinematics: joint angles to points in space.
//!
//! In: body dimensions, trunk posture, and for each arm the girdle and arm angles in
//! degrees. Out: every point in metres, in the room's axes (u right in the picture,
//! v up, w toward the camera) with the floor at v = 0.
//!
//! The chain is sternal end - clavicle - acromion - scapula - glenohumeral centre -
//! humerus - forearm - hand; nothing is measured here. Axes and angle sequences follow
//! Wu et al. 2005 (ISB): thorax X forward, Y up, Z right; clavicle and scapula Y-X-Z,
//! humerus Y-X-Y. The left side is the right side with z mirrored.

use nalgebra::{Matrix3, Vector3};

use super::build::Build;
use super::curve::GirdlePose;
use super::point::{PerPoint, Point, Points, Side};

/// The humerus and forearm in the thorax, degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ArmPose {
    /// Plane of elevation: 0 side, 90 ahead.
    pub plane_deg: f64,
    /// Elevation: 0 hanging, 180 overhead.
    pub elevation_deg: f64,
    /// Axial rotation: internal positive.
    pub axial_deg: f64,
    /// Elbow flexion: 0 straight.
    pub elbow_flexion_deg: f64,
}

/// Everything that places one arm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SidePose {
    /// Humerus and forearm.
    pub arm: ArmPose,
    /// Clavicle and scapula.
    pub girdle: GirdlePose,
}

/// Where the person stands and how the trunk is held.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TrunkPose {
    /// Mid-hip on the floor plane: picture right (m).
    pub u_m: f64,
    /// Mid-hip on the floor plane: toward the camera (m).
    pub w_m: f64,
    /// Yaw: 0 faces the camera, positive toward the picture's right (degrees).
    pub yaw_deg: f64,
    /// Lean to the person's right (degrees).
    pub lean_right_deg: f64,
    /// Lean forward (degrees).
    pub lean_forward_deg: f64,
    /// Swing of the legs in walking: the right leg's angle forward (degrees), the left opposite.
    pub stride_deg: f64,
}

/// Rotation about X by `degrees`.
pub fn about_x(degrees: f64) -> Matrix3<f64> {
    let (s, c) = degrees.to_radians().sin_cos();
    Matrix3::new(1.0, 0.0, 0.0, 0.0, c, -s, 0.0, s, c)
}

/// Rotation about Y by `degrees`.
pub fn about_y(degrees: f64) -> Matrix3<f64> {
    let (s, c) = degrees.to_radians().sin_cos();
    Matrix3::new(c, 0.0, s, 0.0, 1.0, 0.0, -s, 0.0, c)
}

/// Rotation about Z by `degrees`.
pub fn about_z(degrees: f64) -> Matrix3<f64> {
    let (s, c) = degrees.to_radians().sin_cos();
    Matrix3::new(c, -s, 0.0, s, c, 0.0, 0.0, 0.0, 1.0)
}

/// The room's axes of a person who stands upright at this yaw: columns X, Y, Z of the trunk.
pub fn heading(yaw_deg: f64) -> Matrix3<f64> {
    let (s, c) = yaw_deg.to_radians().sin_cos();
    Matrix3::new(s, 0.0, -c, 0.0, 1.0, 0.0, c, 0.0, s)
}

/// The thorax axes (columns X, Y, Z) in the room.
pub fn thorax_axes(trunk: &TrunkPose) -> Matrix3<f64> {
    heading(trunk.yaw_deg) * about_x(trunk.lean_right_deg) * about_z(-trunk.lean_forward_deg)
}

/// Rotation of the humerus in the thorax, Y-X-Y.
pub fn humerus_rotation(arm: &ArmPose) -> Matrix3<f64> {
    about_y(arm.plane_deg) * about_x(-arm.elevation_deg) * about_y(arm.axial_deg)
}

/// Direction of the forearm in the humerus's axes.
pub fn forearm_in_humerus(elbow_flexion_deg: f64) -> Vector3<f64> {
    let (s, c) = elbow_flexion_deg.to_radians().sin_cos();
    Vector3::new(s, -c, 0.0)
}

/// Rotation of the scapula in the thorax, Y-X-Z.
pub fn scapula_rotation(girdle: &GirdlePose) -> Matrix3<f64> {
    about_y(girdle.internal_rotation_deg)
        * about_x(-girdle.upward_rotation_deg)
        * about_z(girdle.tilt_deg)
}

// Scapular points about the acromial angle in the scapula's axes, metres, for a person of
// 1.72 m. From memory, not verified: spine some 10 cm, medial border some 12 cm, joint centre
// some 4 cm below the acromion.
const TS: [f64; 3] = [0.0, 0.0, -0.105];
const AI: [f64; 3] = [0.0, -0.118, -0.092];
const AC: [f64; 3] = [0.030, 0.012, -0.015];
const GH: [f64; 3] = [0.025, -0.034, 0.002];

/// The person's unchanging geometry in the thorax axes, origin at mid-hip.
#[derive(Clone, Debug)]
pub struct Skeleton {
    build: Build,
    sternal_end: Vector3<f64>,
}

/// One right-sided shoulder and arm in the thorax axes.
struct Limb {
    sc: Vector3<f64>,
    ac: Vector3<f64>,
    aa: Vector3<f64>,
    ts: Vector3<f64>,
    ai: Vector3<f64>,
    gh: Vector3<f64>,
    humerus: Matrix3<f64>,
    forearm: Vector3<f64>,
}

impl Skeleton {
    /// Places the sternal end so that the resting joint centre lies in the trunk line's
    /// frontal plane, `trunk_m` above mid-hip.
    pub fn new(build: Build, rest: &GirdlePose) -> Self {
        let mut skeleton = Self {
            build,
            sternal_end: Vector3::new(0.0, 0.0, build.sternal_half_m),
        };
        let gh = skeleton.girdle_points(rest).3;
        skeleton.sternal_end.x = -gh.x;
        skeleton.sternal_end.y = build.trunk_m - gh.y;
        skeleton
    }

    /// Segment lengths.
    pub fn build(&self) -> &Build {
        &self.build
    }

    /// The sternal end of the right clavicle in the thorax axes (m).
    pub fn sternal_end(&self) -> Vector3<f64> {
        self.sternal_end
    }

    /// AC, AA, the scapula's rotation and GH, right side, thorax axes.
    fn girdle_points(
        &self,
        girdle: &GirdlePose,
    ) -> (Vector3<f64>, Vector3<f64>, Matrix3<f64>, Vector3<f64>) {
        let clavicle = about_y(girdle.clavicle_protraction_deg)
            * about_x(-girdle.clavicle_elevation_deg)
            * Vector3::z();
        let ac = self.sternal_end + clavicle * self.build.clavicle_m;
        let scapula = scapula_rotation(girdle);
        let local = |p: [f64; 3]| scapula * (Vector3::from(p) * self.build.scapula_scale);
        let aa = ac - local(AC);
        let gh = aa + local(GH);
        (ac, aa, scapula, gh)
    }

    /// The joint centre about the sternal end: elevation and protraction in degrees.
    pub fn girdle_angles(&self, girdle: &GirdlePose) -> (f64, f64) {
        let from_sternum = self.girdle_points(girdle).3 - self.sternal_end;
        let elevation = from_sternum.y.atan2(from_sternum.x.hypot(from_sternum.z));
        let protraction = from_sternum.x.atan2(from_sternum.z);
        (elevation.to_degrees(), protraction.to_degrees())
    }

    fn limb(&self, pose: &SidePose) -> Limb {
        let (ac, aa, scapula, gh) = self.girdle_points(&pose.girdle);
        let local = |p: [f64; 3]| scapula * (Vector3::from(p) * self.build.scapula_scale);
        let humerus = humerus_rotation(&pose.arm);
        Limb {
            sc: self.sternal_end,
            ac,
            aa,
            ts: aa + local(TS),
            ai: aa + local(AI),
            gh,
            humerus,
            forearm: humerus * forearm_in_humerus(pose.arm.elbow_flexion_deg),
        }
    }

    /// Every point in the room.
    pub fn points(&self, trunk: &TrunkPose, left: &SidePose, right: &SidePose) -> Points {
        let mut points = PerPoint::filled(Vector3::zeros());
        self.place_trunk(&mut points);
        self.place_arm(&mut points, Side::Left, left);
        self.place_arm(&mut points, Side::Right, right);
        let thorax = thorax_axes(trunk);
        let mid_hip = Vector3::new(trunk.u_m, self.build.hip_height_m(), trunk.w_m);
        for point in Point::ALL {
            points[*point] = thorax * points[*point] + mid_hip;
        }
        self.place_legs(&mut points, trunk, mid_hip);
        points
    }

    /// Trunk and head points in the thorax axes.
    fn place_trunk(&self, points: &mut Points) {
        // All offsets: from memory, not verified; scaled by height.
        let s = self.build.height_m / 1.72;
        let (x, y) = (self.sternal_end.x, self.sternal_end.y);
        let v = |dx: f64, dy: f64, z: f64| Vector3::new(x + dx * s, y + dy * s, z * s);
        points[Point::Ij] = v(0.006, -0.004, 0.0);
        points[Point::C7] = v(-0.110, 0.068, 0.0);
        points[Point::Px] = v(0.034, -0.180, 0.0);
        points[Point::T8] = v(-0.138, -0.165, 0.0);
        points[Point::Neck] = v(-0.052, 0.045, 0.0);
        // The head is given about the trunk line (x = 0), above the resting shoulders.
        let top = self.build.trunk_m;
        let h = |x: f64, dy: f64, z: f64| Vector3::new(x * s, top + dy * s, z * s);
        points[Point::Nose] = h(0.115, 0.190, 0.0);
        let paired = [
            (Point::RightEyeInner, 0.092, 0.222, 0.018),
            (Point::RightEye, 0.090, 0.222, 0.032),
            (Point::RightEyeOuter, 0.082, 0.222, 0.046),
            (Point::RightEar, 0.010, 0.205, 0.076),
            (Point::MouthRight, 0.096, 0.155, 0.025),
        ];
        for (point, x, dy, z) in paired {
            points[point] = h(x, dy, z);
            points[point.mirrored()] = h(x, dy, -z);
        }
    }

    /// One arm's points in the thorax axes.
    fn place_arm(&self, points: &mut Points, side: Side, pose: &SidePose) {
        let limb = self.limb(pose);
        let b = &self.build;
        let s = b.height_m / 1.72;
        let elbow = limb.gh - limb.humerus.column(1) * b.upper_arm_m;
        let lateral = limb.humerus.column(2) * (0.032 * s); // from memory, not verified
        let wrist = elbow + limb.forearm * b.forearm_m;
        // Forearm in neutral rotation: the radial side points along this axis (thumb up
        // when the elbow is bent at the side).
        let radial = (-limb.forearm).cross(&limb.humerus.column(2));
        let hand = wrist + limb.forearm * b.hand_m;
        let placed = [
            (Point::RightSc, limb.sc),
            (Point::RightAc, limb.ac),
            (Point::RightAa, limb.aa),
            (Point::RightTs, limb.ts),
            (Point::RightAi, limb.ai),
            (Point::RightShoulder, limb.gh),
            (Point::RightElbow, elbow),
            (Point::RightEl, elbow + lateral),
            (Point::RightEm, elbow - lateral),
            (Point::RightWrist, wrist),
            (Point::RightRs, wrist + radial * (0.027 * s)),
            (Point::RightUs, wrist - radial * (0.027 * s)),
            (Point::RightIndex, hand + radial * (0.030 * s)),
            (Point::RightPinky, hand - radial * (0.034 * s)),
            (
                Point::RightThumb,
                wrist + limb.forearm * (0.6 * b.hand_m) + radial * (0.045 * s),
            ),
        ];
        for (point, position) in placed {
            let z = position.z * side.sign();
            points[point.on(side)] = Vector3::new(position.x, position.y, z);
        }
    }

    /// Hips and legs in the room: they turn with the trunk but do not lean with it.
    fn place_legs(&self, points: &mut Points, trunk: &TrunkPose, mid_hip: Vector3<f64>) {
        let b = &self.build;
        let s = b.height_m / 1.72;
        let axes = heading(trunk.yaw_deg);
        points[Point::MidHip] = mid_hip;
        for side in Side::BOTH {
            let hip = mid_hip + axes * Vector3::new(0.0, 0.0, side.sign() * b.hip_width_m / 2.0);
            let swing = trunk.stride_deg * side.sign();
            // a leg that swings back bends its knee
            let bend = 5.0 + (-swing).max(0.0);
            let along = |degrees: f64| {
                let (sin, cos) = degrees.to_radians().sin_cos();
                Vector3::new(sin, -cos, 0.0)
            };
            let knee = hip + axes * along(swing + 2.5) * b.thigh_m;
            let ankle = knee + axes * along(swing + 2.5 - bend) * b.shank_m;
            let foot = |x: f64, z: f64| {
                ankle + axes * Vector3::new(x * s, -0.8 * b.ankle_height_m, z * s * side.sign())
            };
            points[Point::RightHip.on(side)] = hip;
            points[Point::RightKnee.on(side)] = knee;
            points[Point::RightAnkle.on(side)] = ankle;
            points[Point::RightHeel.on(side)] = foot(-0.05, 0.0);
            points[Point::RightFootIndex.on(side)] = foot(0.16, -0.01);
            points[Point::RightSmallToe.on(side)] = foot(0.13, 0.05);
        }
    }
}
