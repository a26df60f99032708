//! Turns a recipe into the course of a clip: when each repetition happens, how it varies
//! from the others and what is wrong with it.
//!
//! In: a checked recipe. Out: the course (every joint angle at any time), the planned
//! times of each repetition and the clip's length in seconds.

use super::channel::Channel;
use super::course::{ArmCourse, Course, Wander};
use super::curve::GirdleHabit;
use super::exercise::{AxialRule, Coordinates, HANG, KeyPose, Motion, Protraction};
use super::fault::FaultKind;
use super::point::Side;
use super::random::{Purpose, Random};
use super::recipe::Recipe;

/// The planned times of one repetition, seconds.
#[derive(Clone, Debug)]
pub(super) struct Slot {
    pub number: u32,
    pub set: u32,
    pub complete: bool,
    /// The set's first moment.
    pub set_begin_s: f64,
    pub begin_s: f64,
    pub turn_s: f64,
    pub hold_end_s: f64,
    pub back_end_s: f64,
    pub end_s: f64,
    pub planted: Vec<(FaultKind, f64)>,
    /// When the blade's setting is half done.
    pub blade_set_s: Option<f64>,
    pub push_onset_s: Option<f64>,
    pub blade_release_s: Option<f64>,
}

/// The whole clip.
pub(super) struct Plan {
    pub course: Course,
    pub slots: Vec<Slot>,
    pub duration_s: f64,
}

// common practice, no source: how much repetitions of a careful person differ
const TEMPO_SD: f64 = 0.08;
const RANGE_SD_DEG: f64 = 3.0;
const PLANE_SD_DEG: f64 = 2.5;
const SHORTEST_PHASE_S: f64 = 0.35;

const SET_BLADE_S: f64 = 0.45;
const PUSH_S: f64 = 0.55;
const PUSH_HOLD_S: f64 = 0.3;
const READY_S: f64 = 1.5;
const SETTLE_S: f64 = 0.8;

/// The hanging pose in an exercise's own coordinates.
fn hanging(motion: &Motion) -> KeyPose {
    match motion.coordinates {
        Coordinates::ElevationPlane => KeyPose {
            second: motion.start.second,
            ..HANG
        },
        Coordinates::PathAhead => KeyPose {
            second: 4.0,
            ..HANG
        },
    }
}

struct Planner<'a> {
    recipe: &'a Recipe,
    motion: Motion,
    random: Random,
    course: Course,
    slots: Vec<Slot>,
    now_s: f64,
}

/// Plans the clip of a recipe.
pub(super) fn plan(recipe: &Recipe) -> Plan {
    let motion = recipe.exercise.motion();
    let mut planner = Planner {
        recipe,
        motion,
        random: Random::new(recipe.seed, Purpose::Motion),
        course: empty_course(recipe, &motion),
        slots: Vec::new(),
        now_s: 0.0,
    };
    planner.whole_clip();
    Plan {
        course: planner.course,
        slots: planner.slots,
        duration_s: planner.now_s,
    }
}

fn empty_course(recipe: &Recipe, motion: &Motion) -> Course {
    let mut random = Random::new(recipe.seed, Purpose::Timing);
    let v = recipe.variation;
    let mut arm = |side: Side| {
        let working = recipe.side.includes(side);
        let pose = if working { hanging(motion) } else { HANG };
        ArmCourse {
            working,
            coordinates: if working {
                motion.coordinates
            } else {
                Coordinates::ElevationPlane
            },
            axial: if working {
                motion.axial
            } else {
                AxialRule::Pose
            },
            first: Channel::at_rest(pose.first),
            second: Channel::at_rest(pose.second),
            rotation: Channel::at_rest(pose.rotation),
            elbow: Channel::at_rest(pose.elbow),
            sway: Wander::new(0.8 * v, &mut random),
            elbow_sway: Wander::new(1.5 * v, &mut random),
        }
    };
    let arms = [arm(Side::Left), arm(Side::Right)];
    let sway = [0.005, 0.005, 0.6, 0.4, 0.4].map(|sd| Wander::new(sd * v, &mut random));
    let drawn_gain = random.bounded(1.0, 0.1 * v);
    let habit = GirdleHabit {
        share_gain: recipe.share_gain.unwrap_or(drawn_gain),
        elevation_offset_deg: random.bounded(0.0, 3.0 * v),
        protraction_offset_deg: random.bounded(0.0, 3.0 * v),
        upward_offset_deg: random.bounded(0.0, 5.0 * v),
    };
    let still = || Channel::at_rest(0.0);
    Course {
        arms,
        blade: still(),
        push: still(),
        hike: still(),
        lowering: still(),
        lean_right: still(),
        lean_forward: still(),
        turn: still(),
        w: still(),
        heading: Channel::at_rest(recipe.camera_yaw_deg()),
        stride: still(),
        sway,
        curve: recipe.curve.clone(),
        habit,
    }
}

