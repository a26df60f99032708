//! One layer of coordinates: frames x joints x 2 or 3, each with a score and a presence.
//!
//! Each joint has its course over time for itself, because nearly every stage goes along it: joints are worked on side
//! by side ([`Layer::each_joint`]), and one can be remade while the others stay. The courses of a long clip lie in a file
//! ([`Kept`]), so that memory does not grow with it; nobody who reads a layer sees the difference.

use super::course::{Course, Presence};
use super::kept::{Away, Kept};
use super::shelf::{LONG, STRETCH, Shelf};
use nalgebra::{Vector2, Vector3};
use rayon::prelude::*;
use std::ops::Range;
use std::sync::{Arc, OnceLock};

/// Coordinates of every joint in every frame. What is missing cannot be read: accessors return `Option`.
#[derive(Debug, Clone)]
pub struct Layer {
    frames: usize,
    dimensions: usize,
    joints: Vec<Kept>,
    /// Where the courses lie if they are not in memory.
    shelf: Option<Arc<Shelf>>,
    /// By joint, the share of frames in which it was seen, once that was asked for.
    coverages: OnceLock<Vec<f64>>,
}

impl Layer {
    /// A layer of `frames` x `joints` x `dimensions` in which everything is missing.
    pub fn missing(frames: usize, joints: usize, dimensions: usize) -> Layer {
        let course = |_| Kept::Here(Course::missing(frames, dimensions));
        Layer {
            frames,
            dimensions,
            joints: (0..joints).map(course).collect(),
            shelf: None,
            coverages: OnceLock::new(),
        }
    }

    /// A layer whose joints are set by `fill`, on all cores and stretch by stretch: it gets the frames of a stretch, a joint and
    /// its course of only these frames, in which everything is missing and the first of them is frame 0.
    pub fn made(
        frames: usize,
        joints: usize,
        dimensions: usize,
        fill: impl Fn(Range<usize>, usize, &mut Course) + Sync,
    ) -> Layer {
        let shelf = (frames > LONG).then(|| Shelf::new().ok()).flatten();
        Layer::made_in(shelf, frames, joints, dimensions, fill)
    }

