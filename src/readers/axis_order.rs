//! Which of two picture coordinates comes first, in numbers without names.
//!
//! In: a recording in the file's own order. Out: the same with x before y. Models of the MoveNet kind give y first,
//! and people turn it; the trunk of an upright person tells.

use super::AxisOrder;
use crate::body::{Joint, Side};
use crate::geom;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::track::{Detection, Recording};

/// How many times longer the trunk must be along one coordinate than along the other. Coordinates that are
/// shares distort by up to 16:9, and a bent trunk leans by up to 45 degrees (stated choice).
const CLEARLY: f64 = 2.0;
/// Puts x before y, as stated or as an upright trunk tells.
pub fn turn(recording: &mut Recording, stated: Option<AxisOrder>) -> Result<(), Fault> {
    let order = match stated {
        Some(order) => order,
        None => told_by_trunk(recording)?,
    };
    if order == AxisOrder::Yx {
        recording.frames.change_people(|one| {
            one.picture.iter_mut().for_each(|point| point.swap(0, 1));
        });
    }
    if stated.is_none() {
        recording.notes.push(Note::new(
            "read/axes-assumed",
            format!(
                "The file does not say which coordinate comes first; {} was taken, as in an upright person. \
                 If the picture was padded to a square for the model, --size must be that square's.",
                match order {
                    AxisOrder::Yx => "y",
                    AxisOrder::Xy => "x",
                }
            ),
        ));
    }
    Ok(())
}

/// The coordinate along which the trunk lies, if it is clear, with the hips below the shoulders.
fn told_by_trunk(recording: &Recording) -> Result<AxisOrder, Fault> {
    let column = |joint: Joint| recording.joints.iter().position(|one| *one == joint);
    let trunk = |one: &Detection| {
        let middle = |make: fn(Side) -> Joint| {
            let at = |side| {
                let point = *one.picture.get(column(make(side))?)?;
                (f64::from(point[2]) >= recording.least_score).then_some(point)
            };
            let (left, right) = (at(Side::Left)?, at(Side::Right)?);
            Some([0, 1].map(|axis: usize| f64::from(left[axis] + right[axis]) / 2.0))
        };
        let (top, bottom) = (middle(Joint::Shoulder)?, middle(Joint::Hip)?);
        Some([bottom[0] - top[0], bottom[1] - top[1]])
    };
    let trunks = recording.frames.of_people(trunk);
    let along = |axis: usize| {
        let lengths = trunks.iter().filter_map(|trunk| trunk.get(axis).copied());
        geom::median(lengths.filter(|length| length.is_finite()))
    };
    let (first, second) = (along(0), along(1));
    match (first, second) {
        (Some(first), Some(second)) if first > CLEARLY * second.abs() => Ok(AxisOrder::Yx),
        (Some(first), Some(second)) if second > CLEARLY * first.abs() => Ok(AxisOrder::Xy),
        _ => Err(Fault::new(
            FaultKind::Unsupported,
            "read/axis-order",
            match first {
                Some(_) => {
                    "x and y cannot be told apart: the trunk lies across the picture, or the person is not upright"
                }
                None => "x and y cannot be told apart: no frame shows shoulders and hips",
            },
            Place::default().field("the order of the two coordinates"),
            "stating it: --axis-order yx, as the model gives it, or --axis-order xy",
        )),
    }
}

/// Whether the trunk clearly lies along the first coordinate.
pub fn is_yx(recording: &Recording) -> bool {
    matches!(told_by_trunk(recording), Ok(AxisOrder::Yx))
}
