//! The known truth of a clip, as plain data.
//!
//! Angles in degrees, times in seconds, positions in metres. Left and right are mirrored,
//! so that one number means one clinical motion on both sides.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::build::Build;
use super::curve::GirdleHabit;
use super::exercise::{Exercise, RepSignal};
use super::fault::FaultKind;
use super::noise::Noise;
use super::point::{Point, Points, Side};
use super::recipe::Working;

/// One arm and girdle at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ArmTruth {
    /// Thoracohumeral elevation.
    pub elevation_deg: f64,
    /// Plane of elevation (no meaning near elevation 0 and 180).
    pub plane_deg: f64,
    /// ISB axial rotation, internal positive, (-180, 180].
    pub axial_deg: f64,
    /// Plane plus axial rotation, (-180, 180]: the only rotation that is defined while the
    /// arm hangs; the bent forearm points forward at 0, inward when positive.
    pub rotation_sum_deg: f64,
    /// Elbow flexion.
    pub elbow_flexion_deg: f64,
    /// Upper arm seen along the trunk's X axis, against the downward trunk line.
    pub elbow_path_deg: f64,
    /// Length of that view of the upper arm, 0 to 1.
    pub elbow_path_length: f64,
    /// Scapular upward rotation.
    pub upward_rotation_deg: f64,
    /// Scapular tilt, posterior positive.
    pub tilt_deg: f64,
    /// Scapular internal rotation.
    pub internal_rotation_deg: f64,
    /// Clavicle elevation.
    pub clavicle_elevation_deg: f64,
    /// Clavicle protraction.
    pub clavicle_protraction_deg: f64,
    /// Elevation of the joint centre about the sternal end.
    pub girdle_elevation_deg: f64,
    /// Protraction of the joint centre about the sternal end.
    pub girdle_protraction_deg: f64,
}

/// One frame.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameTruth {
    /// True time since the clip's start.
    pub time_s: f64,
    /// Person's yaw toward the camera, (-180, 180].
    pub yaw_deg: f64,
    /// Angle of the trunk line against the vertical.
    pub trunk_lean_deg: f64,
    /// Its part to the person's right.
    pub lean_right_deg: f64,
    /// Its part forward.
    pub lean_forward_deg: f64,
    /// Turn of the trunk to the person's left from the planned heading, (-180, 180].
    pub trunk_turn_deg: f64,
    /// Left arm.
    pub left: ArmTruth,
    /// Right arm.
    pub right: ArmTruth,
    /// All points in the room.
    pub points: Points,
}

impl FrameTruth {
    /// The arm of a side.
    pub fn arm(&self, side: Side) -> &ArmTruth {
        match side {
            Side::Left => &self.left,
            Side::Right => &self.right,
        }
    }
}

/// A fault as planted in one repetition.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Planted {
    /// The fault.
    pub kind: FaultKind,
    /// How much.
    pub amount: f64,
    /// `deg` or `s`.
    pub unit: String,
}

/// One repetition of one arm.
///
/// Boundaries, on the noise-free signal: it starts where the signal's speed first exceeds
/// 5 % of the outward phase's greatest speed and ends where the speed was last above 5 % of
/// the returning phase's greatest; the hold is what lies around the turning point between
/// the last such moment of the outward and the first of the returning phase. The peak is
/// the hold's middle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RepTruth {
    /// Number through the clip, from 1.
    pub number: u32,
    /// Set, from 1.
    pub set: u32,
    /// The arm.
    pub side: Side,
    /// False when the clip's end cuts it off; such a repetition has no values.
    pub complete: bool,
    /// First moment.
    pub start_s: f64,
    /// Start of the hold.
    pub hold_start_s: f64,
    /// Middle of the hold.
    pub peak_s: f64,
    /// End of the hold.
    pub hold_end_s: f64,
    /// Last moment.
    pub end_s: f64,
    /// The recorded frame nearest to the start.
    pub start_frame: usize,
    /// The recorded frame nearest to the peak.
    pub peak_frame: usize,
    /// The recorded frame nearest to the end.
    pub end_frame: usize,
    /// What was planted.
    pub faults: Vec<Planted>,
    /// True values by measure id, in degrees, seconds or (shares) plain numbers; an id is absent
    /// where it has no meaning in the exercise or the movement does not reach it.
    ///
    /// - `peak-elevation`, `elevation-range`, `elbow-range`, `elbow-straightest`,
    ///   `elbow-bent-most`: extremes between start and end.
    /// - `raise-time`, `hold-time`, `lower-time`: start to hold, the hold, hold to end; the
    ///   outward phase counts as the raise whatever the exercise.
    /// - `plane-of-elevation`: mean weighted by the sine of the elevation while that lies
    ///   between 40 and 140 degrees.
    /// - `elbow-path`: presses and row; mean while the elbow is bent more than 40 degrees and
    ///   the upper arm's view along the trunk's X axis keeps 0.3 of its length.
    /// - `arc-time`: time with the elevation between 60 and 120 degrees.
    /// - `outward-rotation-peak`: greatest outward value of plane plus axial rotation.
    /// - `girdle-rise`, `girdle-early-rise`: change of the joint centre's elevation about the
    ///   sternal end from the set's first moment to the peak, and to 60 degrees of elevation.
    /// - `protraction-travel`: range of the joint centre's protraction.
    /// - `trunk-lean`, `trunk-turn`: largest change from the set's first moment; lean as the
    ///   length of the change of its two parts.
    /// - `rhythm-share-raise-30-60`, `-60-90`, `-90-120`, `-30-top` and `rhythm-share-lower-…`:
    ///   change of upward rotation per change of elevation between the two elevations.
    /// - `setting-rotation`: upward rotation gained from the start to 30 degrees of elevation.
    /// - Order of events, positive in the right order: `blade-before-bend` from the middle of
    ///   the blade's setting to the start; `straight-before-protraction` from the end of
    ///   straightening to the onset of the push; `blade-held-lowering` from the end of the
    ///   lowering phase (the bend in the wall press, the way back elsewhere) to the blade's release.
    pub values: BTreeMap<String, f64>,
}

