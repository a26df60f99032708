//! One layer of coordinates: frames x joints x 2 or 3, each with a score and a presence.

use nalgebra::{Vector2, Vector3};
use ndarray::{Array2, Array3};

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
    position: Array3<f64>,
    /// Half the memory of a clip is here and in `presence` if they are wide; an export has four digits of it.
    score: Array2<f32>,
    presence: Array2<Presence>,
}

impl Layer {
    /// A layer of `frames` x `joints` x `dimensions` in which everything is missing.
    pub fn missing(frames: usize, joints: usize, dimensions: usize) -> Layer {
        Layer {
            position: Array3::zeros((frames, joints, dimensions)),
            score: Array2::zeros((frames, joints)),
            presence: Array2::from_elem((frames, joints), Presence::Missing),
        }
    }

    /// Number of frames.
    pub fn frames(&self) -> usize {
        self.position.dim().0
    }

    /// Number of joints.
    pub fn joints(&self) -> usize {
        self.position.dim().1
    }

    /// 2 for a picture, 3 for space.
    pub fn dimensions(&self) -> usize {
        self.position.dim().2
    }

    /// Presence of a joint in a frame; outside the layer it is missing.
    pub fn presence(&self, frame: usize, joint: usize) -> Presence {
        self.presence
            .get((frame, joint))
            .copied()
            .unwrap_or(Presence::Missing)
    }

    /// The estimator's score, if the joint is there.
    pub fn score(&self, frame: usize, joint: usize) -> Option<f64> {
        self.is_there(frame, joint)
            .then(|| f64::from(self.score[(frame, joint)]))
    }

    fn is_there(&self, frame: usize, joint: usize) -> bool {
        self.presence(frame, joint) != Presence::Missing
    }

    /// Coordinate along one axis, if the joint is there.
    pub fn coordinate(&self, frame: usize, joint: usize, axis: usize) -> Option<f64> {
        if !self.is_there(frame, joint) {
            return None;
        }
        self.position.get((frame, joint, axis)).copied()
    }

    /// Position in the picture (the first two axes), if the joint is there.
    pub fn flat(&self, frame: usize, joint: usize) -> Option<Vector2<f64>> {
        Some(Vector2::new(
            self.coordinate(frame, joint, 0)?,
            self.coordinate(frame, joint, 1)?,
        ))
    }

    /// Position in space, if the joint is there and the layer has three axes.
    pub fn point(&self, frame: usize, joint: usize) -> Option<Vector3<f64>> {
        Some(Vector3::new(
            self.coordinate(frame, joint, 0)?,
            self.coordinate(frame, joint, 1)?,
            self.coordinate(frame, joint, 2)?,
        ))
    }

    /// Sets a joint; coordinates that are not finite make it missing instead.
    pub fn set(&mut self, frame: usize, joint: usize, at: &[f64], score: f64, presence: Presence) {
        let fits = at.len() == self.dimensions() && frame < self.frames() && joint < self.joints();
        if !fits {
            return;
        }
        let finite = at.iter().all(|value| value.is_finite());
        self.presence[(frame, joint)] = if finite { presence } else { Presence::Missing };
        self.score[(frame, joint)] = if score.is_finite() { score as f32 } else { 0.0 };
        for (axis, value) in at.iter().enumerate() {
            self.position[(frame, joint, axis)] = if finite { *value } else { 0.0 };
        }
    }

    /// Drops a joint in a frame.
    pub fn drop_point(&mut self, frame: usize, joint: usize) {
        if let Some(presence) = self.presence.get_mut((frame, joint)) {
            *presence = Presence::Missing;
        }
    }

    /// Exchanges two joints in a frame.
    pub fn exchange(&mut self, frame: usize, a: usize, b: usize) {
        if frame >= self.frames() || a >= self.joints() || b >= self.joints() {
            return;
        }
        for axis in 0..self.dimensions() {
            self.position.swap((frame, a, axis), (frame, b, axis));
        }
        self.score.swap((frame, a), (frame, b));
        self.presence.swap((frame, a), (frame, b));
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
