//! A joint's course where it lies: in memory, or, of a long clip, in a file.
//!
//! Looked at frame by frame, a course in a file comes into memory a stretch at a time, for each thread its own. Worked on,
//! it comes whole, and goes back as soon as the work is done.

use super::course::Course;
use super::shelf::{Place, STRETCH, Shelf};
use std::cell::RefCell;
use std::ops::Range;
use std::sync::Arc;
use thread_local::ThreadLocal;

/// A course where it lies.
#[derive(Debug)]
#[allow(clippy::large_enum_variant)] // a clip has a dozen joints
pub enum Kept {
    /// In memory.
    Here(Course),
    /// In a file.
    Away(Away),
}

/// A course in a file.
#[derive(Debug)]
pub struct Away {
    shelf: Arc<Shelf>,
    place: Place,
    frames: usize,
    dimensions: usize,
    /// The stretch that each thread looked at last, and its number.
    looked_at: ThreadLocal<RefCell<LookedAt>>,
}

#[derive(Debug)]
struct LookedAt {
    stretch: usize,
    course: Course,
    /// Room for what is read.
    bytes: Vec<u8>,
}

impl Away {
    /// Room in a file for a course; what is in it is not told.
    pub fn room(shelf: &Arc<Shelf>, frames: usize, dimensions: usize) -> Away {
        let length = (frames * Course::bytes_of_frame(dimensions)) as u64;
        Away {
            shelf: Arc::clone(shelf),
            place: shelf.room(length),
            frames,
            dimensions,
            looked_at: ThreadLocal::new(),
        }
    }

    /// The first byte of a frame with which a stretch begins, and the frames of that stretch.
    fn stretch(&self, from: usize) -> (u64, Range<usize>) {
        let byte = from * Course::bytes_of_frame(self.dimensions);
        let frames = from..self.frames.min(from + STRETCH);
        (self.place.at + byte as u64, frames)
    }

    /// Puts a part of the course away, from a frame on: whole stretches, unless it goes to the end.
    ///
    /// # Errors
    /// No room is left.
    pub fn put(&mut self, from: usize, part: &Course) -> std::io::Result<()> {
        self.looked_at.clear();
        for begin in (0..part.frames()).step_by(STRETCH) {
            let (byte, frames) = self.stretch(from + begin);
            let bytes = part.bytes(begin..begin + frames.len());
            self.shelf.put(byte, &bytes)?;
        }
        Ok(())
    }

    /// The first frames, which are whole stretches or all.
    fn first(&self, frames: usize) -> Course {
        let mut part = Course::missing(frames, self.dimensions);
        let mut bytes = Vec::new();
        for begin in (0..frames).step_by(STRETCH) {
            let (byte, frames) = self.stretch(begin);
            bytes.resize(frames.len() * Course::bytes_of_frame(self.dimensions), 0);
            self.shelf.get(byte, &mut bytes);
            part.set_bytes(frames, &bytes);
        }
        part
    }

    fn whole(&self) -> Course {
        self.first(self.frames)
    }

    /// Takes a stretch by its number, into the room of another one.
    fn take(&self, number: usize, room: &mut LookedAt) {
        let (byte, frames) = self.stretch(number * STRETCH);
        if room.course.frames() != frames.len() {
            room.course = Course::missing(frames.len(), self.dimensions);
        }
        let length = frames.len() * Course::bytes_of_frame(self.dimensions);
        room.bytes.resize(length, 0);
        self.shelf.get(byte, &mut room.bytes);
        room.course.set_bytes(0..frames.len(), &room.bytes);
        room.stretch = number;
    }

    fn look<T>(&self, frame: usize, at: impl FnOnce(&Course, usize) -> T) -> T {
        // Beyond the end the last stretch has no frame either.
        let stretch = frame.min(self.frames.saturating_sub(1)) / STRETCH;
        let nothing = || {
            RefCell::new(LookedAt {
                stretch: usize::MAX,
                course: Course::missing(0, self.dimensions),
                bytes: Vec::new(),
            })
        };
        let mut last = self.looked_at.get_or(nothing).borrow_mut();
        if last.stretch != stretch {
            self.take(stretch, &mut last);
        }
        at(&last.course, frame - stretch * STRETCH)
    }
}

impl Drop for Away {
    fn drop(&mut self) {
        self.shelf.give_back(self.place);
    }
}

impl Kept {
    /// Looks at a frame: in `at` come a course and the number that the frame has in it. Meanwhile `at` looks at no other one
    /// of this joint, and waits for no other thread.
    #[inline]
    pub fn look<T>(&self, frame: usize, at: impl FnOnce(&Course, usize) -> T) -> T {
        match self {
            Kept::Here(course) => at(course, frame),
            Kept::Away(away) => away.look(frame, at),
        }
    }

    /// Looks at the whole course.
    pub fn whole<T>(&self, of: impl FnOnce(&Course) -> T) -> T {
        match self {
            Kept::Here(course) => of(course),
            Kept::Away(away) => of(&away.whole()),
        }
    }

    /// Works on the course, and puts it away again where it was; where no room is left it stays in memory.
    pub fn work<T>(
        &mut self,
        shelf: Option<&Arc<Shelf>>,
        work: impl FnOnce(&mut Course) -> T,
    ) -> T {
        match self {
            Kept::Here(course) if shelf.is_none() => work(course),
            _ => {
                let before = Kept::Here(Course::missing(0, 0));
                let mut course = std::mem::replace(self, before).taken();
                let made = work(&mut course);
                *self = Kept::of(course, shelf);
                made
            }
        }
    }

    /// Puts a part in, from a frame on; where no room is left in the file, the course comes into memory.
    pub fn set_part(&mut self, from: usize, part: &Course) {
        let Kept::Away(away) = self else {
            return self.work(None, |course| course.set_part(from, part));
        };
        if away.put(from, part).is_ok() {
            return;
        }
        let mut whole = Course::missing(away.frames, away.dimensions);
        whole.set_part(0, &away.first(from));
        whole.set_part(from, part);
        *self = Kept::Here(whole);
    }

    /// Takes the course, which then is nowhere else.
    pub fn taken(self) -> Course {
        match self {
            Kept::Here(course) => course,
            Kept::Away(away) => away.whole(),
        }
    }

    /// Puts a course away; without a file, or where no room is left in it, it stays in memory.
    pub fn of(course: Course, shelf: Option<&Arc<Shelf>>) -> Kept {
        let Some(shelf) = shelf else {
            return Kept::Here(course);
        };
        let mut away = Away::room(shelf, course.frames(), course.dimensions());
        match away.put(0, &course) {
            Ok(()) => Kept::Away(away),
            Err(_) => Kept::Here(course),
        }
    }
}

impl Clone for Kept {
    fn clone(&self) -> Kept {
        match self {
            Kept::Here(course) => Kept::Here(course.clone()),
            Kept::Away(away) => Kept::of(away.whole(), Some(&away.shelf)),
        }
    }
}
