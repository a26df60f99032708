//! How strongly the keypoints are damaged.

use serde::{Deserialize, Serialize};

use super::recipe::{RecipeError, within};

/// Kinds and sizes of damage. Pixels are meant for a picture whose shorter side is 1080
/// and scale with it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Noise {
    /// Standard deviation of a keypoint's jitter, pixels; shoulders less, wrists and hips more.
    pub keypoint_px: f64,
    /// Correlation of the jitter from one frame to the next at 30 Hz (0 to 0.99).
    pub memory: f64,
    /// Standard deviation of the landmark offset of shoulder, elbow and wrist, metres: fixed
    /// through the clip in the axes of the segment.
    pub landmark_m: f64,
    /// The same for the hips.
    pub hip_landmark_m: f64,
    /// Far-off positions per joint and minute.
    pub outliers_per_min: f64,
    /// Short losses (2 to 6 frames) per joint and minute.
    pub gaps_per_min: f64,
    /// Left/right exchanges (2 to 5 frames) per minute.
    pub exchanges_per_min: f64,
    /// World layer: jitter within the picture plane, metres.
    pub world_plane_m: f64,
    /// World layer: jitter of the depth, metres.
    pub world_depth_m: f64,
    /// World layer: standard deviation of each joint's constant depth error, metres.
    pub world_depth_offset_m: f64,
    /// Three-dimensional export: jitter of each coordinate, metres.
    pub marker_m: f64,
    /// Share of frames that were never recorded.
    pub dropped: f64,
    /// Standard deviation of the time between frames about the even one, share of a frame (0 to 0.3).
    pub uneven: f64,
}

impl Default for Noise {
    fn default() -> Self {
        Self::none()
    }
}

impl Noise {
    /// A perfect estimator.
    pub fn none() -> Self {
        Self {
            keypoint_px: 0.0,
            memory: 0.0,
            landmark_m: 0.0,
            hip_landmark_m: 0.0,
            outliers_per_min: 0.0,
            gaps_per_min: 0.0,
            exchanges_per_min: 0.0,
            world_plane_m: 0.0,
            world_depth_m: 0.0,
            world_depth_offset_m: 0.0,
            marker_m: 0.0,
            dropped: 0.0,
            uneven: 0.0,
        }
    }

    /// What an open estimator does on a phone clip: stated assumptions, no source.
    pub fn typical() -> Self {
        Self {
            keypoint_px: 3.0,
            memory: 0.6,
            landmark_m: 0.008,
            hip_landmark_m: 0.012,
            outliers_per_min: 0.5,
            gaps_per_min: 0.5,
            exchanges_per_min: 1.0,
            world_plane_m: 0.005,
            world_depth_m: 0.015,
            world_depth_offset_m: 0.015,
            marker_m: 0.0015,
            dropped: 0.01,
            uneven: 0.03,
        }
    }

    /// Jitter and landmark offsets only: no outliers, gaps, exchanges or lost frames.
    pub fn jitter() -> Self {
        Self {
            outliers_per_min: 0.0,
            gaps_per_min: 0.0,
            exchanges_per_min: 0.0,
            dropped: 0.0,
            uneven: 0.0,
            ..Self::typical()
        }
    }

    pub(super) fn check(&self) -> Result<(), RecipeError> {
        let ranges = [
            ("noise.keypoint_px", self.keypoint_px, 200.0),
            ("noise.memory", self.memory, 0.99),
            ("noise.landmark_m", self.landmark_m, 0.2),
            ("noise.hip_landmark_m", self.hip_landmark_m, 0.2),
            ("noise.outliers_per_min", self.outliers_per_min, 600.0),
            ("noise.gaps_per_min", self.gaps_per_min, 200.0),
            ("noise.exchanges_per_min", self.exchanges_per_min, 200.0),
            ("noise.world_plane_m", self.world_plane_m, 0.5),
            ("noise.world_depth_m", self.world_depth_m, 0.5),
            ("noise.world_depth_offset_m", self.world_depth_offset_m, 0.5),
            ("noise.marker_m", self.marker_m, 0.5),
            ("noise.dropped", self.dropped, 0.5),
            ("noise.uneven", self.uneven, 0.3),
        ];
        ranges
            .into_iter()
            .try_for_each(|(field, value, high)| within(field, value, 0.0, high))
    }
}
