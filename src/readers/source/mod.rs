//! Where bytes come from: a file, a folder of files, an archive, standard input or memory.
//!
//! In: a path, `-` or bytes. Out: a [`Source`] whose members open as buffered readers that are already
//! unpacked (gzip, zip and tar by their first bytes), freed of a byte order mark and limited in length.
//! It knows nothing of any format, and writes nothing by a name that an archive gives.

mod archive;
mod arrays;
mod choice;
mod folder;
mod kinds;
mod member;
mod stop;
mod stored;
mod tarred;
mod zipped;

pub use kinds::{FrameFile, is_packed, is_whole};
pub use member::Member;
pub use stop::{Stop, io_fault};

use super::limits;
use crate::digest::Sha256;
use crate::note::{Fault, FaultKind, Note, Place};
use std::io::{self, BufRead, Read};
use std::path::Path;
use std::sync::Arc;
use stop::{Limited, no_room, not_a_file, stop_of, too_long, unreadable};
use stored::{Copying, Spool, Stored};

/// One file, or the files of a folder or archive.
#[derive(Debug)]
pub struct Source {
    name: String,
    frames: bool,
    members: Vec<Member>,
    /// The archive as stored, if the members come from one.
    archive: Option<Stored>,
    notes: Vec<Note>,
}

impl Source {
    /// Opens a path, or standard input if the path is `-`; an archive is opened to what is in it.
    ///
    /// # Errors
    /// Not there, not readable, not a regular file, an archive that cannot be read, or a folder or archive
    /// without any export.
    pub fn open(path: &Path) -> Result<Source, Fault> {
        let stored = Source::stored(path)?;
        Ok(stored.unpacked()?.unwrap_or(stored))
    }

    fn stored(path: &Path) -> Result<Source, Fault> {
        if path == Path::new("-") {
            return Source::from_stdin(io::stdin().lock());
        }
        let name = path.display().to_string();
        // Asked before anything is opened: opening a pipe would wait for ever.
        let meta = std::fs::metadata(path).map_err(|error| unreadable(&name, &error))?;
        if meta.is_dir() {
            let (members, notes) = folder::members(path, &name)?;
            return Ok(Source {
                name,
                frames: true,
                members,
                archive: None,
                notes,
            });
        }
        if !meta.is_file() {
            return Err(not_a_file(&name));
        }
        Ok(Source::alone(name, Stored::File(path.to_path_buf())))
    }

    /// Bytes in memory under a name.
    pub fn from_bytes(name: impl Into<String>, bytes: impl Into<Arc<[u8]>>) -> Source {
        Source::alone(name.into(), Stored::Bytes(bytes.into()))
    }

    fn alone(name: String, stored: Stored) -> Source {
        Source {
            members: vec![Member::alone(name.clone(), stored)],
            name,
            frames: false,
            archive: None,
            notes: Vec::new(),
        }
    }

    /// Copies a stream to a temporary file: it is read twice, once to see what it is and once to read it.
    fn from_stdin(input: impl Read) -> Result<Source, Fault> {
        let name = "standard input";
        let place = || Place::file(name);
        let mut spool = Spool::new().map_err(|error| no_room(place(), &error))?;
        match spool.append(&mut Limited::long(input)) {
            Ok(_) => Ok(Source::alone(name.to_string(), spool.stored())),
            Err(Copying::Writing(error)) => Err(no_room(place(), &error)),
            Err(Copying::Reading(error)) if stop_of(&error).is_some() => Err(too_long(place())),
            Err(Copying::Reading(error)) => Err(unreadable(name, &error)),
        }
    }

    /// What is in it, if it is one file and that is an archive.
    ///
    /// # Errors
    /// The archive is damaged, too large, locked, or holds no export or several.
    pub fn unpacked(&self) -> Result<Option<Source>, Fault> {
        match self.members.as_slice() {
            [member] if !self.frames && self.archive.is_none() => archive::opened(member),
            _ => Ok(None),
        }
    }

    /// The path as given.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it is a folder, or an archive, with one file for each frame.
    pub fn is_folder(&self) -> bool {
        self.frames
    }

    /// Its files, sorted by name.
    pub fn members(&self) -> &[Member] {
        &self.members
    }

