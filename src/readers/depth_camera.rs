//! What exports of depth cameras have in common: how surely a joint was seen, and how their axes lie.
//!
//! Tracking states and confidence levels become scores: 0 not seen, 0.5 inferred from the joints around it, 1
//! seen. The axes are those of the camera, unless the body says that somebody turned them.

use crate::body::{Joint, Side};
use crate::geom;
use crate::note::Note;
use crate::track::{Detection, Recording, SpaceAxes, Up};
use nalgebra::Vector3;

/// Kinect of the second generation: x to the camera's left, y up, z away from it (from memory, not verified).
const KINECT: [[f64; 3]; 3] = [[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, -1.0]];
/// Share of the trunk's length that must lie along the camera's upward axis: a lean, and a tilt of the camera,
/// of up to 45 degrees together (stated choice).
const UPRIGHT: f64 = 0.7;

/// Score of a tracking state or confidence level in words; `None` for anything else.
pub fn score_of_word(text: &str) -> Option<f64> {
    let plain = super::table::plain(text);
    match plain.strip_prefix("k4abtjointconfidence").unwrap_or(&plain) {
        "nottracked" | "none" => Some(0.0),
        "inferred" | "low" => Some(0.5),
        "tracked" | "medium" | "high" => Some(1.0),
        _ => None,
    }
}

/// Score of a tracking state (0, 1, 2) or confidence level (0 to 3); half levels, as they occur, stay between.
pub fn score_of_level(level: f64) -> f64 {
    (level / 2.0).min(1.0)
}

/// Takes the camera's own axes where the layout is that of a depth camera and the trunk stands as it would in
/// them; a stated upward axis goes before.
pub fn settle_axes(recording: &mut Recording, stated: Option<Up>) {
    let (axes, up_in_file, words) = match recording.layout.as_str() {
        "kinect-25" => (
            SpaceAxes::Known(KINECT),
            1.0,
            "x to its left, y up, z away from it",
        ),
        "azure-32" => (
            SpaceAxes::CAMERA,
            -1.0,
            "x to its right, y down, z away from it",
        ),
        _ => return,
    };
    if recording.joints.contains(&Joint::SternalEnd(Side::Left)) {
        recording.notes.push(Note::new(
            "read/clavicle-assumed",
            "The camera's clavicle points were taken as the inner ends of the collar bones.",
        ));
    }
    if stated.is_some() {
        return;
    }
    let joints = &recording.joints;
    let upright = recording.frames.of_people(|one| {
        let trunk = trunk(one, joints)?;
        Some(up_in_file * trunk.y / trunk.norm()).filter(|share| share.is_finite())
    });
    if geom::median(upright).is_none_or(|share| share < UPRIGHT) {
        // Somebody turned the axes: which way is up is told by the trunk, as for any file.
        return;
    }
    recording.axes = axes;
    recording.notes.push(Note::new(
        "read/axes-assumed",
        format!("The axes were taken as the depth camera's: {words}."),
    ));
}

/// From the hips to the shoulders.
fn trunk(one: &Detection, joints: &[Joint]) -> Option<Vector3<f64>> {
    let at = |joint: Joint| {
        let column = joints.iter().position(|known| *known == joint)?;
        let [x, y, z, _] = *one.space.get(column)?;
        let at = Vector3::new(f64::from(x), f64::from(y), f64::from(z));
        at.iter().all(|value| value.is_finite()).then_some(at)
    };
    let middle =
        |make: fn(Side) -> Joint| Some((at(make(Side::Left))? + at(make(Side::Right))?) / 2.0);
    let hips = at(Joint::MidHip).or_else(|| middle(Joint::Hip))?;
    Some(middle(Joint::Shoulder)? - hips)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn states_and_levels_are_scores() {
        for (text, score) in [
            ("Tracked", Some(1.0)),
            ("NotTracked", Some(0.0)),
            ("Inferred", Some(0.5)),
            ("K4ABT_JOINT_CONFIDENCE_LOW", Some(0.5)),
            ("2", None),
            ("", None),
        ] {
            assert_eq!(score_of_word(text), score, "{text}");
        }
        assert_eq!(
            [0.0, 1.0, 2.0, 3.0].map(score_of_level),
            [0.0, 0.5, 1.0, 1.0]
        );
    }
}
