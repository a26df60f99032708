//! Which entries of an archive are read.
//!
//! In: the list of entries. Out: the one export, the frame files, or the arrays among which their shapes must
//! choose; or a fault when that cannot be told. A guess between two exports would measure the wrong one.

use super::kinds::{FrameFile, is_array, is_packed, is_whole};
use crate::note::{Fault, FaultKind, Place};
use std::collections::BTreeSet;

/// One entry of an archive.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Entry {
    /// Its number in the archive.
    pub(super) index: usize,
    /// Folder inside the archive, as written; never used as a path.
    pub(super) folder: String,
    /// The last part of its path.
    pub(super) name: String,
    /// Whether it is locked by a password.
    pub(super) locked: bool,
}

impl Entry {
    /// An entry by its whole path; none if it is hidden, or of the folder that macOS adds.
    pub(super) fn of(index: usize, path: &str, locked: bool) -> Option<Entry> {
        let path = path.replace('\\', "/");
        let parts: Vec<&str> = path.split('/').collect();
        let hidden = |part: &&str| {
            part.eq_ignore_ascii_case("__MACOSX")
                || (part.starts_with('.') && *part != "." && *part != "..")
        };
        let (name, folders) = parts.split_last()?;
        if name.is_empty() || *name == "." || *name == ".." || parts.iter().any(hidden) {
            return None;
        }
        Some(Entry {
            index,
            folder: folders.join("/"),
            name: (*name).to_string(),
            locked,
        })
    }
}

/// What is read.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Choice {
    /// One file that holds everything.
    One(Entry),
    /// One file for each frame.
    Frames(Vec<Entry>),
    /// NumPy arrays of which one is the pose.
    Arrays(Vec<Entry>),
}

/// Chooses among the entries of an archive of that name.
pub(super) fn choose(entries: Vec<Entry>, archive: &str) -> Result<Choice, Fault> {
    let entries = match <[Entry; 1]>::try_from(entries) {
        Ok([only]) => return unlocked(Choice::One(only), archive),
        Err(entries) => entries,
    };
    let all = entries.len();
    let packed = entries.iter().find(|entry| is_packed(&entry.name)).cloned();
    let (mut json, mut text, mut whole) = (Vec::new(), Vec::new(), Vec::new());
    for entry in entries {
        match FrameFile::of(&entry.name) {
            Some(FrameFile::Json) => json.push(entry),
            Some(FrameFile::Text) => text.push(entry),
            None if is_whole(&entry.name) => whole.push(entry),
            None => {}
        }
    }
    let arrays = whole.iter().all(|entry| is_array(&entry.name));
    let choice = match (json.len(), text.len(), whole.len()) {
        (0, 0, 0) => return Err(nothing(all, packed.as_ref(), archive)),
        (0, _, 1) if text.len() < 2 => Choice::One(whole.swap_remove(0)),
        (1, _, 0) => Choice::One(json.swap_remove(0)),
        (0, 1, 0) => Choice::One(text.swap_remove(0)),
        (0, 0, _) if arrays => Choice::Arrays(whole),
        (2.., _, 0) => Choice::Frames(json),
        (0, 2.., 0) => Choice::Frames(text),
        _ => {
            let several: Vec<&Entry> = json.iter().chain(&whole).chain(&text).collect();
            return Err(ambiguous(&several, archive));
        }
    };
    unlocked(choice, archive)
}

/// Refuses entries behind a password, entries of one name, and frames of several folders.
fn unlocked(choice: Choice, archive: &str) -> Result<Choice, Fault> {
    let chosen = match &choice {
        Choice::One(entry) => std::slice::from_ref(entry),
        Choice::Frames(entries) | Choice::Arrays(entries) => entries,
    };
    if let Some(locked) = chosen.iter().find(|entry| entry.locked) {
        return Err(fault(
            FaultKind::Unsupported,
            "it is locked by a password".to_string(),
            Place::file(format!("{archive}/{}", locked.name)),
            "unpacking it with the password and giving the folder",
        ));
    }
    let folders: BTreeSet<&str> = chosen.iter().map(|entry| entry.folder.as_str()).collect();
    if folders.len() > 1 {
        let named: Vec<String> = folders
            .iter()
            .take(3)
            .map(|name| format!("`{name}`"))
            .collect();
        return Err(fault(
            FaultKind::Unsupported,
            format!(
                "the files of frames lie in {} folders of the archive ({}), which may be several clips",
                folders.len(),
                named.join(", ")
            ),
            Place::file(archive),
            "packing each clip into an archive of its own",
        ));
    }
    let mut seen = BTreeSet::new();
    if let Some(twice) = chosen.iter().find(|entry| !seen.insert(&entry.name)) {
        return Err(fault(
            FaultKind::Malformed,
            format!(
                "two entries of the archive are both called `{}`",
                twice.name
            ),
            Place::file(archive),
            "packing the files again into a new archive",
        ));
    }
    Ok(choice)
}

