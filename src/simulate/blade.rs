//! How one person's blade, and the dots put on it, depart from the published mean course.
//!
//! In: spreads between people from the recipe, and the clip's seed. Out: what is added to the course of the blade, and
//! where the dots sit on the skin. All spreads are 0 unless the recipe says otherwise: then the blade follows its curve
//! and every dot stays on its bony point.

use nalgebra::{Matrix3, Rotation3, Unit, Vector3};
use serde::{Deserialize, Serialize};

use super::curve::GirdlePose;
use super::point::{PerPoint, Point, Points, Side};
use super::random::{Purpose, Random};
use super::recipe::{RecipeError, within};

/// Standard deviations between people.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BladeSpread {
    /// Internal rotation of the blade, degrees, the same at every elevation.
    pub internal_rotation_deg: f64,
    /// Change of internal rotation from the hanging arm to 120 degrees of elevation, beside that of the curve.
    pub internal_rotation_change_deg: f64,
    /// Tilt, degrees, the same at every elevation.
    pub tilt_deg: f64,
    /// Change of tilt from the hanging arm to 120 degrees of elevation, beside that of the curve.
    pub tilt_change_deg: f64,
    /// Place of a dot beside its bony point, in each direction along the skin, metres.
    pub dot_placed_m: f64,
    /// How far the dots fall behind the blade's upward rotation at 120 degrees of elevation, degrees; it grows evenly
    /// with elevation. A negative draw runs ahead.
    pub dot_lag_deg: f64,
    /// Jitter of a dot's centre where keypoints jitter, pixels (of a shorter side of 1080); as a point of the trunk when
    /// absent. Dots are followed more closely than joints are estimated.
    pub dot_px: Option<f64>,
}

impl BladeSpread {
    pub(super) fn check(&self) -> Result<(), RecipeError> {
        let ranges = [
            (
                "blade.internal_rotation_deg",
                self.internal_rotation_deg,
                30.0,
            ),
            (
                "blade.internal_rotation_change_deg",
                self.internal_rotation_change_deg,
                30.0,
            ),
            ("blade.tilt_deg", self.tilt_deg, 30.0),
            ("blade.tilt_change_deg", self.tilt_change_deg, 30.0),
            ("blade.dot_placed_m", self.dot_placed_m, 0.05),
            ("blade.dot_lag_deg", self.dot_lag_deg, 30.0),
            ("blade.dot_px", self.dot_px.unwrap_or(0.0), 200.0),
        ];
        ranges
            .into_iter()
            .try_for_each(|(field, value, high)| within(field, value, 0.0, high))
    }
}

/// Elevation at which the changes are counted, degrees.
const COUNTED_AT_DEG: f64 = 120.0;

/// Share of a change that has come at an elevation.
fn come(elevation_deg: f64) -> f64 {
    (elevation_deg / COUNTED_AT_DEG).clamp(0.0, 1.5)
}

/// What is added to the course of this person's blade, both sides alike.
#[derive(Clone, Copy, Debug)]
pub(super) struct OwnBlade {
    internal_rotation_deg: f64,
    internal_rotation_change_deg: f64,
    tilt_deg: f64,
    tilt_change_deg: f64,
}

impl OwnBlade {
    pub(super) fn new(spread: &BladeSpread, seed: u64) -> Self {
        let mut random = Random::new(seed, Purpose::Blade);
        let mut draw = |sd: f64| random.bounded(0.0, sd);
        Self {
            internal_rotation_deg: draw(spread.internal_rotation_deg),
            internal_rotation_change_deg: draw(spread.internal_rotation_change_deg),
            tilt_deg: draw(spread.tilt_deg),
            tilt_change_deg: draw(spread.tilt_change_deg),
        }
    }

    /// Adds what is this person's own to a pose of the girdle.
    pub(super) fn add_to(&self, girdle: &mut GirdlePose, elevation_deg: f64) {
        let come = come(elevation_deg);
        girdle.internal_rotation_deg +=
            self.internal_rotation_deg + come * self.internal_rotation_change_deg;
        girdle.tilt_deg += self.tilt_deg + come * self.tilt_change_deg;
    }
}

/// Where the dots of both blades sit.
#[derive(Clone, Debug)]
pub(super) struct Dots {
    placed: PerPoint<[f64; 2]>,
    lag_deg: f64,
    pub jitter_px: Option<f64>,
}