impl RepTruth {
    /// A true value by its measure id.
    pub fn value(&self, id: &str) -> Option<f64> {
        self.values.get(id).copied()
    }

    /// How much of a fault was planted; 0 when none.
    pub fn planted(&self, kind: FaultKind) -> f64 {
        let mine = self.faults.iter().filter(|planted| planted.kind == kind);
        mine.map(|planted| planted.amount).sum()
    }
}

/// Where the camera was.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CameraTruth {
    /// The person's planned yaw toward the camera, (-180, 180].
    pub yaw_deg: f64,
    /// Distance to the person's place.
    pub distance_m: f64,
    /// Height above the floor.
    pub height_m: f64,
    /// Focal length in pixels.
    pub focal_px: f64,
    /// Picture width.
    pub width_px: u32,
    /// Picture height.
    pub height_px: u32,
}

/// Everything known about a clip.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// The exercise.
    pub exercise: Exercise,
    /// The signal whose course marks the repetitions.
    pub rep_signal: RepSignal,
    /// The working arm.
    pub side: Working,
    /// The seed.
    pub seed: u64,
    /// Planned frame rate.
    pub rate_hz: f64,
    /// Length of the clip.
    pub duration_s: f64,
    /// Body dimensions.
    pub build: Build,
    /// How this person's girdle departs from the curve.
    pub habit: GirdleHabit,
    /// The camera.
    pub camera: CameraTruth,
    /// Damage of the keypoints.
    pub noise: Noise,
    /// Repetitions in order of time; with two working arms left and right follow each other.
    pub reps: Vec<RepTruth>,
    /// Recorded frames.
    pub frames: Vec<FrameTruth>,
}

/// How much of the truth is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// Settings and repetitions.
    Repetitions,
    /// The angles of each frame too.
    Angles,
    /// The true position of each point in each frame too.
    Points,
}

fn rounded(value: f64, places: f64) -> f64 {
    (value * places).round() / places
}

impl Truth {
    /// The repetitions of one arm.
    pub fn reps_of(&self, side: Side) -> impl Iterator<Item = &RepTruth> {
        self.reps.iter().filter(move |rep| rep.side == side)
    }

    /// The truth as JSON; frames are written with 0.001 degree and 0.01 mm.
    pub fn json(&self, detail: Detail) -> Value {
        let mut value = json!({
            "exercise": self.exercise,
            "rep_signal": self.rep_signal,
            "side": self.side,
            "seed": self.seed,
            "rate_hz": self.rate_hz,
            "duration_s": self.duration_s,
            "build": self.build,
            "girdle_habit": self.habit,
            "camera": self.camera,
            "noise": self.noise,
            "reps": self.reps,
        });
        if detail != Detail::Repetitions {
            let frames = self.frames.iter().map(|frame| frame_json(frame, detail));
            value["frames"] = frames.collect();
        }
        if detail == Detail::Points {
            value["points"] = Point::ALL.iter().map(|point| point.id()).collect();
        }
        value
    }
}

fn frame_json(frame: &FrameTruth, detail: Detail) -> Value {
    let deg = |value: f64| rounded(value, 1e3);
    let arm = |arm: &ArmTruth| {
        let mut value = json!(arm);
        if let Value::Object(fields) = &mut value {
            for field in fields.values_mut() {
                if let Some(number) = field.as_f64() {
                    *field = json!(deg(number));
                }
            }
        }
        value
    };
    let mut value = json!({
        "time_s": rounded(frame.time_s, 1e6),
        "yaw_deg": deg(frame.yaw_deg),
        "trunk_lean_deg": deg(frame.trunk_lean_deg),
        "lean_right_deg": deg(frame.lean_right_deg),
        "lean_forward_deg": deg(frame.lean_forward_deg),
        "trunk_turn_deg": deg(frame.trunk_turn_deg),
        "left": arm(&frame.left),
        "right": arm(&frame.right),
    });
    if detail == Detail::Points {
        let place = |point: &Point| {
            let p = frame.points[*point];
            json!([rounded(p.x, 1e5), rounded(p.y, 1e5), rounded(p.z, 1e5)])
        };
        value["points_m"] = Point::ALL.iter().map(place).collect();
    }
    value
}
