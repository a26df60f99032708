//! What a table of the 33 landmarks does not say: whether its numbers are picture or world coordinates, and
//! whether y counts upward.
//!
//! In: detections with x, y as picture and, where there is a z, x, y, z as a candidate for world coordinates.
//! Out: the same with only what it is, and a note. A body tells both: the middle of the hips is the origin of
//! world coordinates, and heads are above hips.

use super::landmarks::LEAST_VISIBILITY;
use crate::body::{Joint, Side};
use crate::geom;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::track::{Detection, PictureSize, Recording};

/// How far the middle of the hips lies from the origin of world coordinates, in metres: measured within
/// 0.9 mm in an open clip, with room for numbers that were rounded.
const ORIGIN: f64 = 0.005;
/// Share of detections that must agree (stated choice).
const AGREEING: f64 = 0.9;
/// Fewest detections from which anything is said (stated choice).
const FEWEST: usize = 5;
/// Picture coordinates up to this are shares of the picture, as in the assembling.
const SHARES_UP_TO: f64 = 3.0;

/// Settles both.
///
/// # Errors
/// World coordinates whose y counts upward: which way z counts then cannot be told.
pub fn settle(
    recording: &mut Recording,
    size: Option<PictureSize>,
    place: &Place,
) -> Result<(), Fault> {
    if candidates(recording) {
        if is_world(recording) {
            recording.frames.change_people(|one| one.picture.clear());
            recording.metres_per_unit = None;
            recording.notes.push(Note::new(
                "read/world-assumed",
                "The middle of the hips is the origin in nearly every frame: the numbers were taken as world \
                 coordinates, not as places in the picture.",
            ));
        } else {
            recording.frames.change_people(|one| one.space.clear());
        }
    }
    if upward_share(recording, Numbers::World).is_some() {
        return Err(Fault::new(
            FaultKind::Unsupported,
            "read/up-unknown",
            "y of the world coordinates counts upward, which the estimator's own does not, so that it \
             cannot be told which way z counts",
            place.clone().field("y and z"),
            "exporting the world landmarks as the estimator gives them, y down and z away from the camera",
        ));
    }
    if let Some(share) = upward_share(recording, Numbers::Picture) {
        turn_over(recording, size);
        recording.notes.push(Note::new(
            "read/y-up",
            format!(
                "The head lies at a larger y than the hips in {:.0} % of the frames: y was taken to count \
                 upward and was turned over.",
                100.0 * share
            ),
        ));
    }
    Ok(())
}

/// Which coordinates are looked at.
#[derive(Clone, Copy)]
enum Numbers {
    Picture,
    World,
}

/// Share of the detections whose y counts upward, if it is nearly all of enough of them.
fn upward_share(recording: &Recording, numbers: Numbers) -> Option<f64> {
    let heights = heights(recording, numbers);
    let upward = heights.iter().filter(|height| **height < 0.0).count();
    let share = upward as f64 / heights.len().max(1) as f64;
    (heights.len() >= FEWEST && share >= AGREEING).then_some(share)
}

/// Whether the same numbers stand as picture and as candidate for world coordinates.
fn candidates(recording: &Recording) -> bool {
    recording.frames.any_person(|one| {
        let pairs = one.picture.iter().zip(&one.space);
        let mut finite = pairs
            .filter(|(p, _)| p.iter().all(|v| v.is_finite()))
            .peekable();
        finite.peek().is_some() && finite.all(|(p, s)| p[0] == s[0] && p[1] == s[1])
    })
}

fn column(recording: &Recording, joint: Joint) -> Option<usize> {
    recording.joints.iter().position(|known| *known == joint)
}

fn middle<const N: usize>(points: &[[f32; N]], ends: [Option<usize>; 2]) -> Option<[f64; N]> {
    let [a, b] = ends;
    let (a, b) = (points.get(a?)?, points.get(b?)?);
    let mut middle = [0.0; N];
    for (axis, value) in middle.iter_mut().enumerate() {
        *value = f64::from(a.get(axis)? + b.get(axis)?) / 2.0;
    }
    middle
        .iter()
        .all(|value| value.is_finite())
        .then_some(middle)
}

/// Whether the middle of the hips is the origin in nearly every detection.
fn is_world(recording: &Recording) -> bool {
    let hips = Side::BOTH.map(|side| column(recording, Joint::Hip(side)));
    let middles = recording.frames.of_people(|one| middle(&one.space, hips));
    let at_origin = |m: &&[f64; 4]| m.iter().take(3).all(|value| value.abs() <= ORIGIN);
    let count = middles.iter().filter(at_origin).count();
    count >= FEWEST && count as f64 >= AGREEING * middles.len() as f64
}

/// How much larger y is at the hips than at the head, in each detection whose trunk is rather upright than
/// level.
fn heights(recording: &Recording, numbers: Numbers) -> Vec<f64> {
    let hips = Side::BOTH.map(|side| column(recording, Joint::Hip(side)));
    let nose = [column(recording, Joint::Nose); 2];
    let of = |one: &Detection| {
        // The estimator's guess of unseen hips still lies on their side of the head.
        let (head, hip) = match numbers {
            Numbers::Picture => {
                let (head, hip) = (middle(&one.picture, nose)?, middle(&one.picture, hips)?);
                ([head[0], head[1], head[2]], [hip[0], hip[1]])
            }
            Numbers::World => {
                let (head, hip) = (middle(&one.space, nose)?, middle(&one.space, hips)?);
                ([head[0], head[1], head[3]], [hip[0], hip[1]])
            }
        };
        let (across, along) = (hip[0] - head[0], hip[1] - head[1]);
        (head[2] >= LEAST_VISIBILITY && along.abs() > across.abs()).then_some(along)
    };
    recording.frames.of_people(of)
}

/// Turns y over: about the middle of the picture where its height is known, else about 0.
fn turn_over(recording: &mut Recording, size: Option<PictureSize>) {
    let (mut xs, mut ys) = (Vec::new(), Vec::new());
    recording.frames.each_person(|one| {
        for point in &one.picture {
            xs.extend(Some(f64::from(point[0]).abs()).filter(|x| x.is_finite()));
            ys.extend(Some(f64::from(point[1])).filter(|y| y.is_finite()));
        }
    });
    let shares = geom::median(xs).is_some_and(|x| x <= SHARES_UP_TO);
    let negative = geom::median(ys).is_some_and(|y| y < 0.0);
    let top = match (negative, shares, size) {
        // The top of the picture is 0 where y counts upward and is negative.
        (true, _, _) => 0.0,
        (false, true, _) => 1.0,
        (false, false, Some(size)) => size.height,
        (false, false, None) => 0.0,
    };
    recording.frames.change_people(|one| {
        let turn = |point: &mut [f32; 3]| point[1] = top as f32 - point[1];
        one.picture.iter_mut().for_each(turn);
    });
}
