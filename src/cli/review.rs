//! `scaplane review`: the clinician's page, the result and the summary.

use super::options::{Reading, SideChoice, Told, ViewChoice, exercise};
use super::output;
use crate::body::Side;
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::pipeline::{Ask, Order, Provenance};
use crate::plan::{self, Plan};
use crate::readers;
use crate::report;
use crate::session::{self, Verdict};
use clap::{Args, ValueEnum};
use rayon::prelude::*;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Measure and judge every repetition of one or more clips.
#[derive(Args)]
pub struct Review {
    /// Tracks: files, folders of frame files, or `-` for standard input.
    #[arg(required = true)]
    clips: Vec<PathBuf>,
    /// Exercise; `scaplane exercises` lists them. A plan with one exercise tells it.
    #[arg(long)]
    exercise: Option<String>,
    /// Plan of the treating clinician: what is prescribed, changed limits, inclinometer readings.
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    #[command(flatten)]
    reported: Told,
    /// Side to measure; without it that of the plan, else the arm that moves more.
    #[arg(long)]
    side: Option<SideChoice>,
    /// View of the person; without it told from the track.
    #[arg(long)]
    view: Option<ViewChoice>,
    /// Cut-off of the low-pass filter in hertz; without it chosen by residual analysis.
    #[arg(long)]
    cutoff: Option<f64>,
    #[command(flatten)]
    reading: Reading,
    /// Folder for review.html, review.json, reps.csv and pictures.
    #[arg(long)]
    out: Option<PathBuf>,
    /// `-` prints the result as JSON on standard output instead of the summary.
    #[arg(long, value_name = "-")]
    json: Option<String>,
    /// Exit with status 3 if any repetition is outside.
    #[arg(long)]
    fail_on: Option<FailOn>,
}

#[derive(Clone, Copy, ValueEnum)]
enum FailOn {
    /// Any repetition is outside.
    Outside,
}

/// Runs the command: clips in parallel, answers in the order given; a bad clip never stops the others.
pub fn run(args: &Review, models: &Models, quiet: bool) -> Result<ExitCode, Fault> {
    let plan = match &args.plan {
        Some(path) => Some(plan::read(path, models)?),
        None => None,
    };
    let plan = plan.as_ref();
    let exercise = exercise(exercise_id(args, plan, models)?, models)?;
    let order = Order::new(exercise, plan).reported(args.reported.session());
    let sides = sides(args, plan);
    if let Some(cutoff) = args
        .cutoff
        .filter(|cutoff| !(cutoff.is_finite() && *cutoff > 0.0))
    {
        return Err(Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            format!("{cutoff} is no cut-off"),
            Place::default().field("--cutoff"),
            "a frequency in hertz, such as 6",
        ));
    }
    if args.json.as_deref().is_some_and(|target| target != "-") {
        return Err(Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            "the result is printed to standard output only",
            Place::default().field("--json"),
            "--json - to print it, or --out DIR to write review.json",
        ));
    }
    let results: Vec<Result<Vec<session::Review>, Fault>> = args
        .clips
        .par_iter()
        .map(|clip| one(args, clip, &order, &sides, models))
        .collect();

    let context = report::Context::of(order.exercise(), models);
    let mut status = ExitCode::SUCCESS;
    let mut any_outside = false;
    let several = args.clips.len() > 1;
    for (name, result) in names(&args.clips).iter().zip(results) {
        let reviews = match result {
            Ok(reviews) => reviews,
            Err(fault) if several => {
                output::complain(&fault);
                status = ExitCode::from(fault.exit_status());
                continue;
            }
            Err(fault) => return Err(fault),
        };
        let both = reviews.len() > 1;
        for review in reviews {
            any_outside |= review
                .session
                .reps
                .iter()
                .any(|rep| rep.verdict == Verdict::Outside);
            if args.json.is_some() {
                output::say(&report::json::review(&review.session))?;
            } else {
                output::say(&report::text::terminal(
                    &review.session,
                    &context,
                    output::colour(),
                ))?;
            }
            if let Some(out) = &args.out {
                let folder = folder(out, name, several, both, &review.session);
                let written = report::write_all(&folder, &review, &context)?;
                for path in written {
                    output::mention(&format!("wrote {}", path.display()), quiet);
                }
            }
        }
    }
    if any_outside && args.fail_on.is_some() {
        return Ok(ExitCode::from(3));
    }
    Ok(status)
}

