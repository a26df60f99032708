//! Which spot is which dot, picture after picture.
//!
//! Every dot has a predicted place: where it was going, or after a while out of sight where it was on the trunk. In each
//! picture the dots are given to spots all at once, so that places, distances between dots and sizes fit best; a dot
//! that nothing fits is out of sight. The three dots of a blade never turn inside out. From the marked picture this
//! goes forward and backward.

use super::dots::Dot;
use super::spots::Spot;
use super::trunk::Trunk;
use crate::body::Side;
use crate::geom::median;
use nalgebra::Vector2;
use std::collections::VecDeque;

/// How far a dot departs from its predicted place, lengths of the trunk: at once, and for each second out of sight;
/// never more than the last (stated choices: a fast raise moves the acromial angle by half a trunk in a second).
const PLACE_SD: (f64, f64, f64) = (0.012, 0.3, 0.3);
/// The same of the way from dot to dot: the blade turns, but not far in a moment.
const PAIR_SD: (f64, f64, f64) = (0.012, 0.2, 0.2);
/// How far a spot's mass departs from the dot's, natural logarithm.
const MASS_SD: f64 = 0.25;
/// What it costs to leave a dot without a spot: as much as four standard deviations.
const OUT_OF_SIGHT: f64 = 8.0;
/// What it costs to turn a blade inside out.
const INSIDE_OUT: f64 = 12.0;
/// A dot found again alone after so many seconds must fit better by so much.
const ALONE: (f64, f64) = (0.4, 4.0);
/// Seconds for which a dot goes on as it went.
const GOES_ON_S: f64 = 0.12;
/// Most spots that are tried for a dot.
const MOST_TRIED: usize = 5;
/// Spots whose masses make a dot's usual mass.
const REMEMBERED: usize = 31;

/// The dots with the index of the colour of each.
pub(super) type Cast = Vec<(Dot, usize)>;

/// Everything that was seen in a clip.
pub(super) struct Scene<'a> {
    /// Spots of each picture.
    pub spots: &'a [Vec<Spot>],
    /// Trunk in each picture.
    pub trunks: &'a [Trunk],
    /// Seconds of each picture.
    pub times_s: &'a [f64],
}

/// The spot of each dot in each picture, from the spots of the marked picture on.
pub(super) fn follow(
    scene: &Scene<'_>,
    cast: &Cast,
    marked: usize,
    start: &[Spot],
) -> Vec<Vec<Option<Spot>>> {
    let count = scene
        .spots
        .len()
        .min(scene.trunks.len())
        .min(scene.times_s.len());
    let mut found = vec![vec![None; cast.len()]; count];
    if let Some(row) = found.get_mut(marked) {
        *row = start.iter().copied().map(Some).collect();
    }
    let forward: Vec<usize> = (marked + 1..count).collect();
    let backward: Vec<usize> = (0..marked.min(count)).rev().collect();
    for order in [forward, backward] {
        let mut follower = Follower::new(scene, cast, marked, start);
        for picture in order {
            if let Some(row) = found.get_mut(picture) {
                *row = follower.step(picture);
            }
        }
    }
    found
}

struct Known {
    at: Vector2<f64>,
    /// Pixels a second.
    velocity: Vector2<f64>,
    picture: usize,
    masses: VecDeque<f64>,
}

impl Known {
    fn mass(&self) -> f64 {
        median(self.masses.iter().copied()).unwrap_or(1.0)
    }
}

struct Follower<'a> {
    scene: &'a Scene<'a>,
    cast: &'a Cast,
    known: Vec<Known>,
    /// Side, places of the three dots in the cast, and which way round they lie.
    blades: Vec<([usize; 3], f64)>,
}

/// Where a dot is expected in a picture, and how surely.
struct Expected {
    at: Vector2<f64>,
    unseen_s: f64,
    tried: Vec<(Spot, f64)>,
}

