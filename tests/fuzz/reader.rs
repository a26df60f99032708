//! Fuzzing of the readers: any bytes are read or refused, by every reader.
//!
//! `SCAPLANE_FUZZ_READER` names the reader that the bytes are forced on; without it the content decides, and
//! archives are opened. `SCAPLANE_FUZZ_LIST` prints the readers and ends. `SCAPLANE_FUZZ_SEEDS` is a folder to
//! which a short simulated clip is written first, in every layout that the simulation and `convert` write.
#![no_main]

use libfuzzer_sys::fuzz_target;
use scaplane::convert::{Target, bytes};
use scaplane::models::Models;
use scaplane::note::Place;
use scaplane::readers::{READERS, ReadOptions, Source, open_source};
use scaplane::simulate::{Format, Recipe, simulate};
use scaplane::track::PictureSize;
use std::path::Path;
use std::sync::LazyLock;

static MODELS: LazyLock<Models> = LazyLock::new(|| Models::embedded().expect("the built-in data"));

static OPTIONS: LazyLock<ReadOptions> = LazyLock::new(|| ReadOptions {
    fps: Some(30.0),
    size: Some(PictureSize {
        width: 1080.0,
        height: 1920.0,
    }),
    format: std::env::var("SCAPLANE_FUZZ_READER").ok(),
    ..ReadOptions::default()
});

/// Writes a short clip in every layout.
fn write_seeds(folder: &Path) -> std::io::Result<()> {
    let recipe = Recipe {
        reps: 1,
        ..Recipe::default()
    };
    let mut clip = simulate(&recipe).expect("a sound recipe");
    clip.frames.truncate(12);
    clip.truth.frames.truncate(12);
    std::fs::create_dir_all(folder)?;
    for format in Format::ALL {
        std::fs::write(folder.join(format.id()), clip.bytes(format)?)?;
    }
    let whole = clip.bytes(Format::Landmarks33Object)?;
    let source = Source::from_bytes("clip", whole);
    let opened = open_source(&source, &ReadOptions::default(), &MODELS).expect("a good clip");
    for target in Target::ALL {
        let table = bytes(&opened.track, target).expect("both layers");
        std::fs::write(folder.join(target.id()), table)?;
    }
    Ok(())
}

fn start() {
    if std::env::var_os("SCAPLANE_FUZZ_LIST").is_some() {
        for reader in READERS {
            println!("{}", reader.id());
        }
        std::process::exit(0);
    }
    if let Some(folder) = std::env::var_os("SCAPLANE_FUZZ_SEEDS") {
        write_seeds(Path::new(&folder)).expect("the folder of seeds can be written");
    }
}

fuzz_target!(init: start(), |data: &[u8]| {
    match open_source(&Source::from_bytes("fuzz", data), &OPTIONS, &MODELS) {
        Ok(opened) => {
            let track = &opened.track;
            assert!(track.picture.is_some() || track.space.is_some());
            let times = track.timeline.times_s();
            assert!(times.windows(2).all(|pair| pair[0] < pair[1]));
        }
        Err(fault) => {
            let text = fault.to_string();
            assert!(fault.place != Place::default(), "no place: {text}");
            assert!(!fault.what.is_empty() && !fault.remedy.is_empty(), "{text}");
            assert!(text.len() < 2000, "{text}");
            assert!(!text.chars().any(|c| c.is_control() && c != '\n'), "{text:?}");
        }
    }
});
