//! Tar archives.
//!
//! In: the stored bytes, not compressed. Out: the entries and where the bytes of each lie.

use super::archive::{Listing, too_many};
use super::choice::{Entry, fault};
use super::stored::Stored;
use super::{Member, io_fault, limits};
use crate::note::{Fault, FaultKind};
use std::collections::HashMap;
use std::io::{self, Read, Seek};

/// Bytes of a block; a header is one (POSIX pax, from memory, not verified).
pub(super) const BLOCK: u64 = 512;

/// Whether the first block is the header of a tar archive: its check sum tells, as old ones have no mark.
pub(super) fn is_tar(head: &[u8]) -> bool {
    let Some(block) = head.get(..512) else {
        return false;
    };
    let stated = block.get(148..156).map(String::from_utf8_lossy);
    let stated =
        stated.and_then(|text| u32::from_str_radix(text.trim_matches(['\0', ' ']), 8).ok());
    let sum: u32 = block
        .iter()
        .enumerate()
        // The sum is taken with its own eight bytes as spaces.
        .map(|(at, byte)| match at {
            148..156 => u32::from(b' '),
            _ => u32::from(*byte),
        })
        .sum();
    block.first() != Some(&0) && stated == Some(sum)
}

/// Start and length of each entry's bytes, by its number.
pub(super) type Spans = HashMap<usize, (u64, u64)>;

/// Lists an archive.
pub(super) fn list(stored: &Stored, outer: &Member) -> Result<(Listing, Spans), Fault> {
    let broken = |error: &io::Error| damaged(outer, &error.to_string());
    let open = || {
        stored
            .seekable()
            .map_err(|error| io_fault(outer.place(), &error))
    };
    let length = stored
        .length()
        .map_err(|error| io_fault(outer.place(), &error))?;
    names_are_short(&mut tar::Archive::new(open()?), outer)?;
    let mut archive = tar::Archive::new(open()?);
    let mut listing = Listing {
        entries: Vec::new(),
        others: 0,
    };
    let (mut spans, mut end) = (Spans::new(), 0_u64);
    let entries = archive
        .entries_with_seek()
        .map_err(|error| broken(&error))?;
    for (index, entry) in entries.enumerate() {
        let entry = entry.map_err(|error| broken(&error))?;
        let (from, size) = (entry.raw_file_position(), entry.size());
        let kind = entry.header().entry_type();
        let path = String::from_utf8_lossy(&entry.path_bytes()).into_owned();
        if kind.is_gnu_sparse() {
            return Err(fault(
                FaultKind::Unsupported,
                "it holds a file with holes (sparse)".to_string(),
                outer.place(),
                "packing it again without the option for sparse files",
            ));
        }
        end = from.saturating_add(size.div_ceil(BLOCK).saturating_mul(BLOCK));
        if from.saturating_add(size) > length {
            return Err(damaged(outer, "the last entry is not whole"));
        }
        match Entry::of(index, &path, false) {
            Some(file) if kind.is_file() || kind.is_contiguous() => {
                spans.insert(index, (from, size));
                listing.entries.push(file);
            }
            // Links and pipes are told, folders and hidden files are not.
            Some(_) if !kind.is_dir() => listing.others += 1,
            _ => {}
        }
        if listing.entries.len() + listing.others > limits::ENTRIES {
            return Err(too_many(outer.place()));
        }
    }
    // The end is marked by empty blocks; without one, entries may have been cut off whole.
    if end.saturating_add(BLOCK) > length {
        return Err(damaged(outer, "the mark of its end is missing"));
    }
    Ok((listing, spans))
}

/// Long names stand in entries of their own, which are read into memory: their lengths are looked at first.
fn names_are_short<R: Read + Seek>(
    archive: &mut tar::Archive<R>,
    outer: &Member,
) -> Result<(), Fault> {
    let entries = archive
        .entries_with_seek()
        .map_err(|error| damaged(outer, &error.to_string()))?;
    for (index, entry) in entries.raw(true).enumerate() {
        let entry = entry.map_err(|error| damaged(outer, &error.to_string()))?;
        let kind = entry.header().entry_type();
        let names = kind.is_gnu_longname()
            || kind.is_gnu_longlink()
            || kind.is_pax_local_extensions()
            || kind.is_pax_global_extensions();
        if names && entry.size() > limits::ENTRY_NAME {
            return Err(fault(
                FaultKind::Limit,
                format!("a name in it is longer than {} bytes", limits::ENTRY_NAME),
                outer.place(),
                "packing the files again under short names",
            ));
        }
        // A file with a long name is two entries.
        if index > 4 * limits::ENTRIES {
            return Err(too_many(outer.place()));
        }
    }
    Ok(())
}

fn damaged(outer: &Member, why: &str) -> Fault {
    fault(
        FaultKind::Malformed,
        format!("the tar archive is cut off or damaged ({why})"),
        outer.place(),
        "copying or packing it again",
    )
}
