//! Where bytes come from: a file, a folder of files, standard input or memory.
//!
//! In: a path, `-` or bytes. Out: a [`Source`] whose members open as buffered readers that are already
//! unpacked (gzip by its first two bytes), freed of a byte order mark and limited in length.
//! It knows nothing of any format.

use super::limits;
use crate::note::{Fault, FaultKind, Place};
use flate2::bufread::MultiGzDecoder;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, BufRead, BufReader, Cursor, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tempfile::NamedTempFile;

/// One file or a folder of files.
#[derive(Debug)]
pub struct Source {
    name: String,
    folder: bool,
    members: Vec<Member>,
    /// Keeps the copy of standard input alive.
    _spool: Option<NamedTempFile>,
}

/// Kinds of files of which a folder holds one for each frame. A folder with both is one of JSON: label files
/// stand beside it as notes do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum FrameFile {
    Text,
    Json,
}

impl FrameFile {
    fn of(name: &str) -> Option<FrameFile> {
        let lower = name.to_ascii_lowercase();
        let stem = lower.strip_suffix(".gz").unwrap_or(&lower);
        match stem.rsplit_once('.') {
            _ if lower.starts_with('.') => None,
            Some((_, "json")) => Some(FrameFile::Json),
            // A label file has the number of its frame in its name; names of classes and notes have none.
            Some((before, "txt")) if before.bytes().any(|byte| byte.is_ascii_digit()) => {
                Some(FrameFile::Text)
            }
            _ => None,
        }
    }
}

/// One file of a source.
#[derive(Debug, Clone)]
pub struct Member {
    name: String,
    data: Data,
}

#[derive(Debug, Clone)]
enum Data {
    File(PathBuf),
    Bytes(Arc<[u8]>),
}

impl Source {
    /// Opens a path, or standard input if the path is `-`.
    ///
    /// # Errors
    /// Not there, not readable, not a regular file, or a folder without any file of a frame.
    pub fn open(path: &Path) -> Result<Source, Fault> {
        if path == Path::new("-") {
            return Source::from_stdin(io::stdin().lock());
        }
        let name = path.display().to_string();
        let meta = std::fs::metadata(path).map_err(|error| unreadable(&name, &error))?;
        if meta.is_dir() {
            return Source::from_folder(path, name);
        }
        if !meta.is_file() {
            return Err(Fault::new(
                FaultKind::Unsupported,
                "read/not-a-file",
                "this is neither a regular file nor a folder",
                Place::file(name),
                "saving it to a file, or piping it in and giving `-` as the path",
            ));
        }
        Ok(Source {
            members: vec![Member {
                name: name.clone(),
                data: Data::File(path.to_path_buf()),
            }],
            name,
            folder: false,
            _spool: None,
        })
    }

    /// Bytes in memory under a name.
    pub fn from_bytes(name: impl Into<String>, bytes: impl Into<Arc<[u8]>>) -> Source {
        let name = name.into();
        Source {
            members: vec![Member {
                name: name.clone(),
                data: Data::Bytes(bytes.into()),
            }],
            name,
            folder: false,
            _spool: None,
        }
    }

    /// Copies a stream to a temporary file: it is read twice, once to see what it is and once to read it.
    fn from_stdin(mut input: impl Read) -> Result<Source, Fault> {
        let name = "standard input".to_string();
        let failed = |error: &io::Error| unreadable("standard input", error);
        let mut spool = NamedTempFile::new().map_err(|error| failed(&error))?;
        let mut limited = (&mut input).take(limits::BYTES + 1);
        let copied = io::copy(&mut limited, spool.as_file_mut()).map_err(|e| failed(&e))?;
        if copied > limits::BYTES {
            return Err(too_long(Place::file(name)));
        }
        Ok(Source {
            members: vec![Member {
                name: name.clone(),
                data: Data::File(spool.path().to_path_buf()),
            }],
            name,
            folder: false,
            _spool: Some(spool),
        })
    }

