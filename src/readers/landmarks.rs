//! What the two readers of the 33-landmark body model share.

use super::Layout;
use super::layout::Known;
use crate::models::Models;
use crate::note::{Fault, Place};
use crate::track::{Recording, SpaceAxes};

/// Layout id.
pub const LAYOUT: &str = "landmarks-33";

/// Visibility below which a point was guessed rather than seen. The estimator always reports all 33 points;
/// a far shoulder that the trunk half hides keeps a score of 0.3 to 0.5, and points outside the picture are
/// told by their place (stated choice).
pub const LEAST_VISIBILITY: f64 = 0.2;

/// Names of a table that are enough to be sure of this model: all but a few of the 33.
pub const ENOUGH_NAMES: usize = 30;

/// An empty recording with what is true of every export of this model: world coordinates in metres, y down, z
/// away from the camera, guessed; points outside the picture are guessed too.
pub fn recording(reader: &'static str, layout: &Layout) -> Recording {
    Recording {
        layout_by_count: false,
        metres_per_unit: Some(1.0),
        axes: SpaceAxes::CAMERA,
        extrapolates: true,
        measured_depth: false,
        least_score: LEAST_VISIBILITY,
        ..Recording::new(reader, layout.id.clone(), layout.joints.clone())
    }
}

/// The layout, unless the user states another of that count.
///
/// # Errors
/// The number of landmarks is not 33.
pub fn layout(
    count: usize,
    stated: Option<&str>,
    models: &Models,
    place: &Place,
) -> Result<Layout, Fault> {
    Layout::settle(
        Known {
            names: None,
            count,
            stated,
            usual: &[LAYOUT],
        },
        models,
        place,
    )
}

/// Index of a landmark by its name, or by its number counted from `base`.
pub fn index_of(name: &str, base: usize, models: &Models) -> Option<usize> {
    match name.parse::<f64>() {
        Ok(number) if number.fract() == 0.0 && (0.0..1000.0).contains(&number) => {
            (number as usize).checked_sub(base)
        }
        _ => {
            let layout = models.skeleton(LAYOUT)?;
            // `PoseLandmark.NOSE`, as an enumeration prints itself.
            let bare = name.rsplit(['.', ':']).next();
            layout.index_of(name).or_else(|| layout.index_of(bare?))
        }
    }
}

/// Whether names or numbers are those of the 33 landmarks, and from which number they count.
pub fn base_of<T: AsRef<str>>(names: &[T], models: &Models) -> Option<usize> {
    let count = models
        .skeleton(LAYOUT)
        .map_or(0, |layout| layout.keypoints.len());
    let numbers: Vec<usize> = names
        .iter()
        .filter_map(|name| name.as_ref().parse::<f64>().ok())
        .filter(|number| number.fract() == 0.0 && *number >= 0.0)
        .map(|number| number as usize)
        .collect();
    let base = if numbers.contains(&0) { 0 } else { 1 };
    let mut found: Vec<usize> = match numbers.len() == names.len() {
        // A number beyond the last landmark belongs to some other list.
        true if numbers.iter().any(|number| *number >= count + base) => Vec::new(),
        true => numbers,
        false => names
            .iter()
            .filter_map(|name| index_of(name.as_ref(), 0, models))
            .collect(),
    };
    found.sort_unstable();
    found.dedup();
    (found.len() >= ENOUGH_NAMES).then_some(base)
}
