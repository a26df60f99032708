//! `scaplane batch`: a session's or a study's clips in one run.

use super::options::{Reading, SideChoice, ViewChoice, exercise};
use super::{clip, output};
use crate::batch::{self, Job, Settings, Shard, Sides, Watch};
use crate::models::{ModelFiles, Models};
use crate::note::{Fault, FaultKind, Place};
use crate::plan::{self, Plan};
use crate::report::{WRITERS, Writer};
use clap::{Args, ValueEnum};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Most faults printed; all of them are in failures.csv.
const MOST_FAULTS: usize = 20;

/// Review every clip of a folder or manifest, and write tables and a summary page.
///
/// A folder is searched with the folders below it: exports (JSON, CSV, TSV, TRC, C3D, NPY, HDF5, also gzipped),
/// archives, and folders of frame files. What cannot be read is listed in failures.csv; one bad clip never stops
/// the others.
///
/// A manifest is a CSV table with a column `clip` and, as far as they are wanted, the columns that
/// `scaplane schema manifest` lists: exercise, side, person, date, view, fps, size and others.
///
/// In the output folder: summary.html, batch.csv (a row a result), reps.csv and reps.parquet (a row a
/// repetition), readings.parquet (a row a repetition and measure), failures.csv, and clips/ with the reports of
/// each clip. `scaplane schema tables` describes every column.
///
/// However a run ends, no file is half written; the same command with --resume does what is left.
#[derive(Args)]
pub struct Batch {
    /// Folder of clips, or manifest.
    source: PathBuf,
    /// Folder for the results.
    #[arg(long)]
    out: PathBuf,
    /// Folder that the paths of a manifest start from; without it the manifest's own.
    #[arg(long)]
    root: Option<PathBuf>,
    /// Exercise of clips for which the manifest names none; `scaplane exercises` lists them.
    #[arg(long)]
    exercise: Option<String>,
    /// Plan of the treating clinician where the manifest names none, for the clips of one person.
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// Side to measure where neither manifest nor plan names one; without it the arm that moves more.
    #[arg(long)]
    side: Option<SideChoice>,
    /// View of the person where the manifest names none; without it told from the track.
    #[arg(long)]
    view: Option<ViewChoice>,
    /// Cut-off of the low-pass filter in hertz; without it chosen by residual analysis.
    #[arg(long)]
    cutoff: Option<f64>,
    #[command(flatten)]
    reading: Reading,
    /// Reports of each clip beside review.json: page, csv, png, or none; several with commas.
    #[arg(long, value_delimiter = ',', default_value = "page,csv,png")]
    reports: Vec<String>,
    /// Draw the results of clips for which the manifest names a video: overlay.mp4 and pictures of the worst moments, the
    /// head made unrecognisable. Needs a build with video.
    #[arg(long)]
    overlays: bool,
    /// Leave clips alone whose result is there and would be the same: same bytes, options and program version.
    #[arg(long)]
    resume: bool,
    /// Threads; without it one for each core.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..))]
    jobs: Option<u16>,
    /// Do one share of the list, such as 2/8, each into an output folder of its own.
    #[arg(long, value_name = "K/N")]
    shard: Option<Shard>,
    /// Exit with status 3 if any repetition is outside.
    #[arg(long)]
    fail_on: Option<FailOn>,
}

#[derive(Clone, Copy, ValueEnum)]
enum FailOn {
    /// Any repetition is outside.
    Outside,
}

/// Runs the command; the exit status is 1 if any clip could not be measured.
pub fn run(
    args: &Batch,
    models: &Models,
    models_folder: Option<&Path>,
    quiet: bool,
) -> Result<ExitCode, Fault> {
    let job = job(args, models, models_folder, quiet)?;
    let bar = Bar::new(quiet);
    let done = batch::run(&job, models, &bar)?;
    for (_, fault) in done.failures.iter().take(MOST_FAULTS) {
        output::complain(fault);
    }
    if done.failures.len() > MOST_FAULTS {
        let more = done.failures.len() - MOST_FAULTS;
        output::mention(
            &format!("and {more} more in {}", batch::tables::FAILURES),
            quiet,
        );
    }
    if done.left_out > 0 {
        let text = format!(
            "{} other files are no exports by their names",
            done.left_out
        );
        output::mention(&text, quiet);
    }
    for path in &done.written {
        output::mention(&format!("wrote {}", path.display()), quiet);
    }
    output::say(&format!(
        "{} clips: {} reviewed, {} unchanged, {} failed\n{} outside, of {} measurable repetitions ({} in all)\n",
        done.clips,
        done.clips - done.unchanged - done.failures.len(),
        done.unchanged,
        done.failures.len(),
        done.outside,
        done.measurable,
        done.reps,
    ))?;
    Ok(
        match (
            done.outside > 0 && args.fail_on.is_some(),
            done.failures.is_empty(),
        ) {
            (true, _) => ExitCode::from(3),
            (false, true) => ExitCode::SUCCESS,
            (false, false) => ExitCode::from(1),
        },
    )
}

