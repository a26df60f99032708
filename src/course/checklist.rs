//! The clinic's checklist before more load: each line with its state and the evidence. Nothing decides.
//!
//! In: the sessions and `progression.toml`. Out: [`Item`]s. A line is *met* or *not met* only if the whole interval,
//! or every repetition that could tip it, says so; else it *cannot be told*; what was not entered is said to be so.

use super::evidence::Facts;
use crate::models::{Exercise, Models, SourceStatus};
use crate::store::Entry;
use serde::Serialize;

/// How a line came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// It is as the line says.
    Met,
    /// It is not.
    NotMet,
    /// The sessions do not tell.
    CannotTell,
    /// It was not entered, or is for the clinician to answer.
    NotEntered,
}

impl State {
    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            State::Met => "met",
            State::NotMet => "not met",
            State::CannotTell => "cannot tell",
            State::NotEntered => "not entered",
        }
    }
}

/// One line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Item {
    /// Id of the criterion.
    pub id: String,
    /// What is met if it is met.
    pub title: String,
    /// How it came out.
    pub state: State,
    /// What that rests on.
    pub evidence: String,
    /// Where the figure comes from.
    pub source: String,
    /// How to read it.
    pub note: String,
}

/// Every line that applies to the exercise.
pub fn checklist(
    own: &[&Entry],
    other: &[&Entry],
    exercise: &Exercise,
    models: &Models,
) -> Vec<Item> {
    let Some(latest) = own.last() else {
        return Vec::new();
    };
    let facts = Facts {
        own,
        other,
        exercise,
        latest,
    };
    models
        .progression
        .iter()
        .filter_map(|criterion| {
            let (state, evidence) = facts.told(criterion)?;
            Some(Item {
                id: criterion.id.clone(),
                title: criterion.title.clone(),
                state,
                evidence,
                source: cite(&criterion.source, models),
                note: criterion.note.clone(),
            })
        })
        .collect()
}

fn cite(id: &str, models: &Models) -> String {
    models.source(id).map_or_else(
        || id.to_string(),
        |source| match source.status {
            SourceStatus::Memory if !source.citation.contains("from memory") => {
                format!("{} (from memory, not verified)", source.citation)
            }
            SourceStatus::Secondary => format!("{} (read in texts that cite it)", source.citation),
            _ => source.citation.clone(),
        },
    )
}
