//! The closed lists that definition files may name: measures with their units, joints, units.
//!
//! A file that names anything else is refused at load, so that a misspelt id can never
//! silently switch a limit off.

use serde::Serialize;

/// Unit of a measure, as it ends a key in TOML, JSON and CSV.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
pub enum Unit {
    /// Degrees (`deg`).
    #[serde(rename = "deg")]
    Degrees,
    /// Seconds (`s`).
    #[serde(rename = "s")]
    Seconds,
    /// Degrees times seconds (`deg_s`).
    #[serde(rename = "deg_s")]
    DegreeSeconds,
    /// A pure number (`1`).
    #[serde(rename = "1")]
    One,
}

impl Unit {
    /// The unit as printed in results.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Degrees => "deg",
            Self::Seconds => "s",
            Self::DegreeSeconds => "deg_s",
            Self::One => "1",
        }
    }

    /// What follows `low` and `high` in a limit's keys.
    #[must_use]
    pub const fn key_suffix(self) -> &'static str {
        match self {
            Self::Degrees => "_deg",
            Self::Seconds => "_s",
            Self::DegreeSeconds => "_deg_s",
            Self::One => "",
        }
    }
}

use Unit::{DegreeSeconds, Degrees, One, Seconds};

/// Every measure a limit or a report line may name, with its unit.
///
/// `plane-deviation` is signed from the exercise's own plane: negative toward the side,
/// positive toward the front. `outward-rotation-peak` is positive outward. The event-order
/// measures of the presses are positive when the order is the right one.
pub const MEASURES: &[(&str, Unit)] = &[
    ("peak-elevation", Degrees),
    ("elevation-range", Degrees),
    ("elbow-range", Degrees),
    ("elbow-straightest", Degrees),
    ("elbow-bent-most", Degrees),
    ("raise-time", Seconds),
    ("hold-time", Seconds),
    ("lower-time", Seconds),
    ("smoothness-raise", One),
    ("smoothness-lower", One),
    ("plane-of-elevation", Degrees),
    ("plane-deviation", Degrees),
    ("elbow-path", Degrees),
    ("arc-time", Seconds),
    ("arc-exposure", DegreeSeconds),
    ("arc-internal-rotation", Degrees),
    ("outward-rotation-peak", Degrees),
    ("girdle-onset", Degrees),
    ("girdle-early-rise", Degrees),
    ("girdle-rise", Degrees),
    ("protraction-travel", Degrees),
    ("rhythm-share-raise-30-60", One),
    ("rhythm-share-raise-60-90", One),
    ("rhythm-share-raise-90-120", One),
    ("rhythm-share-raise-30-top", One),
    ("rhythm-share-lower-30-60", One),
    ("rhythm-share-lower-60-90", One),
    ("rhythm-share-lower-90-120", One),
    ("rhythm-share-lower-30-top", One),
    ("rhythm-ratio-raise-30-60", One),
    ("rhythm-ratio-raise-60-90", One),
    ("rhythm-ratio-raise-90-120", One),
    ("rhythm-ratio-raise-30-top", One),
    ("rhythm-ratio-lower-30-60", One),
    ("rhythm-ratio-lower-60-90", One),
    ("rhythm-ratio-lower-90-120", One),
    ("rhythm-ratio-lower-30-top", One),
    ("setting-rotation", Degrees),
    ("trunk-lean", Degrees),
    ("trunk-turn", Degrees),
    ("blade-before-bend", Seconds),
    ("straight-before-protraction", Seconds),
    ("blade-held-lowering", Seconds),
];

/// Measures that are reported but that no limit may judge: every full repetition passes the
/// arc, so time in it is not a fault; a ratio's interval is not symmetric, so the share is
/// judged in its place; below 30 degrees the blade of healthy people may turn either way (Borsa,
/// Timmons & Sauers 2003, J Athl Train 38:12-17; Lee et al. 2013), so that phase has no limit.
pub const NEVER_JUDGED: &[&str] = &["arc-time", "setting-rotation"];

