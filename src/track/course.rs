//! One joint over time.

use ndarray::{Array2, Axis};
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
    /// A course in which the joint is never there.
    pub fn missing(frames: usize, dimensions: usize) -> Course {
        Course {
            position: Array2::zeros((dimensions, frames)),
            score: vec![0.0; frames],
            presence: vec![Presence::Missing; frames],
        }
    }

    /// Number of frames.
    pub fn frames(&self) -> usize {
        self.presence.len()
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

    /// Coordinates, if the joint is there; those along axes it has not are 0.
    #[inline]
    pub fn at(&self, frame: usize) -> Option<[f64; 3]> {
        if !self.is_there(frame) {
            return None;
        }
        let along = |axis| self.position.get((axis, frame)).copied().unwrap_or(0.0);
        Some(std::array::from_fn(along))
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

    /// The place in a frame; `None` where missing, and everywhere of a joint with other dimensions than `N`.
    #[inline]
    pub fn place<const N: usize>(&self, frame: usize) -> Option<[f64; N]> {
        let there = self.dimensions() == N && self.is_there(frame);
        there.then(|| std::array::from_fn(|axis| self.position[(axis, frame)]))
    }

    /// Whether the joint was seen in any frame.
    pub fn is_ever_seen(&self) -> bool {
        self.presence.contains(&Presence::Seen)
    }

    /// Whether the joint was seen in every frame.
    pub fn is_always_seen(&self) -> bool {
        self.presence
            .iter()
            .all(|presence| *presence == Presence::Seen)
    }

    /// Notes the frames in which the joint was seen, and tells how many they are.
    pub fn note_seen(&self, frames: &mut [bool]) -> usize {
        let mut seen = 0;
        for (there, presence) in frames.iter_mut().zip(&self.presence) {
            if *presence == Presence::Seen {
                *there = true;
                seen += 1;
            }
        }
        seen
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

    /// Puts a place of finite coordinates in; whether the joint is there is not touched, nor one of other dimensions than `N`.
    #[inline]
    pub fn put<const N: usize>(&mut self, frame: usize, place: [f64; N]) {
        if self.dimensions() == N && frame < self.frames() {
            for (axis, value) in place.into_iter().enumerate() {
                self.position[(axis, frame)] = value;
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

    /// Changes places with another course in a frame.
    pub fn exchange(&mut self, other: &mut Course, frame: usize) {
        if frame >= self.frames().min(other.frames()) {
            return;
        }
        let (mine, its) = (&mut self.position, &mut other.position);
        for (a, b) in mine
            .column_mut(frame)
            .iter_mut()
            .zip(its.column_mut(frame).iter_mut())
        {
            std::mem::swap(a, b);
        }
        std::mem::swap(&mut self.score[frame], &mut other.score[frame]);
        std::mem::swap(&mut self.presence[frame], &mut other.presence[frame]);
    }

    /// Moves every place in space there is; what is moved to no place is missing.
    pub fn move_points(&mut self, moved: impl Fn([f64; 3]) -> [f64; 3]) {
        for frame in 0..self.frames() {
            if let (Some(at), Some(score)) = (self.at(frame), self.score(frame)) {
                self.set(frame, &moved(at), score, self.presence(frame));
            }
        }
    }

    /// Puts a course of some frames in, from a frame on; what goes beyond the end is left out.
    pub fn set_part(&mut self, from: usize, part: &Course) {
        for at in 0..part.frames().min(self.frames().saturating_sub(from)) {
            self.score[from + at] = part.score[at];
            self.presence[from + at] = part.presence[at];
            for axis in 0..self.dimensions().min(part.dimensions()) {
                self.position[(axis, from + at)] = part.position[(axis, at)];
            }
        }
    }

    /// Bytes that a frame of a course takes in a file.
    pub fn bytes_of_frame(dimensions: usize) -> usize {
        8 * dimensions + 4 + 1
    }

    /// Some frames as bytes.
    pub fn bytes(&self, frames: Range<usize>) -> Vec<u8> {
        let mut out = Vec::with_capacity(frames.len() * Course::bytes_of_frame(self.dimensions()));
        for row in self.position.rows() {
            let row = row.to_slice().unwrap_or_default();
            out.extend_from_slice(bytemuck::cast_slice(&row[frames.clone()]));
        }
        out.extend_from_slice(bytemuck::cast_slice(&self.score[frames.clone()]));
        out.extend(self.presence[frames].iter().map(|presence| *presence as u8));
        out
    }

    /// Puts frames in that were made bytes.
    pub fn set_bytes(&mut self, frames: Range<usize>, bytes: &[u8]) {
        let mut left = bytes;
        for mut row in self.position.rows_mut() {
            let row = row.as_slice_mut().unwrap_or_default();
            let row: &mut [u8] = bytemuck::cast_slice_mut(&mut row[frames.clone()]);
            row.copy_from_slice(next(&mut left, row.len()));
        }
        let score: &mut [u8] = bytemuck::cast_slice_mut(&mut self.score[frames.clone()]);
        score.copy_from_slice(next(&mut left, score.len()));
        for (slot, code) in self.presence[frames].iter_mut().zip(left) {
            *slot = match code {
                0 => Presence::Seen,
                1 => Presence::Filled,
                _ => Presence::Missing,
            };
        }
    }
}

/// Takes the first bytes away.
fn next<'a>(left: &mut &'a [u8], length: usize) -> &'a [u8] {
    let (first, rest) = left.split_at(length);
    *left = rest;
    first
}
