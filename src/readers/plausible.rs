//! Whether points, read in a certain order, form a body.
//!
//! In: detections as joints. Out: how often they pass tests that hold however the body is turned in the
//! picture; points in space, which no view shortens, are held to more. It is asked only where a layout rests on
//! the number of keypoints alone.

use crate::body::{Joint, Side};
use crate::track::{Detection, Recording};
use nalgebra::Vector3;

/// Detections looked at, spread over the clip.
const MOST: usize = 400;
/// Fewest detections from which anything is said (stated choice).
const FEWEST: usize = 5;
/// Share of detections that must pass (stated choice: a real layout passes nearly always, a wrong one hardly
/// ever).
const PASSING: f64 = 0.5;
/// Longest upper arm or forearm in trunk lengths; a person's is 0.65 and 0.5, a picture may shorten the trunk
/// by half (from memory, not verified).
const LONGEST_BONE: f64 = 1.5;
/// Ratio of the two sides of the trunk: within 40 per cent (stated choice).
const SIDE_RATIO: f64 = 1.4;
/// Farthest that the base of the neck lies from the middle of the shoulders in space, in trunk lengths (stated
/// choice: raised shoulders move it by less).
const NECK_FROM_SHOULDERS: f64 = 0.35;

/// How the test came out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Plausible {
    /// Share of detections that look like a body, and whether that is enough.
    Tested {
        /// Passing share, 0..1.
        share: f64,
        /// Whether it is enough.
        is_body: bool,
    },
    /// Too few detections show the points the tests need.
    Untested,
}

/// Tests a recording.
pub fn test(recording: &Recording) -> Plausible {
    let mut all = 0;
    recording.frames.each(|frame| all += frame.people.len());
    let every = (all / MOST).max(1);
    let mut next = 0;
    let verdicts: Vec<bool> = recording.frames.of_people(|one| {
        let looked_at = next % every == 0;
        next += 1;
        let is_body = || is_body(one, &recording.joints, recording.least_score);
        looked_at.then(is_body).flatten()
    });
    if verdicts.len() < FEWEST {
        return Plausible::Untested;
    }
    let passed = verdicts.iter().filter(|passed| **passed).count();
    let share = passed as f64 / verdicts.len() as f64;
    Plausible::Tested {
        share,
        is_body: share >= PASSING,
    }
}

