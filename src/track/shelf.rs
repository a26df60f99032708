//! A shelf for the numbers of a long clip: a file without a name, in which they wait until they are looked at.
//!
//! In: bytes, put away in one go or piece by piece. Out: the same bytes. The file lies in the system's folder for temporary
//! files, can be found by nobody and is gone with the last who knows it. Where it cannot be made or is full, numbers stay
//! in memory ([`Shelf::put`] says so); what was put away and cannot be read back ends the work.

use std::fs::File;
use std::io;
#[cfg(not(unix))]
use std::io::{Read, Seek, SeekFrom, Write};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Frames of a long clip that come into memory at once, of a recording and of a layer alike: so a stretch of the one is made
/// from one of the other.
pub const STRETCH: usize = 1024;

/// Most frames of a clip that stay in memory: nine minutes at 30 a second.
pub const LONG: usize = 16_384;

/// A file without a name.
#[derive(Debug)]
pub struct Shelf {
    file: File,
    /// Most bytes it takes.
    most: u64,
    room: Mutex<Room>,
}

/// What of the file is taken.
#[derive(Debug, Default)]
struct Room {
    /// Where the file ends.
    end: u64,
    /// Places that were given back, each with its length.
    free: Vec<Place>,
}

/// Where in a [`Shelf`] something lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// First byte.
    pub at: u64,
    /// Number of bytes.
    pub length: u64,
}

impl Shelf {
    /// An empty one.
    ///
    /// # Errors
    /// The system has no place for temporary files.
    pub fn new() -> io::Result<Shelf> {
        Shelf::of_at_most(u64::MAX)
    }

    /// An empty one that is full with so many bytes.
    ///
    /// # Errors
    /// The system has no place for temporary files.
    pub fn of_at_most(most: u64) -> io::Result<Shelf> {
        Ok(Shelf {
            file: tempfile::tempfile()?,
            most,
            room: Mutex::default(),
        })
    }

    fn taken(&self) -> MutexGuard<'_, Room> {
        // Whoever failed meanwhile has left at most bytes that nobody knows of.
        self.room.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A place for so many bytes; what is in it is not told.
    pub fn room(&self, length: u64) -> Place {
        let mut room = self.taken();
        let fits = |place: &Place| place.length == length;
        if let Some(found) = room.free.iter().position(fits) {
            return room.free.swap_remove(found);
        }
        let at = room.end;
        room.end += length;
        Place { at, length }
    }

    /// Gives a place back.
    pub fn give_back(&self, place: Place) {
        self.taken().free.push(place);
    }

    /// Puts bytes away, from a byte of the file on.
    ///
    /// # Errors
    /// No room is left.
    pub fn put(&self, at: u64, bytes: &[u8]) -> io::Result<()> {
        if at.saturating_add(bytes.len() as u64) > self.most {
            return Err(io::ErrorKind::StorageFull.into());
        }
        write_at(&self.file, at, bytes)
    }

    /// Reads bytes that were put away.
    ///
    /// # Panics
    /// The system does not give back what it took: nothing could be measured from it, and nothing may be made up.
    pub fn get(&self, at: u64, bytes: &mut [u8]) {
        if let Err(error) = read_at(&self.file, at, bytes) {
            panic!("a temporary file of this program cannot be read back: {error}");
        }
    }
}

#[cfg(unix)]
fn write_at(file: &File, at: u64, bytes: &[u8]) -> io::Result<()> {
    std::os::unix::fs::FileExt::write_all_at(file, bytes, at)
}

#[cfg(unix)]
fn read_at(file: &File, at: u64, bytes: &mut [u8]) -> io::Result<()> {
    std::os::unix::fs::FileExt::read_exact_at(file, bytes, at)
}

#[cfg(not(unix))]
fn write_at(file: &File, at: u64, bytes: &[u8]) -> io::Result<()> {
    let _alone = SEEKING.lock();
    let mut file = file;
    file.seek(SeekFrom::Start(at))?;
    file.write_all(bytes)
}

#[cfg(not(unix))]
fn read_at(file: &File, at: u64, bytes: &mut [u8]) -> io::Result<()> {
    let _alone = SEEKING.lock();
    let mut file = file;
    file.seek(SeekFrom::Start(at))?;
    file.read_exact(bytes)
}

/// A file has one place at which it is read and written.
#[cfg(not(unix))]
static SEEKING: Mutex<()> = Mutex::new(());

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_come_back_and_places_are_used_again() {
        let shelf = Shelf::new().expect("a temporary file");
        let [first, second] = [3, 5].map(|length| shelf.room(length));
        shelf.put(second.at, b"world").expect("room");
        shelf.put(first.at, b"abc").expect("room");
        shelf.put(second.at + 1, b"A").expect("room");
        let mut back = [0; 8];
        shelf.get(0, &mut back);
        assert_eq!(&back, b"abcwArld");
        shelf.give_back(first);
        assert_eq!(shelf.room(4).at, 8, "another length");
        assert_eq!(shelf.room(3), first);
        assert_eq!(shelf.room(3).at, 12, "it was taken");

        let small = Shelf::of_at_most(2).expect("a temporary file");
        assert!(small.put(0, b"ab").is_ok());
        assert!(small.put(1, b"ab").is_err());
    }

    #[test]
    #[should_panic(expected = "cannot be read back")]
    fn what_never_was_there_ends_the_work() {
        Shelf::new().expect("a temporary file").get(7, &mut [0; 1]);
    }
}
