//! Who in the picture is the person to be measured.
//!
//! In: every detection of every frame, with or without track ids, in any order. Out: people, each a chain of
//! detections, and which of them was chosen. Detections are joined by the file's id, else by place and size.
//! The person who exercises covers most frames, is the largest and moves the arms most.

use super::people::{Person, likeliest, person, told};
use super::{Detection, Frames, RecordingFrame};
use crate::body::{Joint, Side};
use crate::geom;
use crate::note::{Fault, FaultKind, Note, Place};
use nalgebra::Vector3;
use rayon::prelude::*;
use smallvec::{SmallVec, smallvec};
use std::collections::{BTreeSet, HashSet};

/// How far a body may move from one frame to the next, in trunk lengths, and how much more for each frame in
/// which it was not found; beyond the last it is someone else (stated choices).
const STEP: f64 = 0.6;
const STEP_PER_GAP: f64 = 0.05;
const FARTHEST_STEP: f64 = 1.5;
/// Frames without a detection after which a chain ends: three seconds at 30 frames a second (stated choice).
const LONGEST_GAP: usize = 90;
/// Largest ratio of sizes from one detection to the next (stated choice).
const SIZE_RATIO: f64 = 2.0;
/// Chains that are considered as people; the shorter ones beyond are flicker.
const MOST_PEOPLE: usize = 200;
/// Fewest frames of a chain that counts as a person in notes (stated choice).
const FEWEST_FRAMES: usize = 3;

/// The people of a recording and the chosen one.
#[derive(Debug, Clone, PartialEq)]
pub struct Chosen {
    /// People, by first appearance.
    pub people: Vec<Person>,
    /// Index of the chosen one.
    pub chosen: usize,
    /// For each frame, which of its detections is the chosen person.
    pub picks: Vec<Option<usize>>,
    /// Why, and who else was there.
    pub notes: Vec<Note>,
}

/// A detection as the choice sees it.
#[derive(Debug, Clone, Copy)]
struct Body {
    centre: Vector3<f64>,
    size: f64,
}

pub(super) struct Chain {
    /// Frame index and detection index.
    pub(super) links: Vec<(usize, usize)>,
    pub(super) ids: BTreeSet<String>,
    last: Body,
    last_frame: usize,
    pub(super) sizes: Vec<f64>,
}

/// A list with an element for each person of a frame, or for each chain: mostly one.
type Few<T> = SmallVec<[T; 2]>;

/// Where a detection has the joints that the choice needs; of pairs the left one first.
pub(super) struct Columns {
    pub(super) shoulders: [Option<usize>; 2],
    pub(super) elbows: [Option<usize>; 2],
    pub(super) wrists: [Option<usize>; 2],
    hips: [Option<usize>; 2],
    mid_hip: Option<usize>,
    trunk: [Option<usize>; 2],
    count: usize,
    least_score: f64,
}

impl Columns {
    fn of(joints: &[Joint], least_score: f64) -> Columns {
        let column = |joint: Joint| joints.iter().position(|candidate| *candidate == joint);
        let pair = |make: fn(Side) -> Joint| Side::BOTH.map(|side| column(make(side)));
        Columns {
            shoulders: pair(Joint::Shoulder),
            elbows: pair(Joint::Elbow),
            wrists: pair(Joint::Wrist),
            hips: pair(Joint::Hip),
            mid_hip: column(Joint::MidHip),
            trunk: [Joint::TrunkUpper, Joint::TrunkLower].map(column),
            count: joints.len(),
            least_score,
        }
    }

    pub(super) fn at(&self, detection: &Detection, column: Option<usize>) -> Option<Vector3<f64>> {
        position(detection, column?, self.least_score)
    }

