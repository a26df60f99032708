//! Turns a recipe into the course of a clip: when each repetition happens, how it varies
//! from the others and what is wrong with it.
//!
//! In: a checked recipe. Out: the course (every joint angle at any time), the planned
//! times of each repetition and the clip's length in seconds.

use super::blade::OwnBlade;
use super::channel::Channel;
use super::course::{ArmCourse, Course, Wander};
use super::curve::GirdleHabit;
use super::exercise::{AxialRule, Coordinates, HANG, KeyPose, Motion};
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

/// A plan in the making.
pub(super) struct Planner<'a> {
    pub recipe: &'a Recipe,
    pub motion: Motion,
    pub random: Random,
    pub course: Course,
    pub slots: Vec<Slot>,
    pub now_s: f64,
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
        own: OwnBlade::new(&recipe.blade, recipe.seed),
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
}
