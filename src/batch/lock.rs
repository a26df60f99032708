//! One run at a time in an output folder.
//!
//! The system holds the lock for the open file and lets go of it when the process ends, however it ends; a lock
//! file that is left behind means nothing.

use crate::note::{Fault, FaultKind, Place};
use crate::report;
use std::fs::{File, TryLockError};
use std::path::Path;

/// Name of the lock file.
const NAME: &str = ".batch.lock";

/// Takes the folder for this process until the answer is dropped.
///
/// # Errors
/// Another run has it, or the file system knows no locks.
pub fn take(out: &Path) -> Result<File, Fault> {
    let path = out.join(NAME);
    let file = File::options()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path)
        .map_err(|error| report::write_fault(&path, &error))?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(Fault::new(
            FaultKind::Io,
            "batch/locked",
            "another run is working in this output folder",
            Place::file(out.display().to_string()),
            "waiting until it has ended, or another folder for --out",
        )),
        Err(TryLockError::Error(error)) => Err(Fault::new(
            FaultKind::Io,
            "batch/no-lock",
            format!("the output folder cannot be kept from other runs: {error}"),
            Place::file(out.display().to_string()),
            "a folder on a local disk for --out; the result can be copied afterwards",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_run_is_refused_until_the_first_ends() {
        let dir = tempfile::tempdir().unwrap();
        let first = take(dir.path()).unwrap();
        assert_eq!(take(dir.path()).unwrap_err().code, "batch/locked");
        drop(first);
        assert!(take(dir.path()).is_ok());
    }
}