fn job(
    args: &Batch,
    models: &Models,
    models_folder: Option<&Path>,
    quiet: bool,
) -> Result<Job, Fault> {
    if let Some(id) = &args.exercise {
        exercise(id, models)?;
    }
    let plan = match &args.plan {
        Some(path) => Some(Arc::new(plan::read(path, models)?)),
        None => None,
    };
    let told = plan.as_deref().and_then(Plan::only_exercise);
    if args.exercise.as_deref().or(told).is_none() && args.source.is_dir() {
        return Err(Fault::new(
            FaultKind::Usage,
            "batch/no-exercise",
            "no exercise is stated, and a folder does not tell it",
            Place::default().field("--exercise"),
            "--exercise, a plan with one exercise, or a manifest with a column `exercise`",
        ));
    }
    let mut files = ModelFiles::embedded();
    if let Some(folder) = models_folder {
        files = files.overlaid(folder).map_err(|errors| {
            let remedy = "mending the named keys";
            let (kind, code) = (FaultKind::Usage, "usage/bad-definition");
            Fault::new(kind, code, errors.to_string(), Place::default(), remedy)
        })?;
    }
    Ok(Job {
        source: args.source.clone(),
        root: args.root.clone(),
        out: args.out.clone(),
        settings: Settings {
            exercise: args.exercise.clone(),
            sides: args.side.map(|side| match side {
                SideChoice::Left => Sides::Left,
                SideChoice::Right => Sides::Right,
                SideChoice::Both => Sides::Both,
            }),
            view: args.view.map(Into::into),
            cutoff_hz: clip::cutoff(args.cutoff)?,
            ..Settings::default()
        }
        .with_plan(plan),
        read: args.reading.options(),
        reports: reports(&args.reports)?,
        films: films(args, models, quiet)?,
        resume: args.resume,
        jobs: args.jobs.map(usize::from),
        shard: args.shard,
        models_digest: batch::digest(&files),
    })
}

/// Whoever draws on videos, if that is asked for.
#[cfg(feature = "video")]
fn films(
    args: &Batch,
    models: &Models,
    quiet: bool,
) -> Result<Option<Box<dyn batch::Films>>, Fault> {
    let films = || Box::new(super::overlay::Films::new(models, quiet)) as Box<dyn batch::Films>;
    Ok(args.overlays.then(films))
}

#[cfg(not(feature = "video"))]
fn films(args: &Batch, _: &Models, _: bool) -> Result<Option<Box<dyn batch::Films>>, Fault> {
    match args.overlays {
        true => Err(super::video_absent()),
        false => Ok(None),
    }
}

/// The writers of those ids; `review.json` always, because the tables are made of it.
fn reports(ids: &[String]) -> Result<Vec<&'static dyn Writer>, Fault> {
    let known: Vec<&str> = WRITERS.iter().map(|writer| writer.id()).collect();
    if let Some(id) = ids
        .iter()
        .find(|id| !known.contains(&id.as_str()) && id.as_str() != "none")
    {
        return Err(Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            format!("there is no report `{id}`"),
            Place::default().field("--reports"),
            format!("some of {}, or none", known.join(", ")),
        ));
    }
    let wanted = |writer: &&&'static dyn Writer| {
        writer.id() == "json" || ids.iter().any(|id| id == writer.id())
    };
    Ok(WRITERS.iter().filter(wanted).copied().collect())
}

/// The progress bar; silent where standard error is no terminal.
struct Bar {
    bar: ProgressBar,
    failed: AtomicUsize,
}

impl Bar {
    fn new(quiet: bool) -> Bar {
        let target = match quiet {
            true => ProgressDrawTarget::hidden(),
            false => ProgressDrawTarget::stderr(),
        };
        let bar = ProgressBar::with_draw_target(Some(0), target);
        if let Ok(style) =
            ProgressStyle::with_template("{bar:30} {pos}/{len} clips  {per_sec}  {eta} left  {msg}")
        {
            bar.set_style(style);
        }
        Bar {
            bar,
            failed: AtomicUsize::new(0),
        }
    }
}

impl Watch for Bar {
    fn begin(&self, clips: usize) {
        self.bar.set_length(clips as u64);
        self.bar.reset();
    }

    fn step(&self, failed: bool) {
        self.bar.inc(1);
        if failed {
            let failed = self.failed.fetch_add(1, Ordering::Relaxed) + 1;
            self.bar.set_message(format!("{failed} failed"));
        }
    }

    fn end(&self) {
        self.bar.finish_and_clear();
    }
}
