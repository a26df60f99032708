//! Words that lists, course and note share.

use crate::course::{Pooled, Visit};
use crate::report::words;
use crate::session::Reported;

/// `148 (145 to 151)°`.
pub fn mean(mean: &Pooled) -> String {
    words::estimate(mean.value, mean.low, mean.high, &mean.unit)
}

/// `1/3/2`, with a dash for what was not entered; none if nothing was.
pub fn pain(said: &Reported) -> Option<String> {
    let all = [said.pain_before, said.pain_during, said.pain_after];
    let one = |pain: Option<f64>| pain.map_or("–".to_string(), |pain| pain.to_string());
    all.iter()
        .any(Option::is_some)
        .then(|| all.map(one).join("/"))
}

/// Load or resistance, as entered.
pub fn load(load_kg: Option<f64>, resistance: Option<&str>) -> Option<String> {
    let kilograms = load_kg.map(|load| format!("{load} kg"));
    let parts: Vec<String> = kilograms
        .into_iter()
        .chain(resistance.map(str::to_string))
        .collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// `2 outside, 1 near, 7 within, of 10 complete`.
pub fn counts(visit: &Visit) -> String {
    let parts: Vec<String> = [
        (visit.outside, "outside"),
        (visit.near, "near"),
        (visit.within, "within"),
        (visit.cannot_tell, "cannot tell"),
    ]
    .iter()
    .filter(|(count, _)| *count > 0)
    .map(|(count, word)| format!("{count} {word}"))
    .collect();
    match parts.is_empty() {
        true => "no complete repetition".to_string(),
        false => format!("{}, of {} complete", parts.join(", "), visit.complete),
    }
}