/// The exercise that is stated, or the only one of the plan.
fn exercise_id<'a>(
    args: &'a Review,
    plan: Option<&'a Plan>,
    models: &Models,
) -> Result<&'a str, Fault> {
    let only = plan.and_then(Plan::only_exercise);
    args.exercise.as_deref().or(only).ok_or_else(|| {
        let prescribed = plan.into_iter().flat_map(|plan| &plan.exercise);
        let mut known: Vec<&str> = prescribed.map(|one| one.id.as_str()).collect();
        if known.is_empty() {
            known = models.exercises.keys().map(String::as_str).collect();
        }
        Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            "which exercise the clip shows is not stated",
            Place::default().field("--exercise"),
            format!("--exercise with one of {}", known.join(", ")),
        )
    })
}

/// The sides to measure: as asked, else that of the plan, else the one that moves more.
fn sides(args: &Review, plan: Option<&Plan>) -> Vec<Option<Side>> {
    match (args.side, plan) {
        (None, Some(plan)) => vec![Some(plan.side)],
        (side, _) => SideChoice::sides(side),
    }
}

/// A folder's name for each clip: that of the clip, with a number where several have the same.
fn names(clips: &[PathBuf]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for clip in clips {
        let whole = clip
            .file_name()
            .unwrap_or(clip.as_os_str())
            .to_string_lossy();
        let plain = whole.strip_suffix(".gz").unwrap_or(&whole);
        let stem = match plain.rsplit_once('.') {
            Some((stem, _)) if !stem.is_empty() => stem,
            _ => plain,
        };
        let free = (1..)
            .map(|number| match number {
                1 => stem.to_string(),
                number => format!("{stem}-{number}"),
            })
            .find(|name| !names.contains(name));
        names.extend(free);
    }
    names
}

/// Folder of one result: the output folder itself, or one below it when there are several results.
fn folder(
    out: &Path,
    name: &str,
    several: bool,
    both: bool,
    session: &session::Session,
) -> PathBuf {
    let mut folder = out.to_path_buf();
    if several {
        folder.push(name);
    }
    if both {
        folder.push(session.side.id());
    }
    folder
}

fn one(
    args: &Review,
    clip: &Path,
    order: &Order<'_>,
    sides: &[Option<Side>],
    models: &Models,
) -> Result<Vec<session::Review>, Fault> {
    let opened = readers::open(clip, &args.reading.options(), models)?;
    let provenance = Provenance {
        source: clip
            .file_name()
            .map_or_else(|| "-".into(), |name| name.to_string_lossy().into_owned()),
        sha256: opened.sha256,
        reader: opened.facts.reader.to_string(),
        notes: opened.notes,
    };
    Ok(sides
        .iter()
        .map(|side| {
            let ask = Ask {
                side: *side,
                view: args.view.map(Into::into),
                cutoff_hz: args.cutoff,
                ..Ask::default()
            };
            order.review(opened.track.clone(), &provenance, models, &ask)
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clips_of_the_same_name_do_not_share_a_folder() {
        let clips = [
            "a/track.json.gz",
            "b/track.json",
            "c/track-2.csv",
            "d/track.csv",
            "-",
        ];
        let clips = clips.map(PathBuf::from);
        assert_eq!(
            names(&clips),
            ["track", "track-2", "track-2-2", "track-3", "-"]
        );
    }
}
