//! A first look at a source: what kind of thing it is, told by its bytes and never by its name.
//!
//! In: a [`Source`]. Out: a [`Probe`] that readers compare with their format: the outline of the JSON, the
//! header and first rows of the table, or the first line of text.

use super::beginning::beginning;
use super::limits;
use super::sketch::{Sketch, Sketcher, listed};
use super::source::{Source, io_fault};
use super::table::{Table, plain};
use super::{id, json, source::Member};
use crate::note::{Fault, FaultKind};
use std::io::{BufRead, Read};

/// Rows of a table that detection looks at: more than one frame of the densest long form.
const SAMPLE_ROWS: usize = 400;

/// Files of a folder in which detection looks for one that says something: ten seconds of an empty room.
const SAMPLE_FILES: usize = 300;

/// Bytes in which JSON shows its first bracket; behind more blanks it is found as well, but later.
const FIRST_BYTES: usize = 512;

/// What a source looks like.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// JSON, with its outline; of a folder, that of the first file.
    Json(Sketch),
    /// A table of text.
    Table {
        /// Column names as written.
        header: Vec<String>,
        /// First rows.
        rows: Vec<Vec<String>>,
    },
    /// Marker text that begins with `PathFileType`.
    Markers,
    /// A binary kind that some reader takes, with the first bytes of the file.
    Binary(BinaryKind, Vec<u8>),
}

/// Binary kinds that hold keypoints, told by their first bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BinaryKind {
    /// A NumPy array.
    Npy,
    /// A C3D marker file.
    C3d,
    /// An HDF5 file.
    Hdf5,
}

impl BinaryKind {
    /// Byte 1 of a C3D file is 0x50; the parameter block that byte 0 names follows later.
    fn of(head: &[u8]) -> Option<BinaryKind> {
        match head {
            [0x93, b'N', b'U', b'M', b'P', b'Y', ..] => Some(BinaryKind::Npy),
            [0x89, b'H', b'D', b'F', ..] => Some(BinaryKind::Hdf5),
            [1..=100, 0x50, ..] if head.contains(&0) => Some(BinaryKind::C3d),
            _ => None,
        }
    }

    fn title(self) -> &'static str {
        match self {
            BinaryKind::Npy => "a NumPy array",
            BinaryKind::C3d => "a C3D marker file",
            BinaryKind::Hdf5 => "an HDF5 file",
        }
    }
}

/// A first look at a source.
#[derive(Debug, Clone, PartialEq)]
pub struct Probe {
    /// Its shape.
    pub shape: Shape,
    /// Whether it is a folder of files.
    pub folder: bool,
    /// Number of files.
    pub files: usize,
    /// Name of the file that was looked at.
    pub looked_at: String,
}

impl Probe {
    /// Looks at a source.
    ///
    /// # Errors
    /// Empty, of a kind that no reader takes (told by name where the first bytes tell it), or broken JSON.
    pub fn of(source: &Source) -> Result<Probe, Fault> {
        let first = typical(source)?;
        let head = head_of(first, limits::HEAD)?;
        Ok(Probe {
            shape: shape_of(first, &head)?,
            folder: source.is_folder(),
            files: source.members().len(),
            looked_at: first.name().to_string(),
        })
    }

    /// Looks at the beginning of one long JSON file only, or goes further, to what stands behind a first list: the rest is not
    /// seen. `None` where there is nothing to be spared, or going further shows no more.
    ///
    /// # Errors
    /// The file could not be read.
    pub fn of_beginning(source: &Source, further: bool) -> Result<Option<Probe>, Fault> {
        let Ok(member) = source.single() else {
            return Ok(None);
        };
        let head = head_of(member, FIRST_BYTES)?;
        let shape = match matches!(head.trim_ascii_start(), [b'{' | b'[', ..]) {
            true => beginning(member, further)?.and_then(|text| {
                json::parse_cleaned(&text, Sketcher::default())
                    .map(Shape::Json)
                    .ok()
            }),
            false => None,
        };
        Ok(shape.map(|shape| Probe {
            shape,
            folder: false,
            files: 1,
            looked_at: member.name().to_string(),
        }))
    }

    /// The outline, if it is JSON.
    pub fn json(&self) -> Option<&Sketch> {
        match &self.shape {
            Shape::Json(sketch) => Some(sketch),
            _ => None,
        }
    }

    /// Column names as compared (lower case, letters and digits only), if it is a table.
    pub fn columns(&self) -> Option<Vec<String>> {
        match &self.shape {
            Shape::Table { header, .. } => Some(header.iter().map(|name| plain(name)).collect()),
            _ => None,
        }
    }

    /// A phrase for people: what was seen.
    pub fn describe(&self) -> String {
        let what = match &self.shape {
            Shape::Json(sketch) => sketch.describe(),
            Shape::Table { header, .. } => {
                format!("a table with the columns {}", listed(header))
            }
            Shape::Markers => "marker text that begins with PathFileType".to_string(),
            Shape::Binary(kind, _) => kind.title().to_string(),
        };
        match self.folder {
            true => format!(
                "a folder of {} files, {} {what}",
                self.files, self.looked_at
            ),
            false => what,
        }
    }
}

