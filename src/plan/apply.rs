//! An exercise as the clinician wants it judged.

use super::Prescription;
use crate::models::Exercise;

/// Source id that a changed limit shows instead of that of the default.
pub const CLINICIAN: &str = "treating-clinician";

/// The exercise with the limits that the prescription changes.
pub fn exercise_with(exercise: &Exercise, prescription: &Prescription) -> Exercise {
    let mut own = exercise.clone();
    for changed in &prescription.limit {
        for limit in own
            .limits
            .iter_mut()
            .filter(|limit| limit.measure == changed.measure)
        {
            (limit.low, limit.high) = (changed.low, changed.high);
            limit.source = CLINICIAN.to_string();
            limit.note = format!(
                "Changed by the treating clinician: {}",
                changed.reason.trim()
            );
        }
    }
    own
}
