//! Where a movement starts, holds and ends.

use crate::dsp::noise::noise_from_differences;

/// Share of the fastest moment of a way below which the arm counts as still (contract of the product:
/// boundaries by speed; 5 % is common practice in reaching studies, from memory, not verified).
const STILL: f64 = 0.05;

/// Share of the excursion from the resting level (or from the top) within which stillness counts as rest
/// (or as hold); farther away it is a pause on the way.
const NEAR: f64 = 0.15;

/// A turning point with the lowest points on both sides.
#[derive(Debug, Clone, Copy)]
pub struct Ramp {
    /// Lowest frame before.
    pub before: usize,
    /// Turning point.
    pub top: usize,
    /// Lowest frame after.
    pub after: usize,
}

/// Start, hold start, peak, hold end and end of a repetition whose turning point is high.
pub fn boundaries(signal: &[f64], speeds: &Speeds, ramp: Ramp) -> [usize; 5] {
    let at = |frame: usize| signal.get(frame).copied().unwrap_or(f64::NEG_INFINITY);
    let peak = (ramp.before..=ramp.after)
        .max_by(|a, b| at(*a).total_cmp(&at(*b)))
        .unwrap_or(ramp.top);
    let speed = |frame: usize| speeds.at(frame);
    let unseen = speeds.noise;

    let (start, hold_start) = way(ramp.before, peak, unseen, at, speed);
    // The way back is the way out seen in reverse time.
    let reverse = |frame: usize| peak + ramp.after - frame;
    let (end, hold_end) = way(
        reverse(ramp.after),
        reverse(peak),
        unseen,
        |frame| at(reverse(frame)),
        |frame| speed(reverse(frame)),
    );
    [start, hold_start, peak, reverse(hold_end), reverse(end)]
}

/// First and last frame of the movement from a low point up to a top.
fn way(
    low: usize,
    top: usize,
    unseen: f64,
    at: impl Fn(usize) -> f64,
    speed: impl Fn(usize) -> f64,
) -> (usize, usize) {
    let Some(fastest) = (low..=top).max_by(|a, b| speed(*a).total_cmp(&speed(*b))) else {
        return (low, top);
    };
    let still = (STILL * speed(fastest))
        .max(unseen)
        .min(MOST_STILL * speed(fastest));
    let near = NEAR * (at(top) - at(low));
    let start = (low..=fastest)
        .rev()
        .find(|frame| speed(*frame) < still && at(*frame) < at(low) + near)
        .unwrap_or(low);
    let arrived = (fastest..=top)
        .find(|frame| speed(*frame) < still && at(*frame) > at(top) - near)
        .unwrap_or(top);
    (start, arrived)
}

/// Speeds of a signal, from its smoothed form when it is noisy, with the speed that noise alone makes.
pub struct Speeds {
    by_frame: Vec<f64>,
    noise: f64,
}

/// Noise of a signal above which its smoothed form gives the speed, degrees (stated choice: markers are
/// below it, keypoints of a network above).
const NOISY_DEG: f64 = 0.15;

/// Speed that noise makes in a smoothed signal, per degree of white noise: the band up to 3 Hz moves at some
/// 10 radians a second, and correlated noise has twice the power there (seen in simulation).
const NOISE_SPEED: f64 = 20.0;

/// Largest share of the fastest moment that noise may hide.
const MOST_STILL: f64 = 0.2;

impl Speeds {
    /// Speeds by central difference, degrees a second, without sign.
    pub fn of(signal: &[f64], smooth: &[f64], rate_hz: f64) -> Speeds {
        let white = noise_from_differences(signal).map_or(0.0, |noise| noise.robust_white_sd);
        let noisy = white > NOISY_DEG;
        let from = if noisy { smooth } else { signal };
        Speeds {
            by_frame: (0..from.len())
                .map(|frame| central_speed(from, frame, rate_hz))
                .collect(),
            noise: if noisy { NOISE_SPEED * white } else { 0.0 },
        }
    }

    fn at(&self, frame: usize) -> f64 {
        self.by_frame.get(frame).copied().unwrap_or(0.0)
    }
}

/// Speed by central difference, degrees a second, without sign.
fn central_speed(signal: &[f64], frame: usize, rate_hz: f64) -> f64 {
    let before = frame.saturating_sub(1);
    let after = (frame + 1).min(signal.len().saturating_sub(1));
    match (signal.get(before), signal.get(after)) {
        (Some(a), Some(b)) if after > before => ((b - a) * rate_hz / (after - before) as f64).abs(),
        _ => 0.0,
    }
}
