//! Faults that can be planted in chosen repetitions, or growing over a set.

use serde::{Deserialize, Serialize};

use super::exercise::{Coordinates, Exercise};

/// A way to do a repetition wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FaultKind {
    /// The plane of elevation turned toward the frontal plane, degrees.
    PlaneTowardSide,
    /// The plane of elevation turned toward the front, degrees.
    PlaneTowardFront,
    /// The bent elbow away from the trunk, degrees of elbow path.
    FlaredElbow,
    /// The bent elbow close to the trunk, degrees of elbow path.
    TuckedElbow,
    /// The turning point short of the usual one, degrees of the repetition's signal.
    ShortRange,
    /// The shoulder hiked in the first part of the raise, degrees of clavicle elevation.
    EarlyHike,
    /// The trunk leaning away from the working arm (to the left when both work), degrees.
    TrunkLeanSide,
    /// The trunk leaning back, degrees.
    TrunkLeanBack,
    /// The trunk turning toward the working arm (to the right when both work), degrees.
    TrunkTurn,
    /// Both moving phases shorter, seconds each (never below 0.35 s).
    TooFast,
    /// The elbow bending in a raise with a straight arm, degrees.
    ElbowBend,
    /// The shoulder protracted before the elbow is straight, seconds earlier than usual.
    EarlyProtraction,
    /// The upper arm turned in through the arc, degrees.
    InternalRotation,
    /// The arm moving before the blade is set: the blade is set this many seconds later.
    BendBeforeBladeSet,
}

impl FaultKind {
    /// Every kind.
    pub const ALL: [FaultKind; 14] = [
        FaultKind::PlaneTowardSide,
        FaultKind::PlaneTowardFront,
        FaultKind::FlaredElbow,
        FaultKind::TuckedElbow,
        FaultKind::ShortRange,
        FaultKind::EarlyHike,
        FaultKind::TrunkLeanSide,
        FaultKind::TrunkLeanBack,
        FaultKind::TrunkTurn,
        FaultKind::TooFast,
        FaultKind::ElbowBend,
        FaultKind::EarlyProtraction,
        FaultKind::InternalRotation,
        FaultKind::BendBeforeBladeSet,
    ];

    /// `deg` or `s`.
    pub fn unit(self) -> &'static str {
        match self {
            FaultKind::TooFast | FaultKind::EarlyProtraction | FaultKind::BendBeforeBladeSet => "s",
            _ => "deg",
        }
    }

    /// The largest severity that can be planted.
    pub fn largest(self) -> f64 {
        match self.unit() {
            "s" => 3.0,
            _ => 120.0,
        }
    }

    /// Whether the fault means something in this exercise.
    pub fn applies_to(self, exercise: Exercise) -> bool {
        let motion = exercise.motion();
        let in_a_plane = motion.coordinates == Coordinates::ElevationPlane
            && exercise != Exercise::OutwardRotation;
        match self {
            FaultKind::PlaneTowardSide | FaultKind::PlaneTowardFront => in_a_plane,
            FaultKind::EarlyHike => in_a_plane,
            FaultKind::FlaredElbow | FaultKind::TuckedElbow => !in_a_plane && motion.path_counts,
            FaultKind::ElbowBend | FaultKind::InternalRotation => motion.straight_arm,
            FaultKind::EarlyProtraction => motion.protracts(),
            FaultKind::BendBeforeBladeSet => motion.sets_blade,
            FaultKind::ShortRange
            | FaultKind::TrunkLeanSide
            | FaultKind::TrunkLeanBack
            | FaultKind::TrunkTurn
            | FaultKind::TooFast => true,
        }
    }
}

/// In which repetitions a fault is planted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum When {
    /// In these repetitions at full severity, counted from 1 through the whole clip.
    Reps(Vec<u32>),
    /// Growing over each set, up to the severity.
    Drift {
        /// The first repetition of the set that shows it (from 1).
        from_rep: u32,
        /// Growth per repetition; the first one shows one step.
        per_rep: f64,
    },
}

/// A planted fault.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fault {
    /// What goes wrong.
    pub kind: FaultKind,
    /// In which repetitions.
    pub when: When,
    /// How much, in the kind's unit.
    pub severity: f64,
}

impl Fault {
    /// How much of the fault one repetition shows; 0 when none. `number` counts through the
    /// clip, `in_set` through the set, both from 1.
    pub fn amount(&self, number: u32, in_set: u32) -> f64 {
        match &self.when {
            When::Reps(reps) if reps.contains(&number) => self.severity,
            When::Reps(_) => 0.0,
            When::Drift { from_rep, per_rep } if in_set >= *from_rep => {
                (per_rep * f64::from(in_set - from_rep + 1)).min(self.severity)
            }
            When::Drift { .. } => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drift_grows_by_its_step_up_to_the_severity() {
        let fault = Fault {
            kind: FaultKind::PlaneTowardSide,
            when: When::Drift {
                from_rep: 4,
                per_rep: 3.0,
            },
            severity: 10.0,
        };
        let amounts: Vec<f64> = (1..=9).map(|rep| fault.amount(rep + 10, rep)).collect();
        assert_eq!(amounts, [0.0, 0.0, 0.0, 3.0, 6.0, 9.0, 10.0, 10.0, 10.0]);
    }

    #[test]
    fn chosen_repetitions_show_it_in_full() {
        let fault = Fault {
            kind: FaultKind::TooFast,
            when: When::Reps(vec![2, 12]),
            severity: 1.0,
        };
        assert_eq!(fault.amount(12, 2), 1.0);
        assert_eq!(fault.amount(3, 2), 0.0);
    }
}
