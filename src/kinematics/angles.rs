//! Angles of one frame from body directions in trunk axes: the definitions themselves.
//!
//! In: a [`Posture`] (any length unit; camera or laboratory axes). Out: one value per [`Signal`], `None`
//! where it has no meaning in this posture. No time, no uncertainty, no view: those are in the callers.
//!
//! Source of axes and sequences: Wu et al. 2005, J Biomech 38:981-992 (ISB).

use super::{Signal, Signals};
use crate::body::Side;
use crate::geom::{direction, included_deg, y_x_y_deg, y_x_z_deg};
use nalgebra::{Matrix3, Vector3};

/// Trunk axes as columns: X forward, Y up along the trunk, Z to the person's right.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrunkAxes(pub Matrix3<f64>);

impl TrunkAxes {
    /// Axes from the trunk line (upward) and a vector toward the person's right.
    ///
    /// Y is the trunk line itself; Z is the rightward vector made perpendicular to it; X = Y x Z.
    /// `None` when the two are parallel or one has no length.
    pub fn from_line(up: Vector3<f64>, rightward: Vector3<f64>) -> Option<TrunkAxes> {
        let (y, z) = crate::geom::perpendicular_pair(up, rightward)?;
        Some(TrunkAxes(Matrix3::from_columns(&[y.cross(&z), y, z])))
    }

    /// A vector expressed in these axes and, for the left side, mirrored (z -> -z), so that one number
    /// means one clinical motion on both sides. This is the only place where a side is mirrored.
    pub fn express(&self, v: Vector3<f64>, side: Side) -> Vector3<f64> {
        let mut local = self.0.tr_mul(&v);
        if side == Side::Left {
            local.z = -local.z;
        }
        local
    }
}

/// What one frame shows of one side, as vectors in any one set of axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Posture {
    /// Trunk axes.
    pub trunk: TrunkAxes,
    /// Shoulder to elbow.
    pub upper_arm: Option<Vector3<f64>>,
    /// Elbow to wrist.
    pub forearm: Option<Vector3<f64>>,
    /// Sternal end of the collar bone to shoulder point.
    pub collar: Option<Vector3<f64>>,
    /// Root of the spine of the scapula to acromial angle, and inferior angle to acromial angle.
    pub blade: Option<(Vector3<f64>, Vector3<f64>)>,
    /// Upward vertical.
    pub vertical: Vector3<f64>,
    /// Forward direction (X) from which turning is counted, if known.
    pub facing: Option<Vector3<f64>>,
}

/// Elbow flexion below which the forearm does not tell the humeral rotation, degrees.
/// Source: `measures.md`, "elbow straighter than about 30 of flexion"; ISB option 2 is undefined at 0.
pub const LEAST_FLEXION_FOR_ROTATION_DEG: f64 = 30.0;

/// Elevation below which plane and axial rotation cannot be told apart and their sum is given: with the arm
/// at the side that sum is the rotation. Stated choice: below it the
/// error of each is more than twice that of the sum.
pub const HANGING_DEG: f64 = 30.0;

/// Length of the upper arm's projection across the pressing direction, as a share of its length, below
/// which the elbow path has no direction (sin 17 degrees; stated choice).
pub const LEAST_ACROSS: f64 = 0.3;

/// Values by [`Signal::index`].
pub type Angles = [Option<f64>; Signal::COUNT];

/// Plane and elevation (degrees) of an upper-arm direction in trunk axes, right-side convention.
///
/// *Definition* elevation = angle to (0, -1, 0); plane = atan2(x, z).
/// *Range* elevation 0..180, plane (-180, 180].
/// *Not measurable when* the vector has no length; at elevation 0 and 180 the plane is 0 by convention
/// and means nothing (weigh it by the sine of the elevation).
///
/// ```
/// use nalgebra::Vector3;
/// let (plane, elevation) = scaplane::kinematics::plane_and_elevation_deg(Vector3::x()).unwrap();
/// assert!((plane - 90.0).abs() < 1e-12 && (elevation - 90.0).abs() < 1e-12);
/// ```
pub fn plane_and_elevation_deg(d: Vector3<f64>) -> Option<(f64, f64)> {
    Some((plane_deg(d), elevation_deg(d)?))
}

