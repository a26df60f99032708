//! Body dimensions of the simulated person.
//!
//! In: a height and a seed. Out: segment lengths in metres. It says nothing about
//! posture.

use serde::{Deserialize, Serialize};

use super::random::{Purpose, Random};

/// Segment lengths in metres.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub struct Build {
    /// Standing height.
    pub height_m: f64,
    /// From the middle of the hip joints to the middle of the hanging shoulders' joint centres.
    pub trunk_m: f64,
    /// Between the two hip joint centres.
    pub hip_width_m: f64,
    /// From the midline to the sternal end of the clavicle.
    pub sternal_half_m: f64,
    /// Sternoclavicular to acromioclavicular joint.
    pub clavicle_m: f64,
    /// Size of the scapula relative to the default one.
    pub scapula_scale: f64,
    /// Glenohumeral centre to elbow centre.
    pub upper_arm_m: f64,
    /// Elbow centre to wrist centre.
    pub forearm_m: f64,
    /// Wrist centre to the finger bases.
    pub hand_m: f64,
    /// Hip to knee.
    pub thigh_m: f64,
    /// Knee to ankle.
    pub shank_m: f64,
    /// Ankle to the floor.
    pub ankle_height_m: f64,
}

impl Build {
    /// The average proportions for a height in metres.
    ///
    /// Source of the ratios: Drillis and Contini, as printed in Winter's textbook;
    /// from memory, not verified.
    pub fn average(height_m: f64) -> Self {
        let scale = height_m / 1.72;
        Self {
            height_m,
            trunk_m: 0.288 * height_m,
            // from memory, not verified (joint centres lie closer together than the hips look)
            hip_width_m: 0.115 * height_m,
            // from memory, not verified
            sternal_half_m: 0.025 * scale,
            // from memory, not verified
            clavicle_m: 0.152 * scale,
            scapula_scale: scale,
            upper_arm_m: 0.186 * height_m,
            forearm_m: 0.146 * height_m,
            // from memory, not verified (wrist to knuckles is most of the hand's 0.108 H)
            hand_m: 0.052 * height_m,
            thigh_m: 0.245 * height_m,
            shank_m: 0.246 * height_m,
            ankle_height_m: 0.039 * height_m,
        }
    }

    /// A person of this height with proportions varied by a few percent.
    pub fn varied(height_m: Option<f64>, seed: u64, variation: f64) -> Self {
        let mut random = Random::new(seed, Purpose::Body);
        // from memory, not verified: adult height about 1.70 m, sd 0.09 m
        let drawn = random.bounded(1.70, 0.09 * variation);
        let mut build = Self::average(height_m.unwrap_or(drawn));
        let mut vary = |length: &mut f64, sd: f64| *length *= random.bounded(1.0, sd * variation);
        // common practice, no source: segment lengths vary some 3 to 5 % at a given height
        vary(&mut build.trunk_m, 0.03);
        vary(&mut build.hip_width_m, 0.05);
        vary(&mut build.clavicle_m, 0.05);
        vary(&mut build.scapula_scale, 0.05);
        vary(&mut build.upper_arm_m, 0.03);
        vary(&mut build.forearm_m, 0.03);
        vary(&mut build.thigh_m, 0.03);
        build
    }

    /// Height of the hip joints above the floor when standing.
    pub fn hip_height_m(&self) -> f64 {
        self.thigh_m + self.shank_m + self.ankle_height_m
    }
}
