//! The project's data: exercises, limits, keypoint layouts, linkage and landmark figures,
//! published values, sources and the long explanation texts.
//!
//! In: the files of `models/`, embedded at build time, each of which a folder of the same
//! shape may replace or add to. Out: [`Models`], plain checked data.
//!
//! What clinicians vary is data: a new exercise or layout is one new file and no code. Nothing
//! here measures or judges anything, and no clinical figure stands in this code.

mod check;
mod error;
mod exercise;
mod exercise_file;
mod files;
mod floor;
mod late;
mod name_map;
mod note;
mod parameter;
mod patient;
mod progression;
mod reference;
mod skeleton;
mod source;
#[cfg(test)]
mod tests;
pub mod vocabulary;

use std::collections::BTreeMap;
use std::path::Path;

use serde::de::DeserializeOwned;

pub use error::{ModelError, ModelErrors};
pub use exercise::{
    Applies, Exercise, Finding, Limit, Phases, Plane, Repetition, Report, Signal, Turn, View, Views,
};
pub use files::{ModelFiles, Origin};
pub use floor::Floor;
pub use late::Late;
pub use name_map::NameMap;
pub use note::{Explanation, ExplanationKind};
pub use parameter::{Landmarks, Linkage, Parameter, PlaneCurve};
pub use patient::{Language, PatientWords, Praise, Words};
pub use progression::{Criterion, Test, When};
pub use reference::Reference;
pub use skeleton::{JointSource, Order, Skeleton, normalised_name};
pub use source::{Source, SourceStatus};

/// Everything in `models/`, read and checked.
#[derive(Debug, Clone)]
pub struct Models {
    /// Exercises by id.
    pub exercises: BTreeMap<String, Exercise>,
    /// Keypoint layouts by id.
    pub skeletons: BTreeMap<String, Skeleton>,
    /// The clavicle-scapula linkage behind the proxy rhythm.
    pub linkage: Linkage,
    /// Landmark errors, body proportions and camera assumptions.
    pub landmarks: Landmarks,
    /// Published curves and values, in file order.
    pub references: Late<Vec<Reference>>,
    /// Sources by id.
    pub sources: BTreeMap<String, Source>,
    /// Published error of every measure, by measure id.
    pub floors: BTreeMap<String, Floor>,
    /// Long texts of every note, reason, finding and error, by code.
    pub explanations: BTreeMap<String, Explanation>,
    /// Every word a patient sees, in every language.
    pub patient: Late<PatientWords>,
    /// The checklist before more load, in file order.
    pub progression: Late<Vec<Criterion>>,
    /// What the user says of the names in the file at hand; empty in the files of `models/`.
    pub names: NameMap,
}

impl Models {
    /// The data built into the program. What few commands ask for is read when it is asked for.
    ///
    /// # Errors
    /// Only when a file in `models/` is broken, which the tests rule out for a released build.
    pub fn embedded() -> Result<Self, ModelErrors> {
        let mut faults = Vec::new();
        let models = Self::read(&ModelFiles::embedded(), Seldom::built_in(), &mut faults);
        models
            .filter(|_| faults.is_empty())
            .ok_or(ModelErrors(faults))
    }

    /// The built-in data with the files of `folder` laid over it: a file of the same relative
    /// path (for example `exercises/row.toml`) replaces the built-in one, a new name adds to it.
    ///
    /// # Errors
    /// Every fault found, each with its file, key and remedy.
    pub fn from_folder(folder: &Path) -> Result<Self, ModelErrors> {
        Self::from_files(&ModelFiles::embedded().overlaid(folder)?)
    }

    /// Reads and checks a set of files, whatever they came from.
    ///
    /// # Errors
    /// Every fault found, each with its file, key and remedy.
    pub fn from_files(files: &ModelFiles) -> Result<Self, ModelErrors> {
        let mut faults = Vec::new();
        let seldom = Seldom::of(files, &mut faults);
        let models = Self::read(files, seldom, &mut faults);
        if let Some(models) = &models {
            check::seldom(models, &mut faults);
        }
        models
            .filter(|_| faults.is_empty())
            .ok_or(ModelErrors(faults))
    }

    /// Reads and checks what every command needs; `None` where what everything rests on is missing.
    fn read(files: &ModelFiles, seldom: Seldom, faults: &mut Vec<ModelError>) -> Option<Self> {
        // Three parts of about the same length, and another core may be idle.
        let [mut of_skeletons, mut of_notes] = [const { Vec::new() }; 2];
        let (skeletons, (explanations, models)) = rayon::join(
            || skeletons(files, &mut of_skeletons),
            || {
                rayon::join(
                    || note::by_code(one(files, "notes.toml", &mut of_notes), &mut of_notes),
                    || Self::without_texts(files, seldom, faults),
                )
            },
        );
        faults.extend(of_skeletons);
        faults.extend(of_notes);
        let models = Models {
            skeletons,
            explanations,
            ..models?
        };
        check::across(&models, faults);
        Some(models)
    }