fn plane_deg(d: Vector3<f64>) -> f64 {
    d.x.atan2(d.z).to_degrees()
}

fn elevation_deg(d: Vector3<f64>) -> Option<f64> {
    included_deg(d, -Vector3::y())
}

/// Humerus axes in trunk axes from upper arm and forearm (ISB humerus, option 2), right-side convention.
///
/// Y from elbow to shoulder, Z perpendicular to the plane of upper arm and forearm, X = Y x Z.
/// `None` when the elbow is straight.
pub fn humerus_axes(upper_arm: Vector3<f64>, forearm: Vector3<f64>) -> Option<Matrix3<f64>> {
    let y = direction(-upper_arm)?;
    let z = direction(y.cross(&-forearm))?;
    Some(Matrix3::from_columns(&[y.cross(&z), y, z]))
}

/// Scapula axes from TS, AA and AI (ISB), right-side convention: Z from TS to AA, X normal to the plane
/// of the three and forward, Y = Z x X. `None` when the three lie on one line.
pub fn scapula_axes(ts_to_aa: Vector3<f64>, ai_to_aa: Vector3<f64>) -> Option<Matrix3<f64>> {
    let z = direction(ts_to_aa)?;
    let x = direction(ai_to_aa.cross(&ts_to_aa))?;
    Some(Matrix3::from_columns(&[x, z.cross(&x), z]))
}

/// Angle between the shadow of a vector in a plane and an axis of that plane, from `along` toward `across`.
fn shadow_deg(along: f64, across: f64) -> f64 {
    across.atan2(along).to_degrees()
}

/// Plane of elevation and elevation of an upper arm, degrees, if it has them.
pub(super) fn arm_deg(trunk: &TrunkAxes, arm: Vector3<f64>, side: Side) -> Option<(f64, f64)> {
    let (plane, elevation) = plane_and_elevation_deg(direction(trunk.express(arm, side))?)?;
    (plane.is_finite() && elevation.is_finite()).then_some((plane, elevation))
}

/// Every angle that the posture defines.
pub fn angles(posture: &Posture, side: Side) -> Angles {
    angles_beside(posture, side, &Signals::ALL, None)
}

/// Those that are wanted, beside a posture of that side whose angles are known, the same ones: what both have in common is
/// not worked out again.
pub fn angles_beside(
    posture: &Posture,
    side: Side,
    wanted: &Signals,
    known: Option<(&Posture, &Angles)>,
) -> Angles {
    let known = known.filter(|(other, _)| other.trunk == posture.trunk);
    let changed =
        |same: fn(&Posture, &Posture) -> bool| known.is_none_or(|(other, _)| !same(other, posture));
    let mut out = known.map_or([None; Signal::COUNT], |(_, angles)| *angles);
    let mut put = |signal: Signal, value: &dyn Fn() -> Option<f64>| {
        if let (true, Some(slot)) = (wanted.contain(signal), out.get_mut(signal.index())) {
            *slot = value().filter(|deg| deg.is_finite());
        }
    };
    let trunk = &posture.trunk;
    let segment = |v: Option<Vector3<f64>>| v.and_then(|v| direction(trunk.express(v, side)));
    let arm_changed = changed(|a, b| a.upper_arm == b.upper_arm);
    if arm_changed || changed(|a, b| a.forearm == b.forearm) {
        let arm = segment(posture.upper_arm);
        if arm_changed {
            put(Signal::Plane, &|| arm.map(plane_deg));
            put(Signal::Elevation, &|| arm.and_then(elevation_deg));
            put(Signal::ElbowPath, &|| {
                let across = arm.filter(|d| d.z.hypot(d.y) > LEAST_ACROSS);
                across.map(|d| shadow_deg(-d.y, d.z))
            });
        }
        if wanted.contain(Signal::ElbowFlexion) || wanted.contain(Signal::HumeralRotation) {
            let both = arm.zip(segment(posture.forearm));
            let flexion = both.and_then(|(arm, forearm)| included_deg(arm, forearm));
            put(Signal::ElbowFlexion, &|| flexion);
            put(Signal::HumeralRotation, &|| {
                let bent = LEAST_FLEXION_FOR_ROTATION_DEG..=180.0 - LEAST_FLEXION_FOR_ROTATION_DEG;
                let (arm, forearm) =
                    both.filter(|_| flexion.is_some_and(|deg| bent.contains(&deg)))?;
                rotation_deg(arm, forearm)
            });
        }
    }
    if changed(|a, b| a.collar == b.collar) {
        let collar = posture.collar.map(|v| trunk.express(v, side));
        put(Signal::GirdleElevation, &|| {
            collar.map(|v| shadow_deg(v.z.hypot(v.x), v.y))
        });
        put(Signal::GirdleProtraction, &|| {
            collar.map(|v| shadow_deg(v.z, v.x))
        });
    }
    if changed(|a, b| a.blade == b.blade) {
        let axes = posture.blade.and_then(|(ts_aa, ai_aa)| {
            scapula_axes(trunk.express(ts_aa, side), trunk.express(ai_aa, side))
        });
        let angles = axes.map(|r| y_x_z_deg(&r));
        put(Signal::InternalRotation, &|| angles.map(|[deg, _, _]| deg));
        put(Signal::UpwardRotation, &|| angles.map(|[_, deg, _]| deg));
        put(Signal::Tilt, &|| angles.map(|[_, _, deg]| deg));
    }
    if changed(|a, b| a.vertical == b.vertical && a.facing == b.facing) {
        // The vertical seen from the trunk: leaning right brings the vertical toward the trunk's left.
        let vertical = trunk.express(posture.vertical, side);
        put(Signal::LeanSide, &|| {
            Some(shadow_deg(vertical.y, -vertical.z))
        });
        put(Signal::LeanBack, &|| {
            Some(shadow_deg(vertical.y, vertical.x))
        });
        // Turning toward the exercising arm leaves the former forward direction on the other side.
        put(Signal::TrunkTurn, &|| {
            let was_forward = trunk.express(posture.facing?, side);
            Some(shadow_deg(was_forward.x, -was_forward.z))
        });
    }
    out
}

