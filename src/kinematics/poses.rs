//! The poses of a clip, each made when it is looked at, and their angles over time.
//!
//! Kept for all frames, poses would take more memory than the track they come from.

use super::angles::Angles;
use super::pose::Role;
use super::signal::Signal;
use super::spread::Pose;
use super::values::Values;
use rayon::prelude::*;

/// Fewest frames for which another core is asked to help, and most that one core takes at once.
const AT_ONCE: std::ops::RangeInclusive<usize> = 128..=4096;

/// The poses of a clip.
pub trait Poses: Sync {
    /// What each is.
    type Pose: Pose;
    /// Number of frames.
    fn frames(&self) -> usize;
    /// The pose of a frame.
    fn at(&self, frame: usize) -> Self::Pose;
    /// Something of every pose, on all cores.
    fn map<T: Send>(&self, of: impl Fn(&Self::Pose) -> T + Sync + Send) -> Vec<T> {
        (0..self.frames())
            .into_par_iter()
            .with_min_len(*AT_ONCE.start())
            .map(|frame| of(&self.at(frame)))
            .collect()
    }
}

/// The points of a frame by [`Role`] index, where the role has a column.
#[inline(always)]
pub fn points_of<P: Copy>(
    columns: &[Option<usize>; Role::COUNT],
    at: impl Fn(usize) -> Option<P>,
) -> [Option<P>; Role::COUNT] {
    let mut points = [None; Role::COUNT];
    for (point, column) in points.iter_mut().zip(columns) {
        if let Some(column) = column {
            *point = at(*column);
        }
    }
    points
}

/// Angles over time: by [`Signal::index`] one value for each frame. A signal that is never there has no values.
pub struct Courses([Values; Signal::COUNT]);

impl Courses {
    /// Angles of every pose, on all cores.
    pub fn of<P: Poses>(poses: &P) -> Courses {
        let frames = poses.frames();
        let mut courses: [Values; Signal::COUNT] = Default::default();
        let parts = 4 * rayon::current_num_threads();
        let length = (frames / parts).clamp(*AT_ONCE.start(), *AT_ONCE.end());
        let mut from = 0;
        while from < frames {
            let to = frames.min(from + parts * length);
            let angles: Vec<Angles> = (from..to)
                .into_par_iter()
                .with_min_len(length)
                .map(|frame| poses.at(frame).angles())
                .collect();
            for (signal, values) in courses.iter_mut().enumerate() {
                let of_signal = || angles.iter().map(move |angles| angles[signal]);
                if values.is_empty() && of_signal().all(|value| value.is_none()) {
                    continue;
                }
                values.fill(from);
                values.append(of_signal(), frames);
            }
            from = to;
        }
        for values in courses.iter_mut().filter(|all| !all.is_empty()) {
            values.fill(frames);
        }
        Courses(courses)
    }

    /// Values of a signal, if it is ever there.
    pub fn get(&self, signal: Signal) -> Option<&Values> {
        let values = self.0.get(signal.index())?;
        (!values.is_empty()).then_some(values)
    }

    /// The values by signal.
    pub fn into_values(self) -> [Values; Signal::COUNT] {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::Side;
    use crate::kinematics::pose::{Lower, Rightward, Role, TrunkPlan, Upper};
    use crate::kinematics::space::{CollarStart, RightwardFix, SpacePose, SpacePoses};
    use crate::kinematics::{Blade, Spread};
    use crate::track::{Layer, Presence};
    use nalgebra::Vector3;

    const NOTHING: Spread = Spread {
        value: 0.0,
        sd: 0.0,
    };

    /// An arm that goes up and down; the wrist comes into view late.
    fn layer(frames: usize, wrist_from: usize) -> Layer {
        let still = [
            (0, [0.1, 0.0, 0.0]),
            (1, [-0.1, 0.0, 0.0]),
            (2, [0.2, 0.5, 0.0]),
            (3, [-0.2, 0.5, 0.0]),
        ];
        let mut layer = Layer::missing(frames, 6, 3);
        for frame in 0..frames {
            for (joint, at) in still {
                layer.set(frame, joint, &at, 1.0, Presence::Seen);
            }
            let (sin, cos) = (frame as f64 / 50.0).sin().sin_cos();
            let elbow = [-0.2 - 0.3 * sin, 0.5 - 0.3 * cos, 0.02];
            layer.set(frame, 4, &elbow, 1.0, Presence::Seen);
            if frame >= wrist_from {
                let wrist = [elbow[0], elbow[1], elbow[2] + 0.25];
                layer.set(frame, 5, &wrist, 1.0, Presence::Seen);
            }
        }
        layer
    }

    fn poses(layer: &Layer) -> SpacePoses<'_> {
        let roles = [
            Role::HipLeft,
            Role::HipRight,
            Role::ShoulderLeft,
            Role::ShoulderRight,
            Role::Elbow,
            Role::Wrist,
        ];
        let column = |role: Role| roles.iter().position(|known| *known == role);
        SpacePoses {
            layer,
            columns: Role::ALL.map(column),
            every: SpacePose {
                side: Side::Right,
                plan: TrunkPlan {
                    lower: Lower::Hips,
                    upper: Upper::MidShoulder,
                    rightward: Rightward::Hips,
                },
                points: [None; Role::COUNT],
                girdle: Role::ShoulderRight,
                collar: CollarStart::Unknown,
                facing: Some(Vector3::z()),
                rightward_fix: RightwardFix::default(),
                blade: Blade {
                    internal_rotation_deg: NOTHING,
                    internal_rotation_per_elevation: NOTHING,
                    skin_per_elevation: NOTHING,
                    dot_m: 0.0,
                },
            },
        }
    }

    #[test]
    fn courses_hold_the_angles_of_every_pose() {
        const FRAMES: usize = 70_000;
        for wrist_from in [0, 3, 66_000, FRAMES] {
            let layer = layer(FRAMES, wrist_from);
            let poses = poses(&layer);
            let courses = Courses::of(&poses);
            let angles = poses.map(|pose| (pose.angles(), pose.arm_deg()));
            for signal in Signal::ALL {
                let by_frame = angles.iter().map(|(angles, _)| angles[signal.index()]);
                match courses.get(signal) {
                    Some(course) => assert!(by_frame.eq(course.iter()), "{signal:?}"),
                    None => assert!(by_frame.flatten().next().is_none(), "{signal:?}"),
                }
            }
            let bent = courses.get(Signal::ElbowFlexion);
            assert_eq!(bent.is_some(), wrist_from < FRAMES);
            for (angles, arm) in angles {
                let [plane, elevation] =
                    [Signal::Plane, Signal::Elevation].map(|signal| angles[signal.index()]);
                assert_eq!(arm, plane.zip(elevation));
                assert!(elevation.is_some());
            }
        }
    }
}
