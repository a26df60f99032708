//! One clip: leave it if its result is there, else review it as `review` does and write its reports.
//!
//! In: a clip. Out: whether it was done or left, or its fault. Whatever goes wrong with a clip stays with it.

use super::Job;
use super::clip::{Clip, Settings, Sides};
use super::films::Drawn;
use super::key::key;
use super::record::Record;
use crate::compare;
use crate::models::{Exercise, Models};
use crate::note::{Fault, FaultKind, Place};
use crate::pipeline::{Ask, Order, Provenance};
use crate::readers::{self, ReadOptions, Source};
use crate::report::{self, Context, Settling};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

/// How a clip came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Reviewed now.
    Reviewed,
    /// Its result was there and would be the same.
    Unchanged,
}

/// What is the same for every clip.
pub struct Worker<'a> {
    job: &'a Job,
    models: &'a Models,
    contexts: BTreeMap<&'a str, Context>,
}

/// Folder of a clip's results.
pub fn folder(out: &Path, clip: &Clip) -> PathBuf {
    out.join("clips").join(&clip.id)
}

impl<'a> Worker<'a> {
    /// Looks up what the reports of each exercise need.
    pub fn new(job: &'a Job, models: &'a Models) -> Worker<'a> {
        let contexts = models
            .exercises
            .values()
            .map(|exercise| (exercise.id.as_str(), Context::of(exercise, models)))
            .collect();
        Worker {
            job,
            models,
            contexts,
        }
    }

    /// Does one clip. A panic is a fault of this clip too: the others go on.
    pub fn review(&self, clip: &Clip) -> Result<Outcome, Box<Fault>> {
        catch_unwind(AssertUnwindSafe(|| self.done(clip))).unwrap_or_else(|_| {
            Err(Box::new(Fault::new(
                FaultKind::Unsupported,
                "batch/panic",
                "the program itself failed at this clip; the others are not affected",
                Place::file(&clip.shown),
                "reporting it with the clip's layout and exercise; meanwhile leaving the clip out",
            )))
        })
    }

    fn done(&self, clip: &Clip) -> Result<Outcome, Box<Fault>> {
        let settings = match &clip.settings {
            Ok(settings) => settings.or(&self.job.settings),
            Err(fault) => return Err(fault.clone()),
        };
        let exercise = self.exercise(&settings, clip)?;
        let plan = settings.plan.as_deref();
        let order = Order::new(exercise, plan).reported(settings.reported);
        let default = self.contexts.get(exercise.id.as_str());
        let read = settings.read_options(&self.job.read);
        let folder = folder(&self.job.out, clip);
        if self.job.resume
            && let Some(record) = Record::read(&folder)
        {
            let content = Source::open(&clip.path).and_then(|source| source.sha256())?;
            if record.key == self.key(clip, &content, &settings, &read)? {
                return Ok(Outcome::Unchanged);
            }
        }
        let opened = readers::open(&clip.path, &read, self.models)?;
        let key = self.key(clip, &opened.sha256, &settings, &read)?;
        let provenance = Provenance {
            source: clip.path.file_name().map_or_else(
                || clip.shown.clone(),
                |name| name.to_string_lossy().into_owned(),
            ),
            sha256: opened.sha256,
            reader: opened.facts.reader.to_string(),
            notes: opened.notes,
        };
        Record::take_away(&folder)?;
        let draws = self.job.films.is_some() || self.job.reports.iter().any(|one| one.draws());
        let ask = Ask {
            view: settings.view,
            cutoff_hz: settings.cutoff_hz,
            numbers_only: !draws,
            ..Ask::default()
        };
        let sides = Sides::list(settings.sides);
        let mut reviews = order.reviews(opened.track, &sides, &provenance, self.models, &ask);
        compare::fill_other_side(&mut reviews);
        let (mut results, mut written) = (Vec::new(), Vec::new());
        for review in &reviews {
            let side = review.session.side;
            let context = match default.filter(|_| order.is_default(side)) {
                Some(context) => context,
                None => &Context::of(order.exercise(side), self.models),
            };
            let name = match reviews.len() {
                1 => String::new(),
                _ => review.session.side.id().to_string(),
            };
            let below = folder.join(&name);
            written.extend(report::write_with(
                &self.job.reports,
                &below,
                review,
                context,
                Settling::Later,
            )?);
            if let (Some(films), Some(video)) = (&self.job.films, &clip.video) {
                let drawn = Drawn {
                    clip,
                    video,
                    read: &read,
                    folder: &below,
                    review,
                    context,
                    page: (self.job.reports.iter()).any(|writer| writer.id() == "page"),
                };
                written.extend(films.draw(&drawn)?);
            }
            results.push(name);
        }
        Record::of(&folder, key, results, &written)?.write(&folder)?;
        Ok(Outcome::Reviewed)
    }

    fn key(
        &self,
        clip: &Clip,
        content: &str,
        settings: &Settings,
        read: &ReadOptions,
    ) -> Result<String, Fault> {
        let job = self.job;
        let content = match (&job.films, &clip.video) {
            (Some(_), Some(video)) => {
                let video = Source::open(video).and_then(|video| video.sha256())?;
                format!("{content} on {video}")
            }
            _ => content.to_string(),
        };
        Ok(key(
            &content,
            settings,
            read,
            &job.reports,
            &job.models_digest,
        ))
    }

    fn exercise(&self, settings: &Settings, clip: &Clip) -> Result<&'a Exercise, Box<Fault>> {
        let known = || self.contexts.keys().copied().collect::<Vec<_>>().join(", ");
        let Some(id) = settings.exercise.as_deref() else {
            return Err(Box::new(Fault::new(
                FaultKind::Usage,
                "batch/no-exercise",
                "no exercise is stated for this clip",
                Place::file(&clip.shown),
                format!(
                    "a column `exercise` in the manifest, or --exercise with one of {}",
                    known()
                ),
            )));
        };
        self.models.exercise(id).ok_or_else(|| {
            Box::new(Fault::new(
                FaultKind::Usage,
                "usage/unknown-exercise",
                format!("no exercise is called `{id}`"),
                Place::file(&clip.shown).field("exercise"),
                format!("one of {}", known()),
            ))
        })
    }
}
