//! The plan beside what was done: sets, repetitions, tempo, and the limits that were changed.

use crate::geom::median;
use crate::measures;
use crate::models::Exercise;
use crate::plan::{Plan, Prescription};
use crate::session::{ChangedLimit, Done, Planned, Prescribed, Session};

/// Measures that time the three phases, in order.
const PHASES: [&str; 3] = ["raise-time", "hold-time", "lower-time"];

/// What a plan prescribes of an exercise (with its default limits), beside what a session shows. It prescribes nothing for
/// the arm that is not treated.
pub fn planned(session: &Session, plan: &Plan, default: &Exercise) -> Planned {
    let treated = plan.side == session.side;
    let prescription = plan.prescription(&session.exercise).filter(|_| treated);
    Planned {
        side: Some(plan.side),
        pseudonym: plan.pseudonym.clone(),
        phase: plan.phase.clone(),
        operation_date: plan.operation_date.map(|day| day.to_string()),
        pain_limit: plan.pain_limit,
        prescribed: prescription.map(prescribed),
        done: done(session),
        changed_limits: prescription.map_or_else(Vec::new, |one| changed(one, default)),
    }
}

/// A prescription as a result holds it.
pub fn prescribed(one: &Prescription) -> Prescribed {
    Prescribed {
        sets: one.sets,
        repetitions: one.repetitions,
        load_kg: one.load_kg,
        resistance: one.resistance.clone(),
        tempo_s: one
            .tempo
            .map_or([None; 3], |tempo| [tempo.out_s, tempo.hold_s, tempo.back_s]),
    }
}

fn done(session: &Session) -> Done {
    let complete = |number: u32| {
        let reps = session.reps.iter();
        reps.filter(|rep| rep.set == number && rep.complete).count() as u32
    };
    let value = |id: &str| {
        let reps = session.reps.iter().filter(|rep| rep.complete);
        median(reps.filter_map(|rep| rep.readings.get(id)?.value))
    };
    Done {
        repetitions: session
            .sets
            .iter()
            .map(|set| complete(set.number))
            .collect(),
        tempo_s: PHASES.map(value),
    }
}

/// The limits that a prescription changes, beside the defaults.
pub fn changed(prescription: &Prescription, default: &Exercise) -> Vec<ChangedLimit> {
    prescription
        .limit
        .iter()
        .filter_map(|own| {
            let limit = default.limit_for_plan(&own.measure)?;
            Some(ChangedLimit {
                measure: own.measure.clone(),
                title: measures::card(&own.measure)
                    .map_or(own.measure.clone(), |card| card.title.to_string()),
                unit: limit.unit.symbol().to_string(),
                default: [limit.low, limit.high],
                now: [own.low, own.high],
                reason: own.reason.trim().to_string(),
            })
        })
        .collect()
}