impl Dots {
    pub(super) fn new(spread: &BladeSpread, seed: u64) -> Self {
        let mut random = Random::new(seed, Purpose::Dots);
        let placed = PerPoint::make(|_| [(); 2].map(|()| random.bounded(0.0, spread.dot_placed_m)));
        let lag_deg = random.bounded(0.0, spread.dot_lag_deg);
        Self {
            placed,
            lag_deg,
            jitter_px: spread.dot_px,
        }
    }

    /// Moves the points of the blades to where their dots are; `up` is the trunk's upward direction.
    pub(super) fn place(&self, points: &mut Points, up: Vector3<f64>) {
        for side in Side::BOTH {
            self.place_on(side, points, up);
        }
    }

    fn place_on(&self, side: Side, points: &mut Points, up: Vector3<f64>) {
        let on = |point: Point| point.on(side);
        let (aa, ts, ai) = (
            points[on(Point::RightAa)],
            points[on(Point::RightTs)],
            points[on(Point::RightAi)],
        );
        let arm = points[on(Point::RightElbow)] - points[on(Point::RightShoulder)];
        let Some(axes) = plane_axes(aa - ts, aa - ai) else {
            return;
        };
        let elevation_deg = arm.angle(&-up).to_degrees();
        // Upward turns the outer end up: back by the lag about the blade's own normal.
        let normal = Unit::new_normalize(axes.column(2).into_owned());
        let back =
            Rotation3::from_axis_angle(&normal, -(self.lag_deg * come(elevation_deg)).to_radians());
        for point in [Point::RightAa, Point::RightTs, Point::RightAi] {
            let [along, across] = self.placed[on(point)];
            let beside = axes.column(0) * along + axes.column(1) * across;
            points[on(point)] = aa + back * (points[on(point)] + beside - aa);
        }
    }
}

/// Axes of the blade's plane: along the spine outward, up across it, and their normal, about which a positive turn
/// brings the outer end up.
fn plane_axes(spine: Vector3<f64>, border: Vector3<f64>) -> Option<Matrix3<f64>> {
    let along = spine.try_normalize(1e-9)?;
    let across = (border - along * border.dot(&along)).try_normalize(1e-9)?;
    Some(Matrix3::from_columns(&[
        along,
        across,
        along.cross(&across),
    ]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulate::{Recipe, simulate};

    /// Angle of the spine of the right blade above the horizontal.
    fn raised_deg(points: &Points) -> f64 {
        let spine = points[Point::RightAa] - points[Point::RightTs];
        (spine.y / spine.norm()).asin().to_degrees()
    }

    #[test]
    fn dots_fall_behind_by_as_much_as_drawn() {
        let clip = simulate(&Recipe::default()).unwrap_or_else(|_| unreachable!());
        let dots = Dots {
            placed: PerPoint::filled([0.0; 2]),
            lag_deg: 6.0,
            jitter_px: None,
        };
        let up = Vector3::y();
        let mut looked_at = 0;
        for frame in &clip.truth.frames {
            let elevation_deg = frame.right.elevation_deg;
            if !(110.0..125.0).contains(&elevation_deg) {
                continue;
            }
            let mut moved = frame.points.clone();
            dots.place(&mut moved, up);
            let fell = raised_deg(&frame.points) - raised_deg(&moved);
            // Turned about the blade's normal, which stands oblique to the trunk, a little more than that.
            let wanted = 6.0 * elevation_deg / 120.0;
            assert!((fell - wanted).abs() < 1.5, "{fell} for {wanted}");
            looked_at += 1;
        }
        assert!(looked_at > 10);
    }

    #[test]
    fn without_a_spread_nothing_moves() {
        let clip = simulate(&Recipe::default()).unwrap_or_else(|_| unreachable!());
        let dots = Dots::new(&BladeSpread::default(), 3);
        let own = OwnBlade::new(&BladeSpread::default(), 3);
        for frame in clip.truth.frames.iter().step_by(20) {
            let mut moved = frame.points.clone();
            dots.place(&mut moved, Vector3::y());
            for point in Point::ALL {
                assert!((moved[*point] - frame.points[*point]).norm() < 1e-12);
            }
        }
        let mut girdle = GirdlePose::default();
        own.add_to(&mut girdle, 90.0);
        assert_eq!(girdle, GirdlePose::default());
    }
}
