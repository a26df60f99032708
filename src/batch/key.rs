//! What a result depends on, in one digest: two runs with the same key give the same result.
//!
//! In: the clip's content hash, the settings in force and the definition files. Out: SHA-256 as text.

use super::clip::Settings;
use crate::digest::{Sha256, sha256};
use crate::models::ModelFiles;
use crate::readers::ReadOptions;
use crate::report::Writer;

/// Digest of the definition files.
pub fn digest(files: &ModelFiles) -> String {
    let mut hash = Sha256::new();
    for path in files.paths() {
        hash.update(path.as_bytes());
        hash.update([0]);
        let text = files.text(path).unwrap_or("");
        hash.update(text.len().to_le_bytes());
        hash.update(text.as_bytes());
    }
    hash.hex()
}

/// The key of one clip's result.
pub fn key(
    content: &str,
    settings: &Settings,
    read: &ReadOptions,
    reports: &[&dyn Writer],
    models_digest: &str,
) -> String {
    let reports: Vec<&str> = reports.iter().map(|writer| writer.id()).collect();
    // Debug output names every field, so that a new one changes the key by itself.
    let text = format!(
        "{}\n{}\n{content}\n{settings:?}\n{read:?}\n{reports:?}\n{models_digest}",
        env!("CARGO_PKG_VERSION"),
        crate::session::FORMAT,
    );
    sha256(text.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::WRITERS;

    #[test]
    fn whatever_changes_the_result_changes_the_key() {
        let plain = Settings::default();
        let read = ReadOptions::default();
        let base = key("c", &plain, &read, WRITERS, "m");
        let other =
            |settings: &Settings, read: &ReadOptions| key("c", settings, read, WRITERS, "m");
        let faster = Settings {
            cutoff_hz: Some(6.0),
            ..Settings::default()
        };
        let mirrored = ReadOptions {
            mirrored: true,
            ..ReadOptions::default()
        };
        assert_eq!(base, other(&plain, &read));
        assert_ne!(base, other(&faster, &read));
        assert_ne!(base, other(&plain, &mirrored));
        assert_ne!(base, key("d", &plain, &read, WRITERS, "m"));
        assert_ne!(base, key("c", &plain, &read, &WRITERS[..1], "m"));
        assert_ne!(base, key("c", &plain, &read, WRITERS, "n"));
    }

    #[test]
    fn a_changed_definition_changes_the_digest() {
        let files = ModelFiles::embedded();
        let changed = files.clone().with("exercises/row.toml", "");
        assert_ne!(digest(&files), digest(&changed));
        assert_eq!(digest(&files), digest(&ModelFiles::embedded()));
    }
}
