//! A session as an HL7 FHIR R4 Bundle (version 4.0.1, <https://hl7.org/fhir/R4/>), for records of other systems.
//!
//! In: a [`Session`], a pseudonym and a day. Out: a JSON value: a *collection* with a Patient (the pseudonym alone), a
//! Device (the program), an Observation of the repetitions, and one of each measure: its mean over the complete
//! repetitions, with the ends of the 95 % interval and each repetition's own value as components. What was not
//! measurable has a `dataAbsentReason`. Every Observation is *preliminary*: nobody has looked at it yet.
//!
//! Units are UCUM (<http://unitsofmeasure.org>). Codes are taken only from HL7's own code systems
//! (`observation-category`, `data-absent-reason`); what is measured has no code there and is told in words.
//! Resource ids depend on content only, so that the same session gives the same bundle. Nothing is written here.

mod observation;
mod uuid;

use crate::models::Models;
use crate::plan::Date;
use crate::session::Session;
use serde_json::{Value, json};
use uuid::Names;

/// Whose session it is, and when it was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Subject<'a> {
    /// A name that is nobody's.
    pub pseudonym: &'a str,
    /// Day of the session; left out where nobody said it.
    pub date: Option<Date>,
}

/// The bundle of a session.
///
/// ```
/// use scaplane::{fhir, models::Models, session::Session};
/// # let text = r#"{"format": "scaplane.review/1", "program": {"name": "scaplane", "version": "0"}, "clip":
/// # {"source": "a", "sha256": "0", "reader": "r", "layout": "l", "space": "image", "frames": 0, "duration_s": null,
/// # "rate_hz": null, "timing": "assumed", "person": "1", "view": null, "coverage": {}, "cutoff_hz": null},
/// # "exercise": "row", "side": "left", "notes": [], "reps": [], "sets": [], "unseen": [],
/// # "compare": {"other_side": null, "reference": null}, "cautions": []}"#;
/// let session: Session = serde_json::from_str(text).unwrap();
/// let subject = fhir::Subject { pseudonym: "P7", date: None };
/// let bundle = fhir::bundle(&session, &subject, &Models::embedded().unwrap());
/// assert_eq!(bundle["resourceType"], "Bundle");
/// assert_eq!(bundle["entry"][0]["resource"]["identifier"][0]["value"], "P7");
/// ```
#[must_use]
pub fn bundle(session: &Session, subject: &Subject<'_>, models: &Models) -> Value {
    let date = subject.date.map(|date| date.to_string());
    let names = Names::of(session, subject.pseudonym, date.as_deref());
    let patient = names.uuid("patient");
    let device = names.uuid("device");
    let mut resources = vec![
        json!({
            "resourceType": "Patient",
            "id": patient,
            "identifier": [{ "value": subject.pseudonym }],
        }),
        json!({
            "resourceType": "Device",
            "id": device,
            "deviceName": [{ "name": session.program.name, "type": "model-name" }],
            "type": { "text": "Program that measures movement from video; no medical device" },
            "version": [{ "value": session.program.version }],
        }),
    ];
    let about = observation::About {
        session,
        models,
        date: date.as_deref(),
        patient: &patient,
        device: &device,
        names: &names,
    };
    resources.extend(about.all());
    let entries: Vec<Value> = resources
        .into_iter()
        .map(|resource| {
            let id = resource["id"].as_str().unwrap_or_default();
            json!({ "fullUrl": format!("urn:uuid:{id}"), "resource": resource })
        })
        .collect();
    json!({
        "resourceType": "Bundle",
        "id": names.uuid("bundle"),
        "identifier": {
            "system": "urn:ietf:rfc:3986",
            "value": format!("urn:uuid:{}", names.uuid("bundle")),
        },
        "type": "collection",
        "entry": entries,
    })
}
