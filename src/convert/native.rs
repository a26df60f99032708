//! `scaplane.track/1`: everything a track holds.

use super::{METRE_DECIMALS, PIXEL_DECIMALS, SECOND_DECIMALS, from_top_left, rounded, score};
use crate::readers::formats::native_json::FORMAT;
use crate::track::{DepthKind, Layer, Presence, Timing, Track};
use serde::Serialize;
use std::io;

#[derive(Serialize)]
struct File {
    format: &'static str,
    layout: String,
    person: String,
    joints: Vec<String>,
    /// Whether `time_s` are the file's own stamps.
    stamped: bool,
    /// Frames a second as stated; null where the times are stamps or nobody knows.
    rate_hz: Option<f64>,
    size: Option<[f64; 2]>,
    measured_depth: bool,
    frames: Vec<Frame>,
}

#[derive(Serialize)]
struct Frame {
    number: i64,
    #[serde(skip_serializing_if = "Option::is_none")]
    time_s: Option<f64>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    picture: Vec<Option<[f64; 3]>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    space: Vec<Option<[f64; 4]>>,
}

pub(super) fn write(track: &Track) -> io::Result<Vec<u8>> {
    let timing = track.timeline.timing();
    let joints = 0..track.joints.len();
    let frames = (0..track.frames()).map(|frame| Frame {
        number: track.timeline.number(frame).unwrap_or(frame as i64),
        time_s: (timing == Timing::Stamped)
            .then(|| track.timeline.time_s(frame))
            .flatten()
            .map(|time| rounded(time, SECOND_DECIMALS)),
        picture: row(track.picture.as_ref(), joints.clone(), |layer, joint| {
            let [x, y] = from_top_left(track, layer.flat(frame, joint)?);
            Some([x, y, seen(layer, frame, joint)?])
        }),
        space: row(track.space.as_ref(), joints.clone(), |layer, joint| {
            let at = layer.point(frame, joint)?;
            let [x, y, z] = [at.x, at.y, at.z].map(|value| rounded(value, METRE_DECIMALS));
            Some([x, y, z, seen(layer, frame, joint)?])
        }),
    });
    let file = File {
        format: FORMAT,
        layout: track.layout.clone(),
        person: track.person.clone(),
        joints: track.joints.iter().map(|joint| joint.id()).collect(),
        stamped: timing == Timing::Stamped,
        rate_hz: (timing == Timing::Stated)
            .then(|| stated_rate(track))
            .flatten(),
        size: track
            .size
            .map(|size| [size.width, size.height].map(|s| rounded(s, PIXEL_DECIMALS))),
        measured_depth: track.depth == DepthKind::Measured,
        frames: frames.collect(),
    };
    let mut bytes = serde_json::to_vec(&file)?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// One layer of one frame; empty if the track has not got it.
fn row<T>(
    layer: Option<&Layer>,
    joints: std::ops::Range<usize>,
    at: impl Fn(&Layer, usize) -> Option<T>,
) -> Vec<Option<T>> {
    layer.map_or_else(Vec::new, |layer| {
        joints.map(|joint| at(layer, joint)).collect()
    })
}

/// The score of a point that was seen.
fn seen(layer: &Layer, frame: usize, joint: usize) -> Option<f64> {
    (layer.presence(frame, joint) == Presence::Seen)
        .then(|| layer.score(frame, joint))
        .flatten()
        .map(score)
}

/// The rate that gives the times from the frame numbers, holes or not.
fn stated_rate(track: &Track) -> Option<f64> {
    let last = track.frames().checked_sub(1)?;
    let (first, end) = (track.timeline.number(0)?, track.timeline.number(last)?);
    let rate = (end as f64 - first as f64) / track.timeline.duration_s();
    // Twelve digits: a rate such as 29.97 comes back as it was.
    rate.is_finite().then(|| rounded(rate, 9))
}
