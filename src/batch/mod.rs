//! A session's or a study's clips in one run.
//!
//! In: a [`Job`]: a folder or a manifest, what is asked of every clip, and an output folder. Out: the reports of
//! each clip in a folder of its own, the tables and the summary page of them all, and a [`Done`] with the counts.
//!
//! Two passes. The first reviews clips on all cores in any order; a clip's result lives on the disk only, and its
//! record is written last. The second reads the results back in input order, a few at a time, and writes tables
//! and page. So memory does not grow with results, a killed run loses at most the clips it was at, and a resumed
//! run ends with the same tables as one that was never disturbed. Nothing is measured or judged here.
#![allow(clippy::result_large_err)] // a fault ends the work; its size is paid once

mod clip;
mod collect;
mod films;
mod find;
mod key;
mod lock;
mod manifest;
mod overview;
mod record;
mod shard;
pub mod tables;
mod work;

pub use clip::{About, Clip, Settings, Sides};
pub use films::{Drawn, Films};
pub use key::digest;
pub use manifest::COLUMNS as MANIFEST_COLUMNS;
pub use shard::Shard;

use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::readers::ReadOptions;
use crate::report::{self, Writer};
use crate::threads;
use rayon::prelude::*;
use std::path::PathBuf;
use work::{Outcome, Worker};

/// What is to be done.
pub struct Job {
    /// Folder of clips, or manifest.
    pub source: PathBuf,
    /// Folder that the paths of a manifest start from; without it the manifest's own.
    pub root: Option<PathBuf>,
    /// Output folder.
    pub out: PathBuf,
    /// Settings of clips whose manifest row does not say.
    pub settings: Settings,
    /// How files are read whose manifest row does not say.
    pub read: ReadOptions,
    /// Reports of each clip; `review.json` must be among them, because the tables are made of it.
    pub reports: Vec<&'static dyn Writer>,
    /// Draws the results of clips that have a video; without it videos are left alone.
    pub films: Option<Box<dyn Films>>,
    /// Whether clips whose result is there and would be the same are left as they are.
    pub resume: bool,
    /// Threads; without it one for each core.
    pub jobs: Option<usize>,
    /// The share of the clips that is done.
    pub shard: Option<Shard>,
    /// What the definition files are, from [`digest`].
    pub models_digest: String,
}

/// Whoever follows the work.
pub trait Watch: Sync {
    /// So many clips are to be done.
    fn begin(&self, clips: usize);
    /// One more is done, well or not.
    fn step(&self, failed: bool);
    /// The clips are done; tables are being written.
    fn end(&self);
}

/// What came of it.
#[derive(Debug, Default)]
pub struct Done {
    /// Clips that were to be done.
    pub clips: usize,
    /// Of these: the result was there already.
    pub unchanged: usize,
    /// Faults by clip, in input order.
    pub failures: Vec<(String, Fault)>,
    /// Results: one a clip, two where both arms were asked for.
    pub results: u64,
    /// Repetitions in all results.
    pub reps: u64,
    /// Of these: with a verdict other than *cannot tell*.
    pub measurable: u64,
    /// Of these: outside.
    pub outside: u64,
    /// Files of tables and page.
    pub written: Vec<PathBuf>,
    /// Other files that lay among the clips and are no clips by their names.
    pub left_out: usize,
}

/// Lists the clips of a job in input order, all of them or those of its share.
///
/// # Errors
/// The folder or manifest cannot be read, names a clip twice, or holds none.
pub fn clips(job: &Job, models: &Models) -> Result<(Vec<Clip>, usize), Fault> {
    let (mut clips, left_out) = match job.source.is_dir() {
        true => find::clips(&job.source, &job.out, models)?,
        false => (
            manifest::clips(&job.source, job.root.as_deref(), models)?,
            0,
        ),
    };
    if clips.is_empty() {
        return Err(Fault::new(
            FaultKind::Usage,
            "batch/no-clips",
            format!("no clip was found ({left_out} other files)"),
            Place::file(job.source.display().to_string()),
            "a folder with exports of a pose estimator, or a manifest with a column `clip`",
        ));
    }
    if let Some(shard) = job.shard {
        clips.retain(|clip| shard.holds(clip.number));
    }
    Ok((clips, left_out))
}

/// Reviews every clip of a job and writes tables and page.
///
/// # Errors
/// What concerns the run as a whole: usage, the list of clips, the output folder, another run in it. What is
/// wrong with one clip is among the failures of [`Done`].
pub fn run(job: &Job, models: &Models, watch: &dyn Watch) -> Result<Done, Fault> {
    std::fs::create_dir_all(&job.out).map_err(|error| report::write_fault(&job.out, &error))?;
    let _lock = lock::take(&job.out)?;
    let (clips, left_out) = clips(job, models)?;
    report::clear(&job.out);
    // However this process ends, no tables of an earlier run stand beside results of this one.
    collect::remove_tables(&job.out)?;

    let worker = Worker::new(job, models);
    let pool = pool(job.jobs)?;
    watch.begin(clips.len());
    let outcomes: Vec<Result<Outcome, Box<Fault>>> = pool.install(|| {
        clips
            .par_iter()
            .with_max_len(1)
            .map(|clip| {
                let outcome = worker.review(clip);
                watch.step(outcome.is_err());
                outcome
            })
            .collect()
    });
    watch.end();
    let mut done = pool.install(|| collect::collect(job, models, &clips, outcomes))?;
    done.left_out = left_out;
    Ok(done)
}

fn pool(jobs: Option<usize>) -> Result<rayon::ThreadPool, Fault> {
    threads::builder()
        .num_threads(jobs.unwrap_or(0))
        .build()
        .map_err(|error| {
            Fault::new(
                FaultKind::Io,
                "batch/threads",
                format!("the threads could not be started: {error}"),
                Place::default(),
                "a smaller number for --jobs",
            )
        })
}
