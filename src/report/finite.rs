//! The last gate before a result is written: no number that is not a number leaves the program.
//!
//! JSON has no NaN and a page must not print one. A reading that is not finite becomes an absence with its
//! reason; other optional numbers become absent. Earlier stages promise that this never happens.

use crate::session::{Reason, Session};

/// Code of a reading whose arithmetic gave no number.
pub const NOT_FINITE: &str = "not-finite";

/// The same session with only finite numbers in it.
pub fn finite(session: &Session) -> Session {
    let mut session = session.clone();
    let keep = |value: &mut Option<f64>| *value = value.filter(|v| v.is_finite());
    keep(&mut session.clip.duration_s);
    keep(&mut session.clip.rate_hz);
    keep(&mut session.clip.cutoff_hz);
    session.clip.coverage.retain(|_, share| share.is_finite());
    let view_sound =
        session.clip.view.as_ref().is_some_and(|v| {
            v.yaw_deg.is_finite() && v.low_deg.is_finite() && v.high_deg.is_finite()
        });
    if !view_sound {
        session.clip.view = None;
    }
    for rep in &mut session.reps {
        keep(&mut rep.start_s);
        keep(&mut rep.peak_s);
        keep(&mut rep.end_s);
        for row in rep.readings.values_mut() {
            keep(&mut row.random_sd);
            let numbers = [row.value, row.low, row.high, row.observed];
            if row.value.is_some() && !numbers.iter().all(|v| v.is_some_and(f64::is_finite)) {
                row.value = None;
                row.low = None;
                row.high = None;
                row.observed = None;
                row.basis = None;
                row.random_sd = None;
                row.why = Some(Reason {
                    code: NOT_FINITE.to_string(),
                    text: "the calculation gave no finite number".to_string(),
                });
            }
        }
        for found in &mut rep.findings {
            keep(&mut found.margin);
            keep(&mut found.worst_s);
            found.limit.iter_mut().for_each(keep);
        }
    }
    for drift in session.sets.iter_mut().flat_map(|set| &mut set.drift) {
        for value in [
            &mut drift.slope_per_rep,
            &mut drift.low,
            &mut drift.high,
            &mut drift.p,
            &mut drift.p_adjusted,
            &mut drift.change,
            &mut drift.least_change,
            &mut drift.crosses_at_rep,
            &mut drift.intercept,
        ] {
            keep(value);
        }
        drift
            .margins
            .retain(|m| m.margin.is_finite() && m.low.is_finite() && m.high.is_finite());
    }
    session
}
