//! What a clip's folder says about itself: `record.json`, written when everything else is on the disk.
//!
//! In: a folder. Out: whether it holds the whole result for a key. A record is taken away before a result is
//! replaced, so that a folder without one is work undone, however far it got.

use crate::note::Fault;
use crate::report;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Name and version of the format.
const FORMAT: &str = "scaplane.batch-record/1";
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
    /// Files with their bytes, by path below the clip's folder.
    pub files: BTreeMap<String, u64>,
}

impl Record {
    /// The record of files that were just written.
    pub fn of(folder: &Path, key: String, results: Vec<String>, written: &[PathBuf]) -> Record {
        let files = written
            .iter()
            .filter_map(|path| {
                let name = path.strip_prefix(folder).ok()?.to_str()?.replace('\\', "/");
                Some((name, std::fs::metadata(path).ok()?.len()))
            })
            .collect();
        Record {
            format: FORMAT.to_string(),
            key,
            results,
            files,
        }
    }

    /// The record of a folder, if it is whole and every file it names is there at its length.
    pub fn read(folder: &Path) -> Option<Record> {
        let bytes = std::fs::read(folder.join(NAME)).ok()?;
        let record: Record = serde_json::from_slice(&bytes).ok()?;
        let there = |(name, bytes): (&String, &u64)| {
            std::fs::metadata(folder.join(name)).is_ok_and(|meta| meta.len() == *bytes)
        };
        (record.format == FORMAT && record.files.iter().all(there)).then_some(record)
    }

    /// Writes it.
    pub fn write(&self, folder: &Path) -> Result<(), Fault> {
        let bytes = serde_json::to_vec_pretty(self).unwrap_or_default();
        report::write_file(folder, NAME, &bytes).map(|_| ())
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
