//! From a conditioned track to angles over time, each with its spread.
//!
//! In: a [`Track`] on an even time line, its noise, the assumptions of `models/landmarks.toml` and what the
//! exercise says about the arm. Out: [`Kinematics`]: one [`Series`] a [`Signal`], or the reason why there
//! is none. No repetition, no limit, no file is known here, and nothing returns an error: what cannot be
//! measured has a [`Why`].

mod angles;
mod assumptions;
mod blade;
mod calibrate;
mod collar;
mod lengths;
mod lens;
mod lift;
mod picture;
mod pose;
mod poses;
mod series;
mod signal;
mod space;
mod spread;
mod together;
mod turn;
mod values;
mod view;
mod world;

pub use angles::{
    Angles, Posture, TrunkAxes, angles, humerus_axes, plane_and_elevation_deg, scapula_axes,
};
pub use assumptions::{Assumptions, Blade, Linkage, Spread};
pub use lift::ForearmRule;
pub use pose::TrunkPlan;
pub use series::Series;
pub use signal::{Signal, Signals};
pub use together::{Pull, Pulls};
pub use values::Values;
pub use view::ViewEstimate;

use crate::body::{Joint, Side, ViewName};
use crate::note::Note;
use crate::reading::Why;
use crate::session::Space;
use crate::track::{Timeline, Track};

/// Noise of a conditioned track, standard deviation by joint column and axis.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Noise {
    /// Of the picture layer, pixels.
    pub picture: Vec<[f64; 2]>,
    /// Of the space layer, metres.
    pub space: Vec<[f64; 3]>,
    /// Time over which the noise stays alike, seconds.
    pub correlation_s: f64,
}

/// What is asked for, and what the exercise says that helps to see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Request {
    /// Side to measure.
    pub side: Side,
    /// Plane in which the exercise raises the arm, degrees.
    pub aim_plane_deg: f64,
    /// Whether the arm stays in one plane through a repetition, as in raises.
    pub keeps_plane: bool,
    /// How the forearm's depth is settled.
    pub forearm: ForearmRule,
    /// View stated by the user.
    pub stated_view: Option<ViewName>,
}

/// Signals of one side over time.
#[derive(Debug, Clone)]
pub struct Kinematics {
    /// Side.
    pub side: Side,
    /// Times of the frames.
    pub timeline: Timeline,
    /// What angles come from.
    pub space: Space,
    /// View, if it could be told.
    pub view: Option<ViewEstimate>,
    /// One entry a signal, by [`Signal::index`].
    signals: Vec<Result<Series, Why>>,
    /// By frame, whether shoulder, elbow and trunk were seen rather than filled.
    pub observed: Vec<bool>,
    /// Whether the trunk line ends between the shoulders, and so moves a little with the girdle.
    pub trunk_on_shoulders: bool,
    /// Time over which noise stays alike, seconds.
    pub correlation_s: f64,
    /// What every constant error makes of elevation and upward rotation together, where the blade is seen.
    pub pulls: Pulls,
    /// What was assumed.
    pub notes: Vec<Note>,
}

impl Kinematics {
    /// Kinematics from series by signal index; a missing entry is a signal the exercise does not contain.
    pub fn from_parts(
        side: Side,
        timeline: Timeline,
        space: Space,
        signals: Vec<Result<Series, Why>>,
        correlation_s: f64,
    ) -> Kinematics {
        let observed = vec![true; timeline.len()];
        Kinematics {
            side,
            timeline,
            space,
            view: None,
            signals,
            observed,
            trunk_on_shoulders: false,
            correlation_s,
            pulls: Pulls::default(),
            notes: Vec::new(),
        }
    }

    /// A signal, or the reason why it is not there.
    pub fn signal(&self, signal: Signal) -> Result<&Series, Why> {
        match self.signals.get(signal.index()) {
            Some(Ok(series)) => Ok(series),
            Some(Err(why)) => Err(*why),
            None => Err(Why::NotInExercise),
        }
    }

    /// Number of frames.
    pub fn frames(&self) -> usize {
        self.timeline.len()
    }
}

/// Measures every signal of one side.
pub fn kinematics(
    track: &Track,
    noise: &Noise,
    assumptions: &Assumptions,
    request: &Request,
) -> Kinematics {
    match TrunkPlan::choose(track) {
        None => unseen(track, request.side, noise),
        Some(plan) => match (&track.space, &track.picture) {
            (Some(layer), _) => world::measure(track, layer, plan, noise, assumptions, request),
            (None, Some(layer)) => {
                picture::measure(track, layer, plan, noise, assumptions, request)
            }
            (None, None) => unseen(track, request.side, noise),
        },
    }
}

/// The reason why a whole signal is missing, from what was seen of the joints it needs.
fn reason(track: &Track, side: Side, signal: Signal) -> Why {
    let rarely = |joint: Joint| track.coverage(joint) < 0.05;
    match signal {
        Signal::UpwardRotation | Signal::Tilt | Signal::InternalRotation => Why::NoScapularLandmark,
        Signal::LeanSide | Signal::LeanBack | Signal::TrunkTurn => Why::TrunkUnseen,
        _ if rarely(Joint::Shoulder(side)) => Why::ShoulderUnseen,
        Signal::GirdleElevation | Signal::GirdleProtraction => Why::TrunkUnseen,
        _ if rarely(Joint::Elbow(side)) => Why::ElbowUnseen,
        Signal::ElbowFlexion | Signal::HumeralRotation if rarely(Joint::Wrist(side)) => {
            Why::WristUnseen
        }
        Signal::HumeralRotation => Why::ElbowTooStraight,
        Signal::ElbowPath => Why::ArmAlongSightLine,
        _ => Why::TooFewFrames,
    }
}

/// Kinematics in which nothing could be measured because there is no trunk line.
fn unseen(track: &Track, side: Side, noise: &Noise) -> Kinematics {
    let shoulders_seen = Side::BOTH
        .into_iter()
        .all(|side| track.coverage(Joint::Shoulder(side)) >= 0.5);
    let trunk_reason = if shoulders_seen {
        Why::TrunkUnseen
    } else {
        Why::ShoulderUnseen
    };
    let signals = Signal::ALL
        .iter()
        .map(|signal| {
            Err(match reason(track, side, *signal) {
                why @ (Why::NoScapularLandmark | Why::ShoulderUnseen | Why::ElbowUnseen) => why,
                _ => trunk_reason,
            })
        })
        .collect();
    let space = if track.space.is_some() {
        Space::World
    } else {
        Space::Image
    };
    let mut kinematics = Kinematics::from_parts(
        side,
        track.timeline.clone(),
        space,
        signals,
        noise.correlation_s,
    );
    kinematics.observed = vec![false; track.frames()];
    kinematics.notes.push(Note::new(
        "kinematics/no-trunk",
        format!(
            "The trunk line could not be drawn: {}. No angle of the arm is measured without it.",
            trunk_reason.text()
        ),
    ));
    kinematics
}
