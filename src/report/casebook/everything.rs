//! JSON: the course, and the whole casebook with the results as they were stored.

use crate::course::Course;
use crate::note::Fault;
use crate::report::json;
use crate::store::Entry;
use serde_json::{Value, json as object};

/// Name and version of the export.
pub const FORMAT: &str = "scaplane.casebook/1";

/// The course as JSON text, rounded like a result.
pub fn course_json(course: &Course) -> String {
    json::text(course)
}

/// Every person with every session and its whole result.
///
/// # Errors
/// A stored result is no JSON, which its seal rules out.
pub fn everything_json(entries: &[Entry]) -> Result<String, Fault> {
    let mut people = Vec::new();
    for group in entries.chunk_by(|a, b| a.person == b.person) {
        let mut sessions = Vec::new();
        for entry in group {
            sessions.push(session(entry)?);
        }
        let person = group.first().map(|entry| entry.person.clone());
        people.push(object!({ "pseudonym": person, "sessions": sessions }));
    }
    let all = object!({
        "format": FORMAT,
        "program": { "name": "scaplane", "version": env!("CARGO_PKG_VERSION") },
        "people": people,
    });
    Ok(format!("{all:#}\n"))
}

fn session(entry: &Entry) -> Result<Value, Fault> {
    let review: Value = serde_json::from_str(&entry.review)
        .map_err(|error| crate::report::refused("casebook.json", error))?;
    let told = &entry.told;
    Ok(object!({
        "session": entry.number,
        "date": entry.date,
        "operation_date": told.operation_date,
        "weeks_since_operation": entry.weeks_since_operation,
        "phase": told.phase,
        "load_kg": told.load_kg,
        "resistance": told.resistance,
        "pain_limit": told.pain_limit,
        "reported": told.reported,
        "remark": told.remark,
        "review_sha256": entry.sha256,
        "review": review,
    }))
}