impl Planner<'_> {
    fn whole_clip(&mut self) {
        if self.recipe.extras.walk_in {
            self.walk_in();
        }
        self.now_s += self.recipe.still_s;
        let mut number = 0;
        for set in 1..=self.recipe.sets {
            self.take_position();
            let set_begin_s = self.now_s;
            for in_set in 1..=self.recipe.reps {
                number += 1;
                self.repetition(number, set, in_set, set_begin_s);
            }
            let last = set == self.recipe.sets;
            if last && self.recipe.extras.cut_off_end {
                self.repetition(number + 1, set, self.recipe.reps + 1, set_begin_s);
                self.cut_off();
                return;
            }
            self.leave_position();
            if !last {
                self.now_s += self.recipe.rest_s;
            }
        }
        self.now_s += self.recipe.still_s;
        if self.recipe.extras.walk_out {
            self.walk_out();
        }
    }

    /// Ends the clip in the last repetition's way out.
    fn cut_off(&mut self) {
        if let Some(slot) = self.slots.last_mut() {
            slot.complete = false;
            self.now_s = slot.begin_s + 0.75 * (slot.turn_s - slot.begin_s);
        }
    }

    fn near_phone_m(&self) -> f64 {
        self.recipe.distance_m - 0.9
    }

    /// The exercise's heading as the whole-turn equivalent nearest to "back to the camera".
    fn heading_from_behind(&self) -> f64 {
        let yaw = self.recipe.camera_yaw_deg();
        yaw + 360.0 * ((180.0 - yaw) / 360.0).round()
    }

    fn walk_in(&mut self) {
        let (t, near) = (self.now_s, self.near_phone_m());
        let yaw = self.heading_from_behind();
        let course = &mut self.course;
        course.heading = Channel::at_rest(0.0);
        course.heading.move_to(t + 0.6, t + 1.5, 180.0);
        course.heading.move_to(t + 3.9, t + 4.8, yaw);
        course.w = Channel::at_rest(near);
        course.w.move_to(t + 1.2, t + 4.0, 0.0);
        course.stride.move_to(t + 1.2, t + 1.8, 20.0);
        course.stride.move_to(t + 3.3, t + 4.0, 0.0);
        self.now_s += 5.0;
    }

    fn walk_out(&mut self) {
        let (t, near) = (self.now_s, self.near_phone_m());
        let course = &mut self.course;
        let facing = 360.0 * (course.heading.at(t) / 360.0).round();
        course.heading.move_to(t, t + 0.9, facing);
        course.w.move_to(t + 0.7, t + 3.4, near);
        course.stride.move_to(t + 0.7, t + 1.3, 20.0);
        course.stride.move_to(t + 2.8, t + 3.4, 0.0);
        self.now_s += 4.0;
    }

    fn working_arms(&mut self) -> impl Iterator<Item = &mut ArmCourse> {
        self.course.arms.iter_mut().filter(|arm| arm.working)
    }

    /// From hanging arms to the exercise's start.
    fn take_position(&mut self) {
        if self.motion.starts_hanging() {
            return;
        }
        let (t, start) = (self.now_s, self.motion.start);
        self.working_arms()
            .for_each(|arm| arm.move_to(t, t + READY_S, &start));
        self.now_s += READY_S + SETTLE_S;
    }

    fn leave_position(&mut self) {
        self.now_s += SETTLE_S / 2.0;
        if self.motion.starts_hanging() {
            return;
        }
        let (t, hang) = (self.now_s, hanging(&self.motion));
        self.working_arms()
            .for_each(|arm| arm.move_to(t, t + READY_S, &hang));
        self.now_s += READY_S;
    }

    fn amount(&self, planted: &[(FaultKind, f64)], kind: FaultKind) -> f64 {
        planted.iter().filter(|p| p.0 == kind).map(|p| p.1).sum()
    }

    fn planted(&self, number: u32, in_set: u32) -> Vec<(FaultKind, f64)> {
        let amounts = self
            .recipe
            .faults
            .iter()
            .map(|f| (f.kind, f.amount(number, in_set)));
        amounts.filter(|planted| planted.1 > 0.0).collect()
    }

    fn repetition(&mut self, number: u32, set: u32, in_set: u32, set_begin_s: f64) {
        let planted = self.planted(number, in_set);
        let motion = self.motion;
        let v = self.recipe.variation;
        let faster = self.amount(&planted, FaultKind::TooFast);
        let [out, hold, back, pause] = motion
            .tempo_s
            .map(|s| s * (TEMPO_SD * v * self.random.bounded(0.0, 1.0)).exp());
        let out = (out - faster).max(SHORTEST_PHASE_S.min(out));
        let back = (back - faster).max(SHORTEST_PHASE_S.min(back));
        let halts = self.recipe.extras.pause_halfway == Some(number);
        let halt = if halts { 1.0 } else { 0.0 };
        let prepares = motion.sets_blade || motion.rotates_first.is_some();
        let lead = if prepares { 0.7 } else { 0.25 };
        let after = match motion.protraction {
            Protraction::AtTheEnd => 0.12 + 2.0 * PUSH_S + PUSH_HOLD_S,
            _ => 0.0,
        };
        let begin_s = self.now_s;
        let move_s = begin_s + lead;
        let turn_s = move_s + out + halt;
        let hold_end_s = turn_s + hold;
        let back_end_s = hold_end_s + back;
        let mut slot = Slot {
            number,
            set,
            complete: true,
            set_begin_s,
            begin_s,
            turn_s,
            hold_end_s,
            back_end_s,
            end_s: back_end_s + after + pause,
            planted,
            blade_set_s: None,
            push_onset_s: None,
            blade_release_s: None,
        };
        self.now_s = slot.end_s;
        for side in Side::BOTH {
            if self.recipe.side.includes(side) {
                self.move_arm(side, &slot, move_s, halt);
            }
        }
        self.move_girdle(&mut slot, move_s);
        self.move_trunk(&slot, move_s);
        self.slots.push(slot);
    }

    /// This repetition's start and turning pose: natural variation, then the faults.
    fn poses(&mut self, slot: &Slot) -> (KeyPose, KeyPose) {
        let motion = self.motion;
        let v = self.recipe.variation;
        let (mut start, mut turn) = (motion.start, motion.turn);
        let of = |kind| self.amount(&slot.planted, kind);
        let toward_side = of(FaultKind::PlaneTowardSide) - of(FaultKind::PlaneTowardFront);
        let flare = of(FaultKind::FlaredElbow) - of(FaultKind::TuckedElbow);
        let (short, bend) = (of(FaultKind::ShortRange), of(FaultKind::ElbowBend));
        let range = (motion.signal_of(&turn) - motion.signal_of(&start))
            .abs()
            .max(1.0);
        let natural = self.random.bounded(0.0, RANGE_SD_DEG * v);
        turn = turn.toward(&start, ((short + natural) / range).min(0.9));
        let lateral = self.random.bounded(0.0, PLANE_SD_DEG * v);
        match motion.coordinates {
            Coordinates::ElevationPlane => {
                turn.second += lateral - toward_side;
                if start.first < 20.0 {
                    start.second = turn.second;
                }
            }
            Coordinates::PathAhead => {
                let bent = if start.elbow > turn.elbow {
                    &mut start
                } else {
                    &mut turn
                };
                bent.first = (bent.first + lateral + flare).clamp(0.0, 110.0);
            }
        }
        turn.elbow += bend;
        (start, turn)
    }

    fn move_arm(&mut self, side: Side, slot: &Slot, move_s: f64, halt_s: f64) {
        let (start, turn) = self.poses(slot);
        let inward = self.amount(&slot.planted, FaultKind::InternalRotation);
        let motion = self.motion;
        let [left, right] = &mut self.course.arms;
        let arm = match side {
            Side::Left => left,
            Side::Right => right,
        };
        let begin = KeyPose {
            rotation: motion.rotates_first.unwrap_or(start.rotation),
            ..start
        };
        arm.move_to(slot.begin_s, move_s, &begin);
        let out_s = slot.turn_s - move_s - halt_s;
        if halt_s > 0.0 {
            let half = begin.toward(&turn, 0.5);
            arm.key(move_s + 0.5 * out_s, &half);
            arm.key(move_s + 0.5 * out_s + halt_s, &half);
        } else if inward > 0.0 {
            let early = begin.rotation + 0.35 * (turn.rotation - begin.rotation);
            arm.rotation.key(move_s + 0.35 * out_s, early + inward);
        }
        // a plane that changes while the arm is up does so early on the way
        if (turn.second - begin.second).abs() > 1e-9
            && motion.coordinates == Coordinates::ElevationPlane
        {
            arm.second.key(move_s + 0.35 * out_s, turn.second);
        }
        let peak = KeyPose {
            rotation: turn.rotation + inward,
            ..turn
        };
        arm.key(slot.turn_s, &peak);
        arm.key(slot.hold_end_s, &peak);
        let back_s = slot.back_end_s - slot.hold_end_s;
        if inward > 0.0 {
            let late = start.rotation + 0.35 * (turn.rotation - start.rotation);
            arm.rotation
                .key(slot.back_end_s - 0.35 * back_s, late + inward);
        }
        let mut end = start;
        if let Some(ahead) = motion.comes_down_ahead {
            end.second = ahead + (turn.second - motion.turn.second);
            arm.second.key(slot.hold_end_s + 0.5 * back_s, end.second);
        } else if motion.coordinates == Coordinates::ElevationPlane
            && (turn.second - start.second).abs() > 1e-9
        {
            arm.second.key(slot.back_end_s - 0.35 * back_s, turn.second);
        }
        arm.key(slot.back_end_s, &end);
    }

    fn move_girdle(&mut self, slot: &mut Slot, move_s: f64) {
        let motion = self.motion;
        let late = self.amount(&slot.planted, FaultKind::BendBeforeBladeSet);
        let early = self.amount(&slot.planted, FaultKind::EarlyProtraction);
        let hike = self.amount(&slot.planted, FaultKind::EarlyHike);
        let course = &mut self.course;
        course.hike.move_to(slot.begin_s, move_s, hike);
        course.hike.move_to(slot.back_end_s, slot.end_s, 0.0);
        course.lowering.key(slot.turn_s, 0.0);
        course.lowering.key(slot.hold_end_s, 1.0);
        course.lowering.move_to(slot.back_end_s, slot.end_s, 0.0);
        if motion.sets_blade {
            let onset = (slot.begin_s + late).min(slot.turn_s - SET_BLADE_S);
            course.blade.move_to(onset, onset + SET_BLADE_S, 1.0);
            slot.blade_set_s = Some(onset + SET_BLADE_S / 2.0);
            let release = match motion.protraction {
                Protraction::AtTheEnd => slot.hold_end_s + 0.05,
                _ => slot.back_end_s + 0.1,
            };
            course.blade.move_to(release, release + SET_BLADE_S, 0.0);
            slot.blade_release_s = Some(release);
        }
        if motion.pulls_blade {
            course.blade.move_to(move_s, slot.turn_s, 1.0);
            course.blade.move_to(slot.hold_end_s, slot.back_end_s, 0.0);
        }
        let (straight, let_go) = match motion.protraction {
            Protraction::Never => return,
            Protraction::AtTheTurn => (slot.turn_s, slot.hold_end_s - PUSH_S),
            Protraction::AtTheEnd => {
                let straight = slot.back_end_s;
                (straight, straight + 0.12 + PUSH_S + PUSH_HOLD_S)
            }
        };
        let onset = (straight + 0.12 - early).max(move_s);
        course.push.move_to(onset, onset + PUSH_S, 1.0);
        course.push.move_to(
            let_go.max(onset + PUSH_S),
            let_go.max(onset + PUSH_S) + PUSH_S,
            0.0,
        );
        slot.push_onset_s = Some(onset);
    }

    fn move_trunk(&mut self, slot: &Slot, move_s: f64) {
        // away from a working right arm is to the left; both arms count as the right one
        let right = if self.recipe.side.includes(Side::Right) {
            1.0
        } else {
            -1.0
        };
        let away = -right * self.amount(&slot.planted, FaultKind::TrunkLeanSide);
        let back = -self.amount(&slot.planted, FaultKind::TrunkLeanBack);
        // turning to the right is negative
        let turn = -right * self.amount(&slot.planted, FaultKind::TrunkTurn);
        let course = &mut self.course;
        for (channel, value) in [
            (&mut course.lean_right, away),
            (&mut course.lean_forward, back),
            (&mut course.turn, turn),
        ] {
            channel.move_to(move_s, slot.turn_s, value);
            channel.move_to(slot.hold_end_s, slot.back_end_s, 0.0);
        }
    }
}