/// Axial rotation of the humerus from the directions of a bent arm, degrees.
fn rotation_deg(upper_arm: Vector3<f64>, forearm: Vector3<f64>) -> Option<f64> {
    let r = humerus_axes(upper_arm, forearm)?;
    let hanging = elevation_deg(upper_arm).is_some_and(|deg| deg < HANGING_DEG);
    Some(if hanging {
        // Ry(p) Rx(-e) Ry(a): (1 + cos e) sin(p + a) and (1 + cos e) cos(p + a).
        (r[(0, 2)] - r[(2, 0)])
            .atan2(r[(0, 0)] + r[(2, 2)])
            .to_degrees()
    } else {
        y_x_y_deg(&r)[2]
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_wanted_is_as_among_all_and_nothing_else_is_there() {
        let posture = |lean: f64, bend: f64| Posture {
            trunk: TrunkAxes::from_line(Vector3::new(lean, 1.0, 0.1), Vector3::x()).expect("axes"),
            upper_arm: Some(Vector3::new(0.25, -0.1, 0.15)),
            forearm: Some(Vector3::new(bend, 0.2, 0.2)),
            collar: Some(Vector3::new(0.15, 0.03, -0.02)),
            blade: Some((
                Vector3::new(0.1, 0.02, -0.05),
                Vector3::new(0.05, 0.15, 0.01),
            )),
            vertical: Vector3::y(),
            facing: Some(Vector3::z()),
        };
        let (known, other_arm, other_trunk) =
            (posture(0.1, -0.05), posture(0.1, 0.1), posture(0.3, -0.05));
        for side in Side::BOTH {
            for posture in [&known, &other_arm, &other_trunk] {
                let all = angles(posture, side);
                assert!(all.iter().all(Option::is_some), "{all:?}");
                for signal in Signal::ALL {
                    let wanted = Signals::that(|one| one == signal);
                    let mut only = [None; Signal::COUNT];
                    only[signal.index()] = all[signal.index()];
                    assert_eq!(angles_beside(posture, side, &wanted, None), only);
                    let of_known = angles_beside(&known, side, &wanted, None);
                    let beside = angles_beside(posture, side, &wanted, Some((&known, &of_known)));
                    assert_eq!(beside, only, "{signal:?}");
                }
            }
        }
    }
}
