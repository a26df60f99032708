//! Scapulohumeral rhythm: how much of the elevation comes from the blade.
//!
//! *Basis.* Direct when the track has scapular landmarks; otherwise calibrated, when two inclinometer readings
//! settle the linkage of this person; otherwise by proxy: the rise of the shoulder point
//! about the sternal end is divided by how much it rises per degree of upward rotation (the linkage of
//! `models/linkage.toml`), and the spread of that figure between people goes into the interval, which is
//! then honestly wide. Nothing is ever predicted from the arm's elevation: such a prediction would carry no
//! information about the person.
//!
//! *Errors of a direct share.* Every constant error is followed through the window: how it pulls elevation and
//! upward rotation along the movement, and so the slope (`kinematics/together.rs`). What a picture of dots does not show, the
//! blade's internal rotation and the skin's way over the bone, is among them.

use super::{Card, Measure, Outcome, RepContext};
use crate::dsp::fit::york;
use crate::kinematics::{Pull, Signal};
use crate::reading::{Basis, Estimate, Why};
use std::collections::BTreeMap;

/// Shares and ratios by interval.
pub struct Rhythm;

/// The share and the ratio of every way and interval.
macro_rules! cards {
    ($(($way:literal, $doing:literal, $span:literal, $words:literal)),* $(,)?) => {
        [$(
            Card {
                id: concat!("rhythm-share-", $way, "-", $span),
                title: concat!("Share of the blade, ", $doing, ", ", $words),
                unit: "1",
                definition: "Change of upward rotation of the blade per change of elevation: slope of a \
                             straight line with errors in both variables; over 30 to the top, the mean of \
                             the slopes of its 30 degree windows weighted by their length. A share s is a \
                             ratio of (1 - s)/s.",
                not_measurable_when: NOT_MEASURABLE_WHEN,
                source: SOURCE,
            },
            Card {
                id: concat!("rhythm-ratio-", $way, "-", $span),
                title: concat!("Rhythm (humeral part : blade part), ", $doing, ", ", $words),
                unit: "1",
                definition: "(1 - s)/s of the share s of the same interval, its interval from the ends of \
                             that of s.",
                not_measurable_when: NOT_MEASURABLE_WHEN,
                source: SOURCE,
            },
        )*
        Card {
            id: "setting-rotation",
            title: "Upward rotation below 30 degrees",
            unit: "deg",
            definition: "Upward rotation gained from the start of the repetition to 30 degrees of elevation; \
                         reported, never judged.",
            not_measurable_when: "no scapular landmark in the track",
            source: "Borsa 2003 and Lee 2013: the setting phase goes either way",
        },
        ]
    };
}

/// Share of the clip-long error of the girdle's rise that turns with the arm through a window (stated
/// assumption).
const TURNING_SHARE: f64 = 0.1;

/// Least share of the blade, lower end, of which a ratio is given: below it the ratio has no upper end that means
/// anything (stated choice: 19 to 1).
const LEAST_SHARE: f64 = 0.05;

/// Width of a window of elevation in which the rhythm is fitted, degrees (stated choice: a few tenths of a second).
const WINDOW_DEG: f64 = 30.0;

/// Elevation that must be covered in all for a rhythm to the top, degrees (stated choice).
const LEAST_WIDTH_DEG: f64 = 20.0;

/// Least standard deviation given to a change of the girdle, degrees: no export has more digits (stated choice).
const LEAST_SD_DEG: f64 = 0.2;

const NOT_MEASURABLE_WHEN: &str = "the arm does not pass through the interval; no basis for upward rotation; dots \
                                   on a blade that is seen edge-on or not from behind; \
                                   the interval is too wide to mean anything";
const SOURCE: &str = "definition of the product; published means in models/references.csv";

const CARDS: [Card; 17] = cards![
    ("raise", "raising", "30-60", "30 to 60 degrees"),
    ("raise", "raising", "60-90", "60 to 90 degrees"),
    ("raise", "raising", "90-120", "90 to 120 degrees"),
    ("raise", "raising", "30-top", "30 degrees to the top"),
    ("lower", "lowering", "30-60", "30 to 60 degrees"),
    ("lower", "lowering", "60-90", "60 to 90 degrees"),
    ("lower", "lowering", "90-120", "90 to 120 degrees"),
    ("lower", "lowering", "30-top", "30 degrees to the top"),
];

/// Fewest frames a slope may rest on.
const LEAST_FRAMES: usize = 4;

/// Share of a window that the arm must pass through.
const PASSED: f64 = 0.9;

/// Widest 95 % interval of a share that still means something: half of all possible shares (stated choice).
const WIDEST_SHARE: f64 = 0.5;

/// By uncertain number: how far one standard deviation up and one down pull a share.
type SharePulls = BTreeMap<usize, [f64; 2]>;

/// Standard deviation of what all numbers make of a value; the two directions of one count as their root mean square.
fn together(pulls: &SharePulls) -> f64 {
    pulls
        .values()
        .map(|[up, down]| (up * up + down * down) / 2.0)
        .sum::<f64>()
        .sqrt()
}

