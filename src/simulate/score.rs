//! True values of every repetition, from the noise-free joint angles.
//!
//! In: the plan and the body. Out: boundaries and values by measure id. Averages and
//! extremes are taken over even steps of 10 ms between start and end, so that lost frames
//! do not change them.
//! The ids are explained at [`RepTruth::values`].

use std::collections::BTreeMap;

use super::body::{SidePose, Skeleton, thorax_axes};
use super::course::{Course, direction};
use super::exercise::{Coordinates, Exercise, RepSignal};
use super::plan::{Plan, Slot};
use super::point::Side;
use super::truth::{ArmTruth, Planted, RepTruth};

/// Wraps an angle into (-180, 180].
pub(super) fn wrapped(degrees: f64) -> f64 {
    let turns = (degrees - 180.0) / 360.0;
    degrees - 360.0 * turns.ceil()
}

/// The angles of one arm as they are reported.
pub(super) fn arm_truth(skeleton: &Skeleton, pose: &SidePose) -> ArmTruth {
    let (arm, girdle) = (&pose.arm, &pose.girdle);
    let d = direction(arm.elevation_deg, arm.plane_deg);
    let (girdle_elevation_deg, girdle_protraction_deg) = skeleton.girdle_angles(girdle);
    ArmTruth {
        elevation_deg: arm.elevation_deg,
        plane_deg: wrapped(arm.plane_deg),
        axial_deg: wrapped(arm.axial_deg),
        rotation_sum_deg: wrapped(arm.plane_deg + arm.axial_deg),
        elbow_flexion_deg: arm.elbow_flexion_deg,
        elbow_path_deg: d.z.atan2(-d.y).to_degrees(),
        elbow_path_length: d.y.hypot(d.z),
        upward_rotation_deg: girdle.upward_rotation_deg,
        tilt_deg: girdle.tilt_deg,
        internal_rotation_deg: girdle.internal_rotation_deg,
        clavicle_elevation_deg: girdle.clavicle_elevation_deg,
        clavicle_protraction_deg: girdle.clavicle_protraction_deg,
        girdle_elevation_deg,
        girdle_protraction_deg,
    }
}

/// The angle of the trunk line against the vertical, degrees.
pub(super) fn trunk_lean(trunk: &super::body::TrunkPose) -> f64 {
    let y = thorax_axes(trunk).column(1).into_owned();
    y.x.hypot(y.z).atan2(y.y).to_degrees()
}

/// Share of a phase's greatest speed below which the arm counts as still.
const STILL: f64 = 0.05;
const STEP_S: f64 = 0.01;

struct Bounds {
    start_s: f64,
    hold_start_s: f64,
    hold_end_s: f64,
    end_s: f64,
}

/// The moment between `quiet_s` and `busy_s` at which `speed` crosses `threshold`, when it is
/// below at the first and above at the second.
fn crossing(speed: &dyn Fn(f64) -> f64, threshold: f64, quiet_s: f64, busy_s: f64) -> f64 {
    let (mut quiet, mut busy) = (quiet_s, busy_s);
    for _ in 0..40 {
        let middle = 0.5 * (quiet + busy);
        if speed(middle) > threshold {
            busy = middle;
        } else {
            quiet = middle;
        }
    }
    0.5 * (quiet + busy)
}

/// The first moment, going from `from_s` toward `to_s` (either way in time), at which the
/// speed exceeds the threshold.
fn first_above(speed: &dyn Fn(f64) -> f64, threshold: f64, from_s: f64, to_s: f64) -> f64 {
    let steps = ((to_s - from_s).abs() / STEP_S).ceil().max(1.0) as usize;
    let at = |k: usize| from_s + (to_s - from_s) * k as f64 / steps as f64;
    for k in 0..=steps {
        if speed(at(k)) > threshold {
            return match k {
                0 => from_s,
                _ => crossing(speed, threshold, at(k - 1), at(k)),
            };
        }
    }
    to_s
}

