//! Gathers a table's cells into frames, people and points, in whatever order they come.

use super::layout::Layout;
use super::limits;
use crate::note::{Fault, Place};
use crate::track::{Detection, Frames, RecordingFrame};
use std::collections::HashMap;

/// What tells one frame from another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Key {
    /// Its number.
    Number(i64),
    /// The bits of its time, in a table without frame numbers.
    Time(u64),
}

/// One point of one person in one frame, as in the file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// x, y in the picture.
    pub picture: Option<[f64; 2]>,
    /// x, y, z in the world.
    pub space: Option<[f64; 3]>,
    /// Score; 1 if the file has none.
    pub score: f64,
}

#[derive(Debug, Default)]
struct Frame {
    number: i64,
    stamp: Option<f64>,
    people: Vec<Detection>,
}

/// Frames as they grow.
#[derive(Debug, Default)]
pub struct Gather {
    frames: Vec<Frame>,
    places: HashMap<Key, usize>,
    /// Points that came twice in a frame; the first counts.
    pub doubles: usize,
}

impl Gather {
    /// The frame of a key, made if it is new.
    ///
    /// # Errors
    /// More frames than the limit.
    pub fn frame(&mut self, key: Key, stamp: f64, place: &Place) -> Result<usize, Fault> {
        if let Some(at) = self.places.get(&key) {
            return Ok(*at);
        }
        if self.frames.len() >= limits::FRAMES {
            return Err(limits::frames(place.clone()));
        }
        let number = match key {
            Key::Number(number) => number,
            Key::Time(_) => 0,
        };
        let stamp = stamp.is_finite().then_some(stamp);
        self.frames.push(Frame {
            number,
            stamp,
            people: Vec::new(),
        });
        self.places.insert(key, self.frames.len() - 1);
        Ok(self.frames.len() - 1)
    }

    /// Sets a point of a person of a frame.
    pub fn point(&mut self, frame: usize, person: Option<&str>, point: usize, cell: Cell) {
        let Some(frame) = self.frames.get_mut(frame) else {
            return;
        };
        let known = frame
            .people
            .iter()
            .position(|one| one.id.as_deref() == person);
        let at = known.unwrap_or_else(|| {
            frame.people.push(Detection {
                id: person.map(str::to_string),
                ..Detection::default()
            });
            frame.people.len() - 1
        });
        let Some(one) = frame.people.get_mut(at) else {
            return;
        };
        let score = cell.score as f32;
        if let Some([x, y]) = cell.picture {
            let new = place_in(&mut one.picture, point, [x as f32, y as f32, score]);
            self.doubles += usize::from(!new);
        }
        if let Some([x, y, z]) = cell.space {
            let new = place_in(&mut one.space, point, [x as f32, y as f32, z as f32, score]);
            self.doubles += usize::from(!new && cell.picture.is_none());
        }
    }

    /// Adds a whole person, as someone other than those that are there; false beyond the limit of people.
    pub fn whole(&mut self, frame: usize, one: Detection) -> bool {
        match self.frames.get_mut(frame) {
            Some(frame) if frame.people.len() < limits::PEOPLE => {
                // One person is the rule, and a list that grows by itself begins with room for four.
                if frame.people.is_empty() {
                    frame.people.reserve_exact(1);
                }
                frame.people.push(one);
                true
            }
            _ => false,
        }
    }

    /// Frames with joints instead of keypoints. People of whom nothing was seen are left out.
    pub fn finish(mut self, layout: &Layout) -> Frames {
        let by_time = self.places.keys().any(|key| matches!(key, Key::Time(_)));
        if by_time {
            // Without numbers, frames count in the order of their times.
            self.frames.sort_by(|a, b| {
                let (a, b) = (a.stamp.unwrap_or(f64::MAX), b.stamp.unwrap_or(f64::MAX));
                a.total_cmp(&b)
            });
        }
        let finish = |(index, frame): (usize, Frame)| RecordingFrame {
            number: if by_time { index as i64 } else { frame.number },
            stamp_s: frame.stamp,
            people: frame
                .people
                .into_iter()
                .filter_map(|one| joints(one, layout))
                .collect(),
        };
        self.frames.into_iter().enumerate().map(finish).collect()
    }
}

/// Puts a point into its place; false if one was there already.
fn place_in<const N: usize>(points: &mut Vec<[f32; N]>, at: usize, point: [f32; N]) -> bool {
    if points.len() <= at {
        points.resize(at + 1, [f32::NAN; N]);
    }
    match points.get_mut(at) {
        Some(slot) if slot.iter().all(|value| value.is_nan()) => {
            *slot = point;
            true
        }
        _ => false,
    }
}

/// A detection in joints; `None` if no point of it is there.
pub fn joints(one: Detection, layout: &Layout) -> Option<Detection> {
    let there = |point: &[f32]| point.iter().all(|value| value.is_finite());
    let seen = one.picture.iter().any(|p| there(p)) || one.space.iter().any(|p| there(p));
    seen.then(|| Detection {
        id: one.id,
        picture: layout.joints_of(one.picture),
        space: layout.joints_of(one.space),
    })
}
