//! A process that reads a clip and measures nothing: what a review costs beyond reading is told against it.
//!
//!     read_only CLIP [FPS WIDTHxHEIGHT]

use scaplane::models::Models;
use scaplane::readers::{ReadOptions, open};
use scaplane::threads;
use scaplane::track::PictureSize;
use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let helpers = threads::start();
    let _apart = threads::stay();
    let words: Vec<String> = std::env::args().skip(1).collect();
    let Some(clip) = words.first() else {
        eprintln!("read_only CLIP [FPS WIDTHxHEIGHT]");
        return ExitCode::from(2);
    };
    let options = ReadOptions {
        fps: words.get(1).and_then(|fps| fps.parse().ok()),
        size: words.get(2).and_then(|size| PictureSize::from_text(size)),
        ..ReadOptions::default()
    };
    let models = Models::embedded().expect("the built-in definitions");
    helpers.wait();
    threads::stay_awake();
    match open(Path::new(clip), &options, &models) {
        Ok(opened) => {
            println!("{} frames", opened.facts.frames);
            ExitCode::SUCCESS
        }
        Err(fault) => {
            eprintln!("{fault}");
            ExitCode::from(1)
        }
    }
}
