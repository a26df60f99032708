//! What the numbers of a point are, where neither names nor units were stored with them.
//!
//! In: joints of every frame as two to four numbers in the file's own order. Out: the same as picture points or
//! as points in space. Numbers that could be either are refused: a share of a picture taken for a metre
//! would give angles that look right and are wrong.

use crate::body::{Joint, Side};
use crate::geom;
use crate::note::{Fault, FaultKind, Place};
use crate::track::{Detection, Recording};
use nalgebra::Vector3;

/// Largest third number that may be a score: scores above 1 occur, up to 1.107 in a real file.
const LARGEST_SCORE: f32 = 1.2;

/// Score below which a point of a picture counts as not seen (common practice, no source).
const LEAST_SCORE: f64 = 0.3;

/// Coordinates above this are pixels: see [`crate::track`], which tells shares of the picture in the same way.
const LARGEST_SHARE: f64 = 3.0;

/// How far the middle of the hips may lie from the origin, in trunk lengths, to be the root of the coordinates
/// (stated choice: files of this kind have it at 0 exactly, or are turned about it).
const ROOTED: f64 = 0.1;

/// Least distance from a camera in trunk lengths: a person who is seen whole stands farther away (stated choice;
/// open files of this kind have about ten).
const DISTANT: f64 = 2.0;

/// Share of negative coordinates above which small numbers are no shares of a picture (stated choice: points
/// outside the picture are few; centred coordinates are negative for half of the points).
const MOST_NEGATIVE: f64 = 0.25;

/// Turns `space`, filled with the file's numbers, into picture points where they are that.
///
/// # Errors
/// The numbers could be one thing or the other, or are neither.
pub fn settle(recording: &mut Recording, numbers: usize, place: &Place) -> Result<(), Fault> {
    let trunks = recording
        .frames
        .of_people(|one| trunk(one, &recording.joints));
    if numbers == 2 || (numbers == 3 && third_is_score(recording, &trunks)) {
        return picture(recording, numbers, place);
    }
    let unclear = |what: &str| {
        Fault::new(
            FaultKind::Unsupported,
            "read/units-unknown",
            format!("{numbers} numbers a point without names: {what}"),
            place.clone(),
            "subtracting the middle of the hips from every frame if the numbers are positions in space; \
             saving x, y and the score alone if they belong to the picture",
        )
    };
    let size = geom::median(trunks.iter().map(|(low, high)| (high - low).norm()));
    let Some(size) = size.filter(|size| *size > 0.0) else {
        return Err(unclear(
            "no frame shows hips and shoulders to tell what they are",
        ));
    };
    let at = |axis: usize| {
        geom::median(
            trunks
                .iter()
                .filter_map(|(hips, _)| hips.get(axis).copied()),
        )
        .unwrap_or(0.0)
    };
    let hips = [at(0), at(1), at(2)];
    // A lifter may move the body up its own axis until the feet stand on 0.
    let near = hips.iter().filter(|at| at.abs() < ROOTED * size).count();
    if near >= 2 || hips[2] > DISTANT * size {
        return Ok(());
    }
    Err(unclear(
        "the hips are neither at the origin nor well in front of a camera, so the numbers may be positions \
         in space or parts of a picture",
    ))
}

/// Middle of the hips and of the shoulders.
fn trunk(one: &Detection, joints: &[Joint]) -> Option<(Vector3<f64>, Vector3<f64>)> {
    let at = |joint: Joint| {
        let column = joints.iter().position(|known| *known == joint)?;
        let [x, y, z, _] = one.space.get(column)?.map(f64::from);
        Some(Vector3::new(x, y, z)).filter(|at| at.iter().all(|v| v.is_finite()))
    };
    let middle =
        |make: fn(Side) -> Joint| Some((at(make(Side::Left))? + at(make(Side::Right))?) / 2.0);
    Some((
        middle(Joint::Hip).or_else(|| at(Joint::MidHip))?,
        middle(Joint::Shoulder)?,
    ))
}

/// Whether the third number is a score: never outside 0 to 1.2, and it does not grow or shrink along the trunk
/// as a coordinate of an upright body does.
fn third_is_score(recording: &Recording, trunks: &[(Vector3<f64>, Vector3<f64>)]) -> bool {
    let no_score =
        |point: &[f32; 4]| point[3].is_finite() && !(0.0..=LARGEST_SCORE).contains(&point[2]);
    let in_range = !recording
        .frames
        .any_person(|one| one.space.iter().any(no_score));
    let along = geom::median(trunks.iter().map(|(low, high)| (high.z - low.z).abs()));
    let flat = geom::median(trunks.iter().map(|(low, high)| (high - low).xy().norm()));
    in_range
        && along
            .zip(flat)
            .is_none_or(|(along, flat)| along < flat / 2.0)
}

/// Moves the numbers to the picture.
fn picture(recording: &mut Recording, numbers: usize, place: &Place) -> Result<(), Fault> {
    let seen: Vec<f64> = recording.frames.of_people(|one| {
        let points = one.space.iter().filter(|point| point[3].is_finite());
        let numbers = points.flat_map(|point| [f64::from(point[0]), f64::from(point[1])]);
        numbers.collect::<Vec<f64>>()
    });
    let all = seen.len() as f64;
    let negative = seen.iter().filter(|value| **value < 0.0).count() as f64;
    let sizes = seen.into_iter().map(f64::abs);
    let small = geom::median(sizes).is_some_and(|size| size <= LARGEST_SHARE);
    if negative > MOST_NEGATIVE * all {
        return Err(Fault::new(
            FaultKind::Unsupported,
            "read/units-unknown",
            format!(
                "{:.0} % of the coordinates are negative: they are neither pixels from the top left corner \
                 {}",
                100.0 * negative / all,
                if small {
                    "nor shares of the picture"
                } else {
                    "of the picture"
                },
            ),
            place.clone(),
            "turning them back into pixels of the video before saving",
        ));
    }
    recording.frames.change_people(|one| {
        one.picture = std::mem::take(&mut one.space)
            .into_iter()
            .map(|[x, y, third, score]| match (numbers, score.is_finite()) {
                (_, false) => [f32::NAN; 3],
                // Estimators write 0, 0 for what they did not find.
                _ if x == 0.0 && y == 0.0 => [f32::NAN; 3],
                (2, true) => [x, y, score],
                (_, true) => [x, y, third],
            })
            .collect();
    });
    if numbers == 3 {
        recording.least_score = LEAST_SCORE;
    }
    Ok(())
}
