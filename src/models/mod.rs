//! The project's data: exercises, limits, keypoint layouts, linkage and landmark figures,
//! published values, sources and the long explanation texts.
//!
//! In: the files of `models/`, embedded at build time, each of which a folder of the same
//! shape may replace or add to. Out: [`Models`], plain checked data.
//!
//! What clinicians vary is data: a new exercise or layout is one new file and no code. Nothing
//! here measures or judges anything, and no clinical figure stands in this code.
//!
//! What is built in was checked by the tests and is read part by part, when it is first asked for ([`Late`], [`ById`]); files of
//! a user are read and checked at once, so that every fault in them is told before any work.

mod by_id;
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
use std::sync::Arc;

use serde::de::DeserializeOwned;

pub use by_id::ById;
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

/// Everything in `models/`: what is built in as it is asked for, a user's files read and checked.
#[derive(Debug, Clone)]
pub struct Models {
    /// Exercises by id.
    pub exercises: ById<Exercise>,
    /// Keypoint layouts by id.
    pub skeletons: ById<Skeleton>,
    /// The clavicle-scapula linkage behind the proxy rhythm.
    pub linkage: Linkage,
    /// Landmark errors, body proportions and camera assumptions.
    pub landmarks: Landmarks,
    /// Published curves and values, in file order.
    pub references: Late<Vec<Reference>>,
    /// Sources by id.
    pub sources: Late<BTreeMap<String, Source>>,
    /// Published error of every measure, by measure id.
    pub floors: Late<BTreeMap<String, Floor>>,
    /// Long texts of every note, reason, finding and error, by code.
    pub explanations: Late<BTreeMap<String, Explanation>>,
    /// Every word a patient sees, in every language.
    pub patient: Late<PatientWords>,
    /// The checklist before more load, in file order.
    pub progression: Late<Vec<Criterion>>,
    /// What the user says of the names in the file at hand; empty in the files of `models/`.
    pub names: NameMap,
    /// The files, where their definitions are read when they are asked for.
    pub(crate) waiting: Option<Arc<ModelFiles>>,
}

impl Models {
    /// The data built into the program, all but linkage and landmarks read when they are asked for. Its checks are left to
    /// the tests, which rule out for a released build that a file is broken; one that cannot be read is passed over.
    ///
    /// # Errors
    /// Only when the file of the linkage or that of the landmarks cannot be read.
    pub fn embedded() -> Result<Self, ModelErrors> {
        let mut faults = Vec::new();
        let models = Self::read(ModelFiles::embedded(), true, &mut faults);
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
        let models = Self::read(files.clone(), false, &mut faults);
        if let Some(models) = &models {
            check::across(models, &mut faults);
        }
        models
            .filter(|_| faults.is_empty())
            .ok_or(ModelErrors(faults))
    }

    /// Reads the files at once, or when they are asked for; `None` where what everything rests on is missing.
    fn read(files: ModelFiles, late: bool, faults: &mut Vec<ModelError>) -> Option<Self> {
        let mut reading = Reading {
            files: Arc::new(files),
            late,
            faults,
        };
        let exercises = reading.folder("exercises", exercise);
        let skeletons = reading.folder("skeletons", skeleton);
        let references = reading.part(references);
        let sources =
            reading.part(|files, faults| source::by_id(one(files, "sources.toml", faults), faults));
        let floors = reading
            .part(|files, faults| floor::by_measure(one(files, "floors.toml", faults), faults));
        let explanations =
            reading.part(|files, faults| note::by_code(one(files, "notes.toml", faults), faults));
        let patient = reading.part(|files, faults| {
            patient::checked(one(files, "patient-words.toml", faults), faults)
        });
        let progression = reading.part(|files, faults| {
            progression::checked(one(files, "progression.toml", faults), faults)
        });
        let Reading {
            files,
            late,
            faults,
        } = reading;
        let linkage = one(&files, "linkage.toml", faults);
        let landmarks = one(&files, "landmarks.toml", faults);
        Some(Self {
            exercises,
            skeletons,
            linkage: linkage?,
            landmarks: landmarks?,
            references,
            sources,
            floors,
            explanations,
            patient,
            progression,
            names: NameMap::default(),
            waiting: late.then_some(files),
        })
    }

    /// The same data, with which readers keep every joint of a layout, also those that nothing measures: for
    /// a track that is passed on and not measured.
    #[must_use]
    pub fn with_every_joint(mut self) -> Self {
        self.skeletons = self.skeletons.changed(Skeleton::with_every_joint);
        self
    }

    /// Whether some layout, or the user, knows a point by this name.
    #[must_use]
    pub fn knows_point(&self, name: &str) -> bool {
        let known = |layout: &Skeleton| layout.index_of(name).is_some();
        self.names.knows(name) || self.skeletons.values().any(known)
    }

    /// The built-in layout that lists exactly these names, found without reading the others. `None` if there is none, or more
    /// than one, or where definitions of a user were read.
    #[must_use]
    pub fn skeleton_that_lists(&self, names: &[String]) -> Option<&Skeleton> {
        let path = self.waiting.as_ref()?.layout_that_lists(names)?;
        self.skeletons.get(id_of(path))
    }

    /// Reads the texts that a review most likely asks for, so that another core can do it while this one does something else.
    pub fn make_ready(&self) {
        self.sources.make_ready();
        self.explanations.make_ready();
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

/// How files become definitions.
struct Reading<'a> {
    files: Arc<ModelFiles>,
    /// Whether each waits until it is asked for; what is wrong with it is then told by nobody.
    late: bool,
    faults: &'a mut Vec<ModelError>,
}

impl Reading<'_> {
    /// What `read` makes of the files.
    fn part<T: Send + 'static>(
        &mut self,
        read: fn(&ModelFiles, &mut Vec<ModelError>) -> T,
    ) -> Late<T> {
        match self.late {
            true => {
                let files = Arc::clone(&self.files);
                Late::made_by(move || read(&files, &mut Vec::new()))
            }
            false => Late::of(read(&self.files, self.faults)),
        }
    }

    /// What `read` makes of each file of a folder, by the name of the file.
    fn folder<T: Send + Sync + 'static>(
        &mut self,
        folder: &str,
        read: fn(&ModelFiles, &str, &mut Vec<ModelError>) -> Option<T>,
    ) -> ById<T> {
        let mut all = Vec::new();
        for path in self.files.in_folder(folder) {
            let id = id_of(path).to_owned();
            let definition = match self.late {
                true => {
                    let (files, path) = (Arc::clone(&self.files), path.to_owned());
                    Late::made_by(move || read(&files, &path, &mut Vec::new()))
                }
                false => Late::of(read(&self.files, path, self.faults)),
            };
            all.push((id, definition));
        }
        ById::of(all)
    }
}

/// The id that the file of a definition is named for.
fn id_of(path: &str) -> &str {
    let name = path.rsplit('/').next().unwrap_or(path);
    name.strip_suffix(".toml").unwrap_or(name)
}

fn exercise(files: &ModelFiles, path: &str, faults: &mut Vec<ModelError>) -> Option<Exercise> {
    let raw = one(files, path, faults)?;
    Some(exercise_file::checked(path, raw, faults))
}

fn skeleton(files: &ModelFiles, path: &str, faults: &mut Vec<ModelError>) -> Option<Skeleton> {
    let raw = one(files, path, faults)?;
    let tested = files.origin(path) == Some(Origin::Embedded);
    skeleton::checked(path, raw, tested, faults)
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
