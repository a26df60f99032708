//! The poses of a clip in one picture: points from the layer, lengths from the trunk's as the ruler.

use super::Spread;
use super::lift::{CollarFrom, PicturePose};
use super::pose::Role;
use super::poses::{Poses, points_of};
use crate::track::Layer;
use nalgebra::Vector2;

/// The poses of a clip in one picture.
pub struct PicturePoses<'a> {
    /// Where the points are.
    pub layer: &'a Layer,
    /// Its columns by [`Role`].
    pub columns: [Option<usize>; Role::COUNT],
    /// What all frames have in common; its points and what goes with the ruler do not count.
    pub every: PicturePose,
    /// Lengths, once they are known.
    pub lengths: Option<Lengths<'a>>,
    /// Frames for which one hint at the plane serves, and the hints.
    pub hints: (usize, Vec<Option<Spread>>),
}

/// Lengths of the body as shares of the trunk's, which is the ruler: walking nearer is no growth.
pub struct Lengths<'a> {
    /// The trunk's by frame, pixels.
    pub trunk_px: &'a [Option<f64>],
    /// The trunk's where it was not seen.
    pub typical_px: f64,
    /// The upper arm's.
    pub upper_arm: Spread,
    /// The forearm's.
    pub forearm: Spread,
    /// From shoulder to shoulder.
    pub shoulder_width: Spread,
    /// Resting offset of the girdle; so walking nearer is no shrug.
    pub collar_rest: Option<Vector2<f64>>,
    /// From a point on the collar bone to the resting girdle, where the track has one.
    pub collar: Option<Spread>,
}

impl Lengths<'_> {
    /// Puts the lengths of a frame into its pose.
    #[inline(always)]
    fn put(&self, frame: usize, pose: &mut PicturePose) {
        let known = self.trunk_px.get(frame).copied().flatten();
        let trunk = known.unwrap_or(self.typical_px);
        let scaled = |share: Spread, by: f64| Spread {
            value: share.value * trunk / by,
            sd: share.sd * trunk / by,
        };
        pose.upper_arm = scaled(self.upper_arm, 1.0);
        pose.forearm = scaled(self.forearm, 1.0);
        pose.half_shoulder = scaled(self.shoulder_width, 2.0);
        pose.collar_rest = self.collar_rest.map(|share| share * trunk);
        if let Some(length) = self.collar {
            pose.collar = CollarFrom::Seen(scaled(length, 1.0));
        }
    }
}

impl Poses for PicturePoses<'_> {
    type Pose = PicturePose;

    fn frames(&self) -> usize {
        self.layer.frames()
    }

    // Inlined, so that what nobody looks at need not be made.
    #[inline(always)]
    fn at(&self, frame: usize) -> PicturePose {
        let (step, hints) = &self.hints;
        let mut pose = PicturePose {
            points: points_of(&self.columns, |column| self.layer.flat(frame, column)),
            plane_hint: hints.get(frame / step).copied().flatten(),
            ..self.every
        };
        if let Some(lengths) = &self.lengths {
            lengths.put(frame, &mut pose);
        }
        pose
    }
}
