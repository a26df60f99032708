//! What several test modules share: open data, simulated clips, reviews of them.

use scaplane::body::{Side, ViewName};
use scaplane::models::Models;
use scaplane::pipeline::{Ask, Provenance, review};
use scaplane::readers::{ReadOptions, Source, open_source};
use scaplane::session::{Rep, Review, Session};
use scaplane::simulate::{Clip, Exercise, Format, Noise, Recipe, RepTruth, Working, simulate};
use std::path::PathBuf;
use std::sync::LazyLock;

/// The data files, loaded once.
pub static MODELS: LazyLock<Models> = LazyLock::new(|| Models::embedded().expect("shipped models"));

/// Folder of the open data, or `None` with a plain word about it.
pub fn open_data() -> Option<PathBuf> {
    let folder = std::env::var_os("SCAPLANE_OPEN_DATA").map_or_else(
        || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared/data"),
        PathBuf::from,
    );
    if folder.is_dir() {
        return Some(folder);
    }
    println!(
        "the open data is absent ({}): 0 cases ran",
        folder.display()
    );
    None
}

/// A file beside the open data.
pub fn beside_open_data(name: &str) -> Option<String> {
    let text = std::fs::read_to_string(open_data()?.join("..").join(name)).ok();
    if text.is_none() {
        println!("{name} is absent: 0 cases ran");
    }
    text
}

/// A recipe for a portrait phone clip of the right arm.
pub fn recipe(exercise: Exercise, view: &str, seed: u64, reps: u32, noise: Noise) -> Recipe {
    Recipe {
        exercise,
        side: Working::Right,
        seed,
        reps,
        view: serde_json::from_value(view.into()).expect("a view"),
        noise,
        width_px: 1080,
        height_px: 1920,
        ..Recipe::default()
    }
}

/// Reviews a clip through a file format, as a user would.
pub fn reviewed(clip: &Clip, format: Format, exercise: &str, view: Option<ViewName>) -> Session {
    let ask = Ask {
        side: Some(Side::Right),
        view,
        ..Ask::default()
    };
    reviewed_as(clip, format, exercise, &ask)
}

/// Reviews a clip through a file format with everything that can be asked.
pub fn reviewed_as(clip: &Clip, format: Format, exercise: &str, ask: &Ask) -> Session {
    let bytes = clip.bytes(format).expect("the clip can be written");
    reviewed_bytes(clip, format.extension(), bytes, exercise, ask)
}

/// Reviews a file that was made of a clip, with the size of its picture stated.
pub fn reviewed_bytes(
    clip: &Clip,
    extension: &str,
    bytes: Vec<u8>,
    exercise: &str,
    ask: &Ask,
) -> Session {
    drawn_bytes(clip, extension, bytes, exercise, ask).session
}

/// The same with what is needed to draw it.
pub fn drawn_bytes(
    clip: &Clip,
    extension: &str,
    bytes: Vec<u8>,
    exercise: &str,
    ask: &Ask,
) -> Review {
    let exercise = MODELS.exercise(exercise).expect("an exercise");
    drawn_by(clip, extension, bytes, exercise, ask)
}

/// The same with limits of one's own.
pub fn drawn_by(
    clip: &Clip,
    extension: &str,
    bytes: Vec<u8>,
    exercise: &scaplane::models::Exercise,
    ask: &Ask,
) -> Review {
    let source = Source::from_bytes(format!("clip.{extension}"), bytes);
    let options = ReadOptions {
        size: Some(scaplane::track::PictureSize {
            width: f64::from(clip.recipe.width_px),
            height: f64::from(clip.recipe.height_px),
        }),
        ..ReadOptions::default()
    };
    let opened = open_source(&source, &options, &MODELS).expect("the clip can be read");
    let provenance = Provenance {
        source: "clip".into(),
        sha256: opened.sha256,
        reader: opened.facts.reader.into(),
        notes: opened.notes,
    };
    review(opened.track, &provenance, exercise, &MODELS, ask)
}

/// Simulates and reviews.
pub fn run(recipe: &Recipe, format: Format) -> (Clip, Session) {
    let clip = simulate(recipe).expect("a sound recipe");
    let session = reviewed(&clip, format, recipe.exercise.id(), None);
    (clip, session)
}

/// True repetitions of the right arm beside the found ones.
pub fn pairs<'a>(clip: &'a Clip, session: &'a Session) -> Vec<(&'a RepTruth, &'a Rep)> {
    clip.truth
        .reps_of(scaplane::simulate::Side::Right)
        .zip(&session.reps)
        .collect()
}

/// Number of true repetitions of the right arm.
pub fn true_count(clip: &Clip) -> usize {
    clip.truth.reps_of(scaplane::simulate::Side::Right).count()
}

/// Every exercise.
pub const EXERCISES: [Exercise; 10] = Exercise::ALL;
