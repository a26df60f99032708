//! What is wrong with a definition file: which file, which key, and what to do about it.
//!
//! All faults of a load are collected, so that an author mends a file in one go.

use std::fmt;

/// One fault in one definition file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ModelError {
    /// Path inside `models/`, for example `exercises/row.toml`.
    pub file: String,
    /// The key or line in that file, for example `limits[2].source` or `line 14: low_degg = 3`.
    pub key: String,
    /// What is wrong.
    pub problem: String,
    /// What to do.
    pub remedy: String,
}

impl ModelError {
    /// A fault at a key.
    pub(crate) fn new(
        file: &str,
        key: impl Into<String>,
        problem: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            file: file.to_owned(),
            key: key.into(),
            problem: problem.into(),
            remedy: remedy.into(),
        }
    }

    /// A file that must be there and is not.
    pub(crate) fn missing(file: &str) -> Self {
        Self::new(
            file,
            "(whole file)",
            "the file is missing",
            "put the file back; every build carries one",
        )
    }

    /// A complaint of the TOML parser, placed at its line.
    pub(crate) fn from_toml(file: &str, text: &str, error: &toml::de::Error) -> Self {
        let key = error
            .span()
            .and_then(|span| text.get(..span.start))
            .map_or_else(
                || "(whole file)".to_owned(),
                |before| {
                    let number = before.matches('\n').count();
                    let line = text.lines().nth(number).unwrap_or_default().trim();
                    format!("line {}: {line}", number + 1)
                },
            );
        Self::new(
            file,
            key,
            error.message(),
            "compare with a definition that ships with the program; keys are spelled exactly as there",
        )
    }
}

impl fmt::Display for ModelError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", self.problem)?;
        writeln!(f, "   at models/{}  {}", self.file, self.key)?;
        write!(f, "   try {}", self.remedy)
    }
}

impl std::error::Error for ModelError {}

/// Every fault found in one load, file by file; never empty when returned as an error.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ModelErrors(pub Vec<ModelError>);

impl fmt::Display for ModelErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, fault) in self.0.iter().enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}

impl std::error::Error for ModelErrors {}
