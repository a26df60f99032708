//! Seeded random numbers: every draw of a clip comes from one `u64` seed.
//!
//! In: a seed and the purpose of the draws. Out: a generator whose draws do not
//! depend on how many numbers another purpose used, so that changing the noise
//! leaves the movement as it was. It never reads the clock or the system.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal, Uniform};

/// What a stream of random numbers is for.
#[derive(Clone, Copy, Debug)]
pub(super) enum Purpose {
    Body = 1,
    Motion = 2,
    Timing = 3,
    Landmarks = 4,
    Image = 5,
    World = 6,
    Markers = 7,
    Passer = 8,
    Damage = 9,
    Blade = 10,
    Dots = 11,
}

/// A generator with the few draws the simulation needs.
pub(super) struct Random(ChaCha8Rng);

impl Random {
    /// The stream of `seed` that serves `purpose`.
    pub(super) fn new(seed: u64, purpose: Purpose) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(purpose as u64);
        Self(rng)
    }

    /// A standard normal number.
    pub(super) fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// A normal number that stays within two and a half standard deviations, so
    /// that no drawn body or repetition is absurd.
    pub(super) fn bounded(&mut self, mean: f64, sd: f64) -> f64 {
        mean + sd * self.normal().clamp(-2.5, 2.5)
    }

    /// A number evenly spread over `low..high`; `low` when the range is empty.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        match Uniform::new(low, high) {
            Ok(range) => range.sample(&mut self.0),
            Err(_) => low,
        }
    }

    /// True with the given probability.
    pub(super) fn chance(&mut self, probability: f64) -> bool {
        self.between(0.0, 1.0) < probability
    }
}

/// First-order autoregressive noise of unit variance: each value keeps a part of
/// the one before, as the error of a frame-by-frame estimator does.
#[derive(Clone, Copy, Debug)]
pub(super) struct Autoregressive {
    value: f64,
}

impl Autoregressive {
    /// Starts in the stationary distribution.
    pub(super) fn new(random: &mut Random) -> Self {
        Self {
            value: random.normal(),
        }
    }

    /// The next value; `keep` (0 to 1) is the correlation with the one before.
    pub(super) fn next(&mut self, keep: f64, random: &mut Random) -> f64 {
        let fresh = (1.0 - keep * keep).max(0.0).sqrt();
        self.value = keep * self.value + fresh * random.normal();
        self.value
    }
}
