//! A pose of the stick figure: where the joints are in the picture at one moment.

use crate::body::Side;
use crate::session::Figure;
use std::collections::BTreeMap;

/// A position in the figure's box: x to the right, y up.
pub type Point = [f64; 2];

/// Frames on each side from which a joint that is missing at the moment is taken (a third of a second at 30 Hz).
const REACH: usize = 10;

/// Joints by id.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Pose {
    /// Position of each joint that was seen.
    pub points: BTreeMap<String, Point>,
}

impl Pose {
    /// The figure at a frame; each joint from the nearest frame in which it was seen.
    pub fn at(figure: &Figure, frame: usize) -> Pose {
        let seen = |column: usize, frame: usize| -> Option<Point> {
            let [x, y] = (*figure.frames.get(frame)?.get(column)?)?;
            (x.is_finite() && y.is_finite()).then_some([f64::from(x), f64::from(y)])
        };
        let nearest = |column: usize| {
            (0..=REACH).find_map(|step| {
                let before = frame.checked_sub(step).and_then(|at| seen(column, at));
                before.or_else(|| seen(column, frame + step))
            })
        };
        let joints = figure.joints.iter().enumerate();
        Pose {
            points: joints
                .filter_map(|(column, id)| Some((id.clone(), nearest(column)?)))
                .collect(),
        }
    }

    /// A joint of one side.
    pub fn joint(&self, name: &str, side: Side) -> Option<Point> {
        self.points.get(&format!("{name}-{side}")).copied()
    }

    /// Puts a joint of one side somewhere.
    pub fn put(&mut self, name: &str, side: Side, to: Point) {
        self.points.insert(format!("{name}-{side}"), to);
    }

    /// The middle of a pair of joints, or the one that was seen.
    pub fn middle(&self, name: &str) -> Option<Point> {
        match (self.joint(name, Side::Left), self.joint(name, Side::Right)) {
            (Some(a), Some(b)) => Some([(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0]),
            (one, other) => one.or(other),
        }
    }

    /// Direction of the trunk, from the hips up; the picture's upright where it was not seen.
    pub fn up(&self) -> Point {
        match (self.middle("hip"), self.middle("shoulder")) {
            (Some(hips), Some(shoulders)) => unit(minus(shoulders, hips)).unwrap_or([0.0, 1.0]),
            _ => [0.0, 1.0],
        }
    }

    /// Length of the trunk in the picture.
    pub fn trunk(&self) -> Option<f64> {
        Some(length(minus(self.middle("shoulder")?, self.middle("hip")?)))
    }
}

pub(super) fn minus(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1]]
}

pub(super) fn plus(a: Point, b: Point) -> Point {
    [a[0] + b[0], a[1] + b[1]]
}

pub(super) fn times(a: Point, factor: f64) -> Point {
    [a[0] * factor, a[1] * factor]
}

pub(super) fn length(a: Point) -> f64 {
    a[0].hypot(a[1])
}

pub(super) fn unit(a: Point) -> Option<Point> {
    let long = length(a);
    (long > 1e-9).then(|| times(a, 1.0 / long))
}

/// A vector turned by an angle, counter-clockwise.
pub(super) fn turned(a: Point, radians: f64) -> Point {
    let (sin, cos) = radians.sin_cos();
    [a[0] * cos - a[1] * sin, a[0] * sin + a[1] * cos]
}
