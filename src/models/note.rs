//! The long texts behind every code: what a note, reason, finding or error means and what to do.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::error::ModelError;
use super::vocabulary;

/// What a code stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ExplanationKind {
    /// Why a value is absent.
    Reason,
    /// Something was assumed, filled, dropped or chosen.
    Note,
    /// A judgement about a repetition.
    Finding,
    /// An input or a command could not be used.
    Error,
}

/// The long text of one code.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Explanation {
    /// The code as printed, for example `wrong-view` or `read/length`.
    pub code: String,
    /// What kind of code it is.
    pub kind: ExplanationKind,
    /// A short title.
    pub title: String,
    /// What it means, in a few sentences.
    pub text: String,
    /// What to do about it.
    pub remedy: String,
}

/// The file `notes.toml`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawNotes {
    note: Vec<Explanation>,
}

/// Checks codes and texts and keys the explanations by code.
pub(crate) fn by_code(
    raw: Option<RawNotes>,
    faults: &mut Vec<ModelError>,
) -> BTreeMap<String, Explanation> {
    let mut map = BTreeMap::new();
    for (i, note) in raw
        .map(|r| r.note)
        .unwrap_or_default()
        .into_iter()
        .enumerate()
    {
        let mut fault = |key: &str, problem: String, remedy: &str| {
            faults.push(ModelError::new(
                "notes.toml",
                format!("note[{i}].{key}"),
                problem,
                remedy,
            ));
        };
        if !vocabulary::is_code(&note.code) {
            fault(
                "code",
                format!("`{}` is no code", note.code),
                "use kebab-case, with at most one `/` between stage and name",
            );
        }
        for (key, text) in [
            ("title", &note.title),
            ("text", &note.text),
            ("remedy", &note.remedy),
        ] {
            if text.trim().is_empty() {
                fault(
                    key,
                    format!("`{}` has no {key}", note.code),
                    "write one plain sentence",
                );
            }
        }
        if map.contains_key(&note.code) {
            fault(
                "code",
                format!("`{}` occurs twice", note.code),
                "keep one of the two",
            );
        }
        map.insert(note.code.clone(), note);
    }
    map
}