    fn body(&self, detection: &Detection) -> Option<Body> {
        let at = |column: Option<usize>| self.at(detection, column);
        let middle = |pair: [Option<Vector3<f64>>; 2]| match pair {
            [Some(a), Some(b)] => Some((a + b) / 2.0),
            [a, b] => a.or(b),
        };
        let [upper, lower] = self.trunk;
        let both_shoulders = self.shoulders.map(at);
        let shoulders = middle(both_shoulders).or_else(|| at(upper));
        let hips = at(self.mid_hip)
            .or_else(|| middle(self.hips.map(at)))
            .or_else(|| at(lower));
        let apart = |a: Option<Vector3<f64>>, b: Option<Vector3<f64>>| Some((a? - b?).norm());
        // Trunk lengths that shoulder width and upper arm stand for: Drillis and Contini's proportions
        // (from memory, not verified) give 0.288 of the height for the trunk, 0.222 and 0.186 for these.
        let [left, right] = both_shoulders;
        let width = apart(left, right);
        let arms = both_shoulders.into_iter().zip(self.elbows);
        let arm = arms
            .filter_map(|(shoulder, elbow)| apart(shoulder, at(elbow)))
            .reduce(f64::max);
        let by_bones = [
            apart(shoulders, hips),
            width.map(|width| 1.3 * width),
            arm.map(|arm| 1.55 * arm),
        ];
        let by_bones = by_bones.into_iter().flatten().reduce(f64::max);
        let (centre, size) = match (shoulders.or(hips), by_bones) {
            (Some(centre), Some(size)) => (centre, size),
            (centre, size) => {
                let (low, high) = self.around(detection)?;
                // Where no bone is seen; people are only compared with each other by it (stated choice).
                let by_box = 0.35 * (high - low).norm();
                (centre.unwrap_or((low + high) / 2.0), size.unwrap_or(by_box))
            }
        };
        (size > 0.0 && size.is_finite()).then_some(Body { centre, size })
    }

    /// The corners of the box around all that is seen.
    fn around(&self, detection: &Detection) -> Option<(Vector3<f64>, Vector3<f64>)> {
        (0..self.count)
            .filter_map(|column| position(detection, column, self.least_score))
            .map(|at| (at, at))
            .reduce(|(low, high), (at, _)| (low.inf(&at), high.sup(&at)))
    }
}

/// Position in the picture, else in space, of a point that counts as seen.
fn position(detection: &Detection, column: usize, least: f64) -> Option<Vector3<f64>> {
    let (at, score) = match (detection.picture.get(column), detection.space.get(column)) {
        (Some([x, y, score]), _) => (Vector3::new(f64::from(*x), f64::from(*y), 0.0), *score),
        (None, Some([x, y, z, score])) => (
            Vector3::new(f64::from(*x), f64::from(*y), f64::from(*z)),
            *score,
        ),
        (None, None) => return None,
    };
    let seen = f64::from(score) >= least && score > 0.0 && at.iter().all(|v| v.is_finite());
    seen.then_some(at)
}

/// Joins detections to people and chooses one.
///
/// `wanted` is an id of the file or a number by first appearance.
///
/// # Errors
/// Nobody is in the recording, or nobody fits `wanted`.
pub fn choose(
    frames: &Frames,
    joints: &[Joint],
    least_score: f64,
    wanted: Option<&str>,
) -> Result<Chosen, Fault> {
    let columns = Columns::of(joints, least_score);
    let (chains, exchanged) = chained(frames, &columns);
    let mut chains = stitched(chains);
    chains.sort_by_key(|chain| std::cmp::Reverse(chain.links.len()));
    let flicker = chains.len();
    chains.truncate(MOST_PEOPLE);
    let longest = chains.first().map_or(0, |chain| chain.links.len());
    chains.retain(|chain| chain.links.len() >= FEWEST_FRAMES.min(longest));
    let flicker = flicker - chains.len();
    chains.sort_by_key(|chain| chain.links.first().copied());
    // Whoever is stated, or alone, is measured however the arms move.
    let among_others = chains.len() > 1 && wanted.is_none();
    let people: Vec<Person> = chains
        .iter()
        .enumerate()
        .map(|(index, chain)| person(index, chain, frames, &columns, among_others))
        .collect();
    let chosen = match wanted {
        Some(wanted) => named(wanted, &chains, &people)?,
        None => likeliest(&people, frames.len()).ok_or_else(nobody)?,
    };
    let mut picks = vec![None; frames.len()];
    for (frame, detection) in chains.get(chosen).map_or(&[][..], |chain| &chain.links) {
        if let Some(pick) = picks.get_mut(*frame) {
            *pick = Some(*detection);
        }
    }
    let notes = told(
        &people,
        chosen,
        wanted.is_some(),
        flicker,
        exchanged,
        frames.len(),
    );
    Ok(Chosen {
        people,
        chosen,
        picks,
        notes,
    })
}

pub(super) fn nobody() -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/no-person",
        "no frame holds a person with a point that counts as seen",
        Place::default(),
        "filming with the whole upper body in the picture, or running the estimator again",
    )
}

