//! One file of a source, and how it is read.

use super::stop::{CHUNK, Limited, io_fault, unreadable};
use super::stored::Stored;
use crate::note::{Fault, FaultKind, Place};
use flate2::bufread::MultiGzDecoder;
use std::io::{self, BufRead, BufReader, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// First bytes of gzip data.
pub(super) const GZIP: [u8; 2] = [0x1f, 0x8b];

/// One file of a source.
#[derive(Debug, Clone)]
pub struct Member {
    /// Its own name.
    pub(super) name: String,
    /// Its name with that of the folder or archive before it.
    pub(super) shown: String,
    pub(super) stored: Stored,
    unpacking: Arc<Unpacking>,
}

/// How far gzip data were unpacked.
#[derive(Debug, Default)]
struct Unpacking {
    /// It was begun.
    begun: AtomicBool,
    /// It came to the end once, so that the check sum was compared.
    ended: AtomicBool,
}

impl Member {
    /// A file that stands alone.
    pub(super) fn alone(name: impl Into<String>, stored: Stored) -> Member {
        let name = name.into();
        Member {
            shown: name.clone(),
            name,
            stored,
            unpacking: Arc::default(),
        }
    }

    /// A file of a folder or archive.
    pub(super) fn within(outer: &str, name: impl Into<String>, stored: Stored) -> Member {
        let name = name.into();
        Member {
            shown: format!("{}/{name}", outer.trim_end_matches('/')),
            name,
            stored,
            unpacking: Arc::default(),
        }
    }

    /// Its own name, without the folder or archive.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// A place that is this file.
    pub fn place(&self) -> Place {
        Place::file(self.shown.clone())
    }

    /// Bytes as stored.
    ///
    /// # Errors
    /// The file could not be looked at.
    pub fn stored_bytes(&self) -> Result<u64, Fault> {
        let length = self.stored.length();
        length.map_err(|error| unreadable(&self.shown, &error))
    }

    /// The bytes as stored.
    pub(super) fn raw(&self) -> Result<Box<dyn BufRead>, Fault> {
        let reader = self.stored.reader();
        reader.map_err(|error| unreadable(&self.shown, &error))
    }

    /// Unpacked bytes, without a byte order mark, at most [`super::limits::BYTES`] long.
    ///
    /// # Errors
    /// The file could not be opened, or is text in 16-bit characters.
    pub fn open(&self) -> Result<Box<dyn BufRead>, Fault> {
        let mut raw = self.raw()?;
        let start = raw
            .fill_buf()
            .map_err(|error| unreadable(&self.shown, &error))?;
        let mut reader: Box<dyn BufRead> = if start.starts_with(&GZIP) {
            self.unpacking.begun.store(true, Ordering::Relaxed);
            let unpacked = Ending {
                inner: MultiGzDecoder::new(raw),
                unpacking: Arc::clone(&self.unpacking),
            };
            let limited = Limited::unpacked(unpacked, self.stored_bytes()?);
            Box::new(BufReader::with_capacity(CHUNK, limited))
        } else {
            Box::new(Limited::long(raw))
        };
        let head = reader
            .fill_buf()
            .map_err(|error| io_fault(self.place(), &error))?;
        if head.starts_with(&[0xff, 0xfe]) || head.starts_with(&[0xfe, 0xff]) {
            return Err(Fault::new(
                FaultKind::Unsupported,
                "read/encoding",
                "the text is in 16-bit characters (UTF-16)",
                self.place(),
                "saving it again as UTF-8",
            ));
        }
        if head.starts_with(&[0xef, 0xbb, 0xbf]) {
            reader.consume(3);
        }
        Ok(reader)
    }

    /// Unpacks what no reader came to: one that needs no more leaves the check sum at the end unread.
    ///
    /// # Errors
    /// The compressed data are cut off or damaged.
    pub(super) fn verify(&self) -> Result<(), Fault> {
        let Unpacking { begun, ended } = self.unpacking.as_ref();
        if begun.load(Ordering::Relaxed) && !ended.load(Ordering::Relaxed) {
            io::copy(&mut self.open()?, &mut io::sink())
                .map_err(|error| io_fault(self.place(), &error))?;
        }
        Ok(())
    }
}

/// Notes when the end was reached.
struct Ending<R> {
    inner: R,
    unpacking: Arc<Unpacking>,
}

impl<R: Read> Read for Ending<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(buffer)?;
        if count == 0 && !buffer.is_empty() {
            self.unpacking.ended.store(true, Ordering::Relaxed);
        }
        Ok(count)
    }
}
