//! An archive as a source: zip, tar, or tar in gzip.
//!
//! In: the stored file. Out: a [`Source`] of the chosen members, or nothing if it is no archive. Members of a
//! tar are read where they lie; those of a zip, and a tar in gzip, are unpacked into one nameless temporary
//! file. Names inside only tell members apart: no file is ever made under one of them.

use super::choice::{Choice, Entry, choose, fault, nested};
use super::member::GZIP;
use super::stop::{Limited, io_fault, no_room};
use super::stored::{Copying, Spool, Stored};
use super::{Member, Source, arrays, left_out, tarred, zipped};
use crate::note::{Fault, FaultKind, Place};
use flate2::bufread::MultiGzDecoder;
use std::io::Read;

/// Kinds of archives, and what is packed in gzip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Packing {
    Zip,
    Tar,
    TarInGzip,
    ZipInGzip,
}

/// What is in an archive, and where.
pub(super) struct Listing {
    /// Files that are neither hidden nor links.
    pub(super) entries: Vec<Entry>,
    /// Links and other things that are no files.
    pub(super) others: usize,
}

/// Opens the archive that a file is.
pub(super) fn opened(outer: &Member) -> Result<Option<Source>, Fault> {
    let stored = match packing(&outer.stored, outer)? {
        None => return Ok(None),
        Some(Packing::ZipInGzip) => {
            return Err(fault(
                FaultKind::Unsupported,
                "it is a zip archive that was compressed once more".to_string(),
                outer.place(),
                "unpacking the gzip file and giving the zip archive",
            ));
        }
        Some(Packing::Zip) => return of_zip(outer).map(Some),
        Some(Packing::Tar) => outer.stored.held(),
        Some(Packing::TarInGzip) => Ok(gunzipped(outer)?),
    };
    let stored = stored.map_err(|error| io_fault(outer.place(), &error))?;
    of_tar(outer, &stored).map(Some)
}

/// Told by the first bytes. What cannot be read or unpacked so far is no archive here: its reader says why.
fn packing(stored: &Stored, outer: &Member) -> Result<Option<Packing>, Fault> {
    let head = |reader: &mut dyn Read| {
        let mut head = Vec::new();
        let read = reader.take(tarred::BLOCK).read_to_end(&mut head);
        read.map(|_| head).unwrap_or_default()
    };
    let mut raw = stored
        .reader()
        .map_err(|error| super::unreadable(&outer.shown, &error))?;
    let start = head(&mut raw);
    Ok(if start.starts_with(&GZIP) {
        let again = stored
            .reader()
            .map_err(|error| super::unreadable(&outer.shown, &error))?;
        match head(&mut MultiGzDecoder::new(again)) {
            inner if zipped::is_zip(&inner) => Some(Packing::ZipInGzip),
            inner => tarred::is_tar(&inner).then_some(Packing::TarInGzip),
        }
    } else if zipped::is_zip(&start) {
        Some(Packing::Zip)
    } else {
        tarred::is_tar(&start).then_some(Packing::Tar)
    })
}

/// The whole of a gzip file, unpacked; so its check sum was compared too.
fn gunzipped(outer: &Member) -> Result<Stored, Fault> {
    let mut spool = Spool::new().map_err(|error| no_room(outer.place(), &error))?;
    let mut inner = Limited::unpacked(MultiGzDecoder::new(outer.raw()?), outer.stored_bytes()?);
    match spool.append(&mut inner) {
        Ok(_) => Ok(spool.stored()),
        Err(Copying::Reading(error)) => Err(io_fault(outer.place(), &error)),
        Err(Copying::Writing(error)) => Err(no_room(outer.place(), &error)),
    }
}

fn of_tar(outer: &Member, stored: &Stored) -> Result<Source, Fault> {
    let (listing, spans) = tarred::list(stored, outer)?;
    let part = |entry: &Entry| {
        let (from, length) = spans.get(&entry.index).copied().unwrap_or_default();
        let part = stored.part(from, length);
        part.map_err(|error| io_fault(outer.place(), &error))
    };
    let (seen, others) = (listing.entries.len(), listing.others);
    let chosen = settled(choose(listing.entries, &outer.shown)?, outer, |entries| {
        entries
            .iter()
            .map(|entry| head_of(&part(entry)?, outer))
            .collect()
    })?;
    let parts = chosen
        .entries
        .iter()
        .map(part)
        .collect::<Result<Vec<_>, Fault>>()?;
    source(outer, chosen, parts, seen + others)
}

fn of_zip(outer: &Member) -> Result<Source, Fault> {
    let mut zip = zipped::Zip::open(outer)?;
    let listing = zip.list()?;
    let (seen, others) = (listing.entries.len(), listing.others);
    let chosen = settled(choose(listing.entries, &outer.shown)?, outer, |entries| {
        zip.heads(entries, arrays::HEAD)
    })?;
    let parts = zip.unpack(&chosen.entries)?;
    source(outer, chosen, parts, seen + others)
}

/// What is read for certain.
struct Chosen {
    entries: Vec<Entry>,
    frames: bool,
}

fn settled(
    choice: Choice,
    outer: &Member,
    heads: impl FnOnce(&[Entry]) -> Result<Vec<Vec<u8>>, Fault>,
) -> Result<Chosen, Fault> {
    Ok(match choice {
        Choice::One(entry) => Chosen {
            entries: vec![entry],
            frames: false,
        },
        Choice::Frames(entries) => Chosen {
            entries,
            frames: true,
        },
        Choice::Arrays(entries) => {
            let heads = heads(&entries)?;
            let heads = entries.into_iter().zip(heads).collect();
            Chosen {
                entries: vec![arrays::pose(heads, &outer.shown)?],
                frames: false,
            }
        }
    })
}

fn head_of(stored: &Stored, outer: &Member) -> Result<Vec<u8>, Fault> {
    let mut head = Vec::new();
    let reader = stored.reader();
    reader
        .and_then(|reader| reader.take(arrays::HEAD as u64).read_to_end(&mut head))
        .map_err(|error| io_fault(outer.place(), &error))?;
    Ok(head)
}

fn source(outer: &Member, chosen: Chosen, parts: Vec<Stored>, all: usize) -> Result<Source, Fault> {
    let others = all.saturating_sub(chosen.entries.len());
    let mut members: Vec<Member> = chosen
        .entries
        .into_iter()
        .zip(parts)
        .map(|(entry, stored)| Member::within(&outer.shown, entry.name, stored))
        .collect();
    members.sort_by(|a, b| a.name.cmp(&b.name));
    if let [member] = members.as_slice()
        && packing(&member.stored, member)?.is_some()
    {
        return Err(nested(&outer.shown, &member.name));
    }
    Ok(Source {
        name: outer.shown.clone(),
        frames: chosen.frames,
        members,
        archive: Some(outer.stored.clone()),
        notes: left_out(others, "archive", &outer.shown),
    })
}

/// Too many entries.
pub(super) fn too_many(place: Place) -> Fault {
    Fault::new(
        FaultKind::Limit,
        "read/limit",
        format!(
            "the archive has more than {} entries",
            super::limits::ENTRIES
        ),
        place,
        "packing the clip in several parts",
    )
}