/// Chains of detections, in no order, and whether ids were exchanged.
fn chained(frames: &Frames, columns: &Columns) -> (Vec<Chain>, bool) {
    let mut any_exchanged = false;
    let (mut open, mut closed): (Vec<Chain>, Vec<Chain>) = (Vec::new(), Vec::new());
    let mut known_ids: HashSet<String> = HashSet::new();
    let bodies_of = |frame: &RecordingFrame| -> Few<Option<Body>> {
        frame.people.iter().map(|one| columns.body(one)).collect()
    };
    let mut index = 0;
    let mut follow = |frame: &RecordingFrame, bodies: &[Option<Body>]| {
        closed.extend(open.extract_if(.., |chain| index - chain.last_frame > LONGEST_GAP));
        let (links, exchanged) = matched(&open, frame, bodies, index, &known_ids);
        any_exchanged |= exchanged;
        for (detection, body) in bodies.iter().enumerate() {
            let (Some(body), Some(one)) = (body, frame.people.get(detection)) else {
                continue;
            };
            let chain = links.get(detection).copied().flatten();
            match chain.and_then(|chain| open.get_mut(chain)) {
                Some(chain) => {
                    chain.links.push((index, detection));
                    chain.sizes.push(body.size);
                    (chain.last, chain.last_frame) = (*body, index);
                    if let Some(id) = one.id.as_ref().filter(|id| !chain.ids.contains(*id)) {
                        chain.ids.insert(id.clone());
                    }
                }
                None => open.push(Chain {
                    links: vec![(index, detection)],
                    ids: one.id.clone().into_iter().collect(),
                    last: *body,
                    last_frame: index,
                    sizes: vec![body.size],
                }),
            }
            if let Some(id) = one.id.as_ref().filter(|id| !known_ids.contains(*id)) {
                known_ids.insert(id.clone());
            }
        }
        index += 1;
    };
    frames.stretches(|frames| {
        let bodies: Vec<Few<Option<Body>>> = frames.par_iter().map(bodies_of).collect();
        for (frame, bodies) in frames.iter().zip(&bodies) {
            follow(frame, bodies);
        }
    });
    closed.extend(open);
    (closed, any_exchanged)
}

