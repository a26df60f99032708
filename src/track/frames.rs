//! The frames of a recording, in memory, or, of a long clip, in a file.
//!
//! Frames are seen one after another, and none can be kept: those of a long clip come into memory a stretch at a time
//! ([`Shelf`]). Nobody who looks at them sees the difference.

use super::recording::{Detection, RecordingFrame};
use super::shelf::{LONG, Place, STRETCH, Shelf};
use super::written::{read, write};
use std::cell::RefCell;
use std::sync::Arc;
use thread_local::ThreadLocal;

/// Frames in order.
#[derive(Debug, Clone, Default)]
pub struct Frames {
    /// Of a long clip, the first frames, [`STRETCH`] in each.
    stretches: Vec<Arc<Stretch>>,
    /// The others.
    rest: Vec<RecordingFrame>,
    shelf: Option<Arc<Shelf>>,
    looked_at: LookedAt,
}

#[derive(Debug)]
enum Stretch {
    Away(Arc<Shelf>, Place),
    /// There was no room in a file.
    Here(Vec<RecordingFrame>),
}

impl Stretch {
    fn of(frames: Vec<RecordingFrame>, shelf: Option<&Arc<Shelf>>) -> Stretch {
        let Some(shelf) = shelf else {
            return Stretch::Here(frames);
        };
        let bytes = write(&frames);
        let place = shelf.room(bytes.len() as u64);
        match shelf.put(place.at, &bytes) {
            Ok(()) => Stretch::Away(Arc::clone(shelf), place),
            Err(_) => Stretch::Here(frames),
        }
    }

    /// Its frames, which come into `room` if they are not in memory.
    fn frames<'a>(&'a self, room: &'a mut Room) -> &'a [RecordingFrame] {
        match self {
            Stretch::Here(frames) => frames,
            Stretch::Away(shelf, place) => {
                let length = usize::try_from(place.length).unwrap_or(usize::MAX);
                room.bytes.resize(length, 0);
                shelf.get(place.at, &mut room.bytes);
                read(&room.bytes, &mut room.frames);
                &room.frames
            }
        }
    }
}

/// Where a stretch lies while it is looked at; one after another takes the same room.
#[derive(Debug, Default)]
struct Room {
    bytes: Vec<u8>,
    frames: Vec<RecordingFrame>,
}

impl Drop for Stretch {
    fn drop(&mut self) {
        if let Stretch::Away(shelf, place) = self {
            shelf.give_back(*place);
        }
    }
}

/// The stretch that each thread looked at last, and its number.
#[derive(Debug, Default)]
struct LookedAt(ThreadLocal<RefCell<(Option<usize>, Room)>>);

impl Clone for LookedAt {
    fn clone(&self) -> LookedAt {
        LookedAt::default()
    }
}

impl From<Vec<RecordingFrame>> for Frames {
    fn from(all: Vec<RecordingFrame>) -> Frames {
        match all.len() <= LONG {
            true => Frames {
                rest: all,
                ..Frames::default()
            },
            false => all.into_iter().collect(),
        }
    }
}

impl FromIterator<RecordingFrame> for Frames {
    fn from_iter<I: IntoIterator<Item = RecordingFrame>>(all: I) -> Frames {
        let mut frames = Frames::default();
        all.into_iter().for_each(|frame| frames.push(frame));
        frames
    }
}

impl PartialEq for Frames {
    fn eq(&self, other: &Frames) -> bool {
        let same = |index: usize| self.look(index, |a| other.look(index, |b| a == b));
        std::ptr::eq(self, other)
            || self.len() == other.len()
                && (0..self.len()).all(|index| same(index) == Some(Some(true)))
    }
}