/// A slope with the parts of its error.
#[derive(Clone)]
struct Slope {
    share: f64,
    random: f64,
    /// From constant errors of a direct share.
    pulls: SharePulls,
    /// From a constant error of the girdle that turns with the arm, over the width of elevation it was taken over.
    turning: f64,
    /// From the linkage's coupling.
    coupling: f64,
    width: f64,
}

impl Measure for Rhythm {
    fn cards(&self) -> &'static [Card] {
        &CARDS
    }

    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why> {
        let rep = cx.rep;
        if id == "setting-rotation" {
            return setting(cx);
        }
        let (from, to) = if id.contains("-raise-") {
            (rep.start, rep.hold_start)
        } else {
            (rep.hold_end, rep.end)
        };
        let (mut slope, basis) = if id.ends_with("30-60") {
            window(cx, from, to, 30.0, 60.0)?
        } else if id.ends_with("60-90") {
            window(cx, from, to, 60.0, 90.0)?
        } else if id.ends_with("90-120") {
            window(cx, from, to, 90.0, 120.0)?
        } else {
            to_the_top(cx, from, to)?
        };
        if basis == Basis::Calibrated && !id.ends_with("30-top") {
            // The readings settle the whole raise; within it the linkage of a person varies.
            slope.coupling = slope.coupling.hypot(slope.share * cx.linkage.window_sd);
        }
        let sd = slope
            .random
            .hypot(slope.turning)
            .hypot(slope.coupling)
            .hypot(together(&slope.pulls));
        let share = Estimate::with_sd(slope.share, sd, cx.observed(from, to), basis);
        if share.high - share.low > WIDEST_SHARE {
            return Err(Why::BeyondTrust);
        }
        let moment = (from + to) / 2;
        if id.contains("-share-") {
            return Ok(Outcome::measured(share, slope.random, moment));
        }
        if share.low <= LEAST_SHARE {
            // The ratio's interval would have no upper end that means anything.
            return Err(Why::BeyondTrust);
        }
        let ratio = |s: f64| (1.0 - s) / s;
        let estimate = Estimate {
            value: ratio(share.value),
            low: ratio(share.high),
            high: ratio(share.low),
            ..share
        };
        Ok(Outcome::measured(
            estimate,
            slope.random / share.value.powi(2),
            moment,
        ))
    }
}

/// Slope of upward rotation on elevation within a window of elevation.
fn window(
    cx: &RepContext<'_>,
    from: usize,
    to: usize,
    low: f64,
    high: f64,
) -> Result<(Slope, Basis), Why> {
    let elevation = cx.signal(Signal::Elevation)?;
    let (rotation, scale, scale_sd, basis) = match cx.signal(Signal::UpwardRotation) {
        Ok(series) => (series, 1.0, 0.0, Basis::Direct),
        Err(why @ Why::WrongView) => return Err(why),
        Err(_) => {
            let rise = cx.linkage.rise_per_rotation;
            let girdle = cx
                .signal(Signal::GirdleElevation)
                .map_err(|_| Why::NoScapularLandmark)?;
            let (scale, scale_sd) = (1.0 / rise.value, rise.sd / rise.value);
            match cx.linkage.calibrated {
                true => (girdle, scale, scale_sd, Basis::Calibrated),
                false => (girdle, scale, scale_sd, Basis::Proxy),
            }
        }
    };
    let mut points: [Vec<f64>; 4] = Default::default();
    let mut frames = Vec::new();
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut systematic = 0.0_f64;
    // Fast movements have few frames in a window: what counts is that the arm went through it.
    for frame in from.saturating_sub(1)..=to + 1 {
        if let (Some(x), Some(_)) = (elevation.at(frame), rotation.at(frame)) {
            least = least.min(x);
            most = most.max(x);
        }
    }
    let (least, most) = (least.max(low), most.min(high));
    for frame in from..=to {
        let (Some(x), Some(y)) = (elevation.at(frame), rotation.at(frame)) else {
            continue;
        };
        if !(low..=high).contains(&x) {
            continue;
        }
        let (sd_x, _) = elevation.sd_at(frame);
        let (sd_y, systematic_y) = rotation.sd_at(frame);
        systematic = systematic.max(systematic_y * scale);
        frames.push(frame);
        for (list, value) in points.iter_mut().zip([x, y * scale, sd_x, sd_y * scale]) {
            list.push(value);
        }
    }
    let [xs, ys, sd_x, sd_y] = &points;
    if xs.len() < LEAST_FRAMES || most - least < PASSED * (high - low) {
        return Err(Why::IntervalNotReached);
    }
    // A fit needs errors; a track without any (markers to many digits) gets a thousandth of a degree.
    let floor = |sd: &[f64]| -> Vec<f64> { sd.iter().map(|sd| sd.max(1e-3)).collect() };
    let line = york(xs, ys, &floor(sd_x), &floor(sd_y)).map_err(|_| Why::TooFewFrames)?;
    let alike = (2.0 * cx.kinematics.correlation_s / cx.step_s().max(1e-6)).max(1.0);
    // A constant error of the girdle changes little within a window; the part that turns with the arm is taken
    // as a tenth, beside the error of its coupling.
    let (turning, pulls) = match basis {
        Basis::Direct => (0.0, share_pulls(cx, &frames, xs, line.slope)),
        _ => (
            TURNING_SHARE * systematic / (high - low) * 2.0,
            SharePulls::new(),
        ),
    };
    Ok((
        Slope {
            share: line.slope,
            random: line.slope_se * alike.sqrt(),
            pulls,
            turning,
            coupling: line.slope * scale_sd,
            width: most - least,
        },
        basis,
    ))
}

