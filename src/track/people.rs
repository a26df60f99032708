//! What is known of each person of a recording, and which of them most likely exercises.
//!
//! In: chains of detections. Out: [`Person`]s and the notes about them.

use super::choose::{Chain, Columns};
use super::{Detection, Frames};
use crate::geom;
use crate::note::Note;
use nalgebra::Vector3;
use rayon::prelude::*;

/// One person of a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Person {
    /// The file's id, else the number by first appearance, from 1.
    pub label: String,
    /// Frames in which the person was found.
    pub frames: usize,
    /// Median length of the trunk in the file's unit, or what stands for it.
    pub size: f64,
    /// Spread of elbows and wrists about the shoulders, in trunk lengths; `None` where the choice does not rest on it.
    pub arm_motion: Option<f64>,
}

pub(super) fn person(
    index: usize,
    chain: &Chain,
    frames: &Frames,
    columns: &Columns,
    among_others: bool,
) -> Person {
    let size = geom::median(chain.sizes.iter().copied()).unwrap_or(0.0);
    let id = |link: &(usize, usize)| detection(frames, *link, |one| one.id.clone());
    let first_id = match chain.ids.is_empty() {
        true => None,
        false => chain.links.iter().find_map(id),
    };
    Person {
        label: first_id.unwrap_or_else(|| (index + 1).to_string()),
        frames: chain.links.len(),
        size,
        arm_motion: among_others
            .then(|| arm_motion(chain, frames, columns) / size.max(f64::MIN_POSITIVE)),
    }
}

fn detection<T>(
    frames: &Frames,
    (frame, one): (usize, usize),
    of: impl FnOnce(&Detection) -> Option<T>,
) -> Option<T> {
    frames.look(frame, |frame| frame.people.get(one).and_then(of))?
}

/// Largest range (10th to 90th percentile) of an elbow or wrist about its shoulder, along any axis.
fn arm_motion(chain: &Chain, frames: &Frames, columns: &Columns) -> f64 {
    let far = columns.elbows.into_iter().chain(columns.wrists);
    let near = columns.shoulders.into_iter().cycle();
    let mut reaches: Vec<_> = far.zip(near).map(|ends| (ends, Vec::new())).collect();
    for link in &chain.links {
        detection(frames, *link, |one| {
            for ((far, near), reaches) in &mut reaches {
                let ends = columns.at(one, *far).zip(columns.at(one, *near));
                reaches.extend(ends.map(|(far, near)| far - near));
            }
            Some(())
        });
    }
    let widest = |(_, reaches): (_, Vec<Vector3<f64>>)| {
        let range = |axis: usize| {
            let along = reaches.iter().filter_map(|reach| reach.get(axis).copied());
            let [low, high] = geom::quantiles(along, [0.1, 0.9])?;
            Some(high - low)
        };
        (0..3).filter_map(range).fold(0.0, f64::max)
    };
    reaches.into_par_iter().map(widest).reduce(|| 0.0, f64::max)
}

/// Index of the person who most likely exercises.
pub(super) fn likeliest(people: &[Person], frames: usize) -> Option<usize> {
    let most =
        |of: &dyn Fn(&Person) -> f64| people.iter().map(of).fold(f64::MIN_POSITIVE, f64::max);
    let motion = |one: &Person| one.arm_motion.unwrap_or(0.0);
    let (largest, liveliest) = (most(&|one| one.size), most(&motion));
    // Someone who stands still in front of the phone is still there: a quarter is given for presence.
    let weight = |one: &Person| {
        one.frames as f64 / frames.max(1) as f64
            * (one.size / largest)
            * (0.25 + motion(one) / liveliest)
    };
    people
        .iter()
        .enumerate()
        .max_by(|a, b| weight(a.1).total_cmp(&weight(b.1)))
        .map(|(index, _)| index)
}

pub(super) fn told(
    people: &[Person],
    chosen: usize,
    stated: bool,
    flicker: usize,
    exchanged: bool,
    frames: usize,
) -> Vec<Note> {
    let mut notes = Vec::new();
    if people.len() > 1
        && let Some(one) = people.get(chosen)
    {
        let why = if stated {
            "as stated"
        } else {
            "most frames, size and arm movement"
        };
        notes.push(Note::new(
            "person/chosen",
            format!(
                "{} people were found; person {} is measured ({why}; {} of {frames} frames).",
                people.len(),
                one.label,
                one.frames
            ),
        ));
    }
    for (index, one) in people.iter().enumerate() {
        if index != chosen {
            notes.push(Note::new(
                "person/passer-by",
                format!(
                    "Person {} is in {} of {frames} frames and is not measured.",
                    one.label, one.frames
                ),
            ));
        }
    }
    if flicker > 0 {
        notes.push(Note::new(
            "person/passer-by",
            format!("Detections of a frame or two were left out: {flicker}."),
        ));
    }
    if exchanged {
        notes.push(Note::new(
            "person/ids-exchanged",
            "An id of the file leapt onto the place of another person; the people were followed by place.",
        ));
    }
    notes
}
