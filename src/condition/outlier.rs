//! Points that jump away for a moment.

use crate::dsp::robust::{HampelRule, hampel_flags};
use crate::geom::median;
use crate::track::{Layer, Timeline};
use rayon::prelude::*;

/// Half a window, seconds: shorter than any voluntary movement of an arm there and back (stated choice).
const HALF_WINDOW_S: f64 = 0.17;

/// Robust standard deviations beyond which a point is odd (common practice is 3; 5 is chosen because a
/// dropped good point costs more than a kept odd one).
const THRESHOLD: f64 = 5.0;

/// Least spread assumed, as a share of the median height of the measured points (head to hips and hands): below it
/// a window that happens to be still would flag ordinary noise (stated choice).
const FLOOR_SHARE: f64 = 0.006;

/// Fewest frames for which another core is asked to help.
const AT_ONCE: usize = 256;

/// Drops odd points in place; returns how many.
pub fn drop_outliers(layer: &mut Layer, timeline: &Timeline) -> usize {
    let Some(rate) = timeline.rate_hz() else {
        return 0;
    };
    let size = typical_size(layer);
    let rule = HampelRule {
        half_window: (HALF_WINDOW_S * rate).round().max(2.0) as usize,
        threshold: THRESHOLD,
        floor: FLOOR_SHARE * size,
    };
    let frames = layer.frames();
    let dropped = layer.each_joint(|_, course| {
        let mut odd = vec![false; frames];
        for axis in 0..course.dimensions() {
            if let Ok(flags) = hampel_flags(&course.column(axis), &rule) {
                for (odd, flag) in odd.iter_mut().zip(flags) {
                    *odd |= flag;
                }
            }
        }
        let mut dropped = 0;
        for (frame, _) in odd.iter().enumerate().filter(|(_, odd)| **odd) {
            course.drop_point(frame);
            dropped += 1;
        }
        dropped
    });
    dropped.into_iter().sum()
}

/// Median over frames of the height of the seen figure: the ruler for what counts as a jump.
fn typical_size(layer: &Layer) -> f64 {
    let height = |frame: usize| {
        let ys = (0..layer.joints()).filter_map(|joint| layer.coordinate(frame, joint, 1));
        let (low, high) = ys
            .map(|y| (y, y))
            .reduce(|(low, high), (y, _)| (low.min(y), high.max(y)))?;
        Some(high - low)
    };
    let frames = (0..layer.frames()).into_par_iter();
    let heights: Vec<f64> = frames.with_min_len(AT_ONCE).filter_map(height).collect();
    median(heights).unwrap_or(0.0)
}
