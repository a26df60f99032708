//! The frames of a recording, in memory, or, of a long clip, in a file.
//!
//! Frames are seen one after another, and none can be kept: those of a long clip come into memory a stretch at a time
//! ([`Spool`]). Nobody who looks at them sees the difference.

use super::recording::{Detection, RecordingFrame};
use super::spool::{Place, Spool};
use super::written::{read, write};
use std::cell::RefCell;
use std::sync::Arc;
use thread_local::ThreadLocal;

/// Most frames that stay in memory: nine minutes at 30 a second.
const LONG: usize = 16_384;

/// Frames of a long clip that come into memory at once.
const STRETCH: usize = 1024;

/// Frames in order.
#[derive(Debug, Clone, Default)]
pub struct Frames {
    /// Of a long clip, the first frames, [`STRETCH`] in each.
    stretches: Vec<Arc<Stretch>>,
    /// The others.
    rest: Vec<RecordingFrame>,
    spool: Option<Arc<Spool>>,
    looked_at: LookedAt,
}

#[derive(Debug)]
enum Stretch {
    Away(Arc<Spool>, Place),
    /// There was no room in a file.
    Here(Vec<RecordingFrame>),
}

impl Stretch {
    fn of(frames: Vec<RecordingFrame>, spool: Option<&Arc<Spool>>) -> Stretch {
        let Some(spool) = spool else {
            return Stretch::Here(frames);
        };
        let bytes = write(&frames);
        let place = spool.room(bytes.len() as u64);
        match spool.put(place.at, &bytes) {
            Ok(()) => Stretch::Away(Arc::clone(spool), place),
            Err(_) => Stretch::Here(frames),
        }
    }

    /// Its frames, which come into `room` if they are not in memory.
    fn frames<'a>(&'a self, room: &'a mut Room) -> &'a [RecordingFrame] {
        match self {
            Stretch::Here(frames) => frames,
            Stretch::Away(spool, place) => {
                let length = usize::try_from(place.length).unwrap_or(usize::MAX);
                room.bytes.resize(length, 0);
                spool.get(place.at, &mut room.bytes);
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
        if let Stretch::Away(spool, place) = self {
            spool.give_back(*place);
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
        self.len() == other.len() && (0..self.len()).all(|index| same(index) == Some(Some(true)))
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
        let (most, first) = match self.stretches.is_empty() {
            true => (LONG, true),
            false => (STRETCH, false),
        };
        if self.rest.len() < most {
            return;
        }
        if first {
            self.spool = Spool::new().ok().map(Arc::new);
        }
        let mut rest = std::mem::take(&mut self.rest).into_iter();
        while rest.len() >= STRETCH {
            let stretch = rest.by_ref().take(STRETCH).collect();
            let stretch = Stretch::of(stretch, self.spool.as_ref());
            self.stretches.push(Arc::new(stretch));
        }
        self.rest = rest.collect();
    }

    /// Looks at a frame.
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
            *stretch = Arc::new(Stretch::of(frames, self.spool.as_ref()));
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
