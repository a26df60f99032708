//! What the camera could not tell, and whether another place for the phone may help.

use super::Part;
use super::reps::whole;
use crate::models::Words;
use crate::session::{Session, Unseen};

/// Whether to say where the phone goes: whenever something could not be told.
pub(super) fn helps(session: &Session) -> bool {
    whole(session).next().is_none() || !session.unseen.is_empty()
}

pub(super) fn unseen(session: &Session, words: Words<'_>) -> Part {
    let mut lines = Vec::new();
    if whole(session).next().is_none() {
        lines.push(words.say("unseen_nothing", &[]));
    } else {
        lines.extend(things(session, words));
        if lines.is_empty() {
            lines.push(words.say("unseen_none", &[]));
        }
    }
    Part {
        heading: words.say("unseen_heading", &[]),
        lines,
    }
}

/// One line a thing: several measures are about the same one, of which the least seen is told.
fn things(session: &Session, words: Words<'_>) -> Vec<String> {
    let mut told: Vec<(String, &Unseen)> = Vec::new();
    for row in &session.unseen {
        let thing = words.thing(&row.measure);
        match told.iter_mut().find(|(known, _)| *known == thing) {
            Some((_, known)) if row.measurable < known.measurable => *known = row,
            Some(_) => {}
            None => told.push((thing, row)),
        }
    }
    told.iter()
        .map(|(thing, row)| {
            let why = words.why(&row.why.code);
            let count = row.of.saturating_sub(row.measurable).to_string();
            let total = row.of.to_string();
            let values = [
                ("thing", thing.as_str()),
                ("why", &why),
                ("count", &count),
                ("total", &total),
            ];
            match row.measurable {
                0 => words.say("unseen_whole", &values),
                _ => words.say("unseen_part", &values),
            }
        })
        .collect()
}
