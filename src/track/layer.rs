//! One layer of coordinates: frames x joints x 2 or 3, each with a score and a presence.
//!
//! A joint's course over time lies in one piece, because nearly every stage goes along it; so joints can also be
//! worked on side by side ([`Layer::each_joint`]).

use nalgebra::{Vector2, Vector3};
use ndarray::parallel::prelude::*;
use ndarray::{Array2, Array3, ArrayViewMut1, ArrayViewMut2, Axis};

/// Whether a joint is there in a frame, and how.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Presence {
    /// Reported by the estimator and accepted.
    Seen,
    /// Bridged over a short gap.
    Filled,
    /// Not there; its coordinates mean nothing and cannot be reached.
    Missing,
}

/// Coordinates of every joint in every frame. What is missing cannot be read: accessors return `Option`.
#[derive(Debug, Clone)]
pub struct Layer {
    /// Joint x axis x frame.
    position: Array3<f64>,
    /// Joint x frame. Half the memory of a clip is here and in `presence` if they are wide; an export has four digits of it.
    score: Array2<f32>,
    presence: Array2<Presence>,
}

impl Layer {
    /// A layer of `frames` x `joints` x `dimensions` in which everything is missing.
    pub fn missing(frames: usize, joints: usize, dimensions: usize) -> Layer {
        Layer {
            position: Array3::zeros((joints, dimensions, frames)),
            score: Array2::zeros((joints, frames)),
            presence: Array2::from_elem((joints, frames), Presence::Missing),
        }
    }

    /// Number of frames.
    pub fn frames(&self) -> usize {
        self.position.dim().2
    }

    /// Number of joints.
    pub fn joints(&self) -> usize {
        self.position.dim().0
    }

    /// 2 for a picture, 3 for space.
    pub fn dimensions(&self) -> usize {
        self.position.dim().1
    }

    /// Presence of a joint in a frame; outside the layer it is missing.
    #[inline]
    pub fn presence(&self, frame: usize, joint: usize) -> Presence {
        self.presence
            .get((joint, frame))
            .copied()
            .unwrap_or(Presence::Missing)
    }

    /// The estimator's score, if the joint is there.
    #[inline]
    pub fn score(&self, frame: usize, joint: usize) -> Option<f64> {
        self.is_there(frame, joint)
            .then(|| f64::from(self.score[(joint, frame)]))
    }

    #[inline]
    fn is_there(&self, frame: usize, joint: usize) -> bool {
        self.presence(frame, joint) != Presence::Missing
    }

    /// Coordinate along one axis, if the joint is there.
    #[inline]
    pub fn coordinate(&self, frame: usize, joint: usize, axis: usize) -> Option<f64> {
        if !self.is_there(frame, joint) {
            return None;
        }
        self.position.get((joint, axis, frame)).copied()
    }

    /// Position in the picture (the first two axes), if the joint is there.
    #[inline]
    pub fn flat(&self, frame: usize, joint: usize) -> Option<Vector2<f64>> {
        Some(Vector2::new(
            self.coordinate(frame, joint, 0)?,
            self.coordinate(frame, joint, 1)?,
        ))
    }

    /// Position in space, if the joint is there and the layer has three axes.
    #[inline]
    pub fn point(&self, frame: usize, joint: usize) -> Option<Vector3<f64>> {
        Some(Vector3::new(
            self.coordinate(frame, joint, 0)?,
            self.coordinate(frame, joint, 1)?,
            self.coordinate(frame, joint, 2)?,
        ))
    }

    /// Sets a joint; coordinates that are not finite make it missing instead.
    pub fn set(&mut self, frame: usize, joint: usize, at: &[f64], score: f64, presence: Presence) {
        if joint < self.joints() {
            self.course(joint).set(frame, at, score, presence);
        }
    }

