//! What clip to make: the recipe, its defaults and its check.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::blade::BladeSpread;
use super::curve::Curve;
use super::exercise::Exercise;
use super::fault::{Fault, FaultKind, When};
use super::noise::Noise;
use super::point::Side;

/// Which arm does the exercise.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Working {
    /// The left arm; the right one hangs.
    Left,
    /// The right arm; the left one hangs.
    #[default]
    Right,
    /// Both arms at once.
    Both,
}

impl Working {
    /// Whether this side works.
    pub fn includes(self, side: Side) -> bool {
        match self {
            Working::Left => side == Side::Left,
            Working::Right => side == Side::Right,
            Working::Both => true,
        }
    }

    /// The working sides.
    pub fn sides(self) -> impl Iterator<Item = Side> {
        Side::BOTH.into_iter().filter(move |s| self.includes(*s))
    }
}

/// Where the camera stands, as seen in the picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum View {
    /// The person faces the camera.
    #[default]
    Front,
    /// The person's back is toward the camera.
    Back,
    /// The person's left side is near the camera.
    Left,
    /// The person's right side is near the camera.
    Right,
    /// Half-way between the front and the working side.
    Oblique,
}

impl View {
    /// The yaw of an ideal placement in degrees.
    pub fn yaw_deg(self, working: Working) -> f64 {
        match (self, working) {
            (View::Front, _) => 0.0,
            (View::Back, _) => 180.0,
            (View::Left, _) => -90.0,
            (View::Right, _) => 90.0,
            (View::Oblique, Working::Left) => -45.0,
            (View::Oblique, _) => 45.0,
        }
    }
}

/// Things that happen around the exercise.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Extras {
    /// The person walks from the phone to the place at the start.
    pub walk_in: bool,
    /// The person walks to the phone at the end.
    pub walk_out: bool,
    /// The repetition (from 1) in which the person stops for a second half-way.
    pub pause_halfway: Option<u32>,
    /// One more repetition is begun and cut off by the end of the clip.
    pub cut_off_end: bool,
    /// A second person crosses the picture behind, for about four seconds.
    pub passer_by: bool,
    /// With two people in the picture their order changes from frame to frame.
    pub shuffle_people: bool,
    /// Coloured dots on both shoulder blades, written with the 2-D tidy table.
    pub skin_dots: bool,
}

/// All that determines a clip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Recipe {
    /// The exercise.
    pub exercise: Exercise,
    /// The working arm.
    pub side: Working,
    /// The one source of everything random.
    pub seed: u64,
    /// Number of sets (1 to 10).
    pub sets: u32,
    /// Complete repetitions in each set (1 to 60).
    pub reps: u32,
    /// Rest between sets in seconds.
    pub rest_s: f64,
    /// Standing still before the first and after the last set, seconds.
    pub still_s: f64,
    /// Frames per second (5 to 240).
    pub rate_hz: f64,
    /// Camera placement.
    pub view: View,
    /// Added to the placement's yaw, degrees.
    pub yaw_deg: f64,
    /// Camera to person, metres.
    pub distance_m: f64,
    /// Camera above the floor, metres.
    pub camera_height_m: f64,
    /// Picture width, pixels.
    pub width_px: u32,
    /// Picture height, pixels.
    pub height_px: u32,
    /// Focal length over the picture's longer side.
    pub focal_ratio: f64,
    /// Damage of the keypoints.
    pub noise: Noise,
    /// Planted faults.
    pub faults: Vec<Fault>,
    /// Things around the exercise.
    pub extras: Extras,
    /// The shoulder blade's course.
    pub curve: Curve,
    /// How blades differ between people beside the curve, and dots from the bone.
    pub blade: BladeSpread,
    /// Factor on the girdle's share of the movement; drawn near 1 when absent.
    pub share_gain: Option<f64>,
    /// Standing height in metres; drawn when absent.
    pub height_m: Option<f64>,
    /// Scale of all natural variation of body, sway, tempo, range and plane: 1 usual, 0 none.
    pub variation: f64,
}

impl Default for Recipe {
    fn default() -> Self {
        Self {
            exercise: Exercise::ScapularRaise,
            side: Working::Right,
            seed: 1,
            sets: 1,
            reps: 6,
            rest_s: 8.0,
            still_s: 1.0,
            rate_hz: 30.0,
            view: View::Front,
            yaw_deg: 0.0,
            distance_m: 2.7,
            camera_height_m: 1.2,
            width_px: 1920,
            height_px: 1080,
            // from memory, not verified: main camera of a phone, horizontal field some 65 degrees
            focal_ratio: 0.75,
            noise: Noise::none(),
            faults: Vec::new(),
            extras: Extras::default(),
            curve: Curve::Published,
            blade: BladeSpread::default(),
            share_gain: None,
            height_m: None,
            variation: 1.0,
        }
    }
}

