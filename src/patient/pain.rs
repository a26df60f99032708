//! What is said about pain that the person reported. It changes no measurement.

use super::Part;
use crate::models::Words;
use crate::session::Session;

/// Decimals of a scale from 0 to 10.
const DECIMALS: usize = 1;

fn most(session: &Session) -> Option<f64> {
    let reported = session.reported?;
    [
        reported.pain_before,
        reported.pain_during,
        reported.pain_after,
    ]
    .into_iter()
    .flatten()
    .reduce(f64::max)
}

fn limit_reached(session: &Session) -> Option<(f64, f64)> {
    let limit = session.plan.as_ref()?.pain_limit?;
    most(session)
        .filter(|pain| *pain > 0.0 && *pain >= limit)
        .map(|pain| (pain, limit))
}

/// Said first when the pain reaches the plan's limit.
pub(super) fn reached(session: &Session, words: Words<'_>) -> Option<Part> {
    let (pain, limit) = limit_reached(session)?;
    let (pain, limit) = (words.number(pain, DECIMALS), words.number(limit, DECIMALS));
    Some(Part {
        heading: words.say("pain_heading", &[]),
        lines: vec![
            words.say("pain_reached", &[("pain", &pain), ("limit", &limit)]),
            words.say("pain_rest", &[]),
            words.say("pain_part", &[]),
        ],
    })
}

/// Said beside the advice when to stop: pain that does not reach the plan's limit, or is not limited by one.
pub(super) fn noted(session: &Session, words: Words<'_>) -> Option<String> {
    if limit_reached(session).is_some() {
        return None;
    }
    let pain = most(session).filter(|pain| *pain > 0.0)?;
    Some(words.say("pain_noted", &[("pain", &words.number(pain, DECIMALS))]))
}