    /// What was left out of a folder or archive.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// The only file; a folder is refused.
    ///
    /// # Errors
    /// The source is a folder, or an archive of frame files.
    pub fn single(&self) -> Result<&Member, Fault> {
        match self.members.as_slice() {
            [member] if !self.frames => Ok(member),
            members => Err(Fault::new(
                FaultKind::Unsupported,
                "read/folder",
                format!(
                    "this format is one file, but {} of {} files was given",
                    match self.archive {
                        Some(_) => "an archive",
                        None => "a folder",
                    },
                    members.len()
                ),
                Place::file(self.name.clone()),
                "giving the file itself",
            )),
        }
    }

    /// Makes sure that compressed files are whole to their last byte, whether or not a reader needed it.
    ///
    /// # Errors
    /// The compressed data are cut off or damaged.
    pub fn verify(&self) -> Result<(), Fault> {
        self.members.iter().try_for_each(Member::verify)
    }

    /// SHA-256 of the bytes as stored, hexadecimal. Of an archive: of the archive. Of a folder: of each file's
    /// name, length and bytes, in the order of names.
    ///
    /// # Errors
    /// A file could not be read.
    pub fn sha256(&self) -> Result<String, Fault> {
        let mut hash = Sha256::new();
        if let Some(archive) = &self.archive {
            feed(
                &mut hash,
                &Member::alone(self.name.clone(), archive.clone()),
            )?;
        } else {
            for member in &self.members {
                if self.frames {
                    hash.update(member.name.as_bytes());
                    hash.update([0]);
                    hash.update(member.stored_bytes()?.to_le_bytes());
                }
                feed(&mut hash, member)?;
            }
        }
        Ok(hash.hex())
    }
}

fn feed(hash: &mut Sha256, member: &Member) -> Result<(), Fault> {
    let mut raw = member.raw()?;
    loop {
        let chunk = match raw.fill_buf() {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            chunk => chunk.map_err(|error| io_fault(member.place(), &error))?,
        };
        if chunk.is_empty() {
            return Ok(());
        }
        hash.update(chunk);
        let used = chunk.len();
        raw.consume(used);
    }
}

/// The note about entries that are of no use.
fn left_out(others: usize, kind: &str, name: &str) -> Vec<Note> {
    if others == 0 {
        return Vec::new();
    }
    let text = match others {
        1 => format!("One entry of another kind in the {kind} was left out."),
        _ => format!("{others} entries of another kind in the {kind} were left out."),
    };
    vec![Note::new("read/mixed-folder", text).at(Place::file(name))]
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn gz(bytes: &[u8]) -> Vec<u8> {
        let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
        encoder.write_all(bytes).unwrap();
        encoder.finish().unwrap()
    }

    fn text(source: &Source) -> String {
        let mut out = String::new();
        let member = source.single().unwrap();
        member.open().unwrap().read_to_string(&mut out).unwrap();
        out
    }

    #[test]
    fn gzip_and_byte_order_mark_are_taken_off() {
        assert_eq!(text(&Source::from_bytes("a", *b"\xef\xbb\xbfabc")), "abc");
        assert_eq!(
            text(&Source::from_bytes("a", gz(b"\xef\xbb\xbfabc"))),
            "abc"
        );
        let sixteen = Source::from_bytes("a", *b"\xff\xfea\0");
        let fault = sixteen.single().unwrap().open().err().unwrap();
        assert_eq!(fault.code, "read/encoding");
    }

    #[test]
    fn a_check_sum_that_no_reader_came_to_is_compared() {
        let whole = gz(b"abcabcabc");
        let cut = whole[..whole.len() - 3].to_vec();
        for (bytes, good) in [(whole, true), (cut, false)] {
            let source = Source::from_bytes("a", bytes);
            let mut start = [0; 3];
            let member = source.single().unwrap();
            member.open().unwrap().read_exact(&mut start).unwrap();
            assert_eq!(source.verify().is_ok(), good);
        }
        assert!(Source::from_bytes("a", *b"x").verify().is_ok());
    }

    #[test]
    fn the_hash_is_of_the_stored_bytes() {
        // SHA-256 of "abc": FIPS 180-4, appendix example.
        assert_eq!(
            Source::from_bytes("x", *b"abc").sha256().unwrap(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