/// Whether one detection passes; `None` if shoulders, hips and nose are not all there.
fn is_body(one: &Detection, joints: &[Joint], least: f64) -> Option<bool> {
    let at = |joint: Joint| {
        let column = joints.iter().position(|candidate| *candidate == joint)?;
        let [x, y, z, score] = match one.picture.get(column) {
            Some([x, y, score]) => [*x, *y, 0.0, *score],
            None => *one.space.get(column)?,
        };
        let seen = score > 0.0 && f64::from(score) >= least;
        let at = Vector3::new(f64::from(x), f64::from(y), f64::from(z));
        (seen && at.iter().all(|value| value.is_finite())).then_some(at)
    };
    let [left, right] =
        Side::BOTH.map(|side| Some((at(Joint::Shoulder(side))?, at(Joint::Hip(side))?, side)));
    let (left, right) = (left?, right?);
    // A layout without a nose is tested without it.
    let nose = match joints.contains(&Joint::Nose) {
        true => Some(at(Joint::Nose)?),
        false => None,
    };
    let shoulders = (left.0 + right.0) / 2.0;
    let hips = (left.1 + right.1) / 2.0;
    let trunk = shoulders - hips;
    let length = trunk.norm();
    // The hips are on the far side of the shoulders from the nose.
    let head_beyond = nose
        .is_none_or(|nose| (nose - shoulders).dot(&trunk) > 0.0 && (nose - hips).norm() > length);
    let (a, b) = ((left.0 - left.1).norm(), (right.0 - right.1).norm());
    let sides_alike = a.max(b) <= SIDE_RATIO * a.min(b);
    let arms_short = Side::BOTH.into_iter().all(|side| {
        let chain = [
            Joint::Shoulder(side),
            Joint::Elbow(side),
            Joint::Wrist(side),
        ]
        .map(at);
        let bone = |a: Option<Vector3<f64>>, b: Option<Vector3<f64>>| match (a, b) {
            (Some(a), Some(b)) => (a - b).norm() <= LONGEST_BONE * length,
            _ => true,
        };
        let [shoulder, elbow, wrist] = chain;
        bone(shoulder, elbow) && bone(elbow, wrist)
    });
    let in_space = one.picture.is_empty();
    let not_twisted = (left.0 - right.0).dot(&(left.1 - right.1)) > 0.0;
    let neck_between = at(Joint::Neck)
        .is_none_or(|neck| (neck - shoulders).norm() <= NECK_FROM_SHOULDERS * length);
    let upper = Side::BOTH.map(|side| at(Joint::Elbow(side)).zip(at(Joint::Shoulder(side))));
    let arms_alike = match upper.map(|ends| ends.map(|(a, b)| (a - b).norm())) {
        [Some(a), Some(b)] => a.max(b) <= SIDE_RATIO * a.min(b),
        _ => true,
    };
    let body_in_space = not_twisted && neck_between && arms_alike;
    Some(length > 0.0 && head_beyond && sides_alike && arms_short && (!in_space || body_in_space))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::track::RecordingFrame;

    fn recording(points: &[(Joint, [f32; 2])]) -> Recording {
        let joints = points.iter().map(|(joint, _)| *joint).collect();
        let mut recording = Recording::new("t", "t", joints);
        let one = Detection {
            id: None,
            picture: points.iter().map(|(_, [x, y])| [*x, *y, 1.0]).collect(),
            space: Vec::new(),
        };
        let frame = RecordingFrame {
            people: vec![one],
            ..RecordingFrame::default()
        };
        recording.frames = vec![frame; 9].into();
        recording
    }

    fn standing() -> Vec<(Joint, [f32; 2])> {
        vec![
            (Joint::Nose, [100.0, 20.0]),
            (Joint::Shoulder(Side::Left), [120.0, 60.0]),
            (Joint::Shoulder(Side::Right), [80.0, 60.0]),
            (Joint::Hip(Side::Left), [112.0, 160.0]),
            (Joint::Hip(Side::Right), [88.0, 160.0]),
            (Joint::Elbow(Side::Left), [125.0, 120.0]),
        ]
    }

    #[test]
    fn a_body_passes_however_it_is_turned() {
        let turned = |(x, y): (f32, f32)| {
            standing()
                .into_iter()
                .map(|(joint, [a, b])| (joint, [x * a - y * b, y * a + x * b]))
                .collect::<Vec<_>>()
        };
        for turn in [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)] {
            assert_eq!(
                test(&recording(&turned(turn))),
                Plausible::Tested {
                    share: 1.0,
                    is_body: true
                }
            );
        }
    }

    /// The same points in space, in a plane.
    fn in_space(points: &[(Joint, [f32; 2])]) -> Recording {
        let mut recording = recording(points);
        recording.frames.change_people(|one| {
            let flat = std::mem::take(&mut one.picture);
            one.space = flat.iter().map(|[x, y, s]| [*x, *y, 5.0, *s]).collect();
        });
        recording
    }

    #[test]
    fn points_in_space_are_held_to_more() {
        let passes = |recording: &Recording| match test(recording) {
            Plausible::Tested { is_body, .. } => is_body,
            Plausible::Untested => panic!("it has the points"),
        };
        assert!(passes(&in_space(&standing())));
        let mut twisted = standing();
        (twisted[3].1, twisted[4].1) = (twisted[4].1, twisted[3].1);
        assert!(passes(&recording(&twisted)) && !passes(&in_space(&twisted)));
        let mut neck = standing();
        neck.push((Joint::Neck, [100.0, 110.0]));
        assert!(passes(&recording(&neck)) && !passes(&in_space(&neck)));
        let mut long = standing();
        long.push((Joint::Elbow(Side::Right), [70.0, 180.0]));
        assert!(passes(&recording(&long)) && !passes(&in_space(&long)));
    }

    #[test]
    fn exchanged_ends_fail_and_missing_hips_are_untested() {
        let mut wrong = standing();
        let nose = wrong[0].1;
        (wrong[0].1, wrong[3].1) = (wrong[3].1, nose);
        assert!(matches!(
            test(&recording(&wrong)),
            Plausible::Tested { is_body: false, .. }
        ));
        assert_eq!(test(&recording(&standing()[..3])), Plausible::Untested);
    }
}