    fn made_in(
        shelf: Option<Shelf>,
        frames: usize,
        joints: usize,
        dimensions: usize,
        fill: impl Fn(Range<usize>, usize, &mut Course) + Sync,
    ) -> Layer {
        let part = |stretch: Range<usize>| {
            let mut part = Layer::missing(stretch.len(), joints, dimensions);
            part.each_joint(|joint, course| fill(stretch.clone(), joint, course));
            part
        };
        let Some(shelf) = shelf.map(Arc::new) else {
            return part(0..frames);
        };
        let room = |_| Kept::Away(Away::room(&shelf, frames, dimensions));
        let mut made: Vec<Kept> = (0..joints).map(room).collect();
        for from in (0..frames).step_by(STRETCH) {
            let part = part(from..frames.min(from + STRETCH));
            for (joint, part) in made.iter_mut().zip(part.joints) {
                joint.set_part(from, &part.taken());
            }
        }
        Layer {
            frames,
            dimensions,
            joints: made,
            shelf: Some(shelf),
            coverages: OnceLock::new(),
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
        let kept = self.joints.get(joint);
        kept.map_or(Presence::Missing, |kept| {
            kept.look(frame, |course, at| course.presence(at))
        })
    }

    /// The estimator's score, if the joint is there.
    #[inline]
    pub fn score(&self, frame: usize, joint: usize) -> Option<f64> {
        self.joints
            .get(joint)?
            .look(frame, |course, at| course.score(at))
    }

    /// Coordinates, if the joint is there; the third of a picture is 0.
    #[inline]
    pub fn at(&self, frame: usize, joint: usize) -> Option<[f64; 3]> {
        self.joints
            .get(joint)?
            .look(frame, |course, at| course.at(at))
    }

    /// Coordinate along one axis, if the joint is there.
    #[inline]
    pub fn coordinate(&self, frame: usize, joint: usize, axis: usize) -> Option<f64> {
        self.joints
            .get(joint)?
            .look(frame, |course, at| course.coordinate(at, axis))
    }

    /// Position in the picture (the first two axes), if the joint is there.
    #[inline]
    pub fn flat(&self, frame: usize, joint: usize) -> Option<Vector2<f64>> {
        let [x, y, _] = self.at(frame, joint)?;
        Some(Vector2::new(x, y))
    }

    /// Position in space, if the joint is there and the layer has three axes.
    #[inline]
    pub fn point(&self, frame: usize, joint: usize) -> Option<Vector3<f64>> {
        if self.dimensions < 3 {
            return None;
        }
        self.at(frame, joint).map(Vector3::from)
    }

    /// Sets a joint; coordinates that are not finite make it missing instead.
    pub fn set(&mut self, frame: usize, joint: usize, at: &[f64], score: f64, presence: Presence) {
        self.work(joint, |course| course.set(frame, at, score, presence));
    }

    /// Works on the course of a joint.
    fn work<T>(&mut self, joint: usize, work: impl FnOnce(&mut Course) -> T) -> Option<T> {
        self.coverages.take();
        let kept = self.joints.get_mut(joint)?;
        Some(kept.work(self.shelf.as_ref(), work))
    }

    /// Works on the course of every joint, on all cores; what comes of each, by joint.
    pub fn each_joint<T: Send>(
        &mut self,
        work: impl Fn(usize, &mut Course) -> T + Sync + Send,
    ) -> Vec<T> {
        self.coverages.take();
        let shelf = self.shelf.as_ref();
        self.joints
            .par_iter_mut()
            .enumerate()
            .map(|(joint, kept)| kept.work(shelf, |course| work(joint, course)))
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
        if frames > LONG && self.shelf.is_none() {
            self.shelf = Shelf::new().ok().map(Arc::new);
        }
        self.each_joint(|_, course| {
            let before = std::mem::replace(course, Course::missing(frames, dimensions));
            work(&before, course)
        })
    }

    /// Drops a joint in a frame.
    pub fn drop_point(&mut self, frame: usize, joint: usize) {
        self.work(joint, |course| course.drop_point(frame));
    }

    /// Exchanges two joints in some frames.
    pub fn exchange(&mut self, frames: &[usize], a: usize, b: usize) {
        self.coverages.take();
        let shelf = self.shelf.as_ref();
        let Ok([a, b]) = self.joints.get_disjoint_mut([a, b]) else {
            return;
        };
        if frames.is_empty() {
            return;
        }
        a.work(shelf, |a| {
            b.work(shelf, |b| {
                frames.iter().for_each(|frame| a.exchange(b, *frame));
            });
        });
    }

    /// One coordinate over time; `None` where missing.
    pub fn column(&self, joint: usize, axis: usize) -> Vec<Option<f64>> {
        match self.joints.get(joint) {
            Some(kept) if axis < self.dimensions => kept.whole(|course| course.column(axis)),
            _ => vec![None; self.frames],
        }
    }

    /// Share of the frames with anybody in them in which the joint was seen (filled does not count), 0..1: a
    /// pause of the recording takes nothing away from a joint.
    pub fn coverage_when_present(&self, joint: usize) -> f64 {
        let coverages = self.coverages.get_or_init(|| self.coverages_when_present());
        coverages.get(joint).copied().unwrap_or(0.0)
    }

    fn coverages_when_present(&self) -> Vec<f64> {
        let mut anybody = vec![false; self.frames];
        let mut seen = Vec::with_capacity(self.joints());
        for kept in &self.joints {
            seen.push(kept.whole(|course| course.note_seen(&mut anybody)));
        }
        let present = anybody.into_iter().filter(|there| *there).count().max(1) as f64;
        seen.into_iter().map(|seen| seen as f64 / present).collect()
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

    #[test]
    fn joints_are_exchanged_and_remade_each_for_itself() {
        let mut layer = Layer::missing(4, 3, 2);
        for frame in [0, 1, 3] {
            layer.set(frame, 0, &[frame as f64, 1.0], 0.5, Presence::Seen);
        }
        layer.set(1, 2, &[9.0, 9.0], 0.25, Presence::Filled);
        layer.exchange(&[1], 0, 2);
        assert_eq!(layer.flat(1, 0), Some(Vector2::new(9.0, 9.0)));
        assert_eq!(layer.score(1, 2), Some(0.5));
        assert_eq!(layer.presence(1, 0), Presence::Filled);
        for (frame, a, b) in [(1, 0, 0), (1, 0, 3), (4, 0, 2)] {
            layer.exchange(&[frame], a, b);
            assert_eq!(layer.flat(1, 0), Some(Vector2::new(9.0, 9.0)));
        }
        let ends = |run: Range<usize>| (run.start, run.end);
        let runs =
            layer.each_joint(|_, course| course.runs().into_iter().map(ends).collect::<Vec<_>>());
        assert_eq!(runs, [vec![(0, 2), (3, 4)], vec![], vec![(1, 2)]]);

        let seen = layer.remake(2, |before, course| {
            if let Some(x) = before.coordinate(3, 0) {
                course.put(0, [x, 0.0]);
            }
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

    const FRAMES: usize = 2 * STRETCH + 500;

    /// Three joints that come and go.
    fn filled(shelf: Option<Shelf>) -> Layer {
        Layer::made_in(shelf, FRAMES, 3, 3, |frames, joint, course| {
            for (at, frame) in frames.enumerate().filter(|(_, frame)| frame % 7 != joint) {
                let place = [frame as f64 / 3.0, joint as f64, 0.1];
                let presence = match frame % 11 {
                    0 => Presence::Filled,
                    _ => Presence::Seen,
                };
                course.set(at, &place, 0.5, presence);
            }
        })
    }

    fn same(a: &Layer, b: &Layer) -> bool {
        let frame = |frame| {
            (0..4).all(|joint| {
                a.at(frame, joint) == b.at(frame, joint)
                    && a.score(frame, joint) == b.score(frame, joint)
                    && a.presence(frame, joint) == b.presence(frame, joint)
            })
        };
        (a.frames(), a.joints(), a.dimensions()) == (b.frames(), b.joints(), b.dimensions())
            && (0..=a.frames()).all(frame)
            && (0..3).all(|joint| a.column(joint, 0) == b.column(joint, 0))
            && (0..3).all(|joint| a.coverage(joint) == b.coverage(joint))
            && (0..3).all(|joint| a.coverage_when_present(joint) == b.coverage_when_present(joint))
    }

    #[test]
    fn a_layer_is_the_same_wherever_it_lies() {
        let bytes = (FRAMES * Course::bytes_of_frame(3)) as u64;
        // In a file, in one that is full after one and a half joints, and in one that takes nothing.
        for most in [u64::MAX, bytes * 3 / 2, 0] {
            let shelf = Shelf::of_at_most(most).expect("a temporary file");
            let (mut here, mut away) = (filled(None), filled(Some(shelf)));
            let in_file = |layer: &Layer| {
                let away = |kept: &&Kept| matches!(kept, Kept::Away(_));
                layer.joints.iter().filter(away).count()
            };
            assert_eq!(
                (in_file(&here), in_file(&away)),
                (
                    0,
                    if most == u64::MAX {
                        3
                    } else {
                        (most / bytes) as usize
                    }
                )
            );
            assert!(same(&here, &away), "made");

            let before = away.clone();
            for layer in [&mut here, &mut away] {
                let seen = layer.each_joint(|joint, course| {
                    course.drop_point(joint + STRETCH);
                    course.move_points(|[x, y, z]| [y, -x, z]);
                    course.is_ever_seen()
                });
                assert_eq!(seen, [true; 3]);
                layer.exchange(&[5, STRETCH + 7, FRAMES - 1, FRAMES], 0, 2);
                layer.set(FRAMES - 2, 1, &[1.0, 2.0, 3.0], 0.25, Presence::Filled);
                layer.drop_point(STRETCH + 1, 2);
            }
            assert!(same(&here, &away), "worked on");
            assert!(same(&before, &filled(None)), "a copy stays as it was");

            for layer in [&mut here, &mut away] {
                let old = FRAMES;
                layer.remake(old / 2, |before, course| {
                    for frame in 0..old / 2 {
                        if let Some(at) = before.at(2 * frame) {
                            course.set(frame, &at, 1.0, Presence::Seen);
                        }
                    }
                });
            }
            assert!(same(&here, &away), "remade");
            assert!(away.coverage(0) > 0.5, "and not empty");
        }
    }

    #[test]
    fn a_time_line_that_becomes_long_goes_to_a_file() {
        let remade = |frames: usize| {
            let mut layer = filled(None);
            layer.remake(frames, |before, course| {
                for frame in 0..frames {
                    if let Some(at) = before.at(frame % before.frames()) {
                        course.set(frame, &at, 1.0, Presence::Seen);
                    }
                }
            });
            layer
        };
        let (short, long) = (remade(LONG), remade(LONG + 1));
        let is_here = |layer: &Layer| {
            layer
                .joints
                .iter()
                .all(|kept| matches!(kept, Kept::Here(_)))
        };
        assert!(is_here(&short) && !is_here(&long));
        for frame in 0..LONG {
            assert_eq!(short.at(frame, 1), long.at(frame, 1));
        }
        assert_eq!(long.at(LONG, 1), filled(None).at(LONG % FRAMES, 1));
    }
}
