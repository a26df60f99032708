//! `scaplane review`: the clinician's page, the result and the summary.

use super::options::Told;
#[cfg(feature = "video")]
use super::overlay;
use super::{clip, output};
use crate::compare;
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::report;
use crate::session::{self, Verdict};
use clap::{Args, ValueEnum};
use rayon::prelude::*;
use std::cell::LazyCell;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Measure and judge every repetition of one or more clips.
#[derive(Args)]
pub struct Review {
    /// Tracks: files, folders of frame files, or `-` for standard input.
    #[arg(required = true)]
    pub(super) clips: Vec<PathBuf>,
    #[command(flatten)]
    about: clip::About,
    #[command(flatten)]
    reported: Told,
    /// Folder for review.html, review.json, reps.csv and pictures.
    #[arg(long)]
    out: Option<PathBuf>,
    /// `-` prints the result as JSON on standard output instead of the summary.
    #[arg(long, value_name = "-")]
    json: Option<String>,
    /// Video of the clip: writes overlay.mp4 with what was measured drawn on it, and a picture of each worst moment.
    #[arg(long, value_name = "FILE", requires = "out")]
    pub(super) video: Option<PathBuf>,
    /// Leave the face in the video and the pictures as it is; without this the head is made unrecognisable.
    #[arg(long, requires = "video")]
    pub(super) show_face: bool,
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
    let plan = args.about.plan(models)?;
    let order = args.about.order(plan.as_ref(), models)?;
    let order = order.reported(args.reported.session());
    let asked = clip::Asked {
        numbers_only: args.out.is_none() && args.video.is_none(),
        ..args.about.asked(plan.as_ref())?
    };
    if args.json.as_deref().is_some_and(|target| target != "-") {
        return Err(Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            "the result is printed to standard output only",
            Place::default().field("--json"),
            "--json - to print it, or --out DIR to write review.json",
        ));
    }
    args.check_video()?;
    #[cfg(feature = "video")]
    let mut film = overlay::Film::of(args, asked.options.clone(), models, quiet)?;
    let results: Vec<Result<Vec<session::Review>, Fault>> = args
        .clips
        .par_iter()
        .map(|clip| {
            let mut reviews = asked.reviews(clip, &order, models)?;
            compare::fill_other_side(&mut reviews);
            Ok(reviews)
        })
        .collect();

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
            // The JSON alone needs none of it.
            let context =
                LazyCell::new(|| report::Context::of(order.exercise(review.session.side), models));
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
                #[cfg(feature = "video")]
                if film.is_none() {
                    crate::media::overlay::forget(&folder);
                }
                let written = report::write_all(&folder, &review, &context)?;
                for path in written {
                    output::mention(&format!("wrote {}", path.display()), quiet);
                }
                #[cfg(feature = "video")]
                if let Some(film) = &mut film {
                    film.draw(&folder, &review, &context)?;
                }
            }
        }
    }
    if any_outside && args.fail_on.is_some() {
        return Ok(ExitCode::from(3));
    }
    Ok(status)
}

impl Review {
    /// A video belongs to one clip, and needs a build that has video.
    fn check_video(&self) -> Result<(), Fault> {
        if self.video.is_none() {
            return Ok(());
        }
        if self.clips.len() > 1 {
            return Err(Fault::new(
                FaultKind::Usage,
                "usage/bad-value",
                "a video is of one clip, and several are named",
                Place::default().field("--video"),
                "one clip with its video at a time",
            ));
        }
        #[cfg(not(feature = "video"))]
        return Err(super::video_absent());
        #[cfg(feature = "video")]
        Ok(())
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
