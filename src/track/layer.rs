//! One layer of coordinates: frames x joints x 2 or 3, each with a score and a presence.
//!
//! Each joint has its course over time for itself, because nearly every stage goes along it: joints are worked on side
//! by side ([`Layer::each_joint`]), and one can be remade while the others stay.

use nalgebra::{Vector2, Vector3};
use ndarray::{Array2, Axis};
use rayon::prelude::*;
use std::ops::Range;

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
    frames: usize,
    dimensions: usize,
    joints: Vec<Course>,
}

impl Layer {
    /// A layer of `frames` x `joints` x `dimensions` in which everything is missing.
    pub fn missing(frames: usize, joints: usize, dimensions: usize) -> Layer {
        let course = |_| Course::missing(frames, dimensions);
        Layer {
            frames,
            dimensions,
            joints: (0..joints).map(course).collect(),
        }
    }

    /// Number of frames.
    pub fn frames(&self) -> usize {
        self.frames
    }

    /// Number of joints.
    pub fn joints(&self) -> usize {
        self.joints.len()
    }

    /// 2 for a picture, 3 for space.
    pub fn dimensions(&self) -> usize {
        self.dimensions
    }

    /// Presence of a joint in a frame; outside the layer it is missing.
    #[inline]
    pub fn presence(&self, frame: usize, joint: usize) -> Presence {
        let course = self.joints.get(joint);
        course.map_or(Presence::Missing, |course| course.presence(frame))
    }

    /// The estimator's score, if the joint is there.
    #[inline]
    pub fn score(&self, frame: usize, joint: usize) -> Option<f64> {
        self.joints.get(joint)?.score(frame)
    }

    /// Coordinate along one axis, if the joint is there.
    #[inline]
    pub fn coordinate(&self, frame: usize, joint: usize, axis: usize) -> Option<f64> {
        self.joints.get(joint)?.coordinate(frame, axis)
    }

    /// Position in the picture (the first two axes), if the joint is there.
    #[inline]
    pub fn flat(&self, frame: usize, joint: usize) -> Option<Vector2<f64>> {
        let course = self.joints.get(joint)?;
        Some(Vector2::new(
            course.coordinate(frame, 0)?,
            course.coordinate(frame, 1)?,
        ))
    }

    /// Position in space, if the joint is there and the layer has three axes.
    #[inline]
    pub fn point(&self, frame: usize, joint: usize) -> Option<Vector3<f64>> {
        let course = self.joints.get(joint)?;
        Some(Vector3::new(
            course.coordinate(frame, 0)?,
            course.coordinate(frame, 1)?,
            course.coordinate(frame, 2)?,
        ))
    }

    /// Sets a joint; coordinates that are not finite make it missing instead.
    pub fn set(&mut self, frame: usize, joint: usize, at: &[f64], score: f64, presence: Presence) {
        if let Some(course) = self.joints.get_mut(joint) {
            course.set(frame, at, score, presence);
        }
    }

    /// Works on the course of every joint, on all cores; what comes of each, by joint.
    pub fn each_joint<T: Send>(
        &mut self,
        work: impl Fn(usize, &mut Course) -> T + Sync + Send,
    ) -> Vec<T> {
        self.joints
            .par_iter_mut()
            .enumerate()
            .map(|(joint, course)| work(joint, course))
            .collect()
    }

    /// Makes every joint anew from what it was, over so many frames, on all cores; what comes of each, by joint. What it
    /// was goes as soon as it is made: a long clip does not lie in memory twice.
    pub fn remake<T: Send>(
        &mut self,
        frames: usize,
        work: impl Fn(&Course, &mut Course) -> T + Sync + Send,
    ) -> Vec<T> {
        let dimensions = self.dimensions;
        self.frames = frames;
        self.each_joint(|_, course| {
            let before = std::mem::replace(course, Course::missing(frames, dimensions));
            work(&before, course)
        })
    }

    /// Drops a joint in a frame.
    pub fn drop_point(&mut self, frame: usize, joint: usize) {
        if let Some(course) = self.joints.get_mut(joint) {
            course.drop_point(frame);
        }
    }

    /// Exchanges two joints in a frame.
    pub fn exchange(&mut self, frame: usize, a: usize, b: usize) {
        if frame >= self.frames {
            return;
        }
        let Ok([a, b]) = self.joints.get_disjoint_mut([a, b]) else {
            return;
        };
        for (a, b) in a
            .position
            .column_mut(frame)
            .iter_mut()
            .zip(b.position.column_mut(frame))
        {
            std::mem::swap(a, b);
        }
        std::mem::swap(&mut a.score[frame], &mut b.score[frame]);
        std::mem::swap(&mut a.presence[frame], &mut b.presence[frame]);
    }