/// How each constant error pulls the slope of a straight line through frames at these elevations: to first order, that
/// of a line of least squares.
fn share_pulls(cx: &RepContext<'_>, frames: &[usize], xs: &[f64], slope: f64) -> SharePulls {
    let middle = xs.iter().sum::<f64>() / xs.len().max(1) as f64;
    let spread: f64 = xs.iter().map(|x| (x - middle).powi(2)).sum();
    let mut sums = SharePulls::new();
    if spread <= 0.0 {
        return sums;
    }
    for (frame, x) in frames.iter().zip(xs) {
        let weight = (x - middle) / spread;
        let pulled = |pull: Pull| weight * (pull.rotation_deg - slope * pull.elevation_deg);
        for (number, [up, down]) in cx.kinematics.pulls.at(*frame) {
            let [sum_up, sum_down] = sums.entry(number).or_default();
            *sum_up += pulled(up);
            *sum_down += pulled(down);
        }
    }
    sums
}

/// From 30 degrees to the top: the slopes of the windows weighted by the elevation they cover.
fn to_the_top(cx: &RepContext<'_>, from: usize, to: usize) -> Result<(Slope, Basis), Why> {
    let elevation = cx.signal(Signal::Elevation)?;
    let top = (from..=to)
        .filter_map(|frame| elevation.at(frame))
        .fold(f64::NEG_INFINITY, f64::max)
        .min(cx.linkage.trusted_to_deg);
    let mut parts = Vec::new();
    let mut basis = Basis::Direct;
    let mut low = 30.0;
    while low + 10.0 <= top {
        // What is left at the top is no window of its own.
        let high = if low + 1.5 * WINDOW_DEG > top {
            top
        } else {
            low + WINDOW_DEG
        };
        let (slope, of) = window(cx, from, to, low, high)?;
        basis = of;
        parts.push(slope);
        low = high;
    }
    let width: f64 = parts.iter().map(|part| part.width).sum();
    if width < LEAST_WIDTH_DEG {
        return Err(Why::IntervalNotReached);
    }
    let weighted = |pick: fn(&Slope) -> f64| {
        parts
            .iter()
            .map(|part| part.width * pick(part))
            .sum::<f64>()
            / width
    };
    let random = parts
        .iter()
        .map(|part| (part.width * part.random).powi(2))
        .sum::<f64>()
        .sqrt()
        / width;
    let mut pulls = SharePulls::new();
    for part in &parts {
        for (number, [up, down]) in &part.pulls {
            let [sum_up, sum_down] = pulls.entry(*number).or_default();
            *sum_up += up * part.width / width;
            *sum_down += down * part.width / width;
        }
    }
    Ok((
        Slope {
            share: weighted(|part| part.share),
            random,
            pulls,
            // The same constant error counts over the whole way, not over each window.
            turning: weighted(|part| part.turning * part.width) / width,
            coupling: weighted(|part| part.coupling),
            width,
        },
        basis,
    ))
}

fn setting(cx: &RepContext<'_>) -> Result<Outcome, Why> {
    let elevation = cx.signal(Signal::Elevation)?;
    let rotation = cx.signal(Signal::UpwardRotation)?;
    let rep = cx.rep;
    let passes = (rep.start..=rep.peak)
        .find(|frame| elevation.at(*frame).is_some_and(|deg| deg >= 30.0))
        .ok_or(Why::IntervalNotReached)?;
    let start = super::window::around(rotation, rep.start, 2)?;
    let then = super::window::around(rotation, passes, 1)?;
    let (random, _) = rotation.sd_at(passes);
    let before = cx.kinematics.pulls.at(rep.start);
    let gained: SharePulls = cx
        .kinematics
        .pulls
        .at(passes)
        .into_iter()
        .filter_map(|(number, [up, down])| {
            let [up_before, down_before] = before.get(&number)?;
            let gain = |after: Pull, before: &Pull| after.rotation_deg - before.rotation_deg;
            Some((number, [gain(up, up_before), gain(down, down_before)]))
        })
        .collect();
    let sd = (random * std::f64::consts::SQRT_2).hypot(together(&gained));
    let observed = cx.observed(rep.start, passes);
    let estimate = Estimate {
        ..Estimate::with_sd(then - start, sd.max(LEAST_SD_DEG), observed, Basis::Direct)
    };
    Ok(Outcome::measured(estimate, random, passes))
}
