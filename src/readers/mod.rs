//! Reads a tidy long CSV: `frame,time_s[,person],point,x,y[,z][,score]`, one row a point and frame.
//!
//! In: a file. Out: a [`Track`]. Picture coordinates are pixels with y down; world coordinates metres, y up.

use crate::body::Joint;
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::pipeline::Provenance;
use crate::track::{DepthKind, Layer, PictureSize, Presence, Timeline, Timing, Track};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;

/// What the user states about the file.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct ReadOptions {
    /// Frames a second, for files without time stamps.
    pub fps: Option<f64>,
    /// Size of the picture in pixels.
    pub size: Option<PictureSize>,
}

/// Fewest frames that a repetition could be found in.
const LEAST_FRAMES: usize = 10;

/// Largest file read, bytes: an hour of 50 points at 60 Hz is under 1 GiB.
const MOST_BYTES: u64 = 1 << 30;

/// Reads a track.
///
/// # Errors
/// Unreadable, empty or malformed files, an unknown layout, a rate that is no rate, too few frames.
pub fn open(
    path: &Path,
    options: &ReadOptions,
    models: &Models,
) -> Result<(Track, Provenance), Fault> {
    if let Some(fps) = options.fps.filter(|fps| !(fps.is_finite() && *fps > 0.0)) {
        return Err(Fault::new(
            FaultKind::Usage,
            "usage/fps",
            format!("{fps} is no frame rate"),
            Place::default().field("--fps"),
            "the rate of the video in frames a second, such as --fps 30",
        ));
    }
    let name = path.display().to_string();
    let place = || Place::file(name.clone());
    let io = |error: std::io::Error| {
        Fault::new(
            FaultKind::Io,
            "read/io",
            error.to_string(),
            place(),
            "another file",
        )
    };
    if path.is_dir() {
        return Err(Fault::new(
            FaultKind::Unsupported,
            "read/unknown-format",
            "this is a folder",
            place(),
            "a tidy CSV file",
        ));
    }
    let mut bytes = Vec::new();
    let file = std::fs::File::open(path).map_err(io)?;
    file.take(MOST_BYTES).read_to_end(&mut bytes).map_err(io)?;
    let sha256 = Sha256::digest(&bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    if bytes.starts_with(&[0x1f, 0x8b]) {
        let mut plain = Vec::new();
        flate2::read::MultiGzDecoder::new(&bytes[..])
            .take(MOST_BYTES)
            .read_to_end(&mut plain)
            .map_err(io)?;
        bytes = plain;
    }
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(Fault::new(
            FaultKind::Malformed,
            "read/empty",
            "the file is empty",
            place(),
            "exporting the track again",
        ));
    }
    let track = tidy(&bytes, &name, options, models)?;
    let source = path
        .file_name()
        .map_or(name.clone(), |file| file.to_string_lossy().into_owned());
    Ok((
        track,
        Provenance {
            source,
            sha256,
            reader: "tidy-csv".into(),
            notes: Vec::new(),
        },
    ))
}