    /// One coordinate over time; `None` where missing.
    pub fn column(&self, joint: usize, axis: usize) -> Vec<Option<f64>> {
        match self.joints.get(joint) {
            Some(course) if axis < self.dimensions => course.column(axis),
            _ => vec![None; self.frames],
        }
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

/// One joint over time.
#[derive(Debug, Clone)]
pub struct Course {
    /// Axis x frame.
    position: Array2<f64>,
    /// Half the memory of a clip is here and in `presence` if they are wide; an export has four digits of a score.
    score: Vec<f32>,
    presence: Vec<Presence>,
}

impl Course {
    fn missing(frames: usize, dimensions: usize) -> Course {
        Course {
            position: Array2::zeros((dimensions, frames)),
            score: vec![0.0; frames],
            presence: vec![Presence::Missing; frames],
        }
    }

    /// 2 for a picture, 3 for space.
    pub fn dimensions(&self) -> usize {
        self.position.dim().0
    }

    /// Presence in a frame; outside it is missing.
    #[inline]
    pub fn presence(&self, frame: usize) -> Presence {
        let presence = self.presence.get(frame);
        presence.copied().unwrap_or(Presence::Missing)
    }

    #[inline]
    fn is_there(&self, frame: usize) -> bool {
        self.presence(frame) != Presence::Missing
    }

    /// The estimator's score, if the joint is there.
    #[inline]
    pub fn score(&self, frame: usize) -> Option<f64> {
        let score = self.score.get(frame).filter(|_| self.is_there(frame))?;
        Some(f64::from(*score))
    }

    /// Coordinate along one axis, if the joint is there.
    #[inline]
    pub fn coordinate(&self, frame: usize, axis: usize) -> Option<f64> {
        if !self.is_there(frame) {
            return None;
        }
        self.position.get((axis, frame)).copied()
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

    /// Whether the joint was seen in any frame.
    pub fn is_ever_seen(&self) -> bool {
        self.presence.contains(&Presence::Seen)
    }

    /// Sets a frame; coordinates that are not finite make it missing instead.
    pub fn set(&mut self, frame: usize, at: &[f64], score: f64, presence: Presence) {
        let fits = at.len() == self.dimensions() && frame < self.presence.len();
        if !fits {
            return;
        }
        let finite = at.iter().all(|value| value.is_finite());
        let presence = if finite { presence } else { Presence::Missing };
        self.mark(frame, score, presence);
        for (axis, value) in at.iter().enumerate() {
            self.position[(axis, frame)] = if finite { *value } else { 0.0 };
        }
    }

    /// Says whether and how well the joint, whose coordinates are set, is there in a frame.
    pub fn mark(&mut self, frame: usize, score: f64, presence: Presence) {
        if let Some(slot) = self.presence.get_mut(frame) {
            *slot = presence;
        }
        if let Some(slot) = self.score.get_mut(frame) {
            *slot = if score.is_finite() { score as f32 } else { 0.0 };
        }
    }

    /// Puts values in along an axis, where there are any; whether the joint is there is not touched.
    pub fn put(&mut self, axis: usize, values: &[Option<f64>]) {
        let mut places = self.position.index_axis_mut(Axis(0), axis);
        for (place, value) in places.iter_mut().zip(values) {
            if let Some(value) = value.filter(|value| value.is_finite()) {
                *place = value;
            }
        }
    }

    /// The stretches in which the joint is there all the time.
    pub fn runs(&self) -> Vec<Range<usize>> {
        let mut runs: Vec<Range<usize>> = Vec::new();
        for (frame, presence) in self.presence.iter().enumerate() {
            if *presence == Presence::Missing {
                continue;
            }
            match runs.last_mut() {
                Some(run) if run.end == frame => run.end += 1,
                _ => runs.push(frame..frame + 1),
            }
        }
        runs
    }

    /// The places of a stretch; none of a joint with other dimensions than `N`.
    pub fn points<const N: usize>(&self, frames: Range<usize>) -> Vec<[f64; N]> {
        if self.dimensions() != N {
            return Vec::new();
        }
        let at = |frame| std::array::from_fn(|axis| self.position[(axis, frame)]);
        frames.map(at).collect()
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

    #[test]
    fn joints_are_exchanged_and_remade_each_for_itself() {
        let mut layer = Layer::missing(4, 3, 2);
        for frame in [0, 1, 3] {
            layer.set(frame, 0, &[frame as f64, 1.0], 0.5, Presence::Seen);
        }
        layer.set(1, 2, &[9.0, 9.0], 0.25, Presence::Filled);
        layer.exchange(1, 0, 2);
        assert_eq!(layer.flat(1, 0), Some(Vector2::new(9.0, 9.0)));
        assert_eq!(layer.score(1, 2), Some(0.5));
        assert_eq!(layer.presence(1, 0), Presence::Filled);
        for (frame, a, b) in [(1, 0, 0), (1, 0, 3), (4, 0, 2)] {
            layer.exchange(frame, a, b);
            assert_eq!(layer.flat(1, 0), Some(Vector2::new(9.0, 9.0)));
        }
        let ends = |run: Range<usize>| (run.start, run.end);
        let runs =
            layer.each_joint(|_, course| course.runs().into_iter().map(ends).collect::<Vec<_>>());
        assert_eq!(runs, [vec![(0, 2), (3, 4)], vec![], vec![(1, 2)]]);

        let seen = layer.remake(2, |before, course| {
            course.put(0, &[before.coordinate(3, 0), None]);
            course.mark(0, 1.0, Presence::Seen);
            before.is_ever_seen()
        });
        assert_eq!(seen, [true, false, true]);
        assert_eq!((layer.frames(), layer.joints()), (2, 3));
        assert_eq!(layer.flat(0, 0), Some(Vector2::new(3.0, 0.0)));
        assert_eq!(layer.flat(1, 0), None, "nothing of it is left");
        assert_eq!(layer.column(3, 0), [None; 2], "no such joint");
        let points = layer.each_joint(|_, course| course.points::<2>(0..1));
        assert_eq!(points[0], [[3.0, 0.0]]);
    }
}
