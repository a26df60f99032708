//! Propagation of errors from points and assumptions to angles, one mechanism for every kind of pose.
//!
//! Every uncertain number of a pose is nudged by one standard deviation up and down; the root mean square of
//! the two changes of an angle counts, so that a square root that runs into zero near the image plane is not
//! taken for certainty. Contributions of different numbers are independent and add in squares.

use super::Blade;
use super::angles::{Angles, Posture, angles, angles_beside};
use super::poses::{Courses, Poses};
use super::signal::Signal;
use super::together::{FramePulls, Pull, Pulls};
use crate::body::Side;
use crate::geom::wrap_180;
use rayon::prelude::*;

/// Samples of the spread a second: errors change no faster than postures (stated choice).
const SPREADS_PER_S: f64 = 3.0;

/// The same where a blade is seen: how errors pull elevation and upward rotation matters along a raise of a second
/// (stated choice).
const PULLS_PER_S: f64 = 12.0;

/// Adds a step to one number of a pose.
pub type Step<P> = Box<dyn Fn(&mut P, f64)>;

/// One uncertain number of a pose.
pub struct Nudge<P> {
    /// Which number it is, the same in every frame of a clip.
    pub number: usize,
    /// Standard deviation of its frame-to-frame noise.
    pub random: f64,
    /// Standard deviation of its error that stays the same through a clip.
    pub systematic: f64,
    /// Adds a step to it.
    pub apply: Step<P>,
}

/// Anything a posture can be made of.
pub trait Pose: Clone + Sync {
    /// Errors of its points, the same in every frame.
    type Errors: Sync;
    /// Exercising side.
    fn side(&self) -> Side;
    /// The posture, if the points are there.
    fn posture(&self) -> Option<Posture>;
    /// Plane of elevation and elevation of the arm, degrees, as among [`Pose::angles`], and nothing else.
    fn arm_deg(&self) -> Option<(f64, f64)>;
    /// The uncertain numbers.
    fn nudges(&self, errors: &Self::Errors) -> Vec<Nudge<Self>>;
    /// What points on the blade do not show by themselves.
    fn blade(&self) -> &Blade;
    /// Angles of the posture.
    fn angles(&self) -> Angles {
        match self.posture() {
            Some(posture) => self.blade().on_bone(angles(&posture, self.side())),
            None => [None; Signal::COUNT],
        }
    }
}

/// Standard deviations of every angle, degrees: frame-to-frame part and clip-long part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AngleSpread {
    /// Frame-to-frame.
    pub random: [f64; Signal::COUNT],
    /// Clip-long.
    pub systematic: [f64; Signal::COUNT],
}

/// Spread of the angles of one pose, and how its constant errors pull elevation and upward rotation.
pub fn spread<P: Pose>(pose: &P, errors: &P::Errors) -> (AngleSpread, FramePulls) {
    let posture = pose.posture();
    let seen = posture
        .as_ref()
        .map(|posture| (posture, angles(posture, pose.side())));
    let middle = match &seen {
        Some((_, angles)) => pose.blade().on_bone(*angles),
        None => [None; Signal::COUNT],
    };
    let mut random = [0.0; Signal::COUNT];
    let mut systematic = [0.0; Signal::COUNT];
    let mut pulls = FramePulls::new();
    for nudge in pose.nudges(errors) {
        let step = nudge.random.hypot(nudge.systematic);
        if step <= 0.0 {
            continue;
        }
        let nudged = |sign: f64| {
            let mut other = pose.clone();
            (nudge.apply)(&mut other, sign * step);
            let known = seen.as_ref().map(|(posture, angles)| (*posture, angles));
            match other.posture() {
                Some(posture) => {
                    let angles = angles_beside(&posture, other.side(), known);
                    other.blade().on_bone(angles)
                }
                None => [None; Signal::COUNT],
            }
        };
        let (up, down) = (nudged(1.0), nudged(-1.0));
        if nudge.systematic > 0.0
            && let (Some(up), Some(down)) =
                (Pull::between(&middle, &up), Pull::between(&middle, &down))
        {
            let share = nudge.systematic / step;
            pulls.insert(nudge.number, [up.scaled(share), down.scaled(share)]);
        }
        for signal in Signal::ALL {
            let i = signal.index();
            let Some(value) = middle[i] else { continue };
            let change = |other: Option<f64>| {
                other.map_or(0.0, |other| {
                    let change = other - value;
                    if signal.is_circular() {
                        wrap_180(change).abs()
                    } else {
                        change.abs()
                    }
                })
            };
            let change = (change(up[i]).powi(2) / 2.0 + change(down[i]).powi(2) / 2.0).sqrt();
            random[i] += (change * nudge.random / step).powi(2);
            systematic[i] += (change * nudge.systematic / step).powi(2);
        }
    }
    let spread = AngleSpread {
        random: random.map(f64::sqrt),
        systematic: systematic.map(f64::sqrt),
    };
    (spread, pulls)
}

/// Spread of the angles of poses at a few frames a second, on all cores, and the pulls at those frames.
pub fn sampled_spreads<P: Poses>(
    poses: &P,
    courses: &Courses,
    errors: &<P::Pose as Pose>::Errors,
    rate_hz: Option<f64>,
) -> (Vec<(usize, AngleSpread)>, Pulls) {
    let per_s = if courses.get(Signal::UpwardRotation).is_some() {
        PULLS_PER_S
    } else {
        SPREADS_PER_S
    };
    let step = (rate_hz.unwrap_or(1.0) / per_s).round().max(1.0) as usize;
    let sampled: Vec<(usize, AngleSpread, FramePulls)> = (0..poses.frames().div_ceil(step))
        .into_par_iter()
        .filter_map(|sample| {
            let frame = sample * step;
            let pose = poses.at(frame);
            pose.posture()?;
            let (spread, pulls) = spread(&pose, errors);
            Some((frame, spread, pulls))
        })
        .collect();
    let mut spreads = Vec::with_capacity(sampled.len());
    let mut pulls = Vec::new();
    for (frame, spread, of_frame) in sampled {
        spreads.push((frame, spread));
        if !of_frame.is_empty() {
            pulls.push((frame, of_frame));
        }
    }
    (spreads, Pulls::new(pulls))
}
