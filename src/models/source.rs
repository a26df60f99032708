//! Where a figure comes from, and how far that was checked.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::error::ModelError;
use super::vocabulary;

/// How far a source was checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SourceStatus {
    /// The number was read in the source's own text (abstract, table).
    Verified,
    /// The number was read in an open data set that digitised the source.
    VerifiedDataset,
    /// The number was read in another text that cites the source.
    Secondary,
    /// Computed here from a formula or from other rows.
    Computed,
    /// From memory, not verified.
    Memory,
    /// Not a publication: customary practice or an assumption of this project.
    Unsourced,
}

/// One source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Kebab-case id that limits and figures name.
    pub id: String,
    /// Authors, year, journal and DOI where known; or the plain words for a figure without one.
    pub citation: String,
    /// How far it was checked.
    pub status: SourceStatus,
    /// What exactly was read, and what was not.
    pub note: String,
}

/// The file `sources.toml`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawSources {
    source: Vec<Source>,
}

/// Checks ids and texts and keys the sources by id.
pub(crate) fn by_id(
    raw: Option<RawSources>,
    faults: &mut Vec<ModelError>,
) -> BTreeMap<String, Source> {
    let mut map = BTreeMap::new();
    for (i, source) in raw
        .map(|r| r.source)
        .unwrap_or_default()
        .into_iter()
        .enumerate()
    {
        let key = format!("source[{i}].id");
        if !vocabulary::is_kebab(&source.id) {
            faults.push(ModelError::new(
                "sources.toml",
                key.clone(),
                format!("`{}` is no kebab-case id", source.id),
                "use lower-case letters, digits and single hyphens",
            ));
        }
        if source.citation.trim().is_empty() {
            faults.push(ModelError::new(
                "sources.toml",
                format!("source[{i}].citation"),
                "the citation is empty",
                "give authors, year and journal, or say plainly that there is no source",
            ));
        }
        if map.contains_key(&source.id) {
            faults.push(ModelError::new(
                "sources.toml",
                key,
                format!("the id `{}` occurs twice", source.id),
                "keep one of the two",
            ));
        }
        map.insert(source.id.clone(), source);
    }
    map
}
