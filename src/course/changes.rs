//! What changed in the recording from session to session: it changes what a number means.

use crate::session::{ChangedLimit, Session, Space};
use crate::store::Entry;
use serde::Serialize;

/// One property of the recording that was not the same in all sessions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// view, space, layout, reader, program or limits.
    pub what: &'static str,
    /// From which session on it was what, in order.
    pub from: Vec<(i64, String)>,
    /// One sentence.
    pub text: String,
}

/// A property: its name, its title, what it is in a session.
type Property = (&'static str, &'static str, fn(&Session) -> String);

/// Properties in the order in which they matter.
const WATCHED: [Property; 6] = [
    ("space", "What angles come from", space),
    ("view", "View of the person", view),
    ("layout", "Keypoint layout", |session| {
        session.clip.layout.clone()
    }),
    ("reader", "File format", |session| {
        session.clip.reader.clone()
    }),
    ("limits", "Limits of the plan", limits),
    ("program", "Program", |session| {
        format!("{} {}", session.program.name, session.program.version)
    }),
];

fn space(session: &Session) -> String {
    match session.clip.space {
        Space::Image => "one picture",
        Space::World => "world coordinates",
    }
    .to_string()
}

fn view(session: &Session) -> String {
    session
        .clip
        .view
        .as_ref()
        .map_or_else(|| "not told".to_string(), |view| view.name.clone())
}

fn limits(session: &Session) -> String {
    let one = |limit: &ChangedLimit| {
        let ends = match limit.now {
            [Some(low), Some(high)] => format!("{low} to {high}"),
            [Some(low), None] => format!("at least {low}"),
            [None, Some(high)] => format!("at most {high}"),
            [None, None] => "open".to_string(),
        };
        format!("{} {ends} {}", limit.title, limit.unit)
    };
    let changed = session.plan.iter().flat_map(|plan| &plan.changed_limits);
    let all: Vec<String> = changed.map(one).collect();
    match all.is_empty() {
        true => "defaults".to_string(),
        false => all.join(", "),
    }
}

/// Every property that changed.
pub fn changes(entries: &[&Entry]) -> Vec<Change> {
    WATCHED
        .iter()
        .filter_map(|(what, title, of)| {
            let mut from: Vec<(i64, String, String)> = Vec::new();
            for entry in entries {
                let now = of(&entry.session);
                if from.last().is_none_or(|(_, _, before)| *before != now) {
                    from.push((entry.number, entry.date.clone(), now));
                }
            }
            if from.len() < 2 {
                return None;
            }
            let parts: Vec<String> = from
                .iter()
                .map(|(_, date, now)| format!("{now} from {date}"))
                .collect();
            Some(Change {
                what,
                text: format!("{title} changed: {}.", parts.join(", ")),
                from: from
                    .into_iter()
                    .map(|(number, _, now)| (number, now))
                    .collect(),
            })
        })
        .collect()
}
