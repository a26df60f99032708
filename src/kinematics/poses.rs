//! The poses of a clip, each made when it is looked at, and their angles over time.
//!
//! Kept for all frames, poses would take more memory than the track they come from.

use super::angles::Angles;
use super::signal::Signal;
use super::spread::Pose;
use rayon::prelude::*;

/// Fewest frames for which another core is asked to help, and most that one core takes at once.
const AT_ONCE: std::ops::RangeInclusive<usize> = 128..=4096;

/// The poses of a clip.
pub trait Poses: Sync {
    /// What each is.
    type Pose: Pose;
    /// Number of frames.
    fn frames(&self) -> usize;
    /// The pose of a frame.
    fn at(&self, frame: usize) -> Self::Pose;
    /// Something of every pose, on all cores.
    fn map<T: Send>(&self, of: impl Fn(&Self::Pose) -> T + Sync + Send) -> Vec<T> {
        (0..self.frames())
            .into_par_iter()
            .with_min_len(*AT_ONCE.start())
            .map(|frame| of(&self.at(frame)))
            .collect()
    }
}

/// Angles over time: by [`Signal::index`] one value for each frame. A signal that is never there has no list.
pub struct Courses([Vec<Option<f64>>; Signal::COUNT]);

impl Courses {
    /// Angles of every pose, on all cores.
    pub fn of<P: Poses>(poses: &P) -> Courses {
        let frames = poses.frames();
        let mut courses: [Vec<_>; Signal::COUNT] = std::array::from_fn(|_| Vec::new());
        let parts = 4 * rayon::current_num_threads();
        let length = (frames / parts).clamp(*AT_ONCE.start(), *AT_ONCE.end());
        let mut from = 0;
        while from < frames {
            let to = frames.min(from + parts * length);
            let angles: Vec<Angles> = (from..to)
                .into_par_iter()
                .with_min_len(length)
                .map(|frame| poses.at(frame).angles())
                .collect();
            for (signal, values) in courses.iter_mut().enumerate() {
                let of_signal = || angles.iter().map(move |angles| angles[signal]);
                if values.is_empty() && of_signal().all(|value| value.is_none()) {
                    continue;
                }
                values.reserve_exact(frames - values.len());
                values.resize(from, None);
                values.extend(of_signal());
            }
            from = to;
        }
        for values in courses.iter_mut().filter(|all| !all.is_empty()) {
            values.resize(frames, None);
        }
        Courses(courses)
    }

    /// Values of a signal, if it is ever there.
    pub fn get(&self, signal: Signal) -> Option<&[Option<f64>]> {
        let values = self.0.get(signal.index())?;
        (!values.is_empty()).then_some(values)
    }

    /// The values by signal.
    pub fn into_values(self) -> [Vec<Option<f64>>; Signal::COUNT] {
        self.0
    }
}