fn tidy(bytes: &[u8], name: &str, options: &ReadOptions, models: &Models) -> Result<Track, Fault> {
    let bad = |code, what: String, place: Place, remedy: &str| {
        Fault::new(FaultKind::Malformed, code, what, place, remedy)
    };
    let mut csv = csv::ReaderBuilder::new()
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(bytes);
    let header = csv.headers().cloned().map_err(|error| {
        bad(
            "read/syntax",
            error.to_string(),
            Place::file(name).line(1),
            "a CSV file in UTF-8",
        )
    })?;
    let column = |names: &[&str]| {
        header
            .iter()
            .position(|cell| names.contains(&cell.trim_start_matches('\u{feff}')))
    };
    let (Some(frame), Some(point), Some(x), Some(y)) = (
        column(&["frame"]),
        column(&["point", "landmark", "keypoint", "joint"]),
        column(&["x"]),
        column(&["y"]),
    ) else {
        return Err(Fault::new(
            FaultKind::Unsupported,
            "read/unknown-format",
            format!(
                "the header is `{}`",
                header.iter().collect::<Vec<_>>().join(",")
            ),
            Place::file(name).line(1),
            "a CSV with the columns frame,time_s,point,x,y and, for world coordinates, z",
        ));
    };
    let (time, z) = (column(&["time_s", "time", "timestamp"]), column(&["z"]));
    let (score, person) = (
        column(&["score", "confidence", "visibility"]),
        column(&["person"]),
    );
    let skeleton = models.skeleton("tidy").ok_or_else(|| {
        bad(
            "read/layout",
            "no tidy layout".into(),
            Place::default(),
            "restoring models/skeletons/tidy.toml",
        )
    })?;
    let joint_of: BTreeMap<String, Joint> = skeleton
        .joints
        .iter()
        .filter_map(|(id, source)| match source {
            crate::models::JointSource::Keypoint(index) => {
                Some((skeleton.keypoints.get(*index)?.clone(), Joint::from_id(id)?))
            }
            crate::models::JointSource::Midpoint(..) => None,
        })
        .collect();

    type Points = BTreeMap<Joint, ([f64; 3], f64)>;
    let mut people: BTreeMap<String, BTreeMap<i64, (Option<f64>, Points)>> = BTreeMap::new();
    for (row, line) in csv.records().zip(2..) {
        let row = row.map_err(|error| {
            bad(
                "read/syntax",
                error.to_string(),
                Place::file(name).line(line),
                "exporting again",
            )
        })?;
        let number = |column: usize| row.get(column).and_then(|cell| cell.parse::<f64>().ok());
        let Some(index) = number(frame) else {
            return Err(bad(
                "read/value",
                format!("`{}` is no frame number", row.get(frame).unwrap_or("")),
                Place::file(name).line(line).field("frame"),
                "whole numbers in the column frame",
            ));
        };
        let known = skeleton.index_of(row.get(point).unwrap_or(""));
        let Some(joint) = known
            .and_then(|index| joint_of.get(skeleton.keypoints.get(index)?))
            .copied()
        else {
            continue;
        };
        let who = person
            .and_then(|column| row.get(column))
            .unwrap_or("1")
            .to_string();
        let entry = people
            .entry(who)
            .or_default()
            .entry(index as i64)
            .or_default();
        entry.0 = entry.0.or(time.and_then(number));
        let at = [Some(x), Some(y), z]
            .map(|column| column.map_or(Some(0.0), number).unwrap_or(f64::NAN));
        entry
            .1
            .insert(joint, (at, score.and_then(number).unwrap_or(1.0)));
    }
    let Some((who, frames)) = people.into_iter().max_by_key(|(_, frames)| frames.len()) else {
        return Err(bad(
            "read/no-person",
            "no row names a point that is known".into(),
            Place::file(name).field("point"),
            "point names such as left_shoulder, right_elbow, left_hip",
        ));
    };
    if frames.len() < LEAST_FRAMES {
        return Err(bad(
            "read/too-few-frames",
            format!("{} frames; a repetition needs more", frames.len()),
            Place::file(name),
            "a longer recording",
        ));
    }
    let numbers: Vec<i64> = frames.keys().copied().collect();
    let stamps: Option<Vec<f64>> = frames.values().map(|(stamp, _)| *stamp).collect();
    let (times, timing) = match (stamps, options.fps) {
        (Some(stamps), None) => (stamps, Timing::Stamped),
        (_, Some(fps)) => (
            numbers.iter().map(|n| *n as f64 / fps).collect(),
            Timing::Stated,
        ),
        (None, None) => {
            let rate = crate::track::NOMINAL_RATE_HZ;
            (
                numbers.iter().map(|n| *n as f64 / rate).collect::<Vec<_>>(),
                Timing::Assumed,
            )
        }
    };
    let first = times.first().copied().unwrap_or(0.0);
    let timeline = Timeline::new(
        times.iter().map(|time| time - first).collect(),
        numbers,
        timing,
    )
    .ok_or_else(|| {
        bad(
            "read/time",
            "time stamps do not increase from frame to frame".into(),
            Place::file(name).field("time_s"),
            "stating the rate with --fps",
        )
    })?;
    let mut joints: Vec<Joint> = frames
        .values()
        .flat_map(|(_, points)| points.keys().copied())
        .collect();
    joints.sort();
    joints.dedup();
    let dimensions = if z.is_some() { 3 } else { 2 };
    let mut layer = Layer::missing(timeline.len(), joints.len(), dimensions);
    let centre = options
        .size
        .map_or([0.0, 0.0], |size| [size.width / 2.0, size.height / 2.0]);
    for (frame, (_, points)) in frames.values().enumerate() {
        for (joint, (at, score)) in points {
            let Ok(column) = joints.binary_search(joint) else {
                continue;
            };
            let placed = if dimensions == 3 {
                *at
            } else {
                [at[0] - centre[0], centre[1] - at[1], 0.0]
            };
            if *score > 0.0 {
                layer.set(frame, column, &placed[..dimensions], *score, Presence::Seen);
            }
        }
    }
    let (picture, space) = if dimensions == 3 {
        (None, Some(layer))
    } else {
        (Some(layer), None)
    };
    Ok(Track {
        layout: "tidy".into(),
        joints,
        timeline,
        depth: if space.is_some() {
            DepthKind::Measured
        } else {
            DepthKind::None
        },
        picture,
        space,
        size: options.size,
        person: who,
    })
}
