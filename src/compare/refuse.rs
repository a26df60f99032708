//! What cannot be compared.

use super::Entry;
use crate::note::{Fault, FaultKind, Place};

/// A fault of an order to compare.
pub fn fault(code: &'static str, what: impl Into<String>, place: Place, remedy: &str) -> Fault {
    Fault::new(FaultKind::Usage, code, what, place, remedy)
}

/// Refuses two exercises, and a recording with itself.
pub(super) fn unlike(a: &Entry<'_>, b: &Entry<'_>) -> Result<(), Fault> {
    let (first, second) = (a.session, b.session);
    if first.exercise != second.exercise {
        return Err(fault(
            "compare/exercises-differ",
            format!(
                "A is `{}`, B is `{}`: their measures are not those of one movement",
                first.exercise, second.exercise
            ),
            Place::file(&second.clip.source).field("exercise"),
            "two recordings of one exercise",
        ));
    }
    if first.clip.sha256 == second.clip.sha256
        && first.side == second.side
        && first.clip.person == second.clip.person
    {
        return Err(fault(
            "compare/same",
            format!("A and B are the {} arm in the same clip", first.side.id()),
            Place::file(&second.clip.source),
            "another recording for B, or the clip alone to compare its two arms",
        ));
    }
    Ok(())
}