    /// Everything but layouts and explanations.
    fn without_texts(
        files: &ModelFiles,
        seldom: Seldom,
        faults: &mut Vec<ModelError>,
    ) -> Option<Self> {
        let exercises = exercises(files, faults);
        let sources = source::by_id(one(files, "sources.toml", faults), faults);
        let linkage: Option<Linkage> = one(files, "linkage.toml", faults);
        let landmarks: Option<Landmarks> = one(files, "landmarks.toml", faults);
        let floors = floor::by_measure(one(files, "floors.toml", faults), faults);
        Some(Self {
            exercises,
            skeletons: BTreeMap::new(),
            linkage: linkage?,
            landmarks: landmarks?,
            references: seldom.references,
            sources,
            floors,
            explanations: BTreeMap::new(),
            patient: seldom.patient,
            progression: seldom.progression,
            names: NameMap::default(),
        })
    }

    /// The same data, with which readers keep every joint of a layout, also those that nothing measures: for
    /// a track that is passed on and not measured.
    #[must_use]
    pub fn with_every_joint(mut self) -> Self {
        self.skeletons = self
            .skeletons
            .into_iter()
            .map(|(id, skeleton)| (id, skeleton.with_every_joint()))
            .collect();
        self
    }

    /// Whether some layout, or the user, knows a point by this name.
    #[must_use]
    pub fn knows_point(&self, name: &str) -> bool {
        let known = |layout: &Skeleton| layout.index_of(name).is_some();
        self.names.knows(name) || self.skeletons.values().any(known)
    }

    /// The exercise of that id.
    #[must_use]
    pub fn exercise(&self, id: &str) -> Option<&Exercise> {
        self.exercises.get(id)
    }

    /// The layout of that id.
    #[must_use]
    pub fn skeleton(&self, id: &str) -> Option<&Skeleton> {
        self.skeletons.get(id)
    }

    /// The source of that id.
    #[must_use]
    pub fn source(&self, id: &str) -> Option<&Source> {
        self.sources.get(id)
    }

    /// The long text of a note, reason, finding or error code.
    #[must_use]
    pub fn explain(&self, code: &str) -> Option<&Explanation> {
        self.explanations.get(code)
    }
}

/// What few commands ask for.
struct Seldom {
    references: Late<Vec<Reference>>,
    patient: Late<PatientWords>,
    progression: Late<Vec<Criterion>>,
}

impl Seldom {
    /// Read when it is asked for. Its checks are left to the tests.
    fn built_in() -> Seldom {
        let (files, none) = (ModelFiles::embedded, Vec::new);
        Seldom {
            references: Late::made_by(move || references(&files(), &mut none())),
            patient: Late::made_by(move || patient(&files(), &mut none())),
            progression: Late::made_by(move || progression(&files(), &mut none())),
        }
    }

    /// Read and checked at once.
    fn of(files: &ModelFiles, faults: &mut Vec<ModelError>) -> Seldom {
        Seldom {
            references: Late::of(references(files, faults)),
            patient: Late::of(patient(files, faults)),
            progression: Late::of(progression(files, faults)),
        }
    }
}

fn references(files: &ModelFiles, faults: &mut Vec<ModelError>) -> Vec<Reference> {
    match files.text("references.csv") {
        Some(text) => reference::read(text, faults),
        None => {
            faults.push(ModelError::missing("references.csv"));
            Vec::new()
        }
    }
}

fn patient(files: &ModelFiles, faults: &mut Vec<ModelError>) -> PatientWords {
    patient::checked(one(files, "patient-words.toml", faults), faults)
}

fn progression(files: &ModelFiles, faults: &mut Vec<ModelError>) -> Vec<Criterion> {
    progression::checked(one(files, "progression.toml", faults), faults)
}

/// Exercises by id.
fn exercises(files: &ModelFiles, faults: &mut Vec<ModelError>) -> BTreeMap<String, Exercise> {
    let mut exercises = BTreeMap::new();
    for path in files.in_folder("exercises") {
        let raw: Option<exercise_file::RawExercise> = one(files, path, faults);
        if let Some(raw) = raw {
            let exercise = exercise_file::checked(path, raw, faults);
            exercises.insert(exercise.id.clone(), exercise);
        }
    }
    exercises
}

/// Keypoint layouts by id.
fn skeletons(files: &ModelFiles, faults: &mut Vec<ModelError>) -> BTreeMap<String, Skeleton> {
    let mut skeletons = BTreeMap::new();
    for path in files.in_folder("skeletons") {
        let raw: Option<skeleton::RawSkeleton> = one(files, path, faults);
        let tested = files.origin(path) == Some(Origin::Embedded);
        if let Some(raw) = raw
            && let Some(skeleton) = skeleton::checked(path, raw, tested, faults)
        {
            skeletons.insert(skeleton.id.clone(), skeleton);
        }
    }
    skeletons
}

/// Parses one file that must be there: TOML, or the JSON that was made of it at build time. A parser's complaint
/// becomes a fault with its place.
fn one<T: DeserializeOwned>(
    files: &ModelFiles,
    path: &str,
    faults: &mut Vec<ModelError>,
) -> Option<T> {
    let parsed = files.parsed(path);
    if let Some(value) = parsed.and_then(|json| serde_json::from_str(json).ok()) {
        return Some(value);
    }
    let Some(text) = files.text(path) else {
        faults.push(ModelError::missing(path));
        return None;
    };
    match toml::from_str(text) {
        Ok(value) => Some(value),
        Err(error) => {
            faults.push(ModelError::from_toml(path, text, &error));
            None
        }
    }
}
