//! The series that the page's script replays, as compact as they are worth.
//!
//! In: traces. Out: JSON text safe inside a `script` element: at most 30 frames a second, angles to a tenth
//! of a degree, positions to a thousandth of the box, as differences from frame to frame.

use super::figure::Skeleton;
use super::words;
use crate::session::Review;
use serde_json::{Value, json};

/// Fastest replay, frames a second: the eye needs no more of a slow exercise.
const MOST_HZ: f64 = 30.0;
/// Most frames that are embedded: two minutes at the fastest replay; longer clips replay coarser.
const MOST_FRAMES: usize = 3600;

/// Frames of the clip that are embedded, in order.
pub fn kept_frames(times_s: &[f64]) -> Vec<usize> {
    let stride = times_s.len().div_ceil(MOST_FRAMES).max(1);
    let mut kept = Vec::new();
    let mut last = f64::NEG_INFINITY;
    for (frame, time) in times_s.iter().enumerate().step_by(stride) {
        // A tenth of a frame of slack, so that a clip at exactly 30 keeps every frame.
        if time - last >= 0.9 / MOST_HZ {
            kept.push(frame);
            last = *time;
        }
    }
    kept
}

/// Everything the script needs, as JSON text safe inside a `script` element.
pub fn series(review: &Review, skeleton: &Skeleton, signals: &[&str]) -> String {
    let traces = &review.traces;
    let kept = kept_frames(&traces.times_s);
    let frames: Vec<Option<i64>> = kept.iter().map(|frame| Some(*frame as i64)).collect();
    let times_ms: Vec<Option<i64>> = kept
        .iter()
        .filter_map(|frame| traces.times_s.get(*frame))
        .map(|time| Some((time * 1000.0).round() as i64))
        .collect();
    let mut curves = serde_json::Map::new();
    for id in signals {
        if let Some(values) = traces.signals.get(*id) {
            let row: Vec<Option<i64>> = kept
                .iter()
                .map(|frame| {
                    let value = values.get(*frame).copied().flatten()?;
                    value.is_finite().then_some((value * 10.0).round() as i64)
                })
                .collect();
            curves.insert((*id).to_string(), differences(&row));
        }
    }
    let positions: Vec<Vec<Option<[f32; 2]>>> = kept
        .iter()
        .map(|frame| skeleton.positions(&traces.figure, *frame))
        .collect();
    let joints: Vec<Value> = (0..skeleton.columns.len())
        .map(|joint| {
            let axis = |axis: usize| {
                let row: Vec<Option<i64>> = positions
                    .iter()
                    .map(|points| {
                        let point = points.get(joint).copied().flatten()?;
                        point.get(axis).map(|v| v.round() as i64)
                    })
                    .collect();
                differences(&row)
            };
            json!([axis(0), axis(1)])
        })
        .collect();
    let reps: Vec<Value> = review
        .session
        .reps
        .iter()
        .map(|rep| {
            json!([
                rep.number,
                rep.start_frame,
                rep.end_frame,
                words::verdict_id(rep.verdict)
            ])
        })
        .collect();
    let value = json!({
        "seconds": review.session.clip.duration_s.is_some(),
        "frames": differences(&frames),
        "times_ms": differences(&times_ms),
        "signals": curves,
        "joints": joints,
        "head": skeleton.head,
        "reps": reps,
    });
    // `<` could end the element it stands in.
    value.to_string().replace('<', "\\u003c")
}

/// First value, then differences; null where missing, after which the difference counts from the last value.
fn differences(row: &[Option<i64>]) -> Value {
    let mut last = 0;
    row.iter()
        .map(|value| {
            value.map(|value| {
                let step = value - last;
                last = value;
                step
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fast_clip_is_thinned_and_a_30_hz_clip_is_not() {
        let even = |n: usize, rate: f64| (0..n).map(|i| i as f64 / rate).collect::<Vec<_>>();
        assert_eq!(kept_frames(&even(300, 30.0)).len(), 300);
        assert_eq!(kept_frames(&even(1200, 120.0)).len(), 300);
        assert!(kept_frames(&even(40_000, 30.0)).len() <= MOST_FRAMES);
    }

    #[test]
    fn differences_skip_gaps() {
        let row = differences(&[Some(10), None, Some(12), Some(9)]);
        assert_eq!(row, json!([10, null, 2, -3]));
    }
}