    fn course(&mut self, joint: usize) -> Course<'_> {
        Course {
            position: self.position.index_axis_mut(Axis(0), joint),
            score: self.score.index_axis_mut(Axis(0), joint),
            presence: self.presence.index_axis_mut(Axis(0), joint),
        }
    }

    /// Works on the course of every joint, on all cores; what comes of each, by joint.
    pub fn each_joint<T: Send>(
        &mut self,
        work: impl Fn(usize, Course<'_>) -> T + Sync + Send,
    ) -> Vec<T> {
        let courses: Vec<Course<'_>> = self
            .position
            .axis_iter_mut(Axis(0))
            .zip(self.score.axis_iter_mut(Axis(0)))
            .zip(self.presence.axis_iter_mut(Axis(0)))
            .map(|((position, score), presence)| Course {
                position,
                score,
                presence,
            })
            .collect();
        courses
            .into_par_iter()
            .enumerate()
            .map(|(joint, course)| work(joint, course))
            .collect()
    }

    /// Drops a joint in a frame.
    pub fn drop_point(&mut self, frame: usize, joint: usize) {
        if let Some(presence) = self.presence.get_mut((joint, frame)) {
            *presence = Presence::Missing;
        }
    }

    /// Exchanges two joints in a frame.
    pub fn exchange(&mut self, frame: usize, a: usize, b: usize) {
        if frame >= self.frames() || a >= self.joints() || b >= self.joints() {
            return;
        }
        for axis in 0..self.dimensions() {
            self.position.swap((a, axis, frame), (b, axis, frame));
        }
        self.score.swap((a, frame), (b, frame));
        self.presence.swap((a, frame), (b, frame));
    }

    /// One coordinate over time; `None` where missing.
    pub fn column(&self, joint: usize, axis: usize) -> Vec<Option<f64>> {
        (0..self.frames())
            .map(|frame| self.coordinate(frame, joint, axis))
            .collect()
    }

    /// Share of the frames with anybody in them in which the joint was seen (filled does not count), 0..1: a
    /// pause of the recording takes nothing away from a joint.
    pub fn coverage_when_present(&self, joint: usize) -> f64 {
        let is_seen = |frame: usize, joint: usize| self.presence(frame, joint) == Presence::Seen;
        let (mut present, mut seen) = (0_usize, 0_usize);
        for frame in 0..self.frames() {
            present += usize::from((0..self.joints()).any(|joint| is_seen(frame, joint)));
            seen += usize::from(is_seen(frame, joint));
        }
        match present {
            0 => 0.0,
            present => seen as f64 / present as f64,
        }
    }

    /// Share of frames in which the joint was seen (filled does not count), 0..1.
    pub fn coverage(&self, joint: usize) -> f64 {
        let frames = self.frames();
        if frames == 0 {
            return 0.0;
        }
        let seen = (0..frames)
            .filter(|frame| self.presence(*frame, joint) == Presence::Seen)
            .count();
        seen as f64 / frames as f64
    }
}

/// One joint over time, to be changed.
pub struct Course<'a> {
    /// Axis x frame.
    position: ArrayViewMut2<'a, f64>,
    score: ArrayViewMut1<'a, f32>,
    presence: ArrayViewMut1<'a, Presence>,
}

impl Course<'_> {
    /// 2 for a picture, 3 for space.
    pub fn dimensions(&self) -> usize {
        self.position.dim().0
    }

    /// One coordinate over time; `None` where missing.
    pub fn column(&self, axis: usize) -> Vec<Option<f64>> {
        let values = self.position.index_axis(Axis(0), axis);
        let there = |presence: &Presence| *presence != Presence::Missing;
        values
            .iter()
            .zip(&self.presence)
            .map(|(value, presence)| there(presence).then_some(*value))
            .collect()
    }

    /// The estimator's score over time; where the joint is missing it means nothing.
    pub fn scores(&self) -> Vec<f32> {
        self.score.to_vec()
    }

    /// Whether the joint was seen in any frame.
    pub fn is_ever_seen(&self) -> bool {
        self.presence.iter().any(|one| *one == Presence::Seen)
    }

    /// Sets a frame; coordinates that are not finite make it missing instead.
    pub fn set(&mut self, frame: usize, at: &[f64], score: f64, presence: Presence) {
        let fits = at.len() == self.dimensions() && frame < self.presence.len();
        if !fits {
            return;
        }
        let finite = at.iter().all(|value| value.is_finite());
        self.presence[frame] = if finite { presence } else { Presence::Missing };
        self.score[frame] = if score.is_finite() { score as f32 } else { 0.0 };
        for (axis, value) in at.iter().enumerate() {
            self.position[(axis, frame)] = if finite { *value } else { 0.0 };
        }
    }

    /// The joint over time, `None` where it is missing; of a joint with other dimensions than `N` nothing is there.
    pub fn points<const N: usize>(&self) -> Vec<Option<[f64; N]>> {
        let fits = self.dimensions() == N;
        let at = |(frame, presence): (usize, &Presence)| {
            let there = fits && *presence != Presence::Missing;
            there.then(|| std::array::from_fn(|axis| self.position[(axis, frame)]))
        };
        self.presence.iter().enumerate().map(at).collect()
    }

    /// Puts other places in from a frame on; score and presence stay. What is not finite, and what stands where nothing
    /// is, changes nothing.
    pub fn replace<const N: usize>(&mut self, from: usize, points: &[[f64; N]]) {
        for (frame, point) in (from..self.presence.len()).zip(points) {
            let there = self.presence[frame] != Presence::Missing;
            if there && point.iter().all(|value| value.is_finite()) {
                for (place, value) in self.position.column_mut(frame).iter_mut().zip(point) {
                    *place = *value;
                }
            }
        }
    }

    /// Drops a frame.
    pub fn drop_point(&mut self, frame: usize) {
        if let Some(presence) = self.presence.get_mut(frame) {
            *presence = Presence::Missing;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_missing_cannot_be_read() {
        let mut layer = Layer::missing(2, 1, 2);
        assert_eq!(layer.flat(0, 0), None);
        layer.set(0, 0, &[1.0, 2.0], 0.9, Presence::Seen);
        assert_eq!(layer.flat(0, 0), Some(Vector2::new(1.0, 2.0)));
        assert_eq!(layer.point(0, 0), None, "a picture has no depth");
        layer.set(1, 0, &[f64::NAN, 2.0], 0.9, Presence::Seen);
        assert_eq!(layer.flat(1, 0), None, "NaN never leaves the layer");
        assert_eq!(layer.coverage(0), 0.5);
        layer.drop_point(0, 0);
        assert_eq!(layer.flat(0, 0), None);
    }
}
