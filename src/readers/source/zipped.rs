//! Zip archives.
//!
//! In: the stored bytes. Out: the entries, and those that were chosen, unpacked one after the other into one
//! temporary file. The directory is walked twice and never kept, so memory depends on the names alone.

use super::archive::{Listing, too_many};
use super::choice::{Entry, fault};
use super::stop::{Limited, io_fault, no_room, stop_of};
use super::stored::{Copying, ReadSeek, Spool, Stored};
use super::{Member, limits};
use crate::note::{Fault, FaultKind, Place};
use std::collections::HashMap;
use std::io::Read;
use zip::read::{Config, ZipReadOptions};
use zip::result::ZipError;
use zip::unstable::read::ZipIterable;

/// Whether the bytes begin as those of a zip archive do: with an entry, or with the end of an empty one.
pub(super) fn is_zip(head: &[u8]) -> bool {
    [b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08"]
        .iter()
        .any(|mark| head.starts_with(*mark))
}

/// An open zip archive.
pub(super) struct Zip<'a> {
    outer: &'a Member,
    archive: ZipIterable<Box<dyn ReadSeek>>,
}

impl<'a> Zip<'a> {
    /// Opens it: the end of its directory is found and the number of entries looked at.
    pub(super) fn open(outer: &'a Member) -> Result<Zip<'a>, Fault> {
        let archive = ZipIterable::try_new(reader(outer)?, Config::default())
            .map_err(|error| damaged(outer.place(), error))?;
        match archive.len() <= limits::ENTRIES {
            true => Ok(Zip { outer, archive }),
            false => Err(too_many(outer.place())),
        }
    }

    /// Lists it.
    pub(super) fn list(&mut self) -> Result<Listing, Fault> {
        let place = self.outer.place();
        let files = self.archive.files();
        let files = files.map_err(|error| damaged(place.clone(), error))?;
        let mut listing = Listing {
            entries: Vec::new(),
            others: 0,
        };
        for (index, entry) in files.enumerate() {
            let entry = entry.map_err(|error| damaged(place.clone(), error))?;
            let path = match entry.name() {
                Ok(name) => name.into_owned(),
                Err(_) => String::from_utf8_lossy(entry.name_raw()).into_owned(),
            };
            match Entry::of(index, &path, entry.encrypted()) {
                Some(file) if entry.is_file() => listing.entries.push(file),
                Some(_) if entry.is_symlink() => listing.others += 1,
                _ => {}
            }
        }
        Ok(listing)
    }

    /// The first bytes of some entries.
    pub(super) fn heads(&mut self, chosen: &[Entry], most: usize) -> Result<Vec<Vec<u8>>, Fault> {
        let mut heads = HashMap::new();
        self.each(chosen, |index, place, file| {
            let mut head = Vec::new();
            file.take(most as u64)
                .read_to_end(&mut head)
                .map_err(|error| unpacking(place, error))?;
            heads.insert(index, head);
            Ok(())
        })?;
        let head = |entry: &Entry| heads.remove(&entry.index).unwrap_or_default();
        Ok(chosen.iter().map(head).collect())
    }

    /// Unpacks some entries.
    pub(super) fn unpack(&mut self, chosen: &[Entry]) -> Result<Vec<Stored>, Fault> {
        let place = self.outer.place();
        let mut spool = Spool::new().map_err(|error| no_room(place.clone(), &error))?;
        let mut limit = Limited::unpacked(std::io::empty(), self.outer.stored_bytes()?);
        let mut spans = HashMap::new();
        self.each(chosen, |index, place, file| {
            let (_, mut limited) =
                std::mem::replace(&mut limit, Limited::long(std::io::empty())).next(file);
            let span = spool.append(&mut limited).map_err(|error| match error {
                Copying::Reading(error) => unpacking(place.clone(), error),
                Copying::Writing(error) => no_room(place.clone(), &error),
            })?;
            limit = limited.next(std::io::empty()).1;
            spans.insert(index, span);
            Ok(())
        })?;
        let stored = spool.stored();
        let part = |entry: &Entry| {
            let (from, length) = spans.get(&entry.index).copied().unwrap_or_default();
            stored.part(from, length)
        };
        let parts: Result<Vec<Stored>, std::io::Error> = chosen.iter().map(part).collect();
        parts.map_err(|error| io_fault(place, &error))
    }

    /// Opens the chosen entries in the order of the archive.
    fn each(
        &mut self,
        chosen: &[Entry],
        mut work: impl FnMut(usize, Place, &mut dyn Read) -> Result<(), Fault>,
    ) -> Result<(), Fault> {
        let wanted: HashMap<usize, &Entry> = chosen.iter().map(|one| (one.index, one)).collect();
        let mut body = reader(self.outer)?;
        let outer = self.outer;
        let files = self.archive.files();
        let files = files.map_err(|error| damaged(outer.place(), error))?;
        for (index, entry) in files.enumerate() {
            let Some(chosen) = wanted.get(&index) else {
                continue;
            };
            let place = Place::file(format!("{}/{}", outer.shown, chosen.name));
            let entry = entry.map_err(|error| damaged(outer.place(), error))?;
            let mut file = entry
                .with_reader(&mut body, ZipReadOptions::new())
                .map_err(|error| damaged(place.clone(), error))?;
            work(index, place, &mut file)?;
        }
        Ok(())
    }
}

fn reader(outer: &Member) -> Result<Box<dyn ReadSeek>, Fault> {
    let reader = outer.stored.seekable();
    reader.map_err(|error| super::unreadable(&outer.shown, &error))
}

/// A fault while an entry was unpacked: a limit, or data that do not fit their check sum.
fn unpacking(place: Place, error: std::io::Error) -> Fault {
    match stop_of(&error) {
        Some(_) => io_fault(place, &error),
        None => damaged(place, ZipError::Io(error)),
    }
}

fn damaged(place: Place, error: ZipError) -> Fault {
    match error {
        ZipError::CompressionMethodNotSupported(_) => fault(
            FaultKind::Unsupported,
            "it is packed by a method other than deflate".to_string(),
            place,
            "packing it again with the usual settings, or giving the unpacked folder",
        ),
        ZipError::UnsupportedArchive(why) => fault(
            FaultKind::Unsupported,
            format!("the zip archive is of a kind that is not read ({why})"),
            place,
            "packing it again with the usual settings, or giving the unpacked folder",
        ),
        other => fault(
            FaultKind::Malformed,
            format!("the zip archive is cut off or damaged ({other})"),
            place,
            "copying or packing it again",
        ),
    }
}