/// Beginnings of measure ids that no limit may judge; see [`NEVER_JUDGED`].
pub const NEVER_JUDGED_PREFIXES: &[&str] = &["rhythm-ratio-"];

/// Every joint a layout may map. Sides are the person's own, never the picture's.
pub const JOINTS: &[&str] = &[
    "nose",
    "eye-left",
    "eye-right",
    "ear-left",
    "ear-right",
    "neck",
    "shoulder-left",
    "shoulder-right",
    "elbow-left",
    "elbow-right",
    "wrist-left",
    "wrist-right",
    "index-left",
    "index-right",
    "pinky-left",
    "pinky-right",
    "thumb-left",
    "thumb-right",
    "hip-left",
    "hip-right",
    "mid-hip",
    "knee-left",
    "knee-right",
    "ankle-left",
    "ankle-right",
    "mid-spine",
    "incisura",
    "xiphoid",
    "c7",
    "t8",
    "trunk-upper",
    "trunk-lower",
    "sternal-end-left",
    "sternal-end-right",
    "acromion-left",
    "acromion-right",
    "acromial-angle-left",
    "acromial-angle-right",
    "spine-root-left",
    "spine-root-right",
    "inferior-angle-left",
    "inferior-angle-right",
    "elbow-lateral-left",
    "elbow-lateral-right",
    "elbow-medial-left",
    "elbow-medial-right",
    "wrist-ulnar-left",
    "wrist-ulnar-right",
    "wrist-radial-left",
    "wrist-radial-right",
];

/// The unit of a measure, or `None` for an unknown id.
///
/// ```
/// use scaplane::models::vocabulary::{Unit, unit_of};
/// assert_eq!(unit_of("arc-exposure"), Some(Unit::DegreeSeconds));
/// assert_eq!(unit_of("arc-expsure"), None);
/// ```
#[must_use]
pub fn unit_of(measure: &str) -> Option<Unit> {
    MEASURES
        .iter()
        .find(|(id, _)| *id == measure)
        .map(|(_, unit)| *unit)
}

/// Whether a limit may judge that measure.
#[must_use]
pub fn may_be_judged(measure: &str) -> bool {
    !NEVER_JUDGED.contains(&measure)
        && !NEVER_JUDGED_PREFIXES
            .iter()
            .any(|prefix| measure.starts_with(prefix))
}

/// Lower-case words of letters and digits joined by single hyphens.
///
/// ```
/// use scaplane::models::vocabulary::is_kebab;
/// assert!(is_kebab("body-25"));
/// assert!(!is_kebab("Body_25") && !is_kebab("-a") && !is_kebab("a--b") && !is_kebab(""));
/// ```
#[must_use]
pub fn is_kebab(text: &str) -> bool {
    text.split('-').all(|word| {
        !word.is_empty()
            && word
                .chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit())
    })
}

/// A kebab-case code, or two joined by one `/` as in `read/length`.
#[must_use]
pub fn is_code(text: &str) -> bool {
    match text.split_once('/') {
        Some((stage, name)) => is_kebab(stage) && is_kebab(name),
        None => is_kebab(text),
    }
}

/// The known id nearest in spelling, offered as a remedy.
#[must_use]
pub fn nearest<'a>(wanted: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    known
        .map(|id| (edits(wanted, id), id))
        .min()
        .map(|(_, id)| id)
}

/// Levenshtein distance, one row at a time.
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        for (cell, cb) in row.iter_mut().skip(1).zip(&b) {
            let value = (*cell + 1)
                .min(left + 1)
                .min(diagonal + usize::from(ca != *cb));
            diagonal = *cell;
            *cell = value;
            left = value;
        }
        if let Some(first) = row.first_mut() {
            *first = i + 1;
        }
    }
    row.last().copied().unwrap_or_default()
}
