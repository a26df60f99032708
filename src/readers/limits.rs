//! Limits that protect the machine from a broken or hostile file. Each has its reason.

/// Most bytes of one file after decompression. An hour at 60 frames a second of 33 picture and 33 world
/// points with full printed precision is about 1.6 GB.
pub const BYTES: u64 = 2 << 30;

/// Bytes of a JSON file that are parsed from memory, which is twice as fast; a longer one is parsed as a stream.
/// A minute and a half of the densest export known at 30 frames a second has 8 MB.
pub const IN_MEMORY: u64 = 8 << 20;

/// Bytes at the start of a file that detection may look at. The longest header known (33 points with picture
/// and world columns) has 3 kB.
pub const HEAD: usize = 64 << 10;

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
pub fn people(place: crate::note::Place) -> crate::note::Fault {
    crate::note::Fault::new(
        crate::note::FaultKind::Limit,
        "read/limit",
        format!("there are more than {PEOPLE} people in a frame or {FRAMES} frames"),
        place,
        "exporting one clip with the people in view",
    )
}
