//! The other arm in each of two reviews of one clip.

use super::mean;
use super::result::Mean;
use crate::session::{ReadingRow, Review, Session};
use std::collections::BTreeMap;

/// Puts the means of each arm into the review of the other. The reviews of one arm alone stay as they are.
pub fn fill_other_side(reviews: &mut [Review]) {
    if let [first, second] = reviews
        && first.session.side != second.session.side
    {
        first.session.compare.other_side = Some(means(&second.session));
        second.session.compare.other_side = Some(means(&first.session));
    }
}

/// Means over the complete repetitions, as readings.
fn means(session: &Session) -> BTreeMap<String, ReadingRow> {
    let readings = session.reps.iter().flat_map(|rep| &rep.readings);
    let units: BTreeMap<&String, &String> = readings.map(|(id, row)| (id, &row.unit)).collect();
    units
        .into_iter()
        .map(|(id, unit)| {
            let mean = Mean::of(mean::of(session, id));
            let row = ReadingRow {
                value: mean.value,
                low: mean.low,
                high: mean.high,
                unit: unit.clone(),
                basis: mean.basis,
                observed: mean.observed,
                random_sd: None,
                why: mean.why,
            };
            (id.clone(), row)
        })
        .collect()
}
