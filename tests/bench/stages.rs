//! Time of each stage for one clip of 40 seconds, in memory. `cargo bench`.

use scaplane::condition::condition;
use scaplane::models::Models;
use scaplane::pipeline::{Ask, Order, Provenance};
use scaplane::readers::{ReadOptions, Source, open_source};
use scaplane::report::{self, Context};
use scaplane::session::Review;
use scaplane::simulate::{Exercise, Format, Noise, Recipe, View, simulate};
use scaplane::track::Track;
use std::hint::black_box;
use std::sync::LazyLock;

const EXERCISE: &str = "scapular-raise";

static MODELS: LazyLock<Models> = LazyLock::new(|| Models::embedded().expect("the definitions"));

fn main() {
    divan::main();
}

fn bytes(format: Format) -> Vec<u8> {
    let recipe = Recipe {
        exercise: Exercise::ScapularRaise,
        view: View::Oblique,
        noise: Noise::typical(),
        ..Recipe::default()
    };
    let clip = simulate(&recipe).expect("a sound recipe");
    clip.bytes(format).expect("the clip can be written")
}

fn read(bytes: &[u8]) -> Track {
    let source = Source::from_bytes("clip.json", bytes.to_vec());
    let opened = open_source(&source, &ReadOptions::default(), &MODELS).expect("a readable clip");
    opened.track
}

fn review(track: Track) -> Review {
    let provenance = Provenance {
        source: "clip".into(),
        sha256: String::new(),
        reader: String::new(),
        notes: Vec::new(),
    };
    let exercise = MODELS.exercise(EXERCISE).expect("the exercise");
    Order::new(exercise, None).review(track, &provenance, &MODELS, &Ask::default())
}

#[divan::bench]
fn definitions() -> Models {
    Models::embedded().expect("the definitions")
}

#[divan::bench(args = ["coco17-annotations", "landmarks33-object"])]
fn reading(bencher: divan::Bencher<'_, '_>, format: &str) {
    let bytes = bytes(Format::from_id(format).expect("a format"));
    bencher.bench(|| read(black_box(&bytes)));
}

#[divan::bench(args = ["coco17-annotations", "landmarks33-object"])]
fn conditioning(bencher: divan::Bencher<'_, '_>, format: &str) {
    let track = read(&bytes(Format::from_id(format).expect("a format")));
    bencher
        .with_inputs(|| track.clone())
        .bench_values(|track| condition(track, None));
}

#[divan::bench(args = ["coco17-annotations", "landmarks33-object"])]
fn all_measuring(bencher: divan::Bencher<'_, '_>, format: &str) {
    let track = read(&bytes(Format::from_id(format).expect("a format")));
    bencher.with_inputs(|| track.clone()).bench_values(review);
}

#[divan::bench(args = ["json", "csv", "page", "png"])]
fn reporting(bencher: divan::Bencher<'_, '_>, writer: &str) {
    let track = read(&bytes(Format::Coco17Annotations));
    let review = review(track);
    let exercise = MODELS.exercise(EXERCISE).expect("the exercise");
    let context = Context::of(exercise, &MODELS);
    let writer = report::WRITERS
        .iter()
        .find(|one| one.id() == writer)
        .expect("a report");
    let folder = tempfile::tempdir().expect("a folder");
    bencher.bench(|| {
        report::write_with(
            &[*writer],
            folder.path(),
            &review,
            &context,
            scaplane::report::Settling::Now,
        )
    });
}