impl<'a> Follower<'a> {
    fn new(scene: &'a Scene<'a>, cast: &'a Cast, marked: usize, start: &[Spot]) -> Follower<'a> {
        // Dots of one colour are of one kind: one that touched something in the marked picture is as large as the others.
        let usual = |colour: usize| {
            let alike = start.iter().filter(|spot| spot.colour == colour);
            median(alike.map(|spot| spot.mass)).unwrap_or(1.0)
        };
        let known = start.iter().map(|spot| Known {
            at: spot.at,
            velocity: Vector2::zeros(),
            picture: marked,
            masses: VecDeque::from([usual(spot.colour)]),
        });
        let place = |dot: Dot| cast.iter().position(|(other, _)| *other == dot);
        let blade = |side: Side| {
            let [a, b, c] = Dot::of_blade(side).map(place);
            let blade = [a?, b?, c?];
            let [a, b, c] = blade.map(|place| start.get(place).map(|spot| spot.at));
            Some((blade, turn(a?, b?, c?).signum()))
        };
        Follower {
            scene,
            cast,
            known: known.collect(),
            blades: Side::BOTH.into_iter().filter_map(blade).collect(),
        }
    }

    fn time(&self, picture: usize) -> f64 {
        self.scene.times_s.get(picture).copied().unwrap_or(0.0)
    }

    fn step(&mut self, picture: usize) -> Vec<Option<Spot>> {
        let (Some(trunk), Some(spots)) = (
            self.scene.trunks.get(picture),
            self.scene.spots.get(picture),
        ) else {
            return vec![None; self.cast.len()];
        };
        let expected: Vec<Expected> = (0..self.cast.len())
            .map(|dot| self.expect(dot, picture, trunk, spots))
            .collect();
        let mut search = Search {
            follower: self,
            expected: &expected,
            length: trunk.length,
            best: (f64::INFINITY, vec![None; self.cast.len()]),
        };
        search.from(0, &mut Vec::new(), 0.0);
        let chosen = search.best.1;
        for (dot, spot) in chosen.iter().enumerate() {
            if let Some(spot) = spot {
                self.learn(dot, picture, spot);
            }
        }
        chosen
    }

    fn expect(&self, dot: usize, picture: usize, trunk: &Trunk, spots: &[Spot]) -> Expected {
        let (Some(known), Some((_, colour))) = (self.known.get(dot), self.cast.get(dot)) else {
            return Expected {
                at: Vector2::zeros(),
                unseen_s: 0.0,
                tried: Vec::new(),
            };
        };
        let elapsed = self.time(picture) - self.time(known.picture);
        let unseen_s = elapsed.abs();
        let at = if unseen_s <= GOES_ON_S {
            known.at + known.velocity * elapsed
        } else {
            let then = self
                .scene
                .trunks
                .get(known.picture)
                .map_or(trunk.top, |then| then.top);
            known.at + (trunk.top - then)
        };
        let sd = grown(PLACE_SD, unseen_s) * trunk.length;
        let mass = known.mass();
        let mut tried: Vec<(Spot, f64)> = spots
            .iter()
            .filter(|spot| spot.colour == *colour)
            .map(|spot| {
                let place = (spot.at - at).norm() / sd;
                let size = (spot.mass / mass).ln() / MASS_SD;
                (*spot, (place * place + size * size) / 2.0)
            })
            .filter(|(_, cost)| *cost < OUT_OF_SIGHT)
            .collect();
        tried.sort_by(|a, b| a.1.total_cmp(&b.1));
        tried.truncate(MOST_TRIED);
        Expected {
            at,
            unseen_s,
            tried,
        }
    }

    fn learn(&mut self, dot: usize, picture: usize, spot: &Spot) {
        let now = self.time(picture);
        let Some(then) = self.known.get(dot).map(|known| self.time(known.picture)) else {
            return;
        };
        let Some(known) = self.known.get_mut(dot) else {
            return;
        };
        let elapsed = now - then;
        known.velocity = if elapsed.abs() > GOES_ON_S || elapsed == 0.0 {
            Vector2::zeros()
        } else {
            0.4 * known.velocity + 0.6 * (spot.at - known.at) / elapsed
        };
        known.at = spot.at;
        known.picture = picture;
        // What is mostly hidden or has run into something else does not change what is usual.
        if (spot.mass / known.mass()).ln().abs() < 2.0 * MASS_SD {
            known.masses.push_back(spot.mass);
            if known.masses.len() > REMEMBERED {
                known.masses.pop_front();
            }
        }
    }
}

/// All ways of giving spots to dots, the best kept.
struct Search<'a> {
    follower: &'a Follower<'a>,
    expected: &'a [Expected],
    length: f64,
    best: (f64, Vec<Option<Spot>>),
}

impl Search<'_> {
    fn from(&mut self, dot: usize, given: &mut Vec<Option<Spot>>, cost: f64) {
        if cost >= self.best.0 {
            return;
        }
        let Some(expected) = self.expected.get(dot) else {
            let cost = cost + self.of_blades(given);
            if cost < self.best.0 {
                self.best = (cost, given.clone());
            }
            return;
        };
        for (spot, own) in &expected.tried {
            if given.iter().flatten().any(|other| other.at == spot.at) {
                continue;
            }
            let pairs = self.pairs(dot, spot, given);
            given.push(Some(*spot));
            self.from(dot + 1, given, cost + own + pairs);
            given.pop();
        }
        given.push(None);
        self.from(dot + 1, given, cost + OUT_OF_SIGHT);
        given.pop();
    }

    /// How badly the ways from the dots already given a spot fit.
    fn pairs(&self, dot: usize, spot: &Spot, given: &[Option<Spot>]) -> f64 {
        let Some(own) = self.expected.get(dot) else {
            return 0.0;
        };
        let others = given
            .iter()
            .zip(self.expected)
            .filter_map(|(spot, expected)| Some((spot.as_ref()?, expected)));
        others
            .map(|(other, expected)| {
                let way = (spot.at - other.at) - (own.at - expected.at);
                let sd = grown(PAIR_SD, own.unseen_s.max(expected.unseen_s)) * self.length;
                (way.norm() / sd).powi(2) / 4.0
            })
            .sum()
    }

    fn of_blades(&self, given: &[Option<Spot>]) -> f64 {
        let at = |dot: usize| given.get(dot).copied().flatten().map(|spot| spot.at);
        let mut cost = 0.0;
        for (blade, way_round) in &self.follower.blades {
            if let [Some(a), Some(b), Some(c)] = blade.map(at) {
                let turn = turn(a, b, c);
                if turn.abs() > 0.1 && turn.signum() != *way_round {
                    cost += INSIDE_OUT;
                }
            }
            let seen: Vec<usize> = blade
                .iter()
                .copied()
                .filter(|dot| at(*dot).is_some())
                .collect();
            if let [alone] = seen.as_slice() {
                let unseen_s = self
                    .expected
                    .get(*alone)
                    .map_or(0.0, |expected| expected.unseen_s);
                if unseen_s > ALONE.0 {
                    cost += ALONE.1;
                }
            }
        }
        cost
    }
}

fn grown((at_once, a_second, most): (f64, f64, f64), unseen_s: f64) -> f64 {
    (at_once + a_second * unseen_s).min(most)
}

/// Sine of the angle at `a` from `b` to `c`.
fn turn(a: Vector2<f64>, b: Vector2<f64>, c: Vector2<f64>) -> f64 {
    let (u, v) = (b - a, c - a);
    let lengths = u.norm() * v.norm();
    if lengths > 0.0 {
        (u.x * v.y - u.y * v.x) / lengths
    } else {
        0.0
    }
}
