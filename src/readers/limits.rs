//! Limits that protect the machine from a broken or hostile file. Each has its reason.

use crate::note::{Fault, FaultKind, Place};

/// Most bytes of one file after decompression. An hour at 60 frames a second of 33 picture and 33 world
/// points with full printed precision is about 1.6 GB.
pub const BYTES: u64 = 2 << 30;

/// Bytes of a JSON file that are parsed from memory, which is twice as fast; a longer one is parsed as a stream.
/// A minute and a half of the densest export known at 30 frames a second has 8 MB.
pub const IN_MEMORY: u64 = 8 << 20;

/// Bytes at the start of a file that detection may look at. The longest header known (33 points with picture
/// and world columns) has 3 kB.
pub const HEAD: usize = 64 << 10;

/// Bytes of a longer JSON file in which the first look is content if one format alone fits: 25 frames of the densest
/// export, or the list of images that precedes the annotations of a clip of a minute.
pub const BEGINNING: usize = 128 << 10;

/// Elements of a list in which such a look is content: one second of frames.
pub const ENOUGH: usize = 30;

/// Most bytes before the list that a file is about: the images of an hour, which precede the annotations, have 8 MB.
pub const PRECEDING: usize = 4 * IN_MEMORY as usize;

/// Bytes behind a longer list in which a look that went further is content: some thirty annotations.
pub const FOLLOWING: usize = 16 << 10;

/// Bytes of a list's text that one core parses at a time, at most.
pub const PIECE: usize = 128 << 10;

/// The same, at least, of a short file.
pub const SHORT_PIECE: usize = 32 << 10;

/// Most numbers of keypoints that are kept until it is known which joints they are: ten minutes of one person in 17 points.
pub const WAITING: usize = 1 << 20;

/// Most frames of one clip: four and a half hours at 60 frames a second.
pub const FRAMES: usize = 1_000_000;

/// Most keypoints of one person: the densest body-and-face layouts have fewer than 600.
pub const KEYPOINTS: usize = 1024;

/// Most people of one frame: more is a broken file, not a clinic.
pub const PEOPLE: usize = 200;

/// Deepest nesting of JSON lists and objects. The deepest export known has 7 levels.
pub const DEPTH: usize = 48;

/// Most columns of a table: [`KEYPOINTS`] with x, y, z and a score in picture and world.
pub const COLUMNS: usize = 8 * KEYPOINTS;

/// Most files of a folder: one a frame.
pub const FILES: usize = FRAMES;

/// The fault of a frame with more people than the limit.
pub fn people(place: Place) -> Fault {
    let what = format!("{PEOPLE} people in a frame or {FRAMES} frames");
    more_than(&what, place, "exporting one clip with the people in view")
}

/// The fault of more frames than the limit.
pub fn frames(place: Place) -> Fault {
    let what = format!("{FRAMES} frames");
    more_than(&what, place, "cutting the clip into shorter ones")
}

fn more_than(what: &str, place: Place, remedy: &str) -> Fault {
    let what = format!("there are more than {what}");
    Fault::new(FaultKind::Limit, "read/limit", what, place, remedy)
}

/// Most times its stored size that packed data may unpack to. Keypoints as text pack 3 to 15 times smaller, a
/// table of empty rows 70 times (measured); data made to exhaust a machine pack a thousand times smaller.
pub const UNPACKED_RATIO: u64 = 200;

/// Bytes that may be unpacked whatever the ratio: they cost nothing, and a short clip of an empty room packs
/// better than any other.
pub const UNPACKED_FREE: u64 = 64 << 20;

/// Most entries of an archive, folders and other files among them: an hour at 60 frames a second with one file
/// a frame is 216 000.
pub const ENTRIES: usize = 250_000;

/// Most bytes of a name in an archive: ten times the longest path that systems commonly take.
pub const ENTRY_NAME: u64 = 40 << 10;
