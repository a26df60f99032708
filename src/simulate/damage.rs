//! Stretches of bad frames: spikes, losses and left/right exchanges.
//!
//! In: one person's observed frames in order and their times. Out: the same frames, damaged.

use super::noise::Noise;
use super::observe::{Keypoint, Person, is_body_landmark};
use super::point::{PerPoint, Point};
use super::random::{Purpose, Random};

/// Number of events in a stretch of this length, from a rate per minute.
fn events(random: &mut Random, per_min: f64, duration_s: f64) -> usize {
    let expected = per_min * duration_s / 60.0;
    let whole = expected.floor();
    // limits of the recipe keep this far below a million
    whole as usize + usize::from(random.chance(expected - whole))
}

/// Spoils the frames in place. `scale` is the picture's size relative to the one the noise's
/// pixel figures are meant for.
pub(super) fn damage(
    frames: &mut [&mut Person],
    noise: &Noise,
    duration_s: f64,
    scale: f64,
    seed: u64,
) {
    let mut random = Random::new(seed, Purpose::Damage);
    let count = frames.len() as f64;
    if frames.is_empty() {
        return;
    }
    for _ in 0..events(&mut random, noise.exchanges_per_min, duration_s) {
        let start = random.between(0.0, count) as usize;
        let length = random.between(2.0, 6.0) as usize;
        let whole_body = random.chance(0.5);
        for person in frames.iter_mut().skip(start).take(length) {
            exchange(&mut person.image, whole_body);
            exchange(&mut person.world, whole_body);
        }
    }
    for point in Point::ALL.iter().filter(|point| is_body_landmark(**point)) {
        for _ in 0..events(&mut random, noise.outliers_per_min, duration_s) {
            let at = random.between(0.0, count) as usize;
            let far = scale * random.between(60.0, 250.0);
            let way = random.between(0.0, std::f64::consts::TAU);
            if let Some(person) = frames.get_mut(at) {
                let keypoint = &mut person.image[*point];
                keypoint.x += far * way.cos();
                keypoint.y += far * way.sin();
            }
        }
        for _ in 0..events(&mut random, noise.gaps_per_min, duration_s) {
            let start = random.between(0.0, count) as usize;
            let length = random.between(2.0, 7.0) as usize;
            let left = if random.chance(0.5) { 0.0 } else { 0.1 };
            for person in frames.iter_mut().skip(start).take(length) {
                let keypoint = &mut person.image[*point];
                keypoint.score = keypoint.score.min(left);
            }
        }
    }
}

/// Whether an arms-only exchange swaps the point.
fn of_the_arm(point: Point) -> bool {
    (Point::LeftShoulder as usize..Point::LeftHip as usize).contains(&(point as usize))
}

fn exchange<T: Copy>(values: &mut PerPoint<T>, whole_body: bool) {
    for point in Point::ALL {
        let twin = point.mirrored();
        if (*point as usize) < twin as usize && (whole_body || of_the_arm(*point)) {
            let kept = values[*point];
            values[*point] = values[twin];
            values[twin] = kept;
        }
    }
}

/// Whether a person can be seen at all.
pub(super) fn visible(image: &PerPoint<Keypoint>) -> bool {
    let seen = Point::ALL
        .iter()
        .filter(|point| is_body_landmark(**point) && image[**point].score > 0.2);
    seen.count() >= 4
}
