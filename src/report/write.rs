//! Files to a folder, whole or not at all.
//!
//! In: a review and a folder. Out: the paths written. Every report is made in memory and stored under a
//! temporary name in the same folder first; only when all of them are safely on the disk are they renamed,
//! so that a full disk leaves the folder as it was. Reports of an earlier run are taken away before the first
//! is renamed: however the process ends, the folder never holds reports of two runs beside each other. What a
//! killed process left under a temporary name is taken away by a later run.

use super::{Context, WRITERS, Writer};
use crate::note::{Fault, FaultKind, Place};
use crate::session::Review;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Beginning and end of temporary names.
const TEMPORARY: (&str, &str) = (".scaplane-", ".tmp");

/// Age at which a temporary file was surely left behind: writing takes seconds, and another process may be at
/// it in the same folder.
const LEFT_BEHIND: Duration = Duration::from_secs(3600);

/// When bytes must be on the disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Settling {
    /// Before the call returns: the disk is waited for.
    Now,
    /// Whenever the system gets to it: for files that a digest vouches for and that can be made again.
    Later,
}

/// Writes every report of [`WRITERS`].
///
/// # Errors
/// When the folder cannot be made or written, or the disk is full.
pub fn write_all(dir: &Path, review: &Review, context: &Context) -> Result<Vec<PathBuf>, Fault> {
    write_with(WRITERS, dir, review, context, Settling::Now)
}

/// Writes some reports.
///
/// # Errors
/// When the folder cannot be made or written, or the disk is full.
pub fn write_with(
    writers: &[&dyn Writer],
    dir: &Path,
    review: &Review,
    context: &Context,
    settling: Settling,
) -> Result<Vec<PathBuf>, Fault> {
    let mut files = Vec::new();
    for writer in writers {
        files.extend(writer.write(review, context)?);
    }
    let names: Vec<&str> = writers.iter().map(|writer| writer.file_name()).collect();
    write_files(dir, &files, &names, settling)
}

/// Writes files by name and bytes; `names` are all that a run may write, of which an earlier one may have left some.
///
/// # Errors
/// When the folder cannot be made or written, or the disk is full.
pub fn write_files(
    dir: &Path,
    files: &[(String, Vec<u8>)],
    names: &[&str],
    settling: Settling,
) -> Result<Vec<PathBuf>, Fault> {
    std::fs::create_dir_all(dir).map_err(|error| fault(dir, &error))?;
    clear(dir);
    let mut waiting = Vec::new();
    for (name, bytes) in files {
        let path = dir.join(name);
        free(&path).map_err(|error| fault(&path, &error))?;
        let file = stored(dir, bytes, settling).map_err(|error| fault(&path, &error))?;
        waiting.push((file, path));
    }
    for name in names {
        outdated(&dir.join(name))?;
    }
    let mut written = Vec::new();
    for (file, path) in waiting {
        file.persist(&path)
            .map_err(|error| fault(&path, &error.error))?;
        written.push(path);
    }
    // The names themselves; not every system lets a folder be synchronised, and then there is nothing to do.
    if settling == Settling::Now
        && let Ok(folder) = std::fs::File::open(dir)
    {
        let _ = folder.sync_all();
    }
    Ok(written)
}

/// Whether a file may be renamed to a path, asked before the first of several is, so that none is.
fn free(path: &Path) -> std::io::Result<()> {
    use std::io::{Error, ErrorKind};
    if path.exists() && !path.is_file() {
        return Err(Error::new(
            ErrorKind::AlreadyExists,
            "a folder, pipe or device has the report's name",
        ));
    }
    match path.parent() {
        Some(parent) if !parent.is_dir() => {
            Err(Error::new(ErrorKind::NotFound, "the folder is missing"))
        }
        _ => Ok(()),
    }
}

/// Takes away temporary files of processes that were killed. That it cannot is no reason to write nothing.
pub fn clear(dir: &Path) {
    for entry in std::fs::read_dir(dir).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let age = entry.metadata().and_then(|meta| meta.modified());
        let old = age.is_ok_and(|at| at.elapsed().is_ok_and(|age| age > LEFT_BEHIND));
        if old && name.starts_with(TEMPORARY.0) && name.ends_with(TEMPORARY.1) {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

/// Takes away a report of an earlier run: beside the new ones it would be taken for theirs.
fn outdated(path: &Path) -> Result<(), Fault> {
    match std::fs::remove_file(path) {
        Err(error) if path.is_file() => Err(fault(path, &error)),
        _ => Ok(()),
    }
}

/// Writes one file of a folder, whole or not at all.
///
/// # Errors
/// When the folder cannot be written, or the disk is full.
pub fn write_file(
    dir: &Path,
    name: &str,
    bytes: &[u8],
    settling: Settling,
) -> Result<PathBuf, Fault> {
    let path = dir.join(name);
    free(&path).map_err(|error| fault(&path, &error))?;
    stored(dir, bytes, settling)
        .and_then(|file| file.persist(&path).map_err(|error| error.error))
        .map_err(|error| fault(&path, &error))?;
    Ok(path)
}

/// A file under a temporary name in a folder, to be renamed with `persist` once it is whole; it vanishes
/// otherwise.
///
/// # Errors
/// When the folder cannot be written.
pub fn temporary(dir: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(TEMPORARY.0).suffix(TEMPORARY.1);
    // A temporary file is private by default; a report is as readable as any other file of the user.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(dir)
}

/// Bytes under a temporary name that vanishes unless it is renamed.
fn stored(
    dir: &Path,
    bytes: &[u8],
    settling: Settling,
) -> std::io::Result<tempfile::NamedTempFile> {
    let mut file = temporary(dir)?;
    file.write_all(bytes)?;
    if settling == Settling::Now {
        file.as_file().sync_all()?;
    }
    Ok(file)
}

/// The fault of writing to a path.
pub fn fault(path: &Path, error: &std::io::Error) -> Fault {
    let remedy = match error.kind() {
        std::io::ErrorKind::PermissionDenied => "a folder you may write to",
        std::io::ErrorKind::StorageFull => "freeing space on the disk, or another folder",
        std::io::ErrorKind::NotADirectory | std::io::ErrorKind::AlreadyExists => {
            "a folder in which these names are free"
        }
        _ => "another folder",
    };
    Fault::new(
        FaultKind::Io,
        "write/io",
        format!("the reports could not be written: {error}"),
        Place::file(path.display().to_string()),
        remedy,
    )
}
