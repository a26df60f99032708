//! Frames as they grow while a file is read, in whatever order they come.
//!
//! They nearly always come in the order of their numbers, and then those of a long clip need not stay in memory
//! ([`Frames`]): the last ones stay, in case a person of them follows. A frame that is older makes them all come back.

use crate::track::{Detection, Frames, RecordingFrame};
use std::collections::{BTreeMap, VecDeque};
use std::mem;

/// Frames that stay at least.
const NEAR: usize = 1024;

/// Growing frames.
#[derive(Debug, Default)]
pub struct Growing {
    /// Those before all others, and the number of their last.
    done: Frames,
    last: Option<i64>,
    open: Open,
}

/// Frames that may still grow, by number.
#[derive(Debug)]
enum Open {
    /// The last ones, in order.
    Near(VecDeque<RecordingFrame>),
    /// All, once a frame came after a later one that was done.
    All(BTreeMap<i64, Vec<Detection>>),
}

impl Default for Open {
    fn default() -> Open {
        // Room at once: a list that grows takes new memory at each move, and room that is not used costs nothing.
        Open::Near(VecDeque::with_capacity(2 * NEAR))
    }
}

impl Growing {
    /// Number of frames.
    pub fn len(&self) -> usize {
        self.done.len()
            + match &self.open {
                Open::Near(frames) => frames.len(),
                Open::All(frames) => frames.len(),
            }
    }

    /// People of a frame, which is made if it is new.
    pub fn people(&mut self, number: i64) -> &mut Vec<Detection> {
        if let Open::Near(frames) = &mut self.open {
            while frames.len() >= 2 * NEAR {
                for frame in frames.drain(..NEAR) {
                    self.last = Some(frame.number);
                    self.done.push(frame);
                }
            }
        }
        // Only now: the frame may just have been done.
        if self.last.is_some_and(|last| number <= last) {
            self.come_back();
        }
        match &mut self.open {
            Open::All(frames) => frames.entry(number).or_default(),
            Open::Near(frames) => {
                let at = place(frames, number).unwrap_or_else(|at| {
                    frames.insert(at, frame((number, Vec::new())));
                    at
                });
                &mut frames[at].people
            }
        }
    }

    /// Whether a frame is there, or older than some that are.
    pub fn knows(&self, number: i64) -> bool {
        let is_open = match &self.open {
            Open::Near(frames) => place(frames, number).is_ok(),
            Open::All(frames) => frames.contains_key(&number),
        };
        is_open || self.last.is_some_and(|last| number <= last)
    }

    fn come_back(&mut self) {
        let mut all = BTreeMap::new();
        mem::take(&mut self.done).each(|frame| {
            all.insert(frame.number, frame.people.clone());
        });
        match mem::replace(&mut self.open, Open::All(BTreeMap::new())) {
            Open::Near(frames) => {
                all.extend(frames.into_iter().map(|one| (one.number, one.people)))
            }
            Open::All(frames) => all.extend(frames),
        }
        (self.last, self.open) = (None, Open::All(all));
    }

    /// Whether it is so of any person.
    pub fn any_person(&self, mut so: impl FnMut(&Detection) -> bool) -> bool {
        self.done.any_person(&mut so)
            || match &self.open {
                Open::Near(frames) => frames.iter().flat_map(|one| &one.people).any(so),
                Open::All(frames) => frames.values().flatten().any(so),
            }
    }

    /// Changes each person.
    pub fn change_people(&mut self, mut change: impl FnMut(&mut Detection)) {
        self.done.change_people(&mut change);
        match &mut self.open {
            Open::Near(frames) => frames
                .iter_mut()
                .flat_map(|one| &mut one.people)
                .for_each(change),
            Open::All(frames) => frames.values_mut().flatten().for_each(change),
        }
    }

    /// The frames, in the order of their numbers.
    pub fn finish(mut self) -> Frames {
        match self.open {
            Open::Near(frames) if self.done.is_empty() => return Vec::from(frames).into(),
            Open::Near(frames) => frames.into_iter().for_each(|one| self.done.push(one)),
            Open::All(frames) => frames
                .into_iter()
                .map(frame)
                .for_each(|one| self.done.push(one)),
        }
        self.done
    }
}

fn frame((number, people): (i64, Vec<Detection>)) -> RecordingFrame {
    RecordingFrame {
        number,
        stamp_s: None,
        people,
    }
}

/// Where a frame is, or where it would have to be: mostly the last one, or behind it.
fn place(frames: &VecDeque<RecordingFrame>, number: i64) -> Result<usize, usize> {
    match frames.back() {
        Some(last) if number == last.number => Ok(frames.len() - 1),
        Some(last) if number < last.number => {
            frames.binary_search_by_key(&number, |one| one.number)
        }
        _ => Err(frames.len()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grown(numbers: impl IntoIterator<Item = i64>) -> Frames {
        let mut growing = Growing::default();
        for number in numbers {
            let one = Detection {
                picture: vec![[number as f32; 3]],
                ..Detection::default()
            };
            growing.people(number).push(one);
        }
        growing.finish()
    }

    #[test]
    fn frames_are_the_same_in_whatever_order_they_come() {
        let count = 20 * NEAR as i64;
        let in_order = grown(0..count);
        assert_eq!(in_order.len(), 20 * NEAR);
        assert!(in_order == grown((0..count).rev()));
        // Two people of a frame that is just done, or about to be, and frames that come a little late.
        let near = NEAR as i64;
        for older in [5, near - 1, near, 2 * near - 1] {
            let frames = grown((0..2 * near).chain([older, older + 1]));
            assert_eq!(frames.len() as i64, (2 * near).max(older + 2));
            let people = |index: i64| frames.look(index as usize, |frame| frame.people.len());
            assert_eq!(people(older), Some(2), "{older}");
            assert_eq!(people(older - 1), Some(1));
        }
        let swapped = (0..count).map(|number| number ^ 7);
        assert!(in_order == grown(swapped));
        let late = grown((1..count).chain([0]));
        assert!(in_order == late);
        let twice = grown((0..count).chain([count / 2]));
        assert_eq!(twice.len(), in_order.len());
        let people = |index: usize| twice.look(index, |frame| frame.people.len());
        assert_eq!([people(10 * NEAR), people(3)], [Some(2), Some(1)]);
    }
}
