//! Curves and stick figure for drawing.

use crate::geom::quantiles;
use crate::kinematics::{Kinematics, Signal};
use crate::session::{Figure, Traces};
use crate::track::Track;

/// Pairs of joints that the stick figure connects.
const BONES: [(&str, &str); 16] = [
    ("shoulder-left", "shoulder-right"),
    ("hip-left", "hip-right"),
    ("shoulder-left", "hip-left"),
    ("shoulder-right", "hip-right"),
    ("shoulder-left", "elbow-left"),
    ("elbow-left", "wrist-left"),
    ("shoulder-right", "elbow-right"),
    ("elbow-right", "wrist-right"),
    ("hip-left", "knee-left"),
    ("knee-left", "ankle-left"),
    ("hip-right", "knee-right"),
    ("knee-right", "ankle-right"),
    ("spine-root-right", "acromial-angle-right"),
    ("inferior-angle-right", "acromial-angle-right"),
    ("spine-root-left", "acromial-angle-left"),
    ("inferior-angle-left", "acromial-angle-left"),
];

pub(super) fn traces(track: &Track, kinematics: &Kinematics) -> Traces {
    let mut out = Traces {
        times_s: track.timeline.times_s().to_vec(),
        ..Traces::default()
    };
    for signal in Signal::ALL {
        if let Ok(series) = kinematics.signal(signal) {
            out.signals
                .insert(signal.id().to_string(), series.value.iter().collect());
            out.spread.insert(
                signal.id().to_string(),
                (0..series.value.len())
                    .map(|frame| series.sd_at(frame))
                    .map(|(random, systematic)| random.hypot(systematic))
                    .collect(),
            );
            out.basis
                .insert(signal.id().to_string(), crate::reading::Basis::Direct);
        }
    }
    out.figure = figure(track);
    out
}

/// The stick figure, in the unit square with equal scale: the picture as seen, or the world seen from the
/// camera.
fn figure(track: &Track) -> Figure {
    let Some(layer) = track.picture.as_ref().or(track.space.as_ref()) else {
        return Figure::default();
    };
    let columns: Vec<usize> = (0..track.joints.len())
        .filter(|c| layer.coverage(*c) > 0.0)
        .collect();
    let values = |axis: usize| {
        columns
            .iter()
            .flat_map(move |column| layer.column(*column, axis))
            .flatten()
    };
    let range = |axis: usize| quantiles(values(axis), [0.002, 0.998]);
    let (Some([left, right]), Some([bottom, top])) = (range(0), range(1)) else {
        return Figure::default();
    };
    let scale = (right - left).max(top - bottom).max(1e-9) * 1.1;
    let centre = [(left + right) / 2.0, (bottom + top) / 2.0];
    let place = |value: f64, axis: usize| ((value - centre[axis]) / scale + 0.5) as f32;
    let joints: Vec<String> = columns
        .iter()
        .map(|column| track.joints[*column].id())
        .collect();
    let at = |id: &str| joints.iter().position(|joint| joint == id);
    Figure {
        bones: BONES
            .iter()
            .filter_map(|(a, b)| Some([at(a)?, at(b)?]))
            .collect(),
        frames: (0..layer.frames())
            .map(|frame| {
                columns
                    .iter()
                    .map(|column| {
                        layer
                            .flat(frame, *column)
                            .map(|p| [place(p.x, 0), place(p.y, 1)])
                    })
                    .collect()
            })
            .collect(),
        joints,
    }
}