/// By detection of a frame, which open chain it goes on: by id first, then the nearest pairs. An id that was
/// seen before belongs to its own chain; a new id may go on a chain whose id has gone. And whether an id leapt
/// onto another person.
fn matched(
    open: &[Chain],
    frame: &RecordingFrame,
    bodies: &[Option<Body>],
    index: usize,
    known_ids: &HashSet<String>,
) -> (Few<Option<usize>>, bool) {
    // One person whom no id names, and one chain: the rule.
    if let ([chain], [Some(body)], [one]) = (open, bodies, frame.people.as_slice())
        && one.id.is_none()
    {
        let near = cost(&chain.last, body, reach(index, chain));
        return (smallvec![near.map(|_| 0)], false);
    }
    let mut links: Few<Option<usize>> = smallvec![None; frame.people.len()];
    let mut taken: Few<bool> = smallvec![false; open.len()];
    let mut exchanged: Few<bool> = smallvec![false; frame.people.len()];
    for (detection, one) in frame.people.iter().enumerate() {
        let Some(id) = &one.id else { continue };
        let same = open
            .iter()
            .enumerate()
            .filter(|(chain, candidate)| candidate.ids.contains(id) && !taken[*chain]);
        let Some(Some(body)) = bodies.get(detection) else {
            continue;
        };
        // After an exchange two chains have had the id: the one that is near, else the latest.
        let near = |candidate: &Chain| cost(&candidate.last, body, reach(index, candidate));
        let same = same.max_by(|(_, a), (_, b)| {
            let nearness = |chain: &Chain| near(chain).map_or(f64::NEG_INFINITY, |cost| -cost);
            nearness(a)
                .total_cmp(&nearness(b))
                .then(a.last_frame.cmp(&b.last_frame))
        });
        if let Some((chain, candidate)) = same {
            // An id that leaps onto the place of another person was exchanged with that person's.
            let leapt = near(candidate).is_none();
            let elsewhere = |other: &Chain| {
                other.last_frame == candidate.last_frame
                    && !other.ids.contains(id)
                    && near(other).is_some()
            };
            if leapt && open.iter().any(elsewhere) {
                exchanged[detection] = true;
                continue;
            }
            links[detection] = Some(chain);
            taken[chain] = true;
        }
    }
    let mut pairs = Few::new();
    for (detection, body) in bodies.iter().enumerate() {
        let Some(body) = body else { continue };
        let id = frame
            .people
            .get(detection)
            .and_then(|one| one.id.as_deref());
        let elsewhere = id.is_some_and(|id| known_ids.contains(id));
        if links[detection].is_some() || (elsewhere && !exchanged[detection]) {
            continue;
        }
        for (chain, candidate) in open.iter().enumerate() {
            if taken[chain] {
                continue;
            }
            if let Some(cost) = cost(&candidate.last, body, reach(index, candidate)) {
                pairs.push((cost, chain, detection));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (_, chain, detection) in pairs {
        if !taken[chain] && links[detection].is_none() {
            links[detection] = Some(chain);
            taken[chain] = true;
        }
    }
    let any_exchanged = exchanged.contains(&true);
    (links, any_exchanged)
}

/// How far a chain may go on to a frame, in trunk lengths.
fn reach(index: usize, chain: &Chain) -> f64 {
    let gap = index - chain.last_frame;
    (STEP + STEP_PER_GAP * (gap.saturating_sub(1)) as f64).min(FARTHEST_STEP)
}

/// Distance in trunk lengths plus the change of size; `None` beyond reach.
fn cost(a: &Body, b: &Body, reach: f64) -> Option<f64> {
    let ratio = (a.size / b.size).max(b.size / a.size);
    let distance = (a.centre - b.centre).norm() / a.size.max(b.size);
    (distance <= reach && ratio <= SIZE_RATIO).then(|| distance + 0.5 * ratio.ln())
}

/// Joins chains that follow each other at about the same place and size: the person stepped out or was lost.
fn stitched(mut chains: Vec<Chain>) -> Vec<Chain> {
    if chains.len() > MOST_PEOPLE {
        chains.sort_by_key(|chain| std::cmp::Reverse(chain.links.len()));
        chains.truncate(MOST_PEOPLE);
    }
    chains.sort_by_key(|chain| chain.links.first().copied());
    let mut joined: Vec<(Chain, Body)> = Vec::new();
    for chain in chains {
        let size = geom::median(chain.sizes.iter().copied()).unwrap_or(chain.last.size);
        let starts = chain.links.first().map_or(0, |link| link.0);
        let body = Body {
            centre: chain.last.centre,
            size,
        };
        let before = joined
            .iter()
            .enumerate()
            .filter(|(_, (earlier, _))| earlier.last_frame < starts)
            .filter_map(|(index, (earlier, typical))| {
                let last = Body {
                    centre: earlier.last.centre,
                    size: typical.size,
                };
                let other_id = !earlier.ids.is_empty()
                    && !chain.ids.is_empty()
                    && earlier.ids.is_disjoint(&chain.ids);
                let reach = if other_id { STEP } else { FARTHEST_STEP };
                cost(&last, &body, reach).map(|cost| (index, cost))
            })
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(index, _)| index);
        match before.and_then(|index| joined.get_mut(index)) {
            Some((earlier, _)) => {
                earlier.links.extend(chain.links);
                earlier.sizes.extend(chain.sizes);
                earlier.ids.extend(chain.ids);
                (earlier.last, earlier.last_frame) = (chain.last, chain.last_frame);
            }
            None => joined.push((chain, body)),
        }
    }
    joined.into_iter().map(|(chain, _)| chain).collect()
}

fn named(wanted: &str, chains: &[Chain], people: &[Person]) -> Result<usize, Fault> {
    let by_id = chains.iter().position(|chain| chain.ids.contains(wanted));
    let by_number = wanted
        .parse::<usize>()
        .ok()
        .and_then(|number| number.checked_sub(1))
        .filter(|index| *index < people.len());
    by_id.or(by_number).ok_or_else(|| {
        let labels: Vec<String> = people
            .iter()
            .map(|one| format!("{} ({} frames)", one.label, one.frames))
            .collect();
        Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            format!("there is no person `{wanted}`"),
            Place::default().field("--person"),
            format!("one of: {}", labels.join(", ")),
        )
    })
}

#[cfg(test)]
#[path = "choose_tests.rs"]
mod tests;