fn greatest(speed: &dyn Fn(f64) -> f64, from_s: f64, to_s: f64) -> f64 {
    let steps = ((to_s - from_s) / STEP_S).ceil().max(1.0) as usize;
    let at = |k: usize| from_s + (to_s - from_s) * k as f64 / steps as f64;
    (0..=steps).map(|k| speed(at(k))).fold(0.0, f64::max)
}

fn bounds(course: &Course, side: Side, signal: RepSignal, slot: &Slot) -> Bounds {
    let speed = |t: f64| course.signal_rate(side, signal, t).abs();
    let middle = 0.5 * (slot.turn_s + slot.hold_end_s);
    let out = STILL * greatest(&speed, slot.begin_s, middle);
    let back = STILL * greatest(&speed, middle, slot.end_s);
    Bounds {
        start_s: first_above(&speed, out, slot.begin_s, middle),
        hold_start_s: first_above(&speed, out, middle, slot.begin_s),
        hold_end_s: first_above(&speed, back, middle, slot.end_s),
        end_s: first_above(&speed, back, slot.end_s, middle),
    }
}

fn mean(pairs: impl Iterator<Item = (f64, f64)>) -> Option<f64> {
    let (sum, weight) = pairs.fold((0.0, 0.0), |acc, (v, w)| (acc.0 + v * w, acc.1 + w));
    (weight > 0.0).then(|| sum / weight)
}

/// Even samples of one arm over a stretch of time.
struct Stretch<'a> {
    samples: &'a [ArmTruth],
    from_s: f64,
    step_s: f64,
}

/// What the scoring of one clip needs.
pub(super) struct Scorer<'a> {
    pub exercise: Exercise,
    pub plan: &'a Plan,
    pub skeleton: &'a Skeleton,
    /// Times of the recorded frames.
    pub times_s: &'a [f64],
}

