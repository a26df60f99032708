//! The ten exercises as key poses: what a good repetition looks like.
//!
//! Angles in degrees, times in seconds. All key poses, tempos and the way an exercise is
//! performed are common practice without a source, unless a line says otherwise. This
//! table is the simulation's own: it shares nothing with the definitions by which
//! repetitions are judged.

use serde::{Deserialize, Serialize};

/// The exercises that can be simulated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)] // the names say it
pub enum Exercise {
    ScapularRaise,
    FrontalRaise,
    ForwardRaise,
    OverheadPress,
    WallPress,
    ForwardPress,
    RotateAndLower,
    OutwardRotation,
    Row,
    WallSlide,
}

/// The joint angle whose course marks the repetitions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RepSignal {
    /// Thoracohumeral elevation.
    Elevation,
    /// Elbow flexion.
    ElbowFlexion,
    /// Rotation of the upper arm about its length, counted as plane plus axial rotation.
    HumeralRotation,
}

/// How the two numbers that aim the upper arm are meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Coordinates {
    /// Elevation and plane of elevation.
    ElevationPlane,
    /// Elbow path and the angle ahead of the frontal plane: smooth where the arm hangs.
    PathAhead,
}

/// How the upper arm turns about its length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum AxialRule {
    /// Axial rotation = the pose's `rotation` minus the plane: 0 keeps the flexed forearm
    /// of a hanging arm pointing forward.
    Pose,
    /// The bent forearm points this way (thorax X, Y, Z) as well as it can.
    ForearmToward([f64; 3]),
}

/// A key pose of the working arm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct KeyPose {
    /// Elevation, or elbow path.
    pub first: f64,
    /// Plane of elevation, or angle ahead.
    pub second: f64,
    pub rotation: f64,
    pub elbow: f64,
}

impl KeyPose {
    /// The pose the share `part` of the way toward `other`.
    pub(super) fn toward(&self, other: &KeyPose, part: f64) -> KeyPose {
        let mix = |a: f64, b: f64| a + (b - a) * part;
        KeyPose {
            first: mix(self.first, other.first),
            second: mix(self.second, other.second),
            rotation: mix(self.rotation, other.rotation),
            elbow: mix(self.elbow, other.elbow),
        }
    }
}

/// When the shoulder is pushed forward.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Protraction {
    Never,
    AtTheTurn,
    AtTheEnd,
}

/// A good repetition.
#[derive(Clone, Copy, Debug)]
pub(super) struct Motion {
    pub signal: RepSignal,
    pub coordinates: Coordinates,
    pub axial: AxialRule,
    pub start: KeyPose,
    pub turn: KeyPose,
    /// Outward, hold, back, pause.
    pub tempo_s: [f64; 4],
    /// The blade is drawn back and down before the arm moves, and let go at the end.
    pub sets_blade: bool,
    /// The blade is drawn back together with the arm (a pull).
    pub pulls_blade: bool,
    pub protraction: Protraction,
    pub straight_arm: bool,
    /// The elbow path is part of what makes the exercise right.
    pub path_counts: bool,
    /// Plane at the end of the way back, and rotation reached before the way out.
    pub comes_down_ahead: Option<f64>,
    pub rotates_first: Option<f64>,
}

impl Motion {
    pub(super) fn protracts(&self) -> bool {
        self.protraction != Protraction::Never
    }

    /// The value of the repetition's signal in a pose, when it is one of the pose's numbers.
    pub(super) fn signal_of(&self, pose: &KeyPose) -> f64 {
        match self.signal {
            RepSignal::Elevation => pose.first,
            RepSignal::ElbowFlexion => pose.elbow,
            RepSignal::HumeralRotation => pose.rotation,
        }
    }

    /// Whether the person stands with hanging arms between repetitions.
    pub(super) fn starts_hanging(&self) -> bool {
        self.coordinates == Coordinates::ElevationPlane
            && self.start.first < 20.0
            && self.start.elbow < 20.0
    }
}

/// Hanging at the side, elbow a little bent.
pub(super) const HANG: KeyPose = pose(7.0, 40.0, 5.0, 10.0);

const fn pose(first: f64, second: f64, rotation: f64, elbow: f64) -> KeyPose {
    KeyPose {
        first,
        second,
        rotation,
        elbow,
    }
}

const fn raise(plane: f64, top: f64, top_rotation: f64) -> Motion {
    Motion {
        signal: RepSignal::Elevation,
        coordinates: Coordinates::ElevationPlane,
        axial: AxialRule::Pose,
        start: pose(7.0, plane, 5.0, 8.0),
        turn: pose(top, plane, top_rotation, 4.0),
        tempo_s: [2.2, 0.7, 2.4, 0.9],
        sets_blade: false,
        pulls_blade: false,
        protraction: Protraction::Never,
        straight_arm: true,
        path_counts: false,
        comes_down_ahead: None,
        rotates_first: None,
    }
}

const FORWARD: [f64; 3] = [1.0, 0.0, 0.0];
const UP: [f64; 3] = [0.0, 1.0, 0.0];

impl Exercise {
    /// Every exercise.
    pub const ALL: [Exercise; 10] = [
        Exercise::ScapularRaise,
        Exercise::FrontalRaise,
        Exercise::ForwardRaise,
        Exercise::OverheadPress,
        Exercise::WallPress,
        Exercise::ForwardPress,
        Exercise::RotateAndLower,
        Exercise::OutwardRotation,
        Exercise::Row,
        Exercise::WallSlide,
    ];

