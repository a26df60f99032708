//! An exercise as the clinician wants it judged.

use super::Prescription;
use crate::models::{Exercise, Limit};

/// Source id that a changed limit shows instead of that of the default.
pub const CLINICIAN: &str = "treating-clinician";

/// The exercise with the limits that the prescription changes or sets.
///
/// Both ends are those of the plan: one that it leaves out is open, whatever the default says. So a plan that allows
/// 90 degrees at most is not contradicted by a default that asks for 120.
pub fn exercise_with(exercise: &Exercise, prescription: &Prescription) -> Exercise {
    let mut own = exercise.clone();
    for changed in &prescription.limit {
        let asked = |limit: &Limit| limit.measure == changed.measure;
        let set: Vec<Limit> = own.settable.extract_if(.., |limit| asked(limit)).collect();
        own.limits.extend(set);
        for limit in own.limits.iter_mut().filter(|limit| asked(limit)) {
            // An end that only the plan has was asked for on purpose: not to see it is not to be passed over.
            limit.key |= (changed.low.is_some() && limit.low.is_none())
                || (changed.high.is_some() && limit.high.is_none());
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
