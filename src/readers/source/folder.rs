//! A folder with one file for each frame.
//!
//! In: its path. Out: the frame files by name, and how many entries are something else. It does not go down
//! into folders inside it, so a link that leads back up cannot be followed for ever.

use super::super::limits;
use super::kinds::FrameFile;
use super::stop::{not_a_file, unreadable};
use super::stored::Stored;
use super::{Member, left_out};
use crate::note::{Fault, FaultKind, Note, Place};
use std::path::Path;

/// The frame files of a folder, and notes.
pub(super) fn members(path: &Path, name: &str) -> Result<(Vec<Member>, Vec<Note>), Fault> {
    let entries = std::fs::read_dir(path).map_err(|error| unreadable(name, &error))?;
    let (mut members, mut others) = (Vec::new(), 0_usize);
    let mut kind = FrameFile::Text;
    for entry in entries {
        let entry = entry.map_err(|error| unreadable(name, &error))?;
        let file = entry.file_name().to_string_lossy().into_owned();
        let of_frame = FrameFile::of_frame(&file).filter(|_| !entry.path().is_dir());
        let Some(found) = of_frame.filter(|found| *found >= kind) else {
            others += usize::from(!file.starts_with('.'));
            continue;
        };
        if found > kind {
            others += members.len();
            members.clear();
            kind = found;
        }
        if members.len() >= limits::FILES {
            return Err(Fault::new(
                FaultKind::Limit,
                "read/limit",
                format!("the folder holds more than {} files", limits::FILES),
                Place::file(name),
                "splitting the clip into several folders",
            ));
        }
        members.push(Member::within(name, file, Stored::File(entry.path())));
    }
    members.sort_by(|a, b| a.name.cmp(&b.name));
    members.iter().try_for_each(readable)?;
    if members.is_empty() {
        return Err(Fault::new(
            FaultKind::Unsupported,
            "read/folder",
            format!("no .json or .txt file is in this folder ({others} other entries)"),
            Place::file(name),
            "giving the folder that holds one JSON or label file for each frame, or one single file",
        ));
    }
    Ok((members, left_out(others, "folder", name)))
}

/// A frame whose file is a pipe or leads nowhere is missed: it is told, not passed over.
fn readable(member: &Member) -> Result<(), Fault> {
    let Stored::File(path) = &member.stored else {
        return Ok(());
    };
    match std::fs::metadata(path) {
        Err(error) => Err(unreadable(&member.shown, &error)),
        Ok(meta) if !meta.is_file() => Err(not_a_file(&member.shown)),
        Ok(_) => Ok(()),
    }
}
