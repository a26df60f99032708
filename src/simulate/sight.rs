//! Which points the camera can see: what the trunk or the head hides.
//!
//! In: points in the room, trunk axes, the camera. Out: whether a point is hidden. A coarse
//! model: the trunk is an upright elliptic cylinder, the head hides what faces away.

use nalgebra::{Matrix3, Vector3};

use super::build::Build;
use super::point::{Point, Points};
use super::truth::CameraTruth;

// Half depth and half width of the trunk for a person of 1.72 m; from memory, not verified.
const HALF_DEPTH_M: f64 = 0.11;
const HALF_WIDTH_M: f64 = 0.155;
/// A ray must go this far into the trunk before it counts as hidden, metres.
const SKIN_M: f64 = 0.05;

/// One moment, ready to be asked about points.
pub(super) struct Sight<'a> {
    pub points: &'a Points,
    /// Columns X, Y, Z of the trunk.
    pub axes: Matrix3<f64>,
    pub build: &'a Build,
    pub camera: &'a CameraTruth,
}

impl Sight<'_> {
    /// The way to the camera from a point, in the trunk axes, metres.
    fn to_camera(&self, point: Point) -> Vector3<f64> {
        self.axes.transpose() * (self.camera.position() - self.points[point])
    }

    /// Whether the trunk lies between the point and the camera.
    fn behind_trunk(&self, point: Point) -> bool {
        let s = self.build.height_m / 1.72;
        let from_hip = self.points[point] - self.points[Point::MidHip];
        let p = self.axes.transpose() * from_hip;
        let ray = self.to_camera(point).normalize();
        let flat = |v: &Vector3<f64>| (v.x / (HALF_DEPTH_M * s), v.z / (HALF_WIDTH_M * s));
        let ((px, pz), (rx, rz)) = (flat(&p), flat(&ray));
        let steep = rx * rx + rz * rz;
        if steep < 1e-9 {
            return false;
        }
        let reach_m = -(px * rx + pz * rz) / steep;
        if reach_m < SKIN_M {
            return false;
        }
        let height = p.y + reach_m * ray.y;
        let miss = (px + reach_m * rx).powi(2) + (pz + reach_m * rz).powi(2);
        miss < 1.0 && (-0.12..self.build.trunk_m + 0.03).contains(&height)
    }

    /// Whether the point cannot be seen directly.
    pub(super) fn hidden(&self, point: Point) -> bool {
        let faces = |direction: Vector3<f64>, least: f64| {
            direction.dot(&self.to_camera(point).normalize()) < least
        };
        match point {
            Point::Nose | Point::MouthLeft | Point::MouthRight => faces(Vector3::x(), -0.25),
            Point::LeftEye | Point::LeftEyeInner | Point::LeftEyeOuter => {
                faces(Vector3::new(0.9, 0.0, -0.44), -0.15)
            }
            Point::RightEye | Point::RightEyeInner | Point::RightEyeOuter => {
                faces(Vector3::new(0.9, 0.0, 0.44), -0.15)
            }
            Point::LeftEar => faces(-Vector3::z(), -0.35),
            Point::RightEar => faces(Vector3::z(), -0.35),
            Point::Neck
            | Point::MidHip
            | Point::LeftKnee
            | Point::RightKnee
            | Point::LeftAnkle
            | Point::RightAnkle
            | Point::LeftHeel
            | Point::RightHeel
            | Point::LeftFootIndex
            | Point::RightFootIndex
            | Point::LeftSmallToe
            | Point::RightSmallToe => false,
            Point::Ij | Point::Px | Point::LeftSc | Point::RightSc => faces(Vector3::x(), 0.1),
            Point::C7
            | Point::T8
            | Point::LeftTs
            | Point::RightTs
            | Point::LeftAi
            | Point::RightAi => faces(-Vector3::x(), 0.1),
            _ => self.behind_trunk(point),
        }
    }
}
