//! A second person who crosses the picture behind the exercising one.

use super::body::{ArmPose, SidePose, Skeleton, TrunkPose, thorax_axes};
use super::build::Build;
use super::curve::{Curve, GirdleHabit};
use super::observe::{Observer, Person};
use super::point::Side;
use super::random::{Purpose, Random};
use super::recipe::Recipe;
use super::sight::Sight;
use super::truth::CameraTruth;

const CROSSING_S: f64 = 4.0;
const BEHIND_M: f64 = 1.3;

/// The passer-by's walk.
pub(super) struct Passer {
    skeleton: Skeleton,
    observer: Observer,
    start_s: f64,
    from_u_m: f64,
    way: f64,
    last_s: f64,
}

impl Passer {
    /// Crosses somewhere in the middle of the clip, from a random side.
    pub(super) fn new(recipe: &Recipe, camera: CameraTruth, duration_s: f64) -> Self {
        let seed = recipe.seed ^ 0x5eed_0fa5_ec00_0d01;
        let mut random = Random::new(recipe.seed, Purpose::Passer);
        let rest = Curve::Published.pose(0.0, 40.0, 0.0, &GirdleHabit::default());
        let half_view = 0.5 * f64::from(camera.width_px) / camera.focal_px;
        let way = if random.chance(0.5) { 1.0 } else { -1.0 };
        let from_u_m = half_view * (camera.distance_m + BEHIND_M) + 0.4;
        Self {
            skeleton: Skeleton::new(Build::varied(None, seed, 1.0), &rest),
            observer: Observer::new(&recipe.noise, camera, None, seed),
            start_s: random.between(0.35, 0.6) * (duration_s - CROSSING_S).max(0.0),
            from_u_m,
            way,
            last_s: 0.0,
        }
    }

    /// The passer-by at a time, while in the picture.
    pub(super) fn at(&mut self, time_s: f64, camera: &CameraTruth) -> Option<Person> {
        let part = (time_s - self.start_s) / CROSSING_S;
        if !(0.0..=1.0).contains(&part) {
            return None;
        }
        let stride = 22.0 * (std::f64::consts::TAU * 0.95 * time_s).sin();
        let trunk = TrunkPose {
            u_m: self.way * self.from_u_m * (2.0 * part - 1.0),
            w_m: -BEHIND_M,
            yaw_deg: 90.0 * self.way,
            lean_forward_deg: 3.0,
            stride_deg: stride,
            ..TrunkPose::default()
        };
        let arm = |side: Side| {
            let swing = -0.8 * stride * side.sign();
            SidePose {
                arm: ArmPose {
                    plane_deg: if swing < 0.0 { -80.0 } else { 80.0 },
                    elevation_deg: swing.abs() + 4.0,
                    axial_deg: if swing < 0.0 { 85.0 } else { -75.0 },
                    elbow_flexion_deg: 20.0,
                },
                girdle: Curve::Published.pose(5.0, 40.0, 0.0, &GirdleHabit::default()),
            }
        };
        let points = self
            .skeleton
            .points(&trunk, &arm(Side::Left), &arm(Side::Right));
        let sight = Sight {
            points: &points,
            axes: thorax_axes(&trunk),
            build: self.skeleton.build(),
            camera,
        };
        let step_s = time_s - self.last_s;
        self.last_s = time_s;
        let person = self.observer.next(&sight, step_s);
        super::damage::visible(&person.image).then_some(person)
    }
}
