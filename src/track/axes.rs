//! From a file's world axes and units to the program's: right-handed u, v (up), w in metres.
//!
//! In: points of one person in the file's axes. Out: a rotation and a factor, with a note of what was assumed.
//! A file is taken to be right-handed unless its format says otherwise or the face looks backward.

use super::SpaceAxes;
use crate::body::{Joint, Side};
use crate::geom;
use crate::note::{Fault, FaultKind, Note, Place};
use nalgebra::{Matrix3, Vector3};

/// Which way of the file's axes is up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Up {
    axis: usize,
    downward: bool,
}

impl Up {
    /// `x`, `+y`, `-z` and so on.
    pub fn from_id(id: &str) -> Option<Up> {
        let (downward, name) = match id.strip_prefix('-') {
            Some(name) => (true, name),
            None => (false, id.strip_prefix('+').unwrap_or(id)),
        };
        let axis = ["x", "y", "z"].iter().position(|axis| *axis == name)?;
        Some(Up { axis, downward })
    }

    /// `+y`, `-z` and so on.
    pub fn id(self) -> &'static str {
        match (self.axis, self.downward) {
            (0, false) => "+x",
            (0, true) => "-x",
            (1, false) => "+y",
            (1, true) => "-y",
            (_, false) => "+z",
            (_, true) => "-z",
        }
    }

    /// Rows u, v, w as combinations of the file's axes; always a rotation, never a mirror image.
    ///
    /// With y up the axes stay; with z up, u = x and w = -y; with x up, u = z and w = y; turned half a turn
    /// about u if the axis points down.
    pub fn rotation(self) -> Matrix3<f64> {
        let sign = if self.downward { -1.0 } else { 1.0 };
        let (u, v) = match self.axis {
            0 => (Vector3::z(), Vector3::x()),
            1 => (Vector3::x(), Vector3::y()),
            _ => (Vector3::x(), Vector3::z()),
        };
        let v = v * sign;
        let w = u.cross(&v);
        Matrix3::from_rows(&[u.transpose(), v.transpose(), w.transpose()])
    }
}

/// Looks up a joint's position in one frame, in the file's axes.
pub(super) type Look<'a> = dyn Fn(usize, Joint) -> Option<Vector3<f64>> + 'a;

/// The rotation to the program's axes.
///
/// # Errors
/// No trunk was seen from which to tell which way is up.
pub(super) fn rotation(
    known: SpaceAxes,
    stated: Option<Up>,
    frames: usize,
    look: &Look<'_>,
    notes: &mut Vec<Note>,
) -> Result<Matrix3<f64>, Fault> {
    if let SpaceAxes::Known(rows) = known {
        if stated.is_some() {
            notes.push(Note::new(
                "read/up-ignored",
                "The stated upward axis was not used: the format fixes its axes.",
            ));
        }
        return Ok(Matrix3::from_fn(|r, c| rows[r][c]));
    }
    if let Some(up) = stated {
        return Ok(right_handed(up.rotation(), frames, look, notes));
    }
    let directions: Vec<Vector3<f64>> = (0..frames)
        .filter_map(|frame| geom::direction(trunk(frame, look)?))
        .collect();
    let middle = |axis: usize| geom::median(directions.iter().filter_map(|d| d.get(axis).copied()));
    let (Some(x), Some(y), Some(z)) = (middle(0), middle(1), middle(2)) else {
        return Err(Fault::new(
            FaultKind::Unsupported,
            "read/up-unknown",
            "no frame shows both ends of the trunk, so it cannot be told which axis points up",
            Place::default().field("world coordinates"),
            "stating it, such as --up y or --up -z",
        ));
    };
    let median = [x, y, z];
    let axis = (0..3)
        .max_by(|a, b| median[*a].abs().total_cmp(&median[*b].abs()))
        .unwrap_or(1);
    let up = Up {
        axis,
        downward: median[axis] < 0.0,
    };
    let lean = median[axis].abs().min(1.0).acos().to_degrees();
    notes.push(Note::new(
        "read/axes-assumed",
        format!(
            "The file does not say which way is up; {} was taken, {lean:.0} degrees from the trunk.",
            up.id()
        ),
    ));
    Ok(right_handed(up.rotation(), frames, look, notes))
}

/// Fewest frames that show the face, and share of them that must agree, for handedness to be told (stated
/// choice).
const FACES: usize = 5;
const AGREE: f64 = 0.8;

/// Whether the face says that the axes are left-handed: in a right-handed space right x forward is up.
/// `None` where too few frames show nose, shoulders and trunk, or they do not agree.
fn left_handed(frames: usize, look: &Look<'_>) -> Option<bool> {
    let turns: Vec<f64> = (0..frames)
        .filter_map(|frame| {
            let up = geom::direction(trunk(frame, look)?)?;
            let (left, right) = (
                look(frame, Joint::Shoulder(Side::Left))?,
                look(frame, Joint::Shoulder(Side::Right))?,
            );
            let behind = paired(frame, look, Joint::Ear).unwrap_or((left + right) / 2.0);
            let forward = look(frame, Joint::Nose)? - behind;
            let forward = forward - up * forward.dot(&up);
            Some((right - left).cross(&forward).dot(&up))
        })
        .filter(|turn| turn.is_finite() && *turn != 0.0)
        .collect();
    let left = turns.iter().filter(|turn| **turn < 0.0).count();
    let share = left as f64 / turns.len().max(1) as f64;
    match turns.len() {
        few if few < FACES => None,
        _ if share >= AGREE => Some(true),
        _ if share <= 1.0 - AGREE => Some(false),
        _ => None,
    }
}

