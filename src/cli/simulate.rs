//! `scaplane simulate`: a synthetic clip with known truth.

use super::output;
use crate::note::{Fault, FaultKind, Place};
use crate::simulate::{Detail, Format, Noise, Recipe, simulate};
use clap::Args;
use std::io::Write;
use std::path::PathBuf;

/// Make a synthetic clip with known truth.
///
/// For teaching, tests and planning where to put the phone.
#[derive(Args)]
pub struct Simulate {
    /// Recipe in JSON; keys left out take their defaults.
    #[arg(long)]
    recipe: Option<PathBuf>,
    /// Exercise, instead of the recipe's.
    #[arg(long)]
    exercise: Option<String>,
    /// View, instead of the recipe's: front, back, left, right or oblique.
    #[arg(long)]
    view: Option<String>,
    /// Seed, instead of the recipe's.
    #[arg(long)]
    seed: Option<u64>,
    /// Repetitions in a set, instead of the recipe's.
    #[arg(long)]
    reps: Option<u32>,
    /// Add the noise of a usual phone recording.
    #[arg(long)]
    noisy: bool,
    /// File format; see the names below --help of this option's error.
    #[arg(long, default_value = "tidy2d")]
    to: String,
    /// Name of the clip.
    #[arg(long, default_value = "clip")]
    name: String,
    /// Folder to write the clip and truth.json to.
    #[arg(long)]
    out: PathBuf,
}

fn wrong(field: &str, what: String, remedy: String) -> Fault {
    Fault::new(
        FaultKind::Usage,
        "usage/bad-value",
        what,
        Place::default().field(field),
        remedy,
    )
}

/// Runs the command.
pub fn run(args: &Simulate, quiet: bool) -> Result<(), Fault> {
    let mut json = serde_json::Map::new();
    if let Some(path) = &args.recipe {
        let name = path.display().to_string();
        let text =
            std::fs::read_to_string(path).map_err(|error| output::io_fault(&name, &error))?;
        json = serde_json::from_str(&text)
            .map_err(|error| wrong("--recipe", error.to_string(), "a JSON object".into()))?;
    }
    let mut put = |key: &str, value: Option<serde_json::Value>| {
        if let Some(value) = value {
            json.insert(key.into(), value);
        }
    };
    put("exercise", args.exercise.clone().map(Into::into));
    put("view", args.view.clone().map(Into::into));
    put("seed", args.seed.map(Into::into));
    put("reps", args.reps.map(Into::into));
    let mut recipe: Recipe = serde_json::from_value(json.into()).map_err(|error| {
        wrong(
            "--recipe",
            error.to_string(),
            "the keys of the manual".into(),
        )
    })?;
    if args.noisy {
        recipe.noise = Noise::typical();
    }
    let clip = simulate(&recipe)
        .map_err(|error| wrong("--recipe", error.to_string(), "another value".into()))?;
    let format = Format::from_id(&args.to).ok_or_else(|| {
        let known: Vec<&str> = Format::ALL.iter().map(|format| format.id()).collect();
        wrong(
            "--to",
            format!("no format is called `{}`", args.to),
            format!("one of {}", known.join(", ")),
        )
    })?;
    let io = |error: std::io::Error| output::io_fault(&args.out.display().to_string(), &error);
    std::fs::create_dir_all(&args.out).map_err(io)?;
    let path = clip.write(format, &args.out, &args.name).map_err(io)?;
    let mut truth = tempfile::NamedTempFile::new_in(&args.out).map_err(io)?;
    writeln!(truth, "{:#}", clip.truth.json(Detail::Repetitions)).map_err(io)?;
    truth
        .persist(args.out.join("truth.json"))
        .map_err(|error| io(error.error))?;
    output::mention("wrote truth.json beside it", quiet);
    output::say(&format!("{}\n", path.display()))
}