/// Why a recipe cannot be made.
#[derive(Clone, Debug, PartialEq)]
pub enum RecipeError {
    /// A number lies outside what can be simulated.
    OutOfRange {
        /// The recipe's field.
        field: &'static str,
        /// The number given.
        value: f64,
        /// The smallest that works.
        low: f64,
        /// The largest that works.
        high: f64,
    },
    /// A planted fault means nothing in this exercise.
    FaultDoesNotApply {
        /// The fault.
        kind: FaultKind,
        /// The exercise.
        exercise: Exercise,
    },
    /// A planted fault names a repetition the clip does not have.
    NoSuchRepetition {
        /// The number given.
        rep: u32,
        /// How many there are.
        reps: u32,
    },
    /// The curve's table cannot be used.
    Curve(&'static str),
    /// The clip would be too long.
    TooManyFrames {
        /// How many frames it would have.
        frames: f64,
        /// The most that are made.
        limit: usize,
    },
}

impl fmt::Display for RecipeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            RecipeError::OutOfRange {
                field,
                value,
                low,
                high,
            } => write!(
                f,
                "{field} is {value}; it must lie between {low} and {high}"
            ),
            RecipeError::FaultDoesNotApply { kind, exercise } => {
                write!(f, "the fault {kind:?} means nothing in {}", exercise.id())
            }
            RecipeError::NoSuchRepetition { rep, reps } => {
                write!(f, "there is no repetition {rep}: the clip has {reps}")
            }
            RecipeError::Curve(why) => write!(f, "curve: {why}"),
            RecipeError::TooManyFrames { frames, limit } => {
                write!(
                    f,
                    "the clip would have {frames:.0} frames; at most {limit} are made"
                )
            }
        }
    }
}

impl std::error::Error for RecipeError {}

/// The most frames of one clip: twenty minutes at 60 Hz keep well within a gigabyte.
pub(super) const MOST_FRAMES: usize = 72_000;

impl Recipe {
    /// Number of complete repetitions in the clip.
    pub fn total_reps(&self) -> u32 {
        self.sets.saturating_mul(self.reps)
    }

    /// The yaw of the person toward the camera, degrees.
    pub fn camera_yaw_deg(&self) -> f64 {
        self.view.yaw_deg(self.side) + self.yaw_deg
    }

    /// Checks every number.
    pub fn check(&self) -> Result<(), RecipeError> {
        let ranges = [
            ("sets", f64::from(self.sets), 1.0, 10.0),
            ("reps", f64::from(self.reps), 1.0, 60.0),
            ("rest_s", self.rest_s, 4.0, 300.0),
            ("still_s", self.still_s, 0.0, 60.0),
            ("rate_hz", self.rate_hz, 5.0, 240.0),
            ("yaw_deg", self.yaw_deg, -360.0, 360.0),
            ("distance_m", self.distance_m, 1.2, 20.0),
            ("camera_height_m", self.camera_height_m, 0.0, 4.0),
            ("width_px", f64::from(self.width_px), 64.0, 16384.0),
            ("height_px", f64::from(self.height_px), 64.0, 16384.0),
            ("focal_ratio", self.focal_ratio, 0.2, 5.0),
            ("share_gain", self.share_gain.unwrap_or(1.0), 0.0, 3.0),
            ("height_m", self.height_m.unwrap_or(1.7), 0.8, 2.5),
            ("variation", self.variation, 0.0, 3.0),
        ];
        for (field, value, low, high) in ranges {
            within(field, value, low, high)?;
        }
        self.noise.check()?;
        self.blade.check()?;
        if let Some(why) = self.curve.fault() {
            return Err(RecipeError::Curve(why));
        }
        if let Some(rep) = self.extras.pause_halfway {
            self.has_repetition(rep)?;
        }
        self.faults
            .iter()
            .try_for_each(|fault| self.check_fault(fault))
    }

    fn has_repetition(&self, rep: u32) -> Result<(), RecipeError> {
        let reps = self.total_reps();
        if rep == 0 || rep > reps {
            return Err(RecipeError::NoSuchRepetition { rep, reps });
        }
        Ok(())
    }

    fn check_fault(&self, fault: &Fault) -> Result<(), RecipeError> {
        let kind = fault.kind;
        if !kind.applies_to(self.exercise) {
            let exercise = self.exercise;
            return Err(RecipeError::FaultDoesNotApply { kind, exercise });
        }
        within("severity", fault.severity, 0.0, kind.largest())?;
        match &fault.when {
            When::Reps(reps) => reps.iter().try_for_each(|rep| self.has_repetition(*rep)),
            When::Drift { from_rep, per_rep } => {
                within("from_rep", f64::from(*from_rep), 1.0, f64::from(self.reps))?;
                within("per_rep", *per_rep, 0.0, kind.largest())
            }
        }
    }
}

pub(super) fn within(
    field: &'static str,
    value: f64,
    low: f64,
    high: f64,
) -> Result<(), RecipeError> {
    // a NaN is in no range
    if value >= low && value <= high {
        return Ok(());
    }
    Err(RecipeError::OutOfRange {
        field,
        value,
        low,
        high,
    })
}
