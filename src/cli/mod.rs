//! The command line: one file per command. Answers go to standard output, messages to standard error.

mod advice;
mod batch;
mod casebook;
mod clip;
mod compare;
mod convert;
mod inspect;
mod lists;
mod options;
mod output;
#[cfg(feature = "video")]
mod overlay;
mod plan;
mod review;
mod selfcheck;
mod simulate;
mod stickers;
#[cfg(feature = "video")]
mod watch;

use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::threads;
use clap::{CommandFactory, Parser, Subcommand};
use std::path::PathBuf;
use std::process::ExitCode;

/// Measures shoulder exercise repetitions from the keypoint track of a phone recording.
///
/// It measures movement from video; it is no diagnosis and no medical device.
#[derive(Parser)]
#[command(name = "scaplane", version, about, max_term_width = 100)]
pub struct Cli {
    #[command(subcommand)]
    command: Command,
    /// Folder whose files replace the built-in exercises, limits, layouts and sources.
    #[arg(long, global = true, value_name = "DIR")]
    models: Option<PathBuf>,
    /// Say nothing but the answer.
    #[arg(long, short, global = true)]
    quiet: bool,
}

// Only the options of the command that is asked for are made: those of all take time at each start. The words here are
// those of the list of commands; they are the first lines of the command's own.
#[derive(Subcommand)]
#[command(defer = true)]
enum Command {
    /// Measure and judge every repetition of one or more clips.
    Review(review::Review),
    /// Tell the person who exercised, in everyday words.
    Selfcheck(selfcheck::Selfcheck),
    /// Review every clip of a folder or manifest, and write tables and a summary page.
    Batch(batch::Batch),
    /// Compare two arms, or the same arm on two days.
    Compare(compare::Compare),
    /// Keep the reviews of people over weeks in one file, and show their course.
    Casebook(casebook::Casebook),
    /// Say what a file is, and which measures it can support.
    Inspect(inspect::Inspect),
    /// Write a track as tidy CSV or native JSON, or a review as an HL7 FHIR R4 Bundle.
    Convert(convert::Convert),
    /// List the exercises, or show one with its limits and sources.
    Exercises(lists::One),
    /// List the keypoint layouts and file formats, or show one layout.
    Layouts(lists::One),
    /// List the measures, or define one.
    Measures(lists::One),
    /// Explain the code of a note, a reason, an error or a finding.
    Explain(lists::Code),
    /// Write or check the treating clinician's plan for one person.
    Plan(plan::Plan),
    /// Make a synthetic clip with known truth.
    Simulate(simulate::Simulate),
    /// Follow coloured dots on the back and add them to a track.
    Stickers(stickers::Stickers),
    /// Print the JSON Schema of review.json, or the columns of the tables or of the manifest.
    Schema(lists::Schema),
    /// Print shell completions.
    Completions {
        /// Shell.
        shell: clap_complete::Shell,
    },
    /// Print the manual page.
    Man,
}

/// Runs the program; the exit status is 0 done, 1 unreadable input, 2 usage, 3 with `--fail-on outside`.
pub fn main() -> ExitCode {
    let helpers = threads::start();
    let cli = Cli::parse();
    match run(&cli, helpers) {
        Ok(status) => status,
        Err(fault) => {
            output::complain(&fault);
            ExitCode::from(fault.exit_status())
        }
    }
}

impl Command {
    /// Whether the threads that are there do all the work: others, or other programs, would stay where these are kept.
    fn works_alone(&self) -> bool {
        match self {
            Command::Review(args) => args.video.is_none(),
            Command::Batch(_) | Command::Stickers(_) => false,
            _ => true,
        }
    }

    /// Whether it reads clips, and nothing else, with the threads that are there.
    fn reads_clips(&self) -> bool {
        match self {
            Command::Review(args) => args.video.is_none(),
            Command::Selfcheck(_) | Command::Compare(_) => true,
            Command::Inspect(_) | Command::Convert(_) => true,
            _ => false,
        }
    }
}

fn run(cli: &Cli, helpers: threads::Starting) -> Result<ExitCode, Fault> {
    let _apart = cli.command.works_alone().then(threads::stay);
    let models = match &cli.models {
        Some(folder) => Models::from_folder(folder),
        None => Models::embedded(),
    }
    .map_err(|errors| {
        Fault::new(
            FaultKind::Usage,
            "usage/bad-definition",
            errors.to_string(),
            Place::default(),
            "mending the named keys",
        )
    })?;
    // They serve until the process ends: taking them apart before would only take time.
    let models: &'static Models = Box::leak(Box::new(models));
    if cli.command.reads_clips() {
        helpers.wait();
        threads::stay_awake();
    }
    if matches!(cli.command, Command::Review(_)) {
        // The first thread looks at the file meanwhile.
        rayon::spawn(|| models.make_ready());
    }
    match &cli.command {
        Command::Review(args) => return review::run(args, models, cli.quiet),
        Command::Selfcheck(args) => selfcheck::run(args, models, cli.quiet)?,
        Command::Batch(args) => {
            return batch::run(args, models, cli.models.as_deref(), cli.quiet);
        }
        Command::Compare(args) => compare::run(args, models, cli.quiet)?,
        Command::Casebook(args) => return casebook::run(args, models, cli.quiet),
        Command::Inspect(args) => inspect::run(args, models)?,
        Command::Convert(args) => convert::run(args, models, cli.quiet)?,
        Command::Exercises(args) => lists::exercises(args, models)?,
        Command::Layouts(args) => lists::layouts(args, models)?,
        Command::Measures(args) => lists::measures(args, models)?,
        Command::Explain(args) => lists::explain(args, models)?,
        Command::Plan(args) => plan::run(args, models)?,
        Command::Simulate(args) => simulate::run(args, cli.quiet)?,
        Command::Stickers(args) => stickers::run(args, models, cli.quiet)?,
        Command::Schema(args) => lists::schema(args)?,
        Command::Completions { shell } => {
            let mut bytes = Vec::new();
            clap_complete::generate(*shell, &mut Cli::command(), "scaplane", &mut bytes);
            output::say_bytes(&bytes)?;
        }
        Command::Man => {
            let mut bytes = Vec::new();
            clap_mangen::Man::new(Cli::command())
                .render(&mut bytes)
                .map_err(|error| output::io_fault("standard output", &error))?;
            output::say_bytes(&bytes)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

/// The fault of a build without video.
#[cfg(not(feature = "video"))]
fn video_absent() -> Fault {
    Fault::new(
        FaultKind::Unsupported,
        "video/absent",
        "this build of the program has no video",
        Place::default(),
        "scripts/video-setup && . ./.video-env && cargo build --release --features video",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_of_commands_says_what_each_command_says() {
        let listed = Cli::command();
        let mut built = listed.clone();
        built.build();
        for command in listed.get_subcommands() {
            let name = command.get_name();
            let own = built.find_subcommand(name).and_then(|own| own.get_about());
            assert!(command.get_about().is_some(), "{name}");
            assert_eq!(
                own.map(|words| words.to_string()),
                command.get_about().map(|words| words.to_string()),
                "{name}"
            );
        }
    }
}
