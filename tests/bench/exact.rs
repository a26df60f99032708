//! A clip's result with every digit, where `review.json` rounds to what numbers are worth: for comparing with the
//! same computation elsewhere.
//!
//!     exact EXERCISE CLIP [FPS WIDTHxHEIGHT]

use scaplane::models::Models;
use scaplane::pipeline::{Ask, Order, Provenance};
use scaplane::readers::{ReadOptions, open};
use scaplane::track::PictureSize;
use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let models = Models::embedded().expect("the built-in definitions");
    let exercise = words.first().and_then(|id| models.exercise(id));
    let (Some(exercise), Some(clip)) = (exercise, words.get(1)) else {
        eprintln!("exact EXERCISE CLIP [FPS WIDTHxHEIGHT]");
        return ExitCode::from(2);
    };
    let options = ReadOptions {
        fps: words.get(2).and_then(|fps| fps.parse().ok()),
        size: words.get(3).and_then(|size| PictureSize::from_text(size)),
        ..ReadOptions::default()
    };
    let opened = match open(Path::new(clip), &options, &models) {
        Ok(opened) => opened,
        Err(fault) => {
            eprintln!("{fault}");
            return ExitCode::from(1);
        }
    };
    let provenance = Provenance {
        source: clip.clone(),
        sha256: opened.sha256,
        reader: opened.facts.reader.to_string(),
        notes: opened.notes,
    };
    let order = Order::new(exercise, None);
    let review = order.review(opened.track, &provenance, &models, &Ask::default());
    println!(
        "{}",
        serde_json::to_string(&review.session).expect("a result is JSON")
    );
    ExitCode::SUCCESS
}
