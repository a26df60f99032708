//! A pinhole camera that stands upright and looks straight ahead.
//!
//! In: points in the room (u right in the picture, v up, w toward the camera; metres; the
//! person's place is at u = w = 0, the floor at v = 0). Out: pixels, x right, y down.

use nalgebra::Vector3;

use super::recipe::Recipe;
use super::truth::CameraTruth;

/// Nearer than this a point is not seen, metres.
const NEAREST_M: f64 = 0.15;

impl CameraTruth {
    /// The camera of a recipe.
    pub(super) fn of(recipe: &Recipe) -> Self {
        Self {
            yaw_deg: super::score::wrapped(recipe.camera_yaw_deg()),
            distance_m: recipe.distance_m,
            height_m: recipe.camera_height_m,
            focal_px: recipe.focal_ratio * f64::from(recipe.width_px.max(recipe.height_px)),
            width_px: recipe.width_px,
            height_px: recipe.height_px,
        }
    }

    /// The optical centre in the room.
    pub fn position(&self) -> Vector3<f64> {
        Vector3::new(0.0, self.height_m, self.distance_m)
    }

    /// Pixel of a point; `None` at or behind the camera.
    pub fn project(&self, point: &Vector3<f64>) -> Option<(f64, f64)> {
        let depth = self.distance_m - point.z;
        if depth < NEAREST_M {
            return None;
        }
        let scale = self.focal_px / depth;
        Some((
            f64::from(self.width_px) / 2.0 + scale * point.x,
            f64::from(self.height_px) / 2.0 - scale * (point.y - self.height_m),
        ))
    }

    /// Whether a pixel lies in the picture.
    pub fn sees(&self, x: f64, y: f64) -> bool {
        (0.0..f64::from(self.width_px)).contains(&x)
            && (0.0..f64::from(self.height_px)).contains(&y)
    }

    /// Noise scale: pixel figures are meant for a shorter side of 1080.
    pub(super) fn noise_scale(&self) -> f64 {
        f64::from(self.width_px.min(self.height_px)) / 1080.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_points_fall_on_known_pixels() {
        let camera = CameraTruth::of(&Recipe::default());
        // f = 0.75 * 1920 = 1440 px; the axis hits the middle of the picture
        assert_eq!(
            camera.project(&Vector3::new(0.0, 1.2, 0.0)),
            Some((960.0, 540.0))
        );
        // 0.27 m right and up at 2.7 m: 144 px
        let (x, y) = camera
            .project(&Vector3::new(0.27, 1.47, 0.0))
            .unwrap_or_default();
        assert!((x - 1104.0).abs() < 1e-9 && (y - 396.0).abs() < 1e-9);
        // twice as near, twice as large
        let (x, _) = camera
            .project(&Vector3::new(0.27, 1.2, 1.35))
            .unwrap_or_default();
        assert!((x - 1248.0).abs() < 1e-9);
        assert_eq!(camera.project(&Vector3::new(0.0, 1.2, 2.7)), None);
    }
}