    fn from_folder(path: &Path, name: String) -> Result<Source, Fault> {
        let entries = std::fs::read_dir(path).map_err(|error| unreadable(&name, &error))?;
        let (mut members, mut others) = (Vec::new(), 0_usize);
        let mut kind = FrameFile::Text;
        for entry in entries {
            let entry = entry.map_err(|error| unreadable(&name, &error))?;
            let file = entry.file_name().to_string_lossy().into_owned();
            let of_frame = FrameFile::of(&file).filter(|_| entry.path().is_file());
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
            members.push(Member {
                name: file,
                data: Data::File(entry.path()),
            });
        }
        members.sort_by(|a, b| a.name.cmp(&b.name));
        if members.is_empty() {
            return Err(Fault::new(
                FaultKind::Unsupported,
                "read/folder",
                format!("no .json or .txt file is in this folder ({others} other entries)"),
                Place::file(name),
                "giving the folder that holds one JSON or label file for each frame, or one single file",
            ));
        }
        Ok(Source {
            name,
            folder: true,
            members,
            _spool: None,
        })
    }

    /// The path as given.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it is a folder with one file for each frame.
    pub fn is_folder(&self) -> bool {
        self.folder
    }

    /// Its files, sorted by name.
    pub fn members(&self) -> &[Member] {
        &self.members
    }

    /// The only file; a folder is refused.
    ///
    /// # Errors
    /// The source is a folder.
    pub fn single(&self) -> Result<&Member, Fault> {
        match self.members.as_slice() {
            [member] if !self.folder => Ok(member),
            _ => Err(Fault::new(
                FaultKind::Unsupported,
                "read/folder",
                "this format is one file, but a folder was given",
                Place::file(self.name.clone()),
                "giving the file itself",
            )),
        }
    }

    /// SHA-256 of the bytes as stored, hexadecimal. Of a folder: of each file's name, length and bytes, in
    /// the order of names.
    ///
    /// # Errors
    /// A file could not be read.
    pub fn sha256(&self) -> Result<String, Fault> {
        let mut hash = Sha256::new();
        for member in &self.members {
            let mut raw = member.raw()?;
            if self.folder {
                hash.update(member.name.as_bytes());
                hash.update([0]);
                hash.update(member.stored_bytes()?.to_le_bytes());
            }
            loop {
                let chunk = raw
                    .fill_buf()
                    .map_err(|error| unreadable(&member.name, &error))?;
                if chunk.is_empty() {
                    break;
                }
                hash.update(chunk);
                let used = chunk.len();
                raw.consume(used);
            }
        }
        let digest = hash.finalize();
        Ok(digest.iter().map(|byte| format!("{byte:02x}")).collect())
    }
}

impl Member {
    /// Its name, with which faults tell where they are.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// A place that is this file.
    pub fn place(&self) -> Place {
        Place::file(self.name.clone())
    }

    /// Bytes as stored.
    ///
    /// # Errors
    /// The file could not be looked at.
    pub fn stored_bytes(&self) -> Result<u64, Fault> {
        match &self.data {
            Data::Bytes(bytes) => Ok(bytes.len() as u64),
            Data::File(path) => std::fs::metadata(path)
                .map(|meta| meta.len())
                .map_err(|error| unreadable(&self.name, &error)),
        }
    }

    /// The bytes as stored.
    fn raw(&self) -> Result<Box<dyn BufRead>, Fault> {
        match &self.data {
            Data::Bytes(bytes) => Ok(Box::new(Cursor::new(Arc::clone(bytes)))),
            Data::File(path) => {
                let file = File::open(path).map_err(|error| unreadable(&self.name, &error))?;
                Ok(Box::new(BufReader::with_capacity(1 << 16, file)))
            }
        }
    }