/// The member that is looked at: of a folder the first that has a number in its name and says something, since
/// a clip may begin with frames without people and names of classes may stand beside them.
fn typical(source: &Source) -> Result<&Member, Fault> {
    let first = source.members().first().ok_or_else(|| empty(source))?;
    if !source.is_folder() {
        return Ok(first);
    }
    let numbered = source
        .members()
        .iter()
        .filter(|member| id::last_number(member.name()).is_some());
    for member in numbered.take(SAMPLE_FILES) {
        let head = head_of(member, limits::HEAD)?;
        if !matches!(head.trim_ascii(), b"" | b"[]" | b"{}" | b"[[]]") {
            return Ok(member);
        }
    }
    Ok(first)
}

fn empty(source: &Source) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/empty",
        "there is nothing in it",
        crate::note::Place::file(source.name()),
        "exporting the keypoints again",
    )
}

fn head_of(member: &Member, bytes: usize) -> Result<Vec<u8>, Fault> {
    let mut head = Vec::new();
    member
        .open()?
        .take(bytes as u64)
        .read_to_end(&mut head)
        .map_err(|error| io_fault(member.place(), &error))?;
    Ok(head)
}

fn shape_of(member: &Member, head: &[u8]) -> Result<Shape, Fault> {
    let text = head.trim_ascii_start();
    if text.is_empty() {
        return Err(Fault::new(
            FaultKind::Malformed,
            "read/empty",
            "there is nothing in it",
            member.place(),
            "exporting the keypoints again",
        ));
    }
    if let Some(kind) = BinaryKind::of(head) {
        return Ok(Shape::Binary(kind, head.to_vec()));
    }
    if let Some((kind, remedy)) = unread_kind(head) {
        return Err(Fault::new(
            FaultKind::Unsupported,
            "read/unknown-format",
            format!("this is {kind}, which holds no keypoints that can be read here"),
            member.place(),
            remedy,
        ));
    }
    if matches!(text.first(), Some(b'{' | b'[')) {
        return json::parse_seed(member, Sketcher::default()).map(Shape::Json);
    }
    if text.starts_with(b"PathFileType") {
        return Ok(Shape::Markers);
    }
    if !head.contains(&b'\n') && head.len() >= limits::HEAD {
        return Err(Fault::new(
            FaultKind::Limit,
            "read/limit",
            format!("the first line is longer than {} bytes", limits::HEAD),
            member.place().line(1),
            "exporting the keypoints as JSON or as a table with a header",
        ));
    }
    if let Some(line) = numbers_after_comments(text) {
        return Ok(Shape::Table {
            header: vec![line],
            rows: Vec::new(),
        });
    }
    let mut table = Table::open(member)?;
    let header = table.header().to_vec();
    let mut rows = Vec::new();
    let columns = header.len();
    while rows.len() < SAMPLE_ROWS {
        // A broken row is told by the reader, with what it then knows.
        let Ok(Some(row)) = table.next_row() else {
            break;
        };
        rows.push(
            (0..columns)
                .map(|column| row.text(column).to_string())
                .collect(),
        );
    }
    Ok(Shape::Table { header, rows })
}

/// The first line after `#` lines, if there are any and the line is numbers parted by spaces: comments may hold
/// the delimiter of some table, which would be taken for its header.
fn numbers_after_comments(text: &[u8]) -> Option<String> {
    let text = String::from_utf8_lossy(text);
    let mut lines = text.lines().map(str::trim).filter(|line| !line.is_empty());
    if !lines.clone().next()?.starts_with('#') {
        return None;
    }
    let line = lines.find(|line| !line.starts_with('#'))?;
    line.split_whitespace()
        .all(|word| word.parse::<f64>().is_ok())
        .then(|| line.to_string())
}

/// Kinds of binary files that people try and that hold no keypoints, by their first bytes, with what to do instead.
fn unread_kind(head: &[u8]) -> Option<(&'static str, &'static str)> {
    const FOUND: [(&[u8], &str, &str); 4] = [
        (b"\x89PNG", "a picture", "giving the exported keypoints"),
        (
            b"\xff\xd8\xff",
            "a picture",
            "giving the exported keypoints",
        ),
        (b"%PDF", "a PDF document", "giving the exported keypoints"),
        (
            b"\x1aE\xdf\xa3",
            "a video",
            "giving the keypoints that an estimator exported from it",
        ),
    ];
    let by_start = FOUND
        .iter()
        .find(|(start, _, _)| head.starts_with(start))
        .map(|(_, kind, remedy)| (*kind, *remedy));
    let video = head.get(4..8) == Some(b"ftyp");
    by_start
        .or(video.then_some((
            "a video",
            "giving the keypoints that an estimator exported from it",
        )))
        .or(head
            .contains(&0)
            .then_some(("a binary file", "exporting the keypoints as JSON or CSV")))
}

/// Reads a line without its end; `None` at the end of the file.
///
/// # Errors
/// The file could not be read on, or the text is not UTF-8.
pub fn line_of(
    reader: &mut dyn BufRead,
    member: &Member,
    number: u64,
) -> Result<Option<String>, Fault> {
    let mut bytes = Vec::new();
    let longest = (limits::COLUMNS * 64) as u64;
    let count = reader
        .take(longest)
        .read_until(b'\n', &mut bytes)
        .map_err(|error| io_fault(member.place(), &error))?;
    if count == 0 {
        return Ok(None);
    }
    let text = String::from_utf8(bytes).map_err(|_| {
        Fault::new(
            FaultKind::Malformed,
            "read/encoding",
            "the text is not UTF-8",
            member.place().line(number),
            "saving the file again as UTF-8",
        )
    })?;
    Ok(Some(text.trim_end_matches(['\n', '\r']).to_string()))
}
