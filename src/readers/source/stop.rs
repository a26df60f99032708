//! When reading has to stop: limits, broken compression, a disk that fails; and the faults they become.

use super::super::limits;
use crate::note::{Fault, FaultKind, Place};
use std::io::{self, BufRead, Read};

/// A limit that was reached while bytes were read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Stop {
    /// More than [`limits::BYTES`].
    #[error("too many bytes")]
    Bytes,
    /// Unpacked to more than [`limits::UNPACKED_RATIO`] times what was stored.
    #[error("unpacks to far more than it holds")]
    Ratio,
    /// More than [`limits::DEPTH`] levels.
    #[error("nested too deeply")]
    Depth,
}

/// Most bytes that are given out at once.
pub(super) const CHUNK: usize = 1 << 16;

/// Stops with an error once too many bytes came out.
#[derive(Debug)]
pub(super) struct Limited<R> {
    inner: R,
    left: u64,
    stop: Stop,
}

impl<R> Limited<R> {
    /// At most [`limits::BYTES`].
    pub(super) fn long(inner: R) -> Limited<R> {
        Limited {
            inner,
            left: limits::BYTES,
            stop: Stop::Bytes,
        }
    }

    /// At most what so many stored bytes may unpack to.
    pub(super) fn unpacked(inner: R, stored: u64) -> Limited<R> {
        let by_ratio = stored
            .saturating_mul(limits::UNPACKED_RATIO)
            .max(limits::UNPACKED_FREE);
        match by_ratio < limits::BYTES {
            true => Limited {
                inner,
                left: by_ratio,
                stop: Stop::Ratio,
            },
            false => Limited::long(inner),
        }
    }

    /// The same for the next of several members, which share what is left.
    pub(super) fn next<S>(self, inner: S) -> (R, Limited<S>) {
        let next = Limited {
            inner,
            left: self.left,
            stop: self.stop,
        };
        (self.inner, next)
    }
}

impl<R: Read> Read for Limited<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(buffer)?;
        match self.left.checked_sub(count as u64) {
            Some(left) => {
                self.left = left;
                Ok(count)
            }
            None => Err(io::Error::other(self.stop)),
        }
    }
}

impl<R: BufRead> BufRead for Limited<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        let there = self.inner.fill_buf()?;
        if self.left == 0 && !there.is_empty() {
            return Err(io::Error::other(self.stop));
        }
        let most = CHUNK.min(usize::try_from(self.left).unwrap_or(CHUNK));
        Ok(there.get(..most).unwrap_or(there))
    }

    fn consume(&mut self, count: usize) {
        self.left = self.left.saturating_sub(count as u64);
        self.inner.consume(count);
    }
}

/// The limit behind an error, if it is one.
pub(super) fn stop_of(error: &io::Error) -> Option<Stop> {
    let inner = error.get_ref()?;
    inner.downcast_ref::<Stop>().copied()
}

/// The fault for an error met while reading (not opening) a file.
pub fn io_fault(place: Place, error: &io::Error) -> Fault {
    match (stop_of(error), error.kind()) {
        (Some(Stop::Bytes), _) => too_long(place),
        (Some(Stop::Ratio), _) => Fault::new(
            FaultKind::Limit,
            "read/limit",
            format!(
                "it unpacks to more than {} times its stored size, which no recording does",
                limits::UNPACKED_RATIO
            ),
            place,
            "exporting the keypoints again, or giving the unpacked file if it is known to be sound",
        ),
        (Some(Stop::Depth), _) => Fault::new(
            FaultKind::Limit,
            "read/depth",
            format!(
                "lists or objects are nested deeper than {} levels",
                limits::DEPTH
            ),
            place,
            "exporting the keypoints again; no known export nests deeper than 7 levels",
        ),
        (
            None,
            io::ErrorKind::UnexpectedEof | io::ErrorKind::InvalidInput | io::ErrorKind::InvalidData,
        ) => Fault::new(
            FaultKind::Malformed,
            "read/gzip",
            format!("the compressed data are cut off or damaged ({error})"),
            place,
            "copying or compressing the file again",
        ),
        _ => Fault::new(
            FaultKind::Io,
            "read/io",
            format!("it could not be read to its end: {error}"),
            place,
            "checking the disk and copying the file again",
        ),
    }
}

/// More bytes than [`limits::BYTES`].
pub(super) fn too_long(place: Place) -> Fault {
    Fault::new(
        FaultKind::Limit,
        "read/limit",
        format!("it is longer than {} bytes once unpacked", limits::BYTES),
        place,
        "cutting the clip into shorter ones",
    )
}

/// The system would not open it.
pub(super) fn unreadable(name: &str, error: &io::Error) -> Fault {
    let remedy = match error.kind() {
        io::ErrorKind::NotFound => "checking the spelling of the path",
        io::ErrorKind::PermissionDenied => "allowing this user to read it",
        _ => "checking the disk and the path",
    };
    Fault::new(
        FaultKind::Io,
        "read/io",
        format!("it could not be opened: {error}"),
        Place::file(name),
        remedy,
    )
}

/// The copy on the disk that unpacking and standard input need could not be made.
pub(super) fn no_room(place: Place, error: &io::Error) -> Fault {
    Fault::new(
        FaultKind::Io,
        "read/io",
        format!("no temporary copy of it could be made: {error}"),
        place,
        "making room in the folder for temporary files, or naming another with TMPDIR",
    )
}

/// A pipe, a device or another thing that is no file.
pub(super) fn not_a_file(name: &str) -> Fault {
    Fault::new(
        FaultKind::Unsupported,
        "read/not-a-file",
        "this is neither a regular file nor a folder",
        Place::file(name),
        "saving it to a file, or piping it in and giving `-` as the path",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_many_bytes_stop_the_reading() {
        let mut limited = Limited {
            inner: io::repeat(b'x').take(100),
            left: 50,
            stop: Stop::Bytes,
        };
        let error = io::copy(&mut limited, &mut io::sink()).unwrap_err();
        assert_eq!(io_fault(Place::file("x"), &error).code, "read/limit");
    }

    #[test]
    fn no_more_than_is_left_comes_out_of_a_buffer_and_then_it_stops() {
        let bytes = vec![b'x'; 2 * CHUNK + 9];
        for (left, whole) in [(CHUNK + 5, false), (bytes.len(), true)] {
            let mut limited = Limited {
                inner: bytes.as_slice(),
                left: left as u64,
                stop: Stop::Bytes,
            };
            let mut out = 0;
            let end = loop {
                match limited.fill_buf().map(<[u8]>::len) {
                    Ok(0) => break None,
                    Ok(there) => {
                        assert!(there <= CHUNK);
                        limited.consume(there);
                        out += there;
                    }
                    Err(error) => break stop_of(&error),
                }
            };
            assert_eq!(out, left);
            assert_eq!(end.is_none(), whole);
        }
    }

    #[test]
    fn what_may_come_out_depends_on_what_went_in() {
        let most = |stored| Limited::unpacked(io::empty(), stored).left;
        assert_eq!(most(0), limits::UNPACKED_FREE);
        assert_eq!(most(1 << 20), limits::UNPACKED_RATIO << 20);
        assert_eq!(most(u64::MAX), limits::BYTES);
    }
}
