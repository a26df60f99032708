//! What SQLite refuses, in plain words: what, where, what to do.

use crate::note::{Fault, FaultKind, Place};
use rusqlite::{Error, ErrorCode};
use std::io::ErrorKind;
use std::path::Path;

/// Shown with every damaged file.
pub const RESTORE: &str = "`scaplane casebook check` to see what is whole, then a backup in its place; the file is left as it is";

/// The fault of an SQLite error at a casebook.
pub fn of(path: &Path, error: &Error) -> Fault {
    let place = Place::file(path.display().to_string());
    let new = |kind, code, what: String, remedy: &str| {
        Fault::new(kind, code, what, place.clone(), remedy)
    };
    match error {
        Error::SqliteFailure(failure, _) => match failure.code {
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => new(
                FaultKind::Io,
                "casebook/locked",
                "another program is at work in the casebook; nothing was changed".into(),
                "waiting until it has ended, then the same command again",
            ),
            ErrorCode::DiskFull => full(path),
            ErrorCode::SystemIoFailure if no_room(path) => full(path),
            ErrorCode::ReadOnly | ErrorCode::PermissionDenied => read_only(path, REFUSED),
            ErrorCode::CannotOpen if may_not_write(path) => read_only(path, REFUSED),
            ErrorCode::NotADatabase => not_a_casebook(path),
            ErrorCode::DatabaseCorrupt => corrupt(path, &error.to_string()),
            ErrorCode::CannotOpen => new(
                FaultKind::Io,
                "casebook/io",
                format!("the casebook could not be opened: {error}"),
                "a folder that is there and that you may write to",
            ),
            ErrorCode::SystemIoFailure => new(
                FaultKind::Io,
                "casebook/io",
                format!("the system would not read or write the casebook: {error}"),
                "checking disk and connection; a casebook belongs on a local disk",
            ),
            _ => corrupt(path, &error.to_string()),
        },
        other => corrupt(path, &other.to_string()),
    }
}

fn full(path: &Path) -> Fault {
    Fault::new(
        FaultKind::Io,
        "casebook/disk-full",
        "the disk is full; the casebook is as it was before this command",
        Place::file(path.display().to_string()),
        "making room on the disk, then the same command again",
    )
}

/// Code of a casebook that may not be written.
pub const READ_ONLY: &str = "casebook/read-only";

const REFUSED: &str = "the casebook or its folder may not be written; nothing was changed";

/// The casebook may not be written, in the words that fit.
pub fn read_only(path: &Path, what: &str) -> Fault {
    Fault::new(
        FaultKind::Io,
        READ_ONLY,
        what,
        Place::file(path.display().to_string()),
        "the right to write both, or a copy of the casebook and of every file of its name in another folder",
    )
}

/// Writes a little into the folder of a casebook, to learn why SQLite could not.
fn probed(path: &Path) -> std::io::Result<()> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut file = tempfile::NamedTempFile::new_in(folder)?;
    std::io::Write::write_all(&mut file, &[0; 1 << 16])?;
    file.as_file().sync_all()
}

/// Whether the file system has no page left: it then refuses the memory that readers share.
fn no_room(path: &Path) -> bool {
    probed(path).is_err_and(|error| error.kind() == ErrorKind::StorageFull)
}

fn may_not_write(path: &Path) -> bool {
    path.exists()
        && probed(path).is_err_and(|error| {
            matches!(
                error.kind(),
                ErrorKind::ReadOnlyFilesystem | ErrorKind::PermissionDenied
            )
        })
}

/// The file is damaged.
pub fn corrupt(path: &Path, what: &str) -> Fault {
    let what: String = what.chars().filter(|c| !c.is_control()).take(200).collect();
    Fault::new(
        FaultKind::Malformed,
        "casebook/corrupt",
        format!("the casebook is damaged: {what}"),
        Place::file(path.display().to_string()),
        RESTORE,
    )
}

/// The file is something else.
pub fn not_a_casebook(path: &Path) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "casebook/not-a-casebook",
        "the file is no casebook, or its beginning is damaged; it is left as it is",
        Place::file(path.display().to_string()),
        "another file for --book, or a backup in its place",
    )
}
