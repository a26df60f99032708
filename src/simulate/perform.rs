//! One repetition: how it varies from the others, what is wrong with it, and the keys it
//! adds to the clip's channels.
//!
//! In: the repetition's number and the planner's clock. Out: keys in the course's channels and
//! the repetition's planned times.

use super::exercise::{Coordinates, KeyPose, Protraction};
use super::fault::FaultKind;
use super::plan::{Planner, Slot};
use super::point::Side;

// common practice, no source: how much repetitions of a careful person differ
const TEMPO_SD: f64 = 0.08;
const RANGE_SD_DEG: f64 = 3.0;
const PLANE_SD_DEG: f64 = 2.5;
const SHORTEST_PHASE_S: f64 = 0.35;

const SET_BLADE_S: f64 = 0.45;
const PUSH_S: f64 = 0.55;
const PUSH_HOLD_S: f64 = 0.3;

impl Planner<'_> {
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

    /// Plans the next repetition.
    pub(super) fn repetition(&mut self, number: u32, set: u32, in_set: u32, set_begin_s: f64) {
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