/// The rotation, with its depth turned round where the face shows that the file's axes are left-handed.
fn right_handed(
    rotation: Matrix3<f64>,
    frames: usize,
    look: &Look<'_>,
    notes: &mut Vec<Note>,
) -> Matrix3<f64> {
    match left_handed(frames, look) {
        Some(true) => {
            notes.push(Note::new(
                "read/left-handed",
                "By the sides' names the face looks backward: the file's axes are left-handed and were mirrored. If \
                 instead left and right are exchanged in the file, state --mirrored.",
            ));
            let mut mirrored = rotation;
            mirrored.row_mut(2).neg_mut();
            mirrored
        }
        Some(false) => rotation,
        None => {
            notes.push(Note::new(
                "read/handedness-assumed",
                "No face tells whether the axes are right-handed, and they were taken as such. If they are not, front \
                 and back, and with them the sign of the plane of elevation, are exchanged.",
            ));
            rotation
        }
    }
}

fn between(a: Option<Vector3<f64>>, b: Option<Vector3<f64>>) -> Option<Vector3<f64>> {
    Some((a? + b?) / 2.0)
}

fn paired(frame: usize, look: &Look<'_>, make: fn(Side) -> Joint) -> Option<Vector3<f64>> {
    between(
        look(frame, make(Side::Left)),
        look(frame, make(Side::Right)),
    )
}

/// From the lower to the upper end of the trunk, by whichever points are there.
fn trunk(frame: usize, look: &Look<'_>) -> Option<Vector3<f64>> {
    let hips = look(frame, Joint::MidHip).or_else(|| paired(frame, look, Joint::Hip));
    let pairs = [
        (hips, paired(frame, look, Joint::Shoulder)),
        (
            look(frame, Joint::TrunkLower),
            look(frame, Joint::TrunkUpper),
        ),
        (look(frame, Joint::Xiphoid), look(frame, Joint::Incisura)),
        (look(frame, Joint::T8), look(frame, Joint::C7)),
        (
            hips,
            look(frame, Joint::Neck).or_else(|| look(frame, Joint::C7)),
        ),
    ];
    pairs.into_iter().find_map(|(low, high)| Some(high? - low?))
}

/// Median length of one bone.
fn length(frames: usize, bone: impl Fn(usize) -> Option<Vector3<f64>>) -> Option<f64> {
    geom::median((0..frames).filter_map(|frame| Some(bone(frame)?.norm()))).filter(|l| *l > 0.0)
}

/// Metres per unit, by the length of the bones. The bands are those of adults and children, wide enough for
/// any of the three units to be told from the other two (stated choice; shoulder width from the export facts
/// collected for this project, the others from memory, not verified).
///
/// # Errors
/// No unit makes the bones a person's.
pub(super) fn metres_per_unit(
    frames: usize,
    look: &Look<'_>,
    notes: &mut Vec<Note>,
) -> Result<f64, Fault> {
    const UNITS: [(f64, &str); 3] = [
        (1.0, "metres"),
        (0.01, "centimetres"),
        (0.001, "millimetres"),
    ];
    let bone = |a: Joint, b: Joint| length(frames, |frame| Some(look(frame, a)? - look(frame, b)?));
    let arm = |side| bone(Joint::Shoulder(side), Joint::Elbow(side));
    let bones = [
        (
            "shoulder width",
            bone(Joint::Shoulder(Side::Left), Joint::Shoulder(Side::Right)),
            0.15,
            0.6,
        ),
        ("left upper arm", arm(Side::Left), 0.12, 0.5),
        ("right upper arm", arm(Side::Right), 0.12, 0.5),
        (
            "trunk",
            length(frames, |frame| trunk(frame, look)),
            0.1,
            0.8,
        ),
    ];
    let seen: Vec<_> = bones
        .iter()
        .filter_map(|(name, length, low, high)| Some((*name, (*length)?, *low, *high)))
        .collect();
    let fitting = |unit: f64| {
        seen.iter()
            .filter(|(_, length, low, high)| (*low..=*high).contains(&(length * unit)))
            .count()
    };
    let best = UNITS.iter().max_by_key(|(unit, _)| fitting(*unit));
    match best {
        Some((unit, name)) if 2 * fitting(*unit) > seen.len() => {
            notes.push(Note::new(
                "read/units-assumed",
                format!(
                    "The file does not say its unit; the bones have a person's length in {name}."
                ),
            ));
            Ok(*unit)
        }
        _ => {
            let shown: Vec<String> = seen
                .iter()
                .map(|(name, length, _, _)| format!("{name} {length:.4}"))
                .collect();
            let lengths = if shown.is_empty() {
                "none seen".to_string()
            } else {
                shown.join(", ")
            };
            Err(Fault::new(
                FaultKind::Unsupported,
                "read/units-unknown",
                format!("the bones ({lengths}) have a person's length neither in m, cm nor mm"),
                Place::default().field("world coordinates"),
                "converting the coordinates to metres",
            ))
        }
    }
}

