//! The `scaplane` command.

use clap::{Parser, Subcommand, ValueEnum};
use scaplane::body::{Side, ViewName};
use scaplane::models::Models;
use scaplane::note::{Fault, FaultKind, Place};
use scaplane::pipeline::{Ask, review};
use scaplane::readers::{ReadOptions, open};
use scaplane::report::{json, text};
use scaplane::simulate;
use scaplane::track::PictureSize;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Measures shoulder exercise repetitions from keypoint tracks.
#[derive(Parser)]
#[command(version, about)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// The clinician's summary and review.json of one clip.
    Review {
        /// Tidy CSV track.
        clip: PathBuf,
        /// Exercise id (see `scaplane exercises`).
        #[arg(long, default_value = "scapular-raise")]
        exercise: String,
        /// Side to measure; by default the arm that moves more.
        #[arg(long)]
        side: Option<SideArg>,
        /// View of the person, if the track should not be asked.
        #[arg(long)]
        view: Option<ViewArg>,
        /// Frames a second, for files without time stamps.
        #[arg(long)]
        fps: Option<f64>,
        /// Picture size, such as 1920x1080.
        #[arg(long, value_parser = parse_size)]
        size: Option<PictureSize>,
        /// Folder for review.json.
        #[arg(long)]
        out: Option<PathBuf>,
        /// Print the result as JSON (`-`).
        #[arg(long)]
        json: Option<String>,
    },
    /// Lists the exercises.
    Exercises,
    /// Lists the measures with their definitions.
    Measures,
    /// Explains a code of a note, reason or finding.
    Explain {
        /// Code.
        code: String,
    },
    /// Prints the JSON Schema of the result.
    Schema,
    /// Makes a synthetic clip with known truth from a recipe in JSON.
    Simulate {
        /// Recipe file; `{}` takes the defaults.
        recipe: PathBuf,
        /// Format id.
        #[arg(long, default_value = "tidy2d")]
        format: String,
        /// Folder to write to.
        #[arg(long)]
        out: PathBuf,
    },
}

#[derive(Clone, Copy, ValueEnum)]
enum SideArg {
    Left,
    Right,
}

#[derive(Clone, Copy, ValueEnum)]
enum ViewArg {
    Front,
    Back,
    Left,
    Right,
    Oblique,
}

fn parse_size(text: &str) -> Result<PictureSize, String> {
    let sides = text
        .split_once('x')
        .and_then(|(w, h)| Some((w.parse().ok()?, h.parse().ok()?)));
    match sides {
        Some((width, height)) if width > 0.0 && height > 0.0 => Ok(PictureSize { width, height }),
        _ => Err(format!(
            "`{text}` is no size; write width x height in pixels, such as 1920x1080"
        )),
    }
}

fn main() -> ExitCode {
    match run(Cli::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("{fault}");
            ExitCode::from(fault.exit_status())
        }
    }
}

fn usage(code: &'static str, what: String, remedy: &str) -> Fault {
    Fault::new(FaultKind::Usage, code, what, Place::default(), remedy)
}

fn say(text: &str) -> Result<(), Fault> {
    match std::io::stdout().write_all(text.as_bytes()) {
        // A reader that has seen enough is no error.
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(io_fault("standard output", &error)),
        Ok(()) => Ok(()),
    }
}

fn io_fault(name: &str, error: &std::io::Error) -> Fault {
    Fault::new(
        FaultKind::Io,
        "write/io",
        error.to_string(),
        Place::file(name),
        "another folder",
    )
}

fn run(cli: Cli) -> Result<(), Fault> {
    let models = Models::embedded()
        .map_err(|errors| usage("models/broken", errors.to_string(), "restoring models/"))?;
    match cli.command {
        Command::Review {
            clip,
            exercise,
            side,
            view,
            fps,
            size,
            out,
            json,
        } => {
            let exercise = models.exercise(&exercise).ok_or_else(|| {
                usage(
                    "usage/exercise",
                    format!("no exercise is called `{exercise}`"),
                    "one of those that `scaplane exercises` lists",
                )
            })?;
            let (track, provenance) = open(&clip, &ReadOptions { fps, size }, &models)?;
            let ask = Ask {
                side: side.map(|side| match side {
                    SideArg::Left => Side::Left,
                    SideArg::Right => Side::Right,
                }),
                view: view.map(|view| match view {
                    ViewArg::Front => ViewName::Front,
                    ViewArg::Back => ViewName::Back,
                    ViewArg::Left => ViewName::Left,
                    ViewArg::Right => ViewName::Right,
                    ViewArg::Oblique => ViewName::Oblique,
                }),
                cutoff_hz: None,
            };
            let review = review(track, &provenance, exercise, &models, &ask);
            let result = json::review(&review.session);
            if let Some(folder) = out {
                save(&folder, "review.json", result.as_bytes())?;
            }
            if json.is_some() {
                say(&result)
            } else {
                say(&text::summary(&review.session, &exercise.title))
            }
        }
        Command::Exercises => say(&models
            .exercises
            .values()
            .map(|exercise| format!("{:<18} {}\n", exercise.id, exercise.summary))
            .collect::<String>()),
        Command::Measures => say(&scaplane::measures::cards()
            .map(|card| {
                format!(
                    "{} [{}]\n  {}. {}\n  Not measurable when {}.\n  Source: {}.\n",
                    card.id,
                    card.unit,
                    card.title,
                    card.definition,
                    card.not_measurable_when,
                    card.source
                )
            })
            .collect::<String>()),
        Command::Explain { code } => match models.explain(&code) {
            Some(found) => say(&format!(
                "{}\n{}\n{}\n",
                found.title, found.text, found.remedy
            )),
            None => Err(usage(
                "usage/code",
                format!("no code is called `{code}`"),
                "a code from a result",
            )),
        },
        Command::Schema => say(&format!("{:#}\n", json::schema())),
        Command::Simulate {
            recipe,
            format,
            out,
        } => {
            let name = recipe.display().to_string();
            let text = std::fs::read_to_string(&recipe).map_err(|error| io_fault(&name, &error))?;
            let recipe: simulate::Recipe = serde_json::from_str(&text)
                .map_err(|error| usage("usage/recipe", error.to_string(), "a recipe in JSON"))?;
            let clip = simulate::simulate(&recipe)
                .map_err(|error| usage("usage/recipe", error.to_string(), "another recipe"))?;
            let format = simulate::Format::from_id(&format).ok_or_else(|| {
                usage(
                    "usage/format",
                    format!("no format is called `{format}`"),
                    "tidy2d, tidy3d, trc, body25 …",
                )
            })?;
            std::fs::create_dir_all(&out).map_err(|error| io_fault("--out", &error))?;
            let path = clip
                .write(format, &out, "clip")
                .map_err(|error| io_fault("--out", &error))?;
            save(
                &out,
                "truth.json",
                format!("{:#}\n", clip.truth.json(simulate::Detail::Repetitions)).as_bytes(),
            )?;
            say(&format!("{}\n", path.display()))
        }
    }
}

/// Writes a file as a whole or not at all.
fn save(folder: &Path, name: &str, bytes: &[u8]) -> Result<(), Fault> {
    let fault = |error: std::io::Error| io_fault(&folder.join(name).display().to_string(), &error);
    std::fs::create_dir_all(folder).map_err(fault)?;
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(fault)?;
    file.write_all(bytes).map_err(fault)?;
    file.persist(folder.join(name))
        .map_err(|error| fault(error.error))?;
    Ok(())
}
