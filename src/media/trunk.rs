//! Where the trunk is in each picture of a video: the scale of a person, and where to look for dots.

use super::register::Register;
use crate::body::{Joint, Side};
use crate::geom::median;
use crate::track::Track;
use nalgebra::Vector2;
use opencv::core::Rect;

/// Half a window over which the trunk is settled, pictures: dots are looked for around it, not measured by it.
const HALF_WINDOW: usize = 6;

/// The trunk in one picture, pixels, y down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Trunk {
    /// Middle of the shoulders.
    pub top: Vector2<f64>,
    /// Along the trunk from the hips to the shoulders, of length one.
    pub up: Vector2<f64>,
    /// Distance from the hips to the shoulders.
    pub length: f64,
    /// Left shoulder from the middle.
    left: Vector2<f64>,
    /// Right shoulder from the middle.
    right: Vector2<f64>,
}

impl Trunk {
    fn of(track: &Track, register: &Register, picture: usize) -> Option<Trunk> {
        let frame = register.frame(picture)?;
        let at = |joint: Joint| register.seen(track, frame, joint);
        let middle =
            |make: fn(Side) -> Joint| Some((at(make(Side::Left))? + at(make(Side::Right))?) / 2.0);
        let top = middle(Joint::Shoulder)?;
        let bottom = middle(Joint::Hip).or_else(|| at(Joint::MidHip))?;
        let line = top - bottom;
        let length = line.norm();
        (length > 8.0).then(|| Trunk {
            top,
            up: line / length,
            length,
            left: at(Joint::Shoulder(Side::Left)).unwrap_or(top) - top,
            right: at(Joint::Shoulder(Side::Right)).unwrap_or(top) - top,
        })
    }

    /// A shoulder from the middle of the shoulders.
    fn shoulder(&self, side: Side) -> Vector2<f64> {
        match side {
            Side::Left => self.left,
            Side::Right => self.right,
        }
    }

    /// Across the trunk toward a side, of length one.
    pub fn outward(&self, side: Side) -> Vector2<f64> {
        let across = Vector2::new(-self.up.y, self.up.x);
        if across.dot(&self.shoulder(side)) < 0.0 {
            -across
        } else {
            across
        }
    }

    /// A place from the middle of the shoulders: outward to a side and up, in lengths of the trunk.
    pub fn express(&self, at: Vector2<f64>, side: Side) -> [f64; 2] {
        let from = (at - self.top) / self.length;
        [from.dot(&self.outward(side)), from.dot(&self.up)]
    }

    /// Half the width of the shoulders, lengths of the trunk.
    pub fn half_width(&self) -> f64 {
        (self.right - self.left).norm() / 2.0 / self.length
    }

    /// Whether the back is toward the phone: the person's right is on the picture's right.
    fn seen_from_behind(&self) -> bool {
        self.right.x > self.left.x
    }

    /// The part of the picture in which dots of the sides are looked for.
    pub fn part(&self, sides: &[Side]) -> Rect {
        let reach = 0.35 * self.length;
        let out = |side: Side| self.outward(side) * (self.half_width() * self.length + reach);
        let mut corners = vec![
            self.top + self.up * 1.3 * reach,
            self.top - self.up * (0.85 * self.length),
        ];
        // Dots on the spine lie between the sides.
        corners.extend(Side::BOTH.map(|side| {
            if sides.contains(&side) {
                self.top + out(side)
            } else {
                self.top + self.outward(side) * 0.5 * reach
            }
        }));
        let least = |axis: usize| {
            corners
                .iter()
                .map(|at| at[axis])
                .fold(f64::MAX, f64::min)
                .floor() as i32
        };
        let most = |axis: usize| {
            corners
                .iter()
                .map(|at| at[axis])
                .fold(f64::MIN, f64::max)
                .ceil() as i32
        };
        Rect::new(least(0), least(1), most(0) - least(0), most(1) - least(1))
    }
}

/// The trunk in every picture, settled over some pictures and held where it was not seen; `None` if it never was.
pub(super) fn trunks(track: &Track, register: &Register, pictures: usize) -> Option<Vec<Trunk>> {
    let seen: Vec<Option<Trunk>> = (0..pictures)
        .map(|picture| Trunk::of(track, register, picture))
        .collect();
    let mut last = seen.iter().flatten().next().copied()?;
    let trunks = (0..pictures).map(|picture| {
        let from = picture.saturating_sub(HALF_WINDOW);
        let near: Vec<&Trunk> = seen
            .iter()
            .skip(from)
            .take(2 * HALF_WINDOW + 1)
            .flatten()
            .collect();
        let pair = |pick: fn(&Trunk) -> Vector2<f64>| {
            let along = |axis: usize| median(near.iter().map(|trunk| pick(trunk)[axis]));
            Some(Vector2::new(along(0)?, along(1)?))
        };
        let settled = || {
            Some(Trunk {
                top: pair(|trunk| trunk.top)?,
                up: pair(|trunk| trunk.up)?.try_normalize(1e-9)?,
                length: median(near.iter().map(|trunk| trunk.length))?,
                left: pair(|trunk| trunk.left)?,
                right: pair(|trunk| trunk.right)?,
            })
        };
        last = settled().unwrap_or(last);
        last
    });
    Some(trunks.collect())
}

/// Share of the pictures in which the back is toward the phone.
pub(super) fn share_from_behind(trunks: &[Trunk]) -> f64 {
    let behind = trunks
        .iter()
        .filter(|trunk| trunk.seen_from_behind())
        .count();
    behind as f64 / trunks.len().max(1) as f64
}
