//! Synthetic clips with known truth.
//!
//! A forward model of the shoulder complex (trunk, clavicle, scapula, humerus, forearm) does
//! an exercise, a pinhole camera films it, an estimator's errors are added, and the result
//! is written in the layouts that open pose estimators export. In: a [`Recipe`] (every number
//! random in the clip comes from its one seed). Out: a [`Clip`] with the recorded frames, and
//! the [`Truth`]: every angle of every frame, every repetition with its boundaries, planted
//! faults and true values.
//!
//! It serves tests, teaching and the question where to put the phone. It deliberately shares
//! no code with the analysis: what is measured must not be able to agree with what was put
//! in only because both made the same mistake. It is a model, not a person: soft tissue,
//! camera shake, lens distortion and clothing are absent.
//!
//! Axes: thorax X forward, Y up, Z to the person's right (ISB, Wu et al. 2005; the left side
//! mirrored); room u right in the picture, v up, w toward the camera; picture x right, y down.

mod blade;
mod body;
mod build;
mod camera;
mod channel;
mod clip;
mod course;
mod curve;
mod damage;
mod exercise;
mod fault;
mod noise;
mod observe;
mod passer;
mod perform;
mod plan;
mod point;
mod random;
mod recipe;
mod score;
mod sight;
mod truth;
mod write;

#[cfg(test)]
mod tests;

pub use blade::BladeSpread;
pub use body::{
    ArmPose, SidePose, Skeleton, TrunkPose, about_x, about_y, about_z, forearm_in_humerus, heading,
    humerus_rotation, scapula_rotation, thorax_axes,
};
pub use build::Build;
pub use channel::{minimum_jerk, minimum_jerk_rate};
pub use clip::{Clip, Frame, simulate};
pub use curve::{Curve, GirdleHabit, GirdlePose};
pub use exercise::{Exercise, RepSignal};
pub use fault::{Fault, FaultKind, When};
pub use noise::Noise;
pub use observe::{Keypoint, Person};
pub use point::{PerPoint, Point, Points, Side};
pub use recipe::{Extras, Recipe, RecipeError, View, Working};
pub use truth::{ArmTruth, CameraTruth, Detail, FrameTruth, Planted, RepTruth, Truth};
pub use write::Format;
