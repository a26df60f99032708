//! The uncertain numbers of a pose in one picture, and how each is nudged.
//!
//! In: a pose and the errors of its points. Out: one [`Nudge`] for each coordinate that is seen and for each thing that is
//! assumed of the body, the view and the lens, numbered alike in every frame.

use super::{CollarFrom, PicturePose};
use crate::kinematics::pose::{PointErrors, Role};
use crate::kinematics::spread::{Nudge, Step};
use nalgebra::Vector2;

pub(super) fn of(pose: &PicturePose, errors: &PointErrors<2>) -> Vec<Nudge<PicturePose>> {
    let mut out: Vec<Nudge<PicturePose>> = Vec::with_capacity(2 * Role::COUNT + 9);
    for role in Role::ALL {
        let index = role as usize;
        let (Some(Some(_)), Some(random), Some(systematic)) = (
            pose.points.get(index),
            errors.random.get(index),
            errors.systematic.get(index),
        ) else {
            continue;
        };
        // A dot is put down beside its bony point and then goes with the blade.
        let on_blade = role.is_on_blade();
        for axis in 0..2 {
            let number = 2 * index + axis;
            if on_blade {
                out.push(Nudge {
                    number,
                    random: 0.0,
                    systematic: systematic[axis],
                    step: Step {
                        add: PicturePose::move_with_blade,
                        at: [index, axis],
                    },
                });
            }
            out.push(Nudge {
                number,
                random: random[axis],
                systematic: if on_blade { 0.0 } else { systematic[axis] },
                step: Step {
                    add: PicturePose::move_point,
                    at: [index, axis],
                },
            });
        }
    }
    let mut number = 2 * Role::COUNT;
    let mut clip_long = |sd: f64, add: fn(&mut PicturePose, [usize; 2], f64)| {
        number += 1;
        out.push(Nudge {
            number,
            random: 0.0,
            systematic: sd,
            step: Step { add, at: [0, 0] },
        });
    };
    clip_long(pose.upper_arm.sd, |pose, _, step| {
        pose.upper_arm.value += step
    });
    clip_long(pose.forearm.sd, |pose, _, step| pose.forearm.value += step);
    clip_long(pose.half_shoulder.sd, |pose, _, step| {
        pose.half_shoulder.value += step
    });
    clip_long(pose.yaw.deg.sd, |pose, _, step| {
        pose.yaw = pose.yaw.further(step);
    });
    clip_long(pose.unseen_lean.deg.sd, |pose, _, step| {
        pose.unseen_lean = pose.unseen_lean.further(step);
    });
    clip_long(pose.lens.centre_sd, |pose, _, step| {
        pose.lens.centre.x += step
    });
    clip_long(pose.lens.centre_sd, |pose, _, step| {
        pose.lens.centre.y += step
    });
    clip_long(pose.lens.focal.sd, |pose, _, step| {
        pose.lens.focal.value = (pose.lens.focal.value + step).max(1.0);
    });
    clip_long(
        pose.plane_hint.map_or(0.0, |plane| plane.sd),
        |pose, _, step| {
            if let Some(plane) = &mut pose.plane_hint {
                plane.value += step;
            }
        },
    );
    if let CollarFrom::Seen(length) = pose.collar {
        clip_long(length.sd, |pose, _, step| {
            if let CollarFrom::Seen(length) = &mut pose.collar {
                length.value += step;
            }
        });
    }
    if pose.elbow_sign_guessed {
        clip_long(1.0, |pose, _, _| {
            pose.elbow_depth_sign = -pose.elbow_depth_sign
        });
    }
    if pose.at(Role::SpineRoot).is_some() {
        let blade = pose.blade;
        clip_long(blade.internal_rotation_deg.sd, |pose, _, step| {
            pose.blade.internal_rotation_deg.value += step;
        });
        clip_long(blade.internal_rotation_per_elevation.sd, |pose, _, step| {
            pose.blade.internal_rotation_per_elevation.value += step;
        });
        clip_long(blade.skin_per_elevation.sd, |pose, _, step| {
            pose.blade.skin_per_elevation.value += step;
        });
    }
    out
}

impl PicturePose {
    /// Moves a point along an axis of the picture.
    fn move_point(&mut self, [point, axis]: [usize; 2], step: f64) {
        if let Some(Some(point)) = self.points.get_mut(point) {
            point[axis] += step;
        }
    }

    /// Moves a point along the spine of the scapula, or across it.
    fn move_with_blade(&mut self, [point, axis]: [usize; 2], step: f64) {
        let Some(along) = self.seen_spine() else {
            return;
        };
        let across = Vector2::new(-along.y, along.x);
        if let Some(Some(point)) = self.points.get_mut(point) {
            *point += [along, across][axis] * step;
        }
    }
}