    /// The kebab-case id.
    pub fn id(self) -> &'static str {
        match self {
            Exercise::ScapularRaise => "scapular-raise",
            Exercise::FrontalRaise => "frontal-raise",
            Exercise::ForwardRaise => "forward-raise",
            Exercise::OverheadPress => "overhead-press",
            Exercise::WallPress => "wall-press",
            Exercise::ForwardPress => "forward-press",
            Exercise::RotateAndLower => "rotate-and-lower",
            Exercise::OutwardRotation => "outward-rotation",
            Exercise::Row => "row",
            Exercise::WallSlide => "wall-slide",
        }
    }

    /// The exercise with this id.
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|exercise| exercise.id() == id)
    }

    /// The signal whose course marks the repetitions.
    pub fn rep_signal(self) -> RepSignal {
        self.motion().signal
    }

    /// The exercise's key poses and tempo.
    pub(super) fn motion(self) -> Motion {
        match self {
            Exercise::ScapularRaise => raise(37.0, 152.0, -18.0),
            Exercise::FrontalRaise => raise(2.0, 150.0, -45.0),
            Exercise::ForwardRaise => raise(86.0, 152.0, 10.0),
            Exercise::OverheadPress => Motion {
                axial: AxialRule::ForearmToward(UP),
                start: pose(45.0, 35.0, 0.0, 120.0),
                turn: pose(150.0, 35.0, 0.0, 10.0),
                tempo_s: [1.8, 0.6, 2.2, 0.8],
                straight_arm: false,
                ..raise(35.0, 150.0, 0.0)
            },
            // Straight arms at elevation 80, plane 75 (path 55.7, 72 ahead); bent: elevation
            // about 50 on the 45 degree path.
            Exercise::WallPress => Motion {
                signal: RepSignal::ElbowFlexion,
                coordinates: Coordinates::PathAhead,
                axial: AxialRule::ForearmToward(FORWARD),
                start: pose(55.7, 72.0, 0.0, 5.0),
                turn: pose(45.0, 24.6, 0.0, 95.0),
                tempo_s: [2.0, 0.6, 1.8, 0.6],
                sets_blade: true,
                protraction: Protraction::AtTheEnd,
                straight_arm: false,
                path_counts: true,
                ..raise(0.0, 0.0, 0.0)
            },
            Exercise::ForwardPress => Motion {
                signal: RepSignal::ElbowFlexion,
                coordinates: Coordinates::PathAhead,
                axial: AxialRule::ForearmToward(FORWARD),
                start: pose(45.0, 5.0, 0.0, 100.0),
                turn: pose(55.7, 72.0, 0.0, 5.0),
                tempo_s: [1.8, 1.7, 2.2, 0.6],
                sets_blade: true,
                protraction: Protraction::AtTheTurn,
                straight_arm: false,
                path_counts: true,
                ..raise(0.0, 0.0, 0.0)
            },
            Exercise::RotateAndLower => Motion {
                start: pose(9.0, 38.0, 25.0, 88.0),
                turn: pose(132.0, 38.0, -30.0, 25.0),
                tempo_s: [2.2, 0.6, 2.6, 1.0],
                sets_blade: true,
                straight_arm: false,
                comes_down_ahead: Some(80.0),
                rotates_first: Some(-35.0),
                ..raise(38.0, 132.0, 0.0)
            },
            Exercise::OutwardRotation => Motion {
                signal: RepSignal::HumeralRotation,
                start: pose(8.0, 0.0, 40.0, 90.0),
                turn: pose(8.0, 0.0, -55.0, 90.0),
                tempo_s: [1.8, 0.7, 2.0, 0.8],
                straight_arm: false,
                ..raise(0.0, 8.0, 0.0)
            },
            // Straight ahead at elevation 70, plane 85; pulled to 25 degrees behind.
            Exercise::Row => Motion {
                signal: RepSignal::ElbowFlexion,
                coordinates: Coordinates::PathAhead,
                axial: AxialRule::ForearmToward(FORWARD),
                start: pose(13.5, 69.4, 0.0, 6.0),
                turn: pose(13.0, -25.0, 0.0, 100.0),
                tempo_s: [1.6, 0.6, 2.0, 0.7],
                pulls_blade: true,
                straight_arm: false,
                ..raise(0.0, 0.0, 0.0)
            },
            Exercise::WallSlide => Motion {
                axial: AxialRule::ForearmToward(UP),
                start: pose(75.0, 45.0, 0.0, 95.0),
                turn: pose(150.0, 45.0, 0.0, 25.0),
                tempo_s: [2.0, 0.6, 2.2, 0.8],
                straight_arm: false,
                ..raise(45.0, 150.0, 0.0)
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_go_both_ways() {
        for exercise in Exercise::ALL {
            assert_eq!(Exercise::from_id(exercise.id()), Some(exercise));
            let json = serde_json::to_string(&exercise).unwrap_or_default();
            assert_eq!(json, format!("\"{}\"", exercise.id()));
        }
        assert_eq!(Exercise::from_id("cartwheel"), None);
    }
}