/// How far a stated unit may be from the one that the bones tell before the bones are believed (stated choice:
/// the three units are ten times apart).
const UNIT_RATIO: f64 = 5.0;

/// The unit that a file states, unless it would make a giant or a dwarf of the person.
pub(super) fn checked_unit(
    stated: f64,
    frames: usize,
    look: &Look<'_>,
    notes: &mut Vec<Note>,
) -> f64 {
    match metres_per_unit(frames, look, &mut Vec::new()) {
        Ok(told) if !(1.0 / UNIT_RATIO..=UNIT_RATIO).contains(&(told / stated)) => {
            notes.push(Note::new(
                "read/unit-wrong",
                format!(
                    "By the unit that the file states the bones are {:.0} times as long as a person's; {told} m was \
                     taken as its unit.",
                    stated / told
                ),
            ));
            told
        }
        _ => stated,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A person of about 1.7 m who stands along an axis.
    fn person(up: Up, unit: f64) -> impl Fn(usize, Joint) -> Option<Vector3<f64>> {
        let back = up.rotation().transpose();
        move |_, joint| {
            let at = match joint {
                Joint::Shoulder(Side::Left) => Vector3::new(0.17, 0.5, 0.0),
                Joint::Shoulder(Side::Right) => Vector3::new(-0.17, 0.5, 0.0),
                Joint::Elbow(Side::Right) => Vector3::new(-0.2, 0.2, 0.0),
                Joint::MidHip => Vector3::new(0.0, 0.0, 0.0),
                _ => return None,
            };
            Some(back * at / unit)
        }
    }

    #[test]
    fn up_and_unit_are_found_from_the_body() {
        for id in ["+x", "-x", "+y", "-y", "+z", "-z"] {
            for unit in [1.0, 0.01, 0.001] {
                let up = Up::from_id(id).unwrap();
                assert_eq!(up.id(), id);
                let look = person(up, unit);
                let mut notes = Vec::new();
                let found = rotation(SpaceAxes::Unknown, None, 3, &look, &mut notes).unwrap();
                assert!((found - up.rotation()).norm() < 1e-12, "{id}");
                assert!(
                    (found.determinant() - 1.0).abs() < 1e-12,
                    "a rotation keeps handedness"
                );
                assert_eq!(metres_per_unit(3, &look, &mut notes).unwrap(), unit);
                assert_eq!(notes.len(), 3, "up, handedness and unit");
            }
        }
        assert_eq!(Up::from_id("w"), None);
    }

    #[test]
    fn a_face_tells_axes_that_are_a_mirror_image() {
        for id in ["y", "-y", "z"] {
            let up = Up::from_id(id).unwrap();
            for (stated, depth) in [(None, 1.0), (Some(up), 1.0), (None, -1.0), (Some(up), -1.0)] {
                let body = person(up, 1.0);
                let back = up.rotation().transpose();
                // The person looks along w; in a mirror image the nose is behind the shoulders.
                let look = |frame: usize, joint: Joint| match joint {
                    Joint::Nose => Some(back * Vector3::new(0.0, 0.7, depth * 0.1)),
                    other => body(frame, other),
                };
                let mut notes = Vec::new();
                let found = rotation(SpaceAxes::Unknown, stated, 8, &look, &mut notes).unwrap();
                let nose = found * look(0, Joint::Nose).unwrap();
                assert!(
                    (nose - Vector3::new(0.0, 0.7, 0.1)).norm() < 1e-12,
                    "{id} {depth}"
                );
                assert_eq!(found.determinant().signum(), depth);
                let told = notes.iter().any(|note| note.code == "read/left-handed");
                assert_eq!(told, depth < 0.0, "{notes:?}");
            }
        }
    }

    #[test]
    fn a_unit_that_makes_a_giant_is_not_believed() {
        let look = person(Up::from_id("y").unwrap(), 0.001);
        let mut notes = Vec::new();
        assert_eq!(checked_unit(0.001, 3, &look, &mut notes), 0.001);
        assert!(notes.is_empty());
        assert_eq!(checked_unit(1.0, 3, &look, &mut notes), 0.001);
        assert_eq!(notes[0].code, "read/unit-wrong");
    }

    #[test]
    fn no_trunk_and_no_sensible_unit_are_faults() {
        let nobody = |_: usize, _: Joint| None;
        let fault = rotation(SpaceAxes::Unknown, None, 3, &nobody, &mut Vec::new()).unwrap_err();
        assert_eq!(fault.code, "read/up-unknown");
        let giant = person(Up::from_id("y").unwrap(), 1e-6);
        let fault = metres_per_unit(3, &giant, &mut Vec::new()).unwrap_err();
        assert_eq!(fault.code, "read/units-unknown");
    }
}
