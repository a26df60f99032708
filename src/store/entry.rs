//! One session of a person as the casebook holds it.

use super::open::Book;
use super::seal;
use crate::body::Side;
use crate::note::{Fault, FaultKind, Place};
use crate::session::{Reported, Session};

/// What was entered about a day beside the result.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Told {
    /// Day of the operation, year-month-day.
    pub operation_date: Option<String>,
    /// Phase, in the clinic's own words.
    pub phase: Option<String>,
    /// Load, kilograms.
    pub load_kg: Option<f64>,
    /// Band, cable or wall, in words.
    pub resistance: Option<String>,
    /// Pain at which the person stops, 0 to 10.
    pub pain_limit: Option<f64>,
    /// Pain and effort as the person said.
    pub reported: Reported,
    /// A remark of whoever entered it.
    pub remark: Option<String>,
}

impl Told {
    /// What a result itself says of its day.
    pub fn of(session: &Session) -> Told {
        let plan = session.plan.as_ref();
        let prescribed = plan.and_then(|plan| plan.prescribed.as_ref());
        Told {
            operation_date: plan.and_then(|plan| plan.operation_date.clone()),
            phase: plan.and_then(|plan| plan.phase.clone()),
            load_kg: prescribed.and_then(|one| one.load_kg),
            resistance: prescribed.and_then(|one| one.resistance.clone()),
            pain_limit: plan.and_then(|plan| plan.pain_limit),
            reported: session.reported.unwrap_or_default(),
            remark: None,
        }
    }

    /// This, and where it says nothing, the other.
    #[must_use]
    pub fn or(self, other: Told) -> Told {
        let (said, also) = (self.reported, other.reported);
        Told {
            operation_date: self.operation_date.or(other.operation_date),
            phase: self.phase.or(other.phase),
            load_kg: self.load_kg.or(other.load_kg),
            resistance: self.resistance.or(other.resistance),
            pain_limit: self.pain_limit.or(other.pain_limit),
            reported: Reported {
                pain_before: said.pain_before.or(also.pain_before),
                pain_during: said.pain_during.or(also.pain_during),
                pain_after: said.pain_after.or(also.pain_after),
                effort: said.effort.or(also.effort),
            },
            remark: self.remark.or(other.remark),
        }
    }
}

/// A session with what belongs to it.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Number in the book; never given twice.
    pub number: i64,
    /// Pseudonym.
    pub person: String,
    /// Day of the session, year-month-day.
    pub date: String,
    /// The same as a count of days, to reckon with.
    pub day: i64,
    /// Weeks from the operation to the session, if its day was entered.
    pub weeks_since_operation: Option<f64>,
    /// What was entered about the day.
    pub told: Told,
    /// The result.
    pub session: Session,
    /// The result as text, byte for byte as it came.
    pub review: String,
    /// SHA-256 of that text.
    pub sha256: String,
}

/// Which sessions are wanted; what is `None` is not asked for.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    /// Pseudonym.
    pub person: Option<String>,
    /// Exercise id.
    pub exercise: Option<String>,
    /// Arm.
    pub side: Option<Side>,
    /// Number of a session.
    pub number: Option<i64>,
}

/// Every column; a `WHERE` may follow.
pub const SELECT: &str = "SELECT session.id, pseudonym, date, exercise, side, sha256, review, clip_sha256, \
    operation_date, phase, load_kg, resistance, pain_limit, pain_before, pain_during, pain_after, effort, remark, seal, \
    CAST(julianday(date) - 2440587.5 AS INTEGER), (julianday(date) - julianday(operation_date)) / 7.0 \
    FROM session JOIN person ON person.id = session.person";

/// The columns of a session.
pub struct Row {
    pub number: i64,
    pub person: String,
    pub date: String,
    pub exercise: String,
    pub side: String,
    pub sha256: String,
    pub review: String,
    pub clip_sha256: Option<String>,
    pub told: Told,
    pub seal: Option<String>,
    pub day: i64,
    pub weeks: Option<f64>,
}

impl Row {
    /// One row of [`SELECT`].
    pub fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Row> {
        Ok(Row {
            number: row.get(0)?,
            person: row.get(1)?,
            date: row.get(2)?,
            exercise: row.get(3)?,
            side: row.get(4)?,
            sha256: row.get(5)?,
            review: row.get(6)?,
            clip_sha256: row.get(7)?,
            told: Told {
                operation_date: row.get(8)?,
                phase: row.get(9)?,
                load_kg: row.get(10)?,
                resistance: row.get(11)?,
                pain_limit: row.get(12)?,
                reported: Reported {
                    pain_before: row.get(13)?,
                    pain_during: row.get(14)?,
                    pain_after: row.get(15)?,
                    effort: row.get(16)?,
                },
                remark: row.get(17)?,
            },
            seal: row.get(18)?,
            day: row.get(19)?,
            weeks: row.get(20)?,
        })
    }

    /// The session, if it is what was stored; else what is wrong with it.
    pub fn entry(self) -> Result<Entry, String> {
        if self.seal.as_deref() != Some(&seal::of(&self)) {
            return Err("it is not what was stored".into());
        }
        let session: Session = serde_json::from_str(&self.review)
            .map_err(|error| format!("its result cannot be read: {error}"))?;
        Ok(Entry {
            number: self.number,
            person: self.person,
            date: self.date,
            day: self.day,
            weeks_since_operation: self.weeks,
            told: self.told,
            session,
            review: self.review,
            sha256: self.sha256,
        })
    }
}

impl Book {
    /// Sessions in order of person, day and number.
    ///
    /// # Errors
    /// The book cannot be read, or a session is not what was stored.
    pub fn entries(&self, filter: &Filter) -> Result<Vec<Entry>, Fault> {
        let rows = self.rows(filter).map_err(|error| self.fault(&error))?;
        rows.into_iter()
            .map(|row| {
                let number = row.number;
                row.entry().map_err(|what| {
                    Fault::new(
                        FaultKind::Malformed,
                        "casebook/corrupt",
                        format!("session {number} of the casebook is damaged: {what}"),
                        Place::file(self.name()).field(format!("session {number}")),
                        "`scaplane casebook check`, then a backup; the file is left as it is",
                    )
                })
            })
            .collect()
    }

    fn rows(&self, filter: &Filter) -> rusqlite::Result<Vec<Row>> {
        let select = format!(
            "{SELECT} WHERE (?1 IS NULL OR pseudonym = ?1) AND (?2 IS NULL OR exercise = ?2) \
             AND (?3 IS NULL OR side = ?3) AND (?4 IS NULL OR session.id = ?4) ORDER BY pseudonym, date, session.id"
        );
        self.connection
            .prepare(&select)?
            .query_map(
                (
                    &filter.person,
                    &filter.exercise,
                    filter.side.map(Side::id),
                    filter.number,
                ),
                Row::read,
            )?
            .collect()
    }

    /// Every pseudonym, sorted.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn people(&self) -> Result<Vec<String>, Fault> {
        let people = |connection: &rusqlite::Connection| {
            connection
                .prepare("SELECT pseudonym FROM person ORDER BY pseudonym")?
                .query_map([], |row| row.get(0))?
                .collect::<rusqlite::Result<Vec<String>>>()
        };
        people(&self.connection).map_err(|error| self.fault(&error))
    }
}
