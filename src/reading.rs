//! A reading: a value with its 95 % interval, or the reason why there is none.
//!
//! There is no third state: no NaN, no zero that stands for "unknown", no value without an interval.

use serde::{Deserialize, Serialize};

/// What kind of evidence a value rests on.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// The points that define the quantity were in the track.
    Direct,
    /// A person's own inclinometer readings scale an indirect signal.
    Calibrated,
    /// Inferred through a model of the body, with the model's spread in the interval.
    Proxy,
}

/// A measured value. `low..high` is a 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct Estimate {
    /// Best value.
    pub value: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
    /// Share of the frames it rests on that were seen rather than filled, 0..1.
    pub observed: f64,
    /// Evidence.
    pub basis: Basis,
}

/// 97.5 % point of the standard normal distribution: half-width of a 95 % interval in standard deviations.
pub const Z_95: f64 = 1.959_963_984_540_054;

impl Estimate {
    /// A value with a symmetric interval of plus and minus 1.96 standard deviations.
    pub fn with_sd(value: f64, sd: f64, observed: f64, basis: Basis) -> Estimate {
        Estimate {
            value,
            low: value - Z_95 * sd,
            high: value + Z_95 * sd,
            observed,
            basis,
        }
    }

    /// Half the width of the interval divided by 1.96: the standard deviation it stands for.
    pub fn sd(&self) -> f64 {
        (self.high - self.low) / (2.0 * Z_95)
    }

    /// Whether a number lies in the interval, ends included.
    pub fn covers(&self, truth: f64) -> bool {
        self.low <= truth && truth <= self.high
    }
}

/// Why a value is absent. Each has a long text and a remedy in `models/notes.toml`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)] // the ids say it; `text` is the doc
pub enum Why {
    ShoulderUnseen,
    ElbowUnseen,
    WristUnseen,
    TrunkUnseen,
    NoScapularLandmark,
    WrongView,
    IllConditioned,
    PlaneUndefined,
    ElbowTooStraight,
    RateUnknown,
    IntervalNotReached,
    ArmAlongSightLine,
    TooFewFrames,
    NotInExercise,
    PictureSizeUnknown,
    SingleImage,
    IncompleteRepetition,
    EventNotSeen,
    BeyondTrust,
    NoTrunkTop,
}

impl Why {
    /// Every reason.
    pub const ALL: [Why; 20] = [
        Why::ShoulderUnseen,
        Why::ElbowUnseen,
        Why::WristUnseen,
        Why::TrunkUnseen,
        Why::NoScapularLandmark,
        Why::WrongView,
        Why::IllConditioned,
        Why::PlaneUndefined,
        Why::ElbowTooStraight,
        Why::RateUnknown,
        Why::IntervalNotReached,
        Why::ArmAlongSightLine,
        Why::TooFewFrames,
        Why::NotInExercise,
        Why::PictureSizeUnknown,
        Why::SingleImage,
        Why::IncompleteRepetition,
        Why::EventNotSeen,
        Why::BeyondTrust,
        Why::NoTrunkTop,
    ];

    /// Kebab-case code, as in results and `scaplane explain`.
    pub fn code(self) -> &'static str {
        match self {
            Why::ShoulderUnseen => "shoulder-unseen",
            Why::ElbowUnseen => "elbow-unseen",
            Why::WristUnseen => "wrist-unseen",
            Why::TrunkUnseen => "trunk-unseen",
            Why::NoScapularLandmark => "no-scapular-landmark",
            Why::WrongView => "wrong-view",
            Why::IllConditioned => "ill-conditioned",
            Why::PlaneUndefined => "plane-undefined",
            Why::ElbowTooStraight => "elbow-too-straight",
            Why::RateUnknown => "rate-unknown",
            Why::IntervalNotReached => "interval-not-reached",
            Why::ArmAlongSightLine => "arm-along-sight-line",
            Why::TooFewFrames => "too-few-frames",
            Why::NotInExercise => "not-in-exercise",
            Why::PictureSizeUnknown => "picture-size-unknown",
            Why::SingleImage => "single-image",
            Why::IncompleteRepetition => "incomplete-repetition",
            Why::EventNotSeen => "event-not-seen",
            Why::BeyondTrust => "beyond-trust",
            Why::NoTrunkTop => "no-trunk-top",
        }
    }

    /// One sentence for a table cell or a tooltip.
    pub fn text(self) -> &'static str {
        match self {
            Why::ShoulderUnseen => "the shoulder was not seen",
            Why::ElbowUnseen => "the elbow was not seen",
            Why::WristUnseen => "the wrist was not seen",
            Why::TrunkUnseen => {
                "the hips were not seen (or too seldom), so the trunk line is unknown"
            }
            Why::NoScapularLandmark => "no point on the shoulder blade is in the track",
            Why::WrongView => "this view cannot tell; the picture looks along the wrong direction",
            Why::IllConditioned => {
                "from this view a small error in the picture becomes a large error in the angle"
            }
            Why::PlaneUndefined => {
                "the arm hung down or pointed straight up, where a plane has no meaning"
            }
            Why::ElbowTooStraight => {
                "the elbow was too straight for the forearm to show the rotation"
            }
            Why::RateUnknown => "the file states no frame rate, so seconds are unknown",
            Why::IntervalNotReached => {
                "the arm did not move through the whole interval of elevation"
            }
            Why::ArmAlongSightLine => "the upper arm pointed along the line of sight",
            Why::TooFewFrames => "too few frames were seen",
            Why::NotInExercise => "the exercise does not contain this movement",
            Why::PictureSizeUnknown => {
                "the picture's size is unknown, so perspective cannot be undone"
            }
            Why::SingleImage => "a single image does not show this angle",
            Why::IncompleteRepetition => "the repetition is incomplete",
            Why::EventNotSeen => "the moment it is timed from was not seen",
            Why::BeyondTrust => "the interval is too wide to mean anything",
            Why::NoTrunkTop => {
                "no fixed point of the upper trunk is in the track, only the shoulders themselves"
            }
        }
    }
}

/// A value or the reason for its absence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reading {
    /// Measured, with its interval.
    Measured(Estimate),
    /// Not measurable, because.
    NotMeasurable(Why),
}

impl Reading {
    /// The estimate, if there is one.
    pub fn estimate(&self) -> Option<&Estimate> {
        match self {
            Reading::Measured(estimate) => Some(estimate),
            Reading::NotMeasurable(_) => None,
        }
    }
}

impl From<Result<Estimate, Why>> for Reading {
    fn from(result: Result<Estimate, Why>) -> Reading {
        match result {
            Ok(estimate) => Reading::Measured(estimate),
            Err(why) => Reading::NotMeasurable(why),
        }
    }
}