    /// Unpacked bytes, without a byte order mark, at most [`limits::BYTES`] long.
    ///
    /// # Errors
    /// The file could not be opened, or is text in 16-bit characters.
    pub fn open(&self) -> Result<Box<dyn BufRead>, Fault> {
        let mut raw = self.raw()?;
        let start = raw
            .fill_buf()
            .map_err(|error| unreadable(&self.name, &error))?;
        let unpacked: Box<dyn Read> = if start.starts_with(&[0x1f, 0x8b]) {
            Box::new(MultiGzDecoder::new(raw))
        } else {
            Box::new(raw)
        };
        let limited = Limited {
            inner: unpacked,
            left: limits::BYTES,
        };
        let mut reader = BufReader::with_capacity(1 << 16, limited);
        let head = reader
            .fill_buf()
            .map_err(|error| io_fault(self.place(), &error))?;
        if head.starts_with(&[0xff, 0xfe]) || head.starts_with(&[0xfe, 0xff]) {
            return Err(Fault::new(
                FaultKind::Unsupported,
                "read/encoding",
                "the text is in 16-bit characters (UTF-16)",
                self.place(),
                "saving it again as UTF-8",
            ));
        }
        if head.starts_with(&[0xef, 0xbb, 0xbf]) {
            reader.consume(3);
        }
        Ok(Box::new(reader))
    }
}

/// Stops with an error once too many bytes came out.
struct Limited {
    inner: Box<dyn Read>,
    left: u64,
}

impl Read for Limited {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(buffer)?;
        match self.left.checked_sub(count as u64) {
            Some(left) => {
                self.left = left;
                Ok(count)
            }
            None => Err(io::Error::other(Stop::Bytes)),
        }
    }
}

/// A limit that was reached while bytes were read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Stop {
    /// More than [`limits::BYTES`].
    #[error("too many bytes")]
    Bytes,
    /// More than [`limits::DEPTH`] levels.
    #[error("nested too deeply")]
    Depth,
}

/// The fault for an error met while reading (not opening) a file.
pub fn io_fault(place: Place, error: &io::Error) -> Fault {
    let stop = error
        .get_ref()
        .and_then(|inner| inner.downcast_ref::<Stop>())
        .copied();
    match (stop, error.kind()) {
        (Some(Stop::Bytes), _) => too_long(place),
        (Some(Stop::Depth), _) => Fault::new(
            FaultKind::Limit,
            "read/depth",
            format!(
                "lists or objects are nested deeper than {} levels",
                limits::DEPTH
            ),
            place,
            "exporting the keypoints again; no known export nests deeper than 7 levels",
        ),
        (
            None,
            io::ErrorKind::UnexpectedEof | io::ErrorKind::InvalidInput | io::ErrorKind::InvalidData,
        ) => Fault::new(
            FaultKind::Malformed,
            "read/gzip",
            format!("the compressed data are cut off or damaged ({error})"),
            place,
            "copying or compressing the file again",
        ),
        _ => Fault::new(
            FaultKind::Io,
            "read/io",
            format!("it could not be read to its end: {error}"),
            place,
            "checking the disk and copying the file again",
        ),
    }
}

fn too_long(place: Place) -> Fault {
    Fault::new(
        FaultKind::Limit,
        "read/limit",
        format!("it is longer than {} bytes once unpacked", limits::BYTES),
        place,
        "cutting the clip into shorter ones",
    )
}

fn unreadable(name: &str, error: &io::Error) -> Fault {
    let remedy = match error.kind() {
        io::ErrorKind::NotFound => "checking the spelling of the path",
        io::ErrorKind::PermissionDenied => "allowing this user to read it",
        _ => "checking the disk and the path",
    };
    Fault::new(
        FaultKind::Io,
        "read/io",
        format!("it could not be opened: {error}"),
        Place::file(name),
        remedy,
    )
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
    fn the_hash_is_of_the_stored_bytes() {
        // SHA-256 of "abc": FIPS 180-4, appendix example.
        assert_eq!(
            Source::from_bytes("x", *b"abc").sha256().unwrap(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn too_many_bytes_stop_the_reading() {
        let mut limited = Limited {
            inner: Box::new(io::repeat(b'x').take(100)),
            left: 50,
        };
        let error = io::copy(&mut limited, &mut io::sink()).unwrap_err();
        assert_eq!(io_fault(Place::file("x"), &error).code, "read/limit");
    }
}
