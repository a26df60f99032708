//! One clip of a batch: where it is, what belongs to it, and how it is to be read and judged.

use crate::body::{Side, ViewName};
use crate::digest::Sha256;
use crate::note::Fault;
use crate::plan::Plan;
use crate::readers::ReadOptions;
use crate::session::Reported;
use crate::track::{PictureSize, Up};
use serde::Serialize;
use std::path::PathBuf;
use std::sync::Arc;

/// Which arms are measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Sides {
    /// The person's left.
    Left,
    /// The person's right.
    Right,
    /// Each in turn.
    Both,
}

impl Sides {
    /// The sides to measure; `None` stands for the arm that moves more.
    pub fn list(choice: Option<Sides>) -> Vec<Option<Side>> {
        match choice {
            None => vec![None],
            Some(Sides::Left) => vec![Some(Side::Left)],
            Some(Sides::Right) => vec![Some(Side::Right)],
            Some(Sides::Both) => vec![Some(Side::Left), Some(Side::Right)],
        }
    }
}

/// What is stated about a clip; what is absent is taken from the command line, else told from the file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Settings {
    /// Exercise id.
    pub exercise: Option<String>,
    /// Arms.
    pub sides: Option<Sides>,
    /// View of the person.
    pub view: Option<ViewName>,
    /// Cut-off of the low-pass filter, hertz.
    pub cutoff_hz: Option<f64>,
    /// Frames a second.
    pub fps: Option<f64>,
    /// Size of the picture.
    pub size: Option<PictureSize>,
    /// Layout id.
    pub layout: Option<String>,
    /// Reader id.
    pub format: Option<String>,
    /// Which person of the file.
    pub person_in_clip: Option<String>,
    /// Whether the video is a mirror image.
    pub mirrored: Option<bool>,
    /// Upward axis of world coordinates.
    pub up: Option<Up>,
    /// Plan of the treating clinician; its side and its only exercise count where neither is stated here.
    pub plan: Option<Arc<Plan>>,
    /// What the person said of pain and effort.
    pub reported: Option<Reported>,
}

impl Settings {
    /// These, and where they say nothing, the others.
    #[must_use]
    pub fn or(&self, other: &Settings) -> Settings {
        Settings {
            exercise: self.exercise.clone().or_else(|| other.exercise.clone()),
            sides: self.sides.or(other.sides),
            view: self.view.or(other.view),
            cutoff_hz: self.cutoff_hz.or(other.cutoff_hz),
            fps: self.fps.or(other.fps),
            size: self.size.or(other.size),
            layout: self.layout.clone().or_else(|| other.layout.clone()),
            format: self.format.clone().or_else(|| other.format.clone()),
            person_in_clip: (self.person_in_clip.clone()).or_else(|| other.person_in_clip.clone()),
            mirrored: self.mirrored.or(other.mirrored),
            up: self.up.or(other.up),
            plan: self.plan.clone().or_else(|| other.plan.clone()),
            reported: self.reported.or(other.reported),
        }
    }

    /// The same with a plan, and what it tells where nothing is stated.
    #[must_use]
    pub fn with_plan(self, plan: Option<Arc<Plan>>) -> Settings {
        let told = plan.as_deref();
        Settings {
            exercise: (self.exercise).or_else(|| Some(told?.only_exercise()?.to_string())),
            sides: self.sides.or_else(|| {
                Some(match told?.side {
                    Side::Left => Sides::Left,
                    Side::Right => Sides::Right,
                })
            }),
            plan,
            ..self
        }
    }

    /// The readers' options: those given, with what is stated here in their place.
    pub fn read_options(&self, given: &ReadOptions) -> ReadOptions {
        let given = given.clone();
        ReadOptions {
            fps: self.fps.or(given.fps),
            size: self.size.or(given.size),
            layout: self.layout.clone().or(given.layout),
            format: self.format.clone().or(given.format),
            person: self.person_in_clip.clone().or(given.person),
            mirrored: self.mirrored.unwrap_or(given.mirrored),
            up: self.up.or(given.up),
            axis_order: given.axis_order,
            map: given.map,
        }
    }
}

/// What belongs to a clip and is carried into tables and page as it is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct About {
    /// Pseudonym of the patient.
    pub person: Option<String>,
    /// Day of the session, `YYYY-MM-DD`.
    pub date: Option<String>,
    /// Video that the track was made from.
    pub video: Option<String>,
    /// Free text.
    pub note: Option<String>,
}

/// One clip.
#[derive(Debug, Clone)]
pub struct Clip {
    /// Number in the whole list, from 1, whatever share of it is done.
    pub number: u64,
    /// Path as the manifest has it, or below the folder that was searched.
    pub shown: String,
    /// Path to open.
    pub path: PathBuf,
    /// Path of the video that the track was made from, if the manifest names one.
    pub video: Option<PathBuf>,
    /// Name of its folder of results: of safe characters, the same in every run and on every machine.
    pub id: String,
    /// What belongs to it.
    pub about: About,
    /// What is stated about it, or what is wrong with its row.
    pub settings: Result<Settings, Box<Fault>>,
}

/// Longest readable part of an id: with the digest and a file's name it stays far below what file systems take.
const LONGEST: usize = 60;

impl Clip {
    /// The id of a clip: the end of its path to be recognised by, and a digest of all that tells it from the others.
    ///
    /// ```
    /// let id = scaplane::batch::Clip::id_of("home/plane drift/track.json", &Default::default());
    /// assert!(id.starts_with("plane_drift_track.json-"));
    /// ```
    pub fn id_of(shown: &str, settings: &Settings) -> String {
        let parts: Vec<&str> = shown
            .split(['/', '\\'])
            .filter(|part| !matches!(*part, "" | "." | ".."))
            .collect();
        let last = parts.len().saturating_sub(2);
        let name: String = parts
            .get(last..)
            .unwrap_or(&[])
            .join("_")
            .chars()
            .map(|c| match c.is_ascii_alphanumeric() || "._-".contains(c) {
                true => c,
                false => '_',
            })
            .collect();
        let from = name.len().saturating_sub(LONGEST);
        let name = name
            .get(from..)
            .unwrap_or("")
            .trim_start_matches(['.', '-']);
        let mut hash = Sha256::new();
        let side = settings.sides.map(|side| format!("{side:?}"));
        for part in [
            Some(shown),
            settings.exercise.as_deref(),
            side.as_deref(),
            settings.person_in_clip.as_deref(),
        ] {
            hash.update(part.unwrap_or("").as_bytes());
            hash.update([0]);
        }
        let digest: String = hash.hex().chars().take(12).collect();
        format!("{name}-{digest}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_safe_names_and_differ_where_clips_do() {
        let plain = Settings::default();
        let left = Settings {
            sides: Some(Sides::Left),
            ..Settings::default()
        };
        let names = [
            ("../../etc/passwd", &plain),
            ("a/b.json", &plain),
            ("a/b.json", &left),
            ("a_b.json", &plain),
            ("..", &plain),
            ("肩/\u{1b}[2J.csv", &plain),
            ("C:\\clips\\.hidden", &plain),
        ];
        let ids: std::collections::BTreeSet<String> = names
            .iter()
            .map(|(shown, settings)| Clip::id_of(shown, settings))
            .collect();
        assert_eq!(ids.len(), names.len());
        for id in ids {
            assert!(
                id.chars()
                    .all(|c| c.is_ascii_alphanumeric() || "._-".contains(c)),
                "{id}"
            );
            assert!(id.len() <= LONGEST + 13, "{id}");
            assert!(!id.contains("..-") || !id.starts_with('.'), "{id}");
        }
    }
}
