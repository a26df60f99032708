//! Frames as they grow while a file is read, in whatever order they come.
//!
//! They nearly always come in the order of their numbers, and then those of a long clip need not stay in memory
//! ([`Frames`]): the last ones stay, in case a person of them follows. A frame that is older makes them all come back.

use crate::track::{Detection, Frames, RecordingFrame};
use std::collections::BTreeMap;

/// Frames that stay at least.
const NEAR: usize = 1024;

/// Growing frames.
#[derive(Debug, Default)]
pub struct Growing {
    /// Those before all others, and the number of their last.
    done: Frames,
    last: Option<i64>,
    open: BTreeMap<i64, Vec<Detection>>,
    /// Whether a frame came after a later one that was done, so that none is done before the end.
    anyhow: bool,
}

impl Growing {
    /// Number of frames.
    pub fn len(&self) -> usize {
        self.done.len() + self.open.len()
    }

    /// People of a frame, which is made if it is new.
    pub fn people(&mut self, number: i64) -> &mut Vec<Detection> {
        if self.last.is_some_and(|last| number <= last) {
            self.come_back();
        } else if self.open.len() >= 2 * NEAR && !self.anyhow {
            self.go(NEAR);
        }
        self.open.entry(number).or_default()
    }

    /// Whether a frame is there, or older than some that are.
    pub fn knows(&self, number: i64) -> bool {
        self.open.contains_key(&number) || self.last.is_some_and(|last| number <= last)
    }

    /// The first frames are done.
    fn go(&mut self, frames: usize) {
        for _ in 0..frames {
            let Some((number, people)) = self.open.pop_first() else {
                return;
            };
            self.last = Some(number);
            self.done.push(RecordingFrame {
                number,
                stamp_s: None,
                people,
            });
        }
    }

    fn come_back(&mut self) {
        let done = std::mem::take(&mut self.done);
        done.each(|frame| {
            self.open.insert(frame.number, frame.people.clone());
        });
        (self.last, self.anyhow) = (None, true);
    }

    /// Whether it is so of any person.
    pub fn any_person(&self, mut so: impl FnMut(&Detection) -> bool) -> bool {
        self.done.any_person(&mut so) || self.open.values().flatten().any(so)
    }

    /// Changes each person.
    pub fn change_people(&mut self, mut change: impl FnMut(&mut Detection)) {
        self.done.change_people(&mut change);
        self.open.values_mut().flatten().for_each(change);
    }

    /// The frames, in the order of their numbers.
    pub fn finish(mut self) -> Frames {
        self.go(usize::MAX);
        self.done
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
        let late = grown((1..count).chain([0]));
        assert!(in_order == late);
        let twice = grown((0..count).chain([count / 2]));
        assert_eq!(twice.len(), in_order.len());
        let people = |index: usize| twice.look(index, |frame| frame.people.len());
        assert_eq!([people(10 * NEAR), people(3)], [Some(2), Some(1)]);
    }
}
