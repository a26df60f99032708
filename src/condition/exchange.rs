//! Left/right exchanges: for some frames an estimator gives a limb's points to the other side.
//!
//! Two labellings of a frame, as exported and exchanged, are followed through the clip; the path with the
//! least total travel wins (Viterbi over two states), and a small price is paid for every exchanged frame
//! so that points that lie on each other in a side view are left alone. The labelling of most frames is
//! taken as right.

use crate::body::{Joint, Side};
use crate::track::Layer;
use std::collections::BTreeSet;

/// Price of calling a frame exchanged, as a share of the median distance between the paired points.
/// Stated choice: less than the jump that a real exchange makes twice, more than noise.
const PRICE: f64 = 0.15;

/// Joints that are exchanged together.
const UPPER: [fn(Side) -> Joint; 6] = [
    Joint::Shoulder,
    Joint::Elbow,
    Joint::Wrist,
    Joint::Index,
    Joint::Pinky,
    Joint::Thumb,
];
const LOWER: [fn(Side) -> Joint; 3] = [Joint::Hip, Joint::Knee, Joint::Ankle];

/// Repairs exchanges in place; returns the number of frames in which anything was put back.
pub fn repair(layer: &mut Layer, joints: &[Joint]) -> usize {
    let column = |joint: Joint| joints.iter().position(|candidate| *candidate == joint);
    let pairs = |group: &[fn(Side) -> Joint]| -> Vec<(usize, usize)> {
        let both =
            |make: &fn(Side) -> Joint| column(make(Side::Left)).zip(column(make(Side::Right)));
        group.iter().filter_map(both).collect()
    };
    let (upper, lower) = (pairs(&UPPER), pairs(&LOWER));
    let (of_upper, of_lower) = rayon::join(
        || exchanged_frames(layer, &upper),
        || exchanged_frames(layer, &lower),
    );
    for (pairs, frames) in [(upper, &of_upper), (lower, &of_lower)] {
        for (left, right) in pairs {
            layer.exchange(frames, left, right);
        }
    }
    let touched: BTreeSet<usize> = of_upper.into_iter().chain(of_lower).collect();
    touched.len()
}

/// Position of a point, 0 along an axis that the layer has not.
type At = [f64; 3];

/// Positions of both points of a pair, last seen values carried forward.
type PairAt = Option<[At; 2]>;

fn exchanged_frames(layer: &Layer, pairs: &[(usize, usize)]) -> Vec<usize> {
    let frames = layer.frames();
    let distance = |a: &At, b: &At| {
        let squares = a.iter().zip(b).map(|(a, b)| (a - b).powi(2));
        squares.sum::<f64>().sqrt()
    };

    let mut apart = Vec::with_capacity(frames * pairs.len());
    for frame in 0..frames {
        apart.extend(pairs.iter().filter_map(|(left, right)| {
            let (left, right) = (layer.at(frame, *left)?, layer.at(frame, *right)?);
            Some(distance(&left, &right))
        }));
    }
    let Some(typical) = crate::geom::median(apart) else {
        return Vec::new();
    };
    let price = PRICE * typical * pairs.len() as f64;

    // cost[s]: least travel with the frame's points as exported (s = 0) or exchanged (s = 1).
    let mut cost = [0.0, price];
    let mut came_from: Vec<[bool; 2]> = Vec::with_capacity(frames);
    let mut last: Vec<PairAt> = vec![None; pairs.len()];
    for frame in 0..frames {
        let mut straight = 0.0;
        let mut crossed = 0.0;
        for (slot, (left, right)) in last.iter_mut().zip(pairs) {
            let (Some(l), Some(r)) = (layer.at(frame, *left), layer.at(frame, *right)) else {
                continue;
            };
            if let Some([was_left, was_right]) = slot.as_ref() {
                straight += distance(&l, was_left) + distance(&r, was_right);
                crossed += distance(&r, was_left) + distance(&l, was_right);
            }
            *slot = Some([l, r]);
        }
        // Same labelling as the frame before costs `straight`, a change of labelling `crossed`.
        let reach = |state: usize| {
            let stay = cost[state] + straight;
            let change = cost[1 - state] + crossed;
            if stay <= change {
                (stay, state)
            } else {
                (change, 1 - state)
            }
        };
        let (as_is, from_as_is) = reach(0);
        let (swapped, from_swapped) = reach(1);
        cost = [as_is, swapped + price];
        came_from.push([from_as_is == 1, from_swapped == 1]);
    }
    let mut state = usize::from(cost[1] < cost[0]);
    let mut path = vec![false; frames];
    for (frame, from) in came_from.iter().enumerate().rev() {
        path[frame] = state == 1;
        state = usize::from(from[state]);
    }
    // The labelling of most frames is the right one.
    let odd = path.iter().filter(|state| **state).count() * 2 <= frames;
    (0..frames).filter(|frame| path[*frame] == odd).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::track::Presence;

    #[test]
    fn exchanged_frames_are_put_back_and_no_others() {
        let joints = [
            Joint::Shoulder(Side::Left),
            Joint::Shoulder(Side::Right),
            Joint::Elbow(Side::Left),
            Joint::Elbow(Side::Right),
        ];
        let mut layer = Layer::missing(60, 4, 2);
        for frame in 0..60 {
            let wave = 20.0 * (frame as f64 / 10.0).sin();
            let places = [
                [100.0, 0.0],
                [-100.0, 0.0],
                [120.0, -100.0 + wave],
                [-130.0, -100.0],
            ];
            for (joint, at) in places.iter().enumerate() {
                layer.set(frame, joint, at, 0.9, Presence::Seen);
            }
        }
        let truth = layer.clone();
        layer.exchange(&[7, 8, 30], 0, 1);
        layer.exchange(&[7, 8, 30], 2, 3);
        assert_eq!(repair(&mut layer, &joints), 3);
        for frame in 0..60 {
            for joint in 0..4 {
                assert_eq!(layer.flat(frame, joint), truth.flat(frame, joint));
            }
        }
    }
}
