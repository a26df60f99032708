//! What a clip's folder says about itself: `record.json`, written last.
//!
//! In: a folder. Out: whether it holds the whole result for a key. A record is taken away before a result is
//! replaced, so that a folder without one is work undone, however far it got. It holds the digest of every file:
//! a session does not wait for the disk at each clip, and what a power cut left of a file is told from the whole.

use crate::digest::sha256;
use crate::note::Fault;
use crate::report::{self, Settling};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Name and version of the format.
const FORMAT: &str = "scaplane.batch-record/2";
/// Name of the file.
const NAME: &str = "record.json";

/// A finished result.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Record {
    format: String,
    /// What it depends on, see [`super::key`].
    pub key: String,
    /// Folders of its results below the clip's: one, which is the folder itself (empty), or `left` and `right`.
    pub results: Vec<String>,
    /// SHA-256 of its files, by path below the clip's folder.
    pub files: BTreeMap<String, String>,
}

impl Record {
    /// The record of files that were just written.
    pub fn of(
        folder: &Path,
        key: String,
        results: Vec<String>,
        written: &[PathBuf],
    ) -> Result<Record, Fault> {
        let mut files = BTreeMap::new();
        for path in written {
            let below = path.strip_prefix(folder).unwrap_or(path);
            let name = below.to_string_lossy().replace('\\', "/");
            let digest = digest(path).map_err(|error| report::write_fault(path, &error))?;
            files.insert(name, digest);
        }
        Ok(Record {
            format: FORMAT.to_string(),
            key,
            results,
            files,
        })
    }

    /// The record of a folder, if it is whole and every file it names is there as it was written.
    pub fn read(folder: &Path) -> Option<Record> {
        let bytes = std::fs::read(folder.join(NAME)).ok()?;
        let record: Record = serde_json::from_slice(&bytes).ok()?;
        let there = |(name, known): (&String, &String)| {
            digest(&folder.join(name)).is_ok_and(|digest| digest == *known)
        };
        (record.format == FORMAT && record.files.iter().all(there)).then_some(record)
    }

    /// Writes it.
    pub fn write(&self, folder: &Path) -> Result<(), Fault> {
        let bytes = serde_json::to_vec_pretty(self).unwrap_or_default();
        report::write_file(folder, NAME, &bytes, Settling::Later).map(|_| ())
    }

    /// Takes a folder's record away, and then the files it names.
    pub fn take_away(folder: &Path) -> Result<(), Fault> {
        let path = folder.join(NAME);
        let record: Option<Record> = std::fs::read(&path)
            .ok()
            .and_then(|bytes| serde_json::from_slice(&bytes).ok());
        match std::fs::remove_file(&path) {
            Err(error) if path.exists() => return Err(report::write_fault(&path, &error)),
            _ => {}
        }
        let names = record
            .into_iter()
            .flat_map(|record| record.files.into_keys());
        // A record that somebody wrote by hand must not reach outside its folder.
        for name in names.filter(|name| !name.contains("..") && !Path::new(name).is_absolute()) {
            let _ = std::fs::remove_file(folder.join(name));
        }
        Ok(())
    }
}

/// SHA-256 of a file, hexadecimal.
fn digest(path: &Path) -> std::io::Result<String> {
    let bytes = std::fs::read(path)?;
    Ok(sha256(&bytes))
}
