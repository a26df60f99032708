//! Bytes as they are stored: a file, a part of an open file, or memory.
//!
//! In: where they are. Out: readers that start at the beginning, as often as wanted. Copies of standard input
//! and of unpacked members lie in nameless temporary files, which vanish with the process however it ends.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Cursor, Read, Seek, SeekFrom, Write};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

/// Bytes of a buffered read from the disk: large enough that calls do not count, small beside a frame's memory.
const BUFFER: usize = 1 << 16;

/// Where bytes are.
#[derive(Debug, Clone)]
pub(super) enum Stored {
    File(PathBuf),
    Bytes(Arc<[u8]>),
    Part(Part),
}

/// A part of an open file that several members share.
#[derive(Debug, Clone)]
pub(super) struct Part {
    file: Arc<Mutex<File>>,
    from: u64,
    length: u64,
}

/// What can be read from any place.
pub(super) trait ReadSeek: Read + Seek {}
impl<T: Read + Seek> ReadSeek for T {}

impl Stored {
    /// The number of bytes.
    pub(super) fn length(&self) -> io::Result<u64> {
        match self {
            Stored::Bytes(bytes) => Ok(bytes.len() as u64),
            Stored::Part(part) => Ok(part.length),
            Stored::File(path) => std::fs::metadata(path).map(|meta| meta.len()),
        }
    }

    /// A reader that can be moved about.
    pub(super) fn seekable(&self) -> io::Result<Box<dyn ReadSeek>> {
        Ok(match self {
            Stored::Bytes(bytes) => Box::new(Cursor::new(Arc::clone(bytes))),
            Stored::Part(part) => Box::new(BufReader::with_capacity(BUFFER, part.reader())),
            Stored::File(path) => Box::new(BufReader::with_capacity(BUFFER, File::open(path)?)),
        })
    }

    /// A reader from the beginning.
    pub(super) fn reader(&self) -> io::Result<Box<dyn BufRead>> {
        Ok(match self {
            Stored::Bytes(bytes) => Box::new(Cursor::new(Arc::clone(bytes))),
            Stored::Part(part) => {
                let buffer = BUFFER.min(usize::try_from(part.length).unwrap_or(BUFFER).max(512));
                Box::new(BufReader::with_capacity(buffer, part.reader()))
            }
            Stored::File(path) => Box::new(BufReader::with_capacity(BUFFER, File::open(path)?)),
        })
    }

    /// The same bytes with the file held open, so that parts of it can be shared.
    pub(super) fn held(&self) -> io::Result<Stored> {
        Ok(match self {
            Stored::File(path) => {
                let file = File::open(path)?;
                let length = file.metadata()?.len();
                Stored::Part(Part {
                    file: Arc::new(Mutex::new(file)),
                    from: 0,
                    length,
                })
            }
            other => other.clone(),
        })
    }

    /// A part of it, cut to what is there.
    pub(super) fn part(&self, from: u64, length: u64) -> io::Result<Stored> {
        Ok(match self.held()? {
            Stored::Bytes(bytes) => {
                let at = |place: u64| {
                    usize::try_from(place)
                        .unwrap_or(usize::MAX)
                        .min(bytes.len())
                };
                let range = at(from)..at(from.saturating_add(length)).max(at(from));
                Stored::Bytes(bytes.get(range).unwrap_or_default().into())
            }
            Stored::Part(part) => Stored::Part(Part {
                from: part.from.saturating_add(from),
                length: length.min(part.length.saturating_sub(from)),
                file: part.file,
            }),
            other => other,
        })
    }
}

impl Part {
    fn reader(&self) -> PartReader {
        PartReader {
            part: self.clone(),
            at: 0,
        }
    }
}

/// Reads a part; each has its own place in the shared file.
struct PartReader {
    part: Part,
    at: u64,
}

impl Read for PartReader {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let left = self.part.length.saturating_sub(self.at);
        let most = buffer
            .len()
            .min(usize::try_from(left).unwrap_or(usize::MAX));
        let Some(buffer) = buffer.get_mut(..most).filter(|space| !space.is_empty()) else {
            return Ok(0);
        };
        let mut file = self
            .part
            .file
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        file.seek(SeekFrom::Start(self.part.from + self.at))?;
        let count = file.read(buffer)?;
        self.at += count as u64;
        Ok(count)
    }
}

impl Seek for PartReader {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let to = match to {
            SeekFrom::Start(at) => Some(at),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
            SeekFrom::End(by) => self.part.length.checked_add_signed(by),
        };
        self.at = to.ok_or(io::ErrorKind::InvalidInput)?;
        Ok(self.at)
    }
}

/// A nameless temporary file that is filled and then read.
#[derive(Debug)]
pub(super) struct Spool {
    file: File,
    length: u64,
}

impl Spool {
    /// An empty one.
    pub(super) fn new() -> io::Result<Spool> {
        Ok(Spool {
            file: tempfile::tempfile()?,
            length: 0,
        })
    }

    /// Appends all that a reader gives and says where it lies. The error tells which side failed.
    pub(super) fn append(&mut self, reader: &mut dyn Read) -> Result<(u64, u64), Copying> {
        let from = self.length;
        let mut chunk = vec![0; BUFFER];
        loop {
            let count = match reader.read(&mut chunk) {
                Ok(0) => return Ok((from, self.length - from)),
                Ok(count) => count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(Copying::Reading(error)),
            };
            self.file
                .write_all(chunk.get(..count).unwrap_or_default())
                .map_err(Copying::Writing)?;
            self.length += count as u64;
        }
    }

    /// What was appended.
    pub(super) fn stored(self) -> Stored {
        Stored::Part(Part {
            file: Arc::new(Mutex::new(self.file)),
            from: 0,
            length: self.length,
        })
    }
}

/// Which side of a copy failed.
#[derive(Debug)]
pub(super) enum Copying {
    Reading(io::Error),
    Writing(io::Error),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_of_one_file_are_read_beside_each_other() {
        let mut spool = Spool::new().unwrap();
        let first = spool.append(&mut &b"hello "[..]).unwrap();
        let second = spool.append(&mut &b"world"[..]).unwrap();
        assert_eq!((first, second), ((0, 6), (6, 5)));
        let stored = spool.stored();
        let text = |stored: &Stored| {
            let mut out = String::new();
            stored.reader().unwrap().read_to_string(&mut out).unwrap();
            out
        };
        let [a, b] = [first, second].map(|(from, length)| stored.part(from, length).unwrap());
        let mut slow = a.reader().unwrap();
        assert_eq!(text(&b), "world");
        let mut out = String::new();
        slow.read_to_string(&mut out).unwrap();
        assert_eq!(out, "hello ");
        assert_eq!(text(&stored.part(6, 100).unwrap()), "world");
        assert_eq!(text(&stored.part(100, 1).unwrap()), "");
        let memory = Stored::Bytes(Arc::from(*b"hello"));
        assert_eq!(text(&memory.part(1, 3).unwrap()), "ell");
        assert_eq!(text(&memory.part(9, 3).unwrap()), "");
    }
}