fn nothing(all: usize, packed: Option<&Entry>, archive: &str) -> Fault {
    match packed {
        Some(packed) => nested(archive, &packed.name),
        None => Fault::new(
            FaultKind::Unsupported,
            "read/folder",
            match all {
                0 => "no file is in the archive, or only hidden ones".to_string(),
                _ => format!("none of the {all} files in the archive is an export"),
            },
            Place::file(archive),
            "packing the exported keypoints: one JSON or label file for each frame, or one single file",
        ),
    }
}

fn ambiguous(several: &[&Entry], archive: &str) -> Fault {
    let named: Vec<String> = several
        .iter()
        .take(4)
        .map(|entry| format!("`{}`", entry.name.chars().take(60).collect::<String>()))
        .collect();
    let more = if several.len() > named.len() {
        ", …"
    } else {
        ""
    };
    fault(
        FaultKind::Unsupported,
        format!(
            "the archive holds {} exports of different kinds: {}{more}",
            several.len(),
            named.join(", ")
        ),
        Place::file(archive),
        "unpacking it and giving the one file or folder that is meant",
    )
}

/// An archive inside an archive.
pub(super) fn nested(archive: &str, name: &str) -> Fault {
    fault(
        FaultKind::Unsupported,
        "it is an archive inside an archive".to_string(),
        Place::file(format!("{archive}/{name}")),
        "unpacking the outer archive and giving what is inside",
    )
}

/// A fault of an archive.
pub(super) fn fault(kind: FaultKind, what: String, place: Place, remedy: &str) -> Fault {
    Fault::new(kind, "read/archive", what, place, remedy)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chosen(paths: &[&str]) -> Result<Choice, Fault> {
        let entries = paths.iter().enumerate();
        let entries = entries.filter_map(|(index, path)| Entry::of(index, path, false));
        choose(entries.collect(), "a.zip")
    }

    fn names(choice: Choice) -> Vec<String> {
        match choice {
            Choice::One(entry) => vec![entry.name],
            Choice::Frames(all) | Choice::Arrays(all) => {
                all.into_iter().map(|entry| entry.name).collect()
            }
        }
    }

    #[test]
    fn hidden_entries_and_path_tricks_come_to_nothing() {
        for path in [
            "a/",
            "__MACOSX/a.json",
            ".git/a.json",
            "a/._b.json",
            "",
            "..",
            "a/..",
        ] {
            assert_eq!(Entry::of(0, path, false), None, "{path}");
        }
        for path in [
            "../../a.json",
            "/etc/a.json",
            "C:\\x\\a.json",
            "./a.json",
            "a.json",
        ] {
            assert_eq!(Entry::of(0, path, false).unwrap().name, "a.json", "{path}");
        }
    }

    #[test]
    fn one_export_among_others_is_the_file() {
        for (paths, name) in [
            (&["track.csv", "README.md", "licence.txt"][..], "track.csv"),
            (&["x/pose.json", "x/notes.txt", "x/a.png"], "pose.json"),
            (&["anything.dat"], "anything.dat"),
            (&["labels.txt", "a.mp4"], "labels.txt"),
        ] {
            assert_eq!(names(chosen(paths).unwrap()), [name]);
        }
    }

    #[test]
    fn several_are_frames_or_refused() {
        assert!(
            matches!(chosen(&["c/0.json", "c/1.json", "c/b.txt"]), Ok(Choice::Frames(all)) if all.len() == 2)
        );
        assert!(
            matches!(chosen(&["0.txt", "1.txt", "a.png"]), Ok(Choice::Frames(all)) if all.len() == 2)
        );
        assert!(matches!(chosen(&["S.npy", "T.npy"]), Ok(Choice::Arrays(_))));
        for (paths, code) in [
            (&["a.csv", "b.csv"][..], "read/archive"),
            (&["a.csv", "b.json"], "read/archive"),
            (&["results.csv", "0.txt", "1.txt"], "read/archive"),
            (&["a/0.json", "b/0.json"], "read/archive"),
            (&["a/0.json", "a/0.json"], "read/archive"),
            (&["a.zip", "b.zip"], "read/archive"),
            (&["a.png", "b.png"], "read/folder"),
            (&[], "read/folder"),
        ] {
            assert_eq!(chosen(paths).unwrap_err().code, code, "{paths:?}");
        }
    }
}