impl Scorer<'_> {
    fn sample(&self, side: Side, from_s: f64, to_s: f64) -> Vec<ArmTruth> {
        let steps = ((to_s - from_s) / STEP_S).round().max(1.0) as usize;
        let at = |k: usize| from_s + (to_s - from_s) * k as f64 / steps as f64;
        (0..=steps)
            .map(|k| arm_truth(self.skeleton, &self.plan.course.side(side, at(k))))
            .collect()
    }

    /// Scapular upward rotation at the first moment of a stretch at which the elevation passes
    /// `level`; `None` when it never does.
    fn upward_at(&self, side: Side, stretch: &Stretch<'_>, level: f64) -> Option<f64> {
        let above = |a: &ArmTruth| a.elevation_deg >= level;
        let first = above(stretch.samples.first()?);
        let index = stretch.samples.iter().position(|a| above(a) != first)?;
        let step_s = stretch.step_s;
        let mut same = stretch.from_s + step_s * (index as f64 - 1.0);
        let mut other = same + step_s;
        // straight lines between samples would cut the corners of the curve
        for _ in 0..30 {
            let middle = 0.5 * (same + other);
            let pose = self.plan.course.side(side, middle);
            if (pose.arm.elevation_deg >= level) == first {
                same = middle;
            } else {
                other = middle;
            }
        }
        let pose = self.plan.course.side(side, other);
        Some(pose.girdle.upward_rotation_deg)
    }

    /// Change of upward rotation per change of elevation between two elevations.
    fn share(&self, side: Side, stretch: &Stretch<'_>, from: f64, to: f64) -> Option<f64> {
        let first = self.upward_at(side, stretch, from)?;
        Some((self.upward_at(side, stretch, to)? - first) / (to - from))
    }

    fn frame(&self, time_s: f64) -> usize {
        let after = self.times_s.partition_point(|t| *t < time_s);
        let before = after.saturating_sub(1);
        let gap = |index: usize| self.times_s.get(index).map(|t| (t - time_s).abs());
        match (gap(before), gap(after)) {
            (Some(a), Some(b)) if b < a => after,
            _ => before,
        }
    }

    /// The truth of one repetition of one arm.
    pub(super) fn repetition(&self, slot: &Slot, side: Side) -> RepTruth {
        let signal = self.exercise.rep_signal();
        let mut b = bounds(&self.plan.course, side, signal, slot);
        let mut values = BTreeMap::new();
        if slot.complete {
            values = self.values(slot, side, &b);
        } else {
            let last = self.plan.duration_s;
            b.hold_start_s = last;
            b.hold_end_s = last;
            b.end_s = last;
        }
        let peak_s = 0.5 * (b.hold_start_s + b.hold_end_s);
        let planted = |(kind, amount): &(super::fault::FaultKind, f64)| Planted {
            kind: *kind,
            amount: *amount,
            unit: kind.unit().to_owned(),
        };
        RepTruth {
            number: slot.number,
            set: slot.set,
            side,
            complete: slot.complete,
            start_s: b.start_s,
            hold_start_s: b.hold_start_s,
            peak_s,
            hold_end_s: b.hold_end_s,
            end_s: b.end_s,
            start_frame: self.frame(b.start_s),
            peak_frame: self.frame(peak_s),
            end_frame: self.frame(b.end_s),
            faults: slot.planted.iter().map(planted).collect(),
            values,
        }
    }

    fn values(&self, slot: &Slot, side: Side, b: &Bounds) -> BTreeMap<String, f64> {
        let all = self.sample(side, b.start_s, b.end_s);
        let step_s = (b.end_s - b.start_s) / (all.len().saturating_sub(1).max(1)) as f64;
        // the sample just after the way out and the one just before the way back: both in the hold
        let turn = ((slot.turn_s - b.start_s) / step_s).ceil().max(0.0) as usize;
        let leave = ((slot.hold_end_s - b.start_s) / step_s).floor().max(0.0) as usize;
        let raise = all.get(..=turn).unwrap_or(&all);
        let lower = all.get(leave..).unwrap_or(&all);
        let mut values = BTreeMap::new();
        let mut put = |id: &str, value: Option<f64>| {
            if let Some(value) = value {
                values.insert(id.to_owned(), value);
            }
        };
        let spread = |pick: fn(&ArmTruth) -> f64| {
            all.iter()
                .map(pick)
                .fold((f64::MAX, f64::MIN), |(low, high), v| {
                    (low.min(v), high.max(v))
                })
        };
        let (low, high) = spread(|a| a.elevation_deg);
        put("peak-elevation", Some(high));
        put("elevation-range", Some(high - low));
        let (straightest, most_bent) = spread(|a| a.elbow_flexion_deg);
        put("elbow-range", Some(most_bent - straightest));
        put("elbow-straightest", Some(straightest));
        put("elbow-bent-most", Some(most_bent));
        put("raise-time", Some(b.hold_start_s - b.start_s));
        put("hold-time", Some(b.hold_end_s - b.hold_start_s));
        put("lower-time", Some(b.end_s - b.hold_end_s));
        let in_middle = all
            .iter()
            .filter(|a| (40.0..=140.0).contains(&a.elevation_deg));
        let weighted = in_middle.map(|a| (a.plane_deg, a.elevation_deg.to_radians().sin()));
        put("plane-of-elevation", mean(weighted));
        let bent = all
            .iter()
            .filter(|a| a.elbow_flexion_deg > 40.0 && a.elbow_path_length > 0.3);
        let pressed = self.exercise.motion().coordinates == Coordinates::PathAhead;
        let path = mean(bent.map(|a| (a.elbow_path_deg, 1.0)));
        put("elbow-path", path.filter(|_| pressed));
        let in_arc = |a: &&ArmTruth| (60.0..=120.0).contains(&a.elevation_deg);
        put(
            "arc-time",
            Some(all.iter().filter(in_arc).count() as f64 * step_s),
        );
        put(
            "outward-rotation-peak",
            (self.exercise == Exercise::OutwardRotation).then(|| -spread(|a| a.rotation_sum_deg).0),
        );
        let (back, front) = spread(|a| a.girdle_protraction_deg);
        put("protraction-travel", Some(front - back));
        self.girdle(slot, side, raise, &mut put);
        self.trunk(slot, b, &mut put);
        if self.exercise.rep_signal() == RepSignal::Elevation {
            let up = Stretch {
                samples: raise,
                from_s: b.start_s,
                step_s,
            };
            let down = Stretch {
                samples: lower,
                from_s: b.start_s + step_s * leave as f64,
                step_s,
            };
            self.rhythm(side, "raise", &up, raise.last(), &mut put);
            self.rhythm(side, "lower", &down, lower.first(), &mut put);
            let set = raise.first().zip(self.upward_at(side, &up, 30.0));
            put(
                "setting-rotation",
                set.map(|(first, at30)| at30 - first.upward_rotation_deg),
            );
        }
        self.order(slot, b, &mut put);
        values
    }

    fn rhythm(
        &self,
        side: Side,
        course: &str,
        stretch: &Stretch<'_>,
        top: Option<&ArmTruth>,
        put: &mut dyn FnMut(&str, Option<f64>),
    ) {
        for (from, to) in [(30.0, 60.0), (60.0, 90.0), (90.0, 120.0)] {
            let id = format!("rhythm-share-{course}-{from}-{to}");
            put(&id, self.share(side, stretch, from, to));
        }
        let at30 = self.upward_at(side, stretch, 30.0);
        let to_top = top
            .zip(at30)
            .map(|(top, at30)| (top.upward_rotation_deg - at30) / (top.elevation_deg - 30.0));
        put(&format!("rhythm-share-{course}-30-top"), to_top);
    }

    fn girdle(
        &self,
        slot: &Slot,
        side: Side,
        raise: &[ArmTruth],
        put: &mut dyn FnMut(&str, Option<f64>),
    ) {
        let at = |t: f64| arm_truth(self.skeleton, &self.plan.course.side(side, t));
        let first = at(slot.set_begin_s).girdle_elevation_deg;
        let top = at(0.5 * (slot.turn_s + slot.hold_end_s));
        put("girdle-rise", Some(top.girdle_elevation_deg - first));
        let starts_low = raise.first().is_some_and(|a| a.elevation_deg < 60.0);
        let at60 = raise.iter().find(|a| a.elevation_deg >= 60.0);
        let early = at60
            .filter(|_| starts_low)
            .map(|a| a.girdle_elevation_deg - first);
        put("girdle-early-rise", early);
    }

    fn trunk(&self, slot: &Slot, b: &Bounds, put: &mut dyn FnMut(&str, Option<f64>)) {
        let course = &self.plan.course;
        let first = course.trunk(slot.set_begin_s);
        let steps = ((b.end_s - b.start_s) / (2.0 * STEP_S)).round().max(1.0) as usize;
        let (mut lean, mut turn) = (0.0_f64, 0.0_f64);
        for k in 0..=steps {
            let now = course.trunk(b.start_s + (b.end_s - b.start_s) * k as f64 / steps as f64);
            let right = now.lean_right_deg - first.lean_right_deg;
            let forward = now.lean_forward_deg - first.lean_forward_deg;
            lean = lean.max(right.hypot(forward));
            turn = turn.max((now.yaw_deg - first.yaw_deg).abs());
        }
        put("trunk-lean", Some(lean));
        put("trunk-turn", Some(turn));
    }

    fn order(&self, slot: &Slot, b: &Bounds, put: &mut dyn FnMut(&str, Option<f64>)) {
        let wall = self.exercise == Exercise::WallPress;
        put(
            "blade-before-bend",
            slot.blade_set_s.map(|set| b.start_s - set),
        );
        let straight_s = if wall { b.end_s } else { b.hold_start_s };
        put(
            "straight-before-protraction",
            slot.push_onset_s.map(|onset| onset - straight_s),
        );
        let lowered_s = if wall { b.hold_start_s } else { b.end_s };
        put(
            "blade-held-lowering",
            slot.blade_release_s.map(|release| release - lowered_s),
        );
    }
}
