//! Ids that depend on content only.

use crate::digest::Sha256;
use crate::session::Session;

/// The names of the resources of one session.
pub struct Names {
    session: String,
}

impl Names {
    /// Those of a session of a person on a day.
    pub fn of(session: &Session, pseudonym: &str, date: Option<&str>) -> Names {
        let parts = [
            session.clip.sha256.as_str(),
            session.clip.person.as_str(),
            session.exercise.as_str(),
            session.side.id(),
            pseudonym,
            date.unwrap_or(""),
        ];
        Names {
            session: parts.join("\n"),
        }
    }

    /// The UUID of a resource: the first bytes of a SHA-256, marked as version 8 (RFC 9562: custom).
    pub fn uuid(&self, resource: &str) -> String {
        let mut hash = Sha256::new();
        hash.update(self.session.as_bytes());
        hash.update(b"\n");
        hash.update(resource.as_bytes());
        let mut hex: Vec<char> = hash.hex().chars().take(32).collect();
        for (place, mark) in [(12, '8'), (16, 'a')] {
            if let Some(digit) = hex.get_mut(place) {
                *digit = mark;
            }
        }
        for dash in [20, 16, 12, 8] {
            hex.insert(dash, '-');
        }
        hex.into_iter().collect()
    }
}
