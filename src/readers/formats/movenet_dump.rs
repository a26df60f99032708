//! Bare numbers of a MoveNet output: how they are nested and whose they are.

use super::movenet_node::Node;
use crate::note::{Fault, FaultKind, Place};
use crate::readers::Sketch;
use crate::track::Detection;

/// Numbers of the 17 points of one person.
const ONE: usize = 51;
/// Numbers of one of several people: the points, four sides of the box, a score.
const OF_SEVERAL: usize = 56;
/// Score of a person below which the model only filled its six places (stated choice).
const LEAST_PERSON: f32 = 0.1;
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
