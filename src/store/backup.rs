//! A copy of a casebook by SQLite's own backup, whole or not at all, also while others write.

use super::open::Book;
use super::{fault, open};
use crate::note::{Fault, FaultKind, Place};
use rusqlite::backup::Backup;
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};

impl Book {
    /// Copies the book to a new file.
    ///
    /// # Errors
    /// The file is there already, its folder cannot be written, or the disk is full.
    pub fn backup(&self, to: &Path) -> Result<(), Fault> {
        copy(&self.connection, to)
    }
}

/// A name beside a book that is free: `book.version-1.backup`, `book.version-1-2.backup`.
pub fn free_name(book: &Path, mark: &str) -> PathBuf {
    let name = book.file_name().unwrap_or_default().to_string_lossy();
    let numbered = |number: u32| match number {
        1 => book.with_file_name(format!("{name}.{mark}.backup")),
        number => book.with_file_name(format!("{name}.{mark}-{number}.backup")),
    };
    (1..1_000)
        .map(numbered)
        .find(|path| !path.exists())
        .unwrap_or_else(|| numbered(1_000))
}

/// Copies an open book; the copy is checked before it gets its name.
pub fn copy(from: &Connection, to: &Path) -> Result<(), Fault> {
    let taken = || {
        Fault::new(
            FaultKind::Usage,
            "casebook/exists",
            "there is a file of that name already; it is left as it is",
            Place::file(to.display().to_string()),
            "another name",
        )
    };
    if to.exists() {
        return Err(taken());
    }
    let folder = match to.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let unwritten = |error: &std::io::Error| match error.kind() {
        std::io::ErrorKind::AlreadyExists => taken(),
        std::io::ErrorKind::StorageFull => Fault::new(
            FaultKind::Io,
            "casebook/disk-full",
            "the disk is full; no copy was made",
            Place::file(to.display().to_string()),
            "making room on the disk, or another folder",
        ),
        _ => Fault::new(
            FaultKind::Io,
            "casebook/io",
            format!("the copy could not be written: {error}"),
            Place::file(to.display().to_string()),
            "a folder that is there and that you may write to",
        ),
    };
    let file = tempfile::Builder::new()
        .prefix(".scaplane-")
        .suffix(".tmp")
        .tempfile_in(folder)
        .map_err(|error| unwritten(&error))?;
    let copied = || -> rusqlite::Result<String> {
        let mut copy = open::connect(file.path(), OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        // The file has no name yet, so it needs no journal of its own.
        copy.pragma_update(None, "journal_mode", "OFF")?;
        Backup::new(from, &mut copy)?.run_to_completion(
            i32::MAX,
            std::time::Duration::ZERO,
            None,
        )?;
        copy.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
    };
    let said = copied().map_err(|error| fault::of(to, &error))?;
    if said != "ok" {
        return Err(fault::corrupt(to, &said));
    }
    file.as_file()
        .sync_all()
        .map_err(|error| unwritten(&error))?;
    file.persist_noclobber(to)
        .map_err(|error| unwritten(&error.error))?;
    Ok(())
}