impl Frames {
    /// Number of frames.
    pub fn len(&self) -> usize {
        self.stretches.len() * STRETCH + self.rest.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Adds a frame at the end.
    pub fn push(&mut self, frame: RecordingFrame) {
        self.rest.push(frame);
        let most = match self.stretches.is_empty() {
            true => LONG,
            false => STRETCH,
        };
        if self.rest.len() < most {
            return;
        }
        if self.shelf.is_none() {
            self.shelf = Shelf::new().ok().map(Arc::new);
        }
        let mut rest = std::mem::take(&mut self.rest).into_iter();
        while rest.len() >= STRETCH {
            let stretch = rest.by_ref().take(STRETCH).collect();
            let stretch = Stretch::of(stretch, self.shelf.as_ref());
            self.stretches.push(Arc::new(stretch));
        }
        self.rest = rest.collect();
    }

    /// Looks at a frame. Meanwhile `at` looks at no other one of these, and waits for no other thread.
    #[inline]
    pub fn look<T>(&self, index: usize, at: impl FnOnce(&RecordingFrame) -> T) -> Option<T> {
        match index.checked_sub(self.stretches.len() * STRETCH) {
            Some(index) => self.rest.get(index).map(at),
            None => self.look_away(index, at),
        }
    }

    fn look_away<T>(&self, index: usize, at: impl FnOnce(&RecordingFrame) -> T) -> Option<T> {
        let number = index / STRETCH;
        let stretch = self.stretches.get(number)?;
        let mut last = self.looked_at.0.get_or_default().borrow_mut();
        let (looked_at, room) = &mut *last;
        let frames = match (&**stretch, *looked_at == Some(number)) {
            (Stretch::Away(..), true) => &room.frames,
            _ => stretch.frames(room),
        };
        *looked_at = Some(number);
        frames.get(index % STRETCH).map(at)
    }

    /// Looks at all frames, a stretch at a time.
    pub fn stretches(&self, mut see: impl FnMut(&[RecordingFrame])) {
        let mut room = Room::default();
        for stretch in &self.stretches {
            see(stretch.frames(&mut room));
        }
        see(&self.rest);
    }

    /// Looks at each frame.
    pub fn each(&self, mut see: impl FnMut(&RecordingFrame)) {
        self.stretches(|frames| frames.iter().for_each(&mut see));
    }

    /// Whether it is so of any frame.
    pub fn any(&self, mut so: impl FnMut(&RecordingFrame) -> bool) -> bool {
        let mut in_any = |frames: &[RecordingFrame]| frames.iter().any(&mut so);
        let (mut room, mut stretches) = (Room::default(), self.stretches.iter());
        stretches.any(|stretch| in_any(stretch.frames(&mut room))) || in_any(&self.rest)
    }

    /// Looks at each person in each frame.
    pub fn each_person(&self, mut see: impl FnMut(&Detection)) {
        self.each(|frame| frame.people.iter().for_each(&mut see));
    }

    /// Whether it is so of any person in any frame.
    pub fn any_person(&self, mut so: impl FnMut(&Detection) -> bool) -> bool {
        self.any(|frame| frame.people.iter().any(&mut so))
    }

    /// What is found of each person in each frame.
    pub fn of_people<T, I: IntoIterator<Item = T>>(
        &self,
        mut of: impl FnMut(&Detection) -> I,
    ) -> Vec<T> {
        let mut found = Vec::new();
        self.each_person(|one| found.extend(of(one)));
        found
    }

    /// Changes each frame.
    pub fn change(&mut self, mut change: impl FnMut(&mut RecordingFrame)) {
        self.looked_at = LookedAt::default();
        for stretch in &mut self.stretches {
            let mut frames = stretch.frames(&mut Room::default()).to_vec();
            frames.iter_mut().for_each(&mut change);
            *stretch = Arc::new(Stretch::of(frames, self.shelf.as_ref()));
        }
        self.rest.iter_mut().for_each(&mut change);
    }

    /// Changes each person in each frame.
    pub fn change_people(&mut self, mut change: impl FnMut(&mut Detection)) {
        self.change(|frame| frame.people.iter_mut().for_each(&mut change));
    }

    /// Keeps the frames of these numbers, in this order.
    pub fn arrange(&mut self, order: &[usize]) {
        if order.iter().copied().eq(0..self.len()) {
            return;
        }
        let before = std::mem::take(self);
        let taken = |index: &usize| before.look(*index, RecordingFrame::clone);
        *self = order.iter().filter_map(taken).collect();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COUNT: usize = LONG + 2 * STRETCH + 100;

    fn all() -> Vec<RecordingFrame> {
        let one = |number: usize, person: usize| Detection {
            id: (person > 0).then(|| format!("id {person}")),
            picture: vec![[number as f32, person as f32, 0.5]; 2],
            space: vec![[0.25; 4]; number % 3],
        };
        let frame = |number: usize| RecordingFrame {
            number: number as i64,
            stamp_s: (!number.is_multiple_of(5)).then_some(number as f64 / 30.0),
            people: (0..number % 4).map(|person| one(number, person)).collect(),
        };
        (0..COUNT).map(frame).collect()
    }

    /// In a file, and in one with less and less room.
    fn wherever_they_lie() -> impl Iterator<Item = Frames> {
        [u64::MAX, 700_000, 0].into_iter().map(|most| {
            let mut frames = Frames {
                shelf: Some(Arc::new(Shelf::of_at_most(most).expect("a file"))),
                ..Frames::default()
            };
            all().into_iter().for_each(|frame| frames.push(frame));
            let away = |stretch: &&Arc<Stretch>| matches!(&***stretch, Stretch::Away(..));
            let away = frames.stretches.iter().filter(away).count();
            assert_eq!(away == frames.stretches.len(), most == u64::MAX);
            assert_eq!(away == 0, most == 0);
            frames
        })
    }

    fn listed(frames: &Frames) -> Vec<RecordingFrame> {
        let mut list = Vec::new();
        frames.each(|frame| list.push(frame.clone()));
        list
    }

    #[test]
    fn frames_are_the_same_wherever_they_lie() {
        let all = all();
        for mut frames in wherever_they_lie() {
            assert_eq!(frames.len(), COUNT);
            assert!(listed(&frames) == all);
            for index in [0, COUNT - 1, 5, STRETCH, LONG, 5, COUNT] {
                let found = frames.look(index, RecordingFrame::clone);
                assert_eq!(found.as_ref(), all.get(index));
            }
            assert!(frames.any(|frame| frame.number == 3000));
            assert!(!frames.any(|frame| frame.number < 0));
            assert!(frames.any_person(|one| one.id.as_deref() == Some("id 2")));
            let people: usize = all.iter().map(|frame| frame.people.len()).sum();
            assert_eq!(
                frames.of_people(|one| one.id.clone().map(|_| 1)).len(),
                people - COUNT * 3 / 4
            );

            let before = frames.clone();
            assert!(before == frames);
            frames.change_people(|one| one.picture.clear());
            assert!(!frames.any_person(|one| !one.picture.is_empty()));
            assert!(listed(&before) == all, "a copy stays as it was");
            assert!(before != frames);
        }
    }

    #[test]
    fn frames_are_put_in_any_order() {
        let all = all();
        for mut frames in wherever_they_lie() {
            frames.arrange(&(0..COUNT).collect::<Vec<_>>());
            assert!(listed(&frames) == all);
            let odd: Vec<usize> = (0..COUNT).rev().filter(|number| number % 2 == 1).collect();
            frames.arrange(&odd);
            let numbers: Vec<usize> = listed(&frames).iter().map(|f| f.number as usize).collect();
            assert_eq!(numbers, odd);
        }
        let short: Frames = all.iter().take(3).cloned().collect();
        assert!(short == Frames::from(all[..3].to_vec()));
        assert!(Frames::from(all.clone()) == all.into_iter().collect());
    }
}
