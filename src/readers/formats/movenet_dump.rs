//! Bare numbers of a MoveNet output: how they are nested, whose they are, and which coordinate comes first.

use super::movenet_node::Node;
use crate::body::{Joint, Side};
use crate::geom;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::readers::{AxisOrder, Sketch};
use crate::track::{Detection, Recording};

/// Numbers of the 17 points of one person.
const ONE: usize = 51;
/// Numbers of one of several people: the points, four sides of the box, a score.
const OF_SEVERAL: usize = 56;
/// Score of a person below which the model only filled its six places (stated choice).
const LEAST_PERSON: f32 = 0.1;
/// How many times longer the trunk must be along one coordinate than along the other. Coordinates that are
/// shares distort by up to 16:9, and a bent trunk leans by up to 45 degrees (stated choice).
const CLEARLY: f64 = 2.0;
/// Largest number that may be a score, with what rounding adds.
const HIGHEST_SCORE: f32 = 1.01;

/// What a nested list of numbers looks like, if it may be a dump.
pub fn looks_like(json: &Sketch) -> Option<&'static str> {
    let mut lengths = Vec::new();
    let mut at = json;
    loop {
        match at {
            Sketch::List(items, length) => {
                lengths.push(*length);
                // The first frames may be empty.
                at = items.iter().find(|item| !is_empty_list(item))?;
            }
            Sketch::Number(_) => break,
            _ => return None,
        }
    }
    match lengths.as_slice() {
        [_, between @ .., 17, 3] if between.iter().all(|length| *length <= 6) => {
            Some("17 triples of numbers for each frame")
        }
        [_, between @ .., OF_SEVERAL] if between.iter().all(|length| *length <= 6) => {
            Some("56 numbers for each person")
        }
        [_, ONE] => Some("51 numbers for each frame"),
        _ => None,
    }
}

fn is_empty_list(item: &Sketch) -> bool {
    matches!(item, Sketch::List(_, 0) | Sketch::Null)
}

/// Numbers laid end to end; a `null` is not-a-number.
pub fn flat(nodes: &[Node]) -> Vec<f32> {
    let mut numbers = Vec::new();
    for node in nodes {
        match node {
            Node::Number(number) => numbers.push(*number),
            Node::List(nodes) => numbers.extend(flat(nodes)),
            Node::Nothing => numbers.push(f32::NAN),
            Node::Pose(_) | Node::Frame(_) => {}
        }
    }
    numbers
}

/// People of one frame, their coordinates still in the file's order.
pub fn people(numbers: &[f32], place: &Place) -> Result<Vec<Detection>, Fault> {
    let fault = |code: &'static str, what: String, remedy: &str| {
        Err(Fault::new(
            FaultKind::Malformed,
            code,
            what,
            place.clone(),
            remedy,
        ))
    };
    let each = match numbers.len() {
        length if length % ONE == 0 => ONE,
        length if length % OF_SEVERAL == 0 => OF_SEVERAL,
        length => {
            return fault(
                "read/length",
                format!("{length} numbers, which are not 51 or 56 for each person"),
                "exporting the model's output unchanged",
            );
        }
    };
    let mut people = Vec::new();
    for one in numbers.chunks_exact(each) {
        let (points, rest) = one.split_at(ONE);
        if rest.last().is_some_and(|score| *score < LEAST_PERSON) {
            continue;
        }
        let picture = crate::readers::clip::triples(points);
        let odd = picture
            .iter()
            .find(|point| point[2] < 0.0 || point[2] > HIGHEST_SCORE);
        if let Some([_, _, third]) = odd {
            return fault(
                "read/value",
                format!("the third number of a point, {third}, is no score"),
                "stating the format with --format; for points in space, a table with x, y and z",
            );
        }
        people.push(Detection {
            id: None,
            picture,
            space: Vec::new(),
        });
    }
    Ok(people)
}

/// Puts x before y, as stated or as an upright trunk tells.
pub fn turn(recording: &mut Recording, stated: Option<AxisOrder>) -> Result<(), Fault> {
    let order = match stated {
        Some(order) => order,
        None => told_by_trunk(recording)?,
    };
    if order == AxisOrder::Yx {
        let people = recording
            .frames
            .iter_mut()
            .flat_map(|frame| &mut frame.people);
        for point in people.flat_map(|one| &mut one.picture) {
            point.swap(0, 1);
        }
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
    let people = || recording.frames.iter().flat_map(|frame| &frame.people);
    let along = |axis: usize| {
        geom::median(
            people()
                .filter_map(trunk)
                .filter_map(|trunk| trunk.get(axis).copied())
                .filter(|length| length.is_finite()),
        )
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
