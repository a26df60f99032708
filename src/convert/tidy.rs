//! The long table: `frame,time_s,person,point,x,y[,z],score,presence` and what reading it back needs.

use super::{METRE_DECIMALS, SECOND_DECIMALS, from_top_left, rounded, score};
use crate::body::Joint;
use crate::track::{DepthKind, Layer, Presence, Track};
use std::io;

/// Picture coordinates; `width` and `height` if the picture's size is known.
pub(super) fn picture(track: &Track, layer: &Layer) -> io::Result<Vec<u8>> {
    let tail: Vec<(&str, String)> = track.size.map_or_else(Vec::new, |size| {
        vec![
            ("width", size.width.to_string()),
            ("height", size.height.to_string()),
        ]
    });
    let at = |frame: usize, joint: usize| {
        layer
            .flat(frame, joint)
            .map(|at| from_top_left(track, at).to_vec())
    };
    table(track, layer, &["x", "y"], &tail, &at)
}

/// World coordinates; `depth` says whether they were guessed or measured.
pub(super) fn space(track: &Track, layer: &Layer) -> io::Result<Vec<u8>> {
    let depth = match track.depth {
        DepthKind::Measured => "measured",
        DepthKind::Guessed | DepthKind::None => "guessed",
    };
    let tail = [("depth", depth.to_string())];
    let at = |frame: usize, joint: usize| {
        let at = layer.point(frame, joint)?;
        Some(
            [at.x, at.y, at.z]
                .map(|value| rounded(value, METRE_DECIMALS))
                .to_vec(),
        )
    };
    table(track, layer, &["x_m", "y_m", "z_m"], &tail, &at)
}

fn table(
    track: &Track,
    layer: &Layer,
    axes: &[&str],
    tail: &[(&str, String)],
    at: &dyn Fn(usize, usize) -> Option<Vec<f64>>,
) -> io::Result<Vec<u8>> {
    let timed = track.timeline.knows_seconds();
    let mut table = csv::Writer::from_writer(Vec::new());
    let mut header = vec!["frame"];
    header.extend(timed.then_some("time_s"));
    header.extend(["person", "point"]);
    header.extend(axes);
    header.extend(["score", "presence"]);
    header.extend(tail.iter().map(|(name, _)| *name));
    table.write_record(&header)?;
    let names: Vec<String> = track.joints.iter().map(|joint| name(*joint)).collect();
    for frame in 0..track.frames() {
        let number = track.timeline.number(frame).unwrap_or(frame as i64);
        let time = track.timeline.time_s(frame).unwrap_or_default();
        let mut start = vec![number.to_string()];
        start.extend(timed.then(|| rounded(time, SECOND_DECIMALS).to_string()));
        let mut written = false;
        for (joint, name) in names.iter().enumerate() {
            let seen = layer.presence(frame, joint) == Presence::Seen;
            let (Some(at), true) = (at(frame, joint), seen) else {
                continue;
            };
            let mut row = start.clone();
            row.extend([track.person.clone(), name.clone()]);
            row.extend(at.iter().map(f64::to_string));
            row.push(score(layer.score(frame, joint).unwrap_or(1.0)).to_string());
            row.push("seen".to_string());
            row.extend(tail.iter().map(|(_, value)| value.clone()));
            table.write_record(&row)?;
            written = true;
        }
        if !written {
            // A frame in which nothing was seen is still a frame.
            let mut row = start;
            row.resize(header.len() - tail.len(), String::new());
            row.extend(tail.iter().map(|(_, value)| value.clone()));
            table.write_record(&row)?;
        }
    }
    table
        .into_inner()
        .map_err(|error| io::Error::other(error.to_string()))
}

/// The name by which the table is read again: a point called neck is often only half-way between the
/// shoulders, so a true one says so.
fn name(joint: Joint) -> String {
    match joint {
        Joint::Neck => "neck-base".into(),
        other => other.id(),
    }
}
