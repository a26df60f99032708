//! Damaged files: whatever happens to the bytes of a good file, reading ends with a track or with a fault that
//! says what, where and what to do. The number of cases follows PROPTEST_CASES.

use super::{clip, gz, models, project, size};
use proptest::prelude::*;
use scaplane::convert::{Target, bytes};
use scaplane::note::{Fault, Place};
use scaplane::readers::{Opened, READERS, ReadOptions, Source, open, open_source};
use scaplane::simulate::{Clip, Format};
use std::sync::OnceLock;

/// Samples of binary formats, which nothing here writes.
const BINARY: [&str; 7] = [
    "lifted.npy",
    "camera.npy",
    "floats.c3d",
    "integers.c3d",
    "one-track.h5",
    "fixed.h5",
    "table.h5",
];

/// Number of good files.
const GOOD: usize = 12 + BINARY.len();

/// Good files of a few frames in every layout that is read: as the simulation writes them, and as `convert` does.
fn good() -> &'static [(String, Vec<u8>)] {
    static GOOD: OnceLock<Vec<(String, Vec<u8>)>> = OnceLock::new();
    GOOD.get_or_init(|| {
        let clip = short();
        let mut all: Vec<(String, Vec<u8>)> = Format::ALL
            .into_iter()
            .map(|format| (format.id().to_string(), clip.bytes(format).expect("bytes")))
            .collect();
        let whole = clip.bytes(Format::Landmarks33Object).expect("bytes");
        let track = super::read("good", whole, &ReadOptions::default())
            .expect("it is good")
            .track;
        for target in Target::ALL {
            let written = bytes(&track, target).expect("it has both layers");
            all.push((target.id().to_string(), written));
        }
        for name in BINARY {
            let path = project("tests/exports/binary").join(name);
            all.push((name.to_string(), std::fs::read(path).expect("the sample")));
        }
        all
    })
}

/// The first frames of the clip.
fn short() -> Clip {
    let mut clip = clip().clone();
    clip.frames.truncate(12);
    clip.truth.frames.truncate(12);
    clip
}

/// What happens to a file. Positions are shares of its length.
#[derive(Debug, Clone)]
enum Damage {
    Cut(f64),
    Flip(Vec<(f64, u8)>),
    Drop(f64, usize),
    Double(f64, usize),
    /// Other text written over it.
    Over(f64, &'static str),
}

/// Text that numbers, names and structure are overwritten with.
const OVER: [&str; 17] = [
    "NaN",
    "-Infinity",
    "1e999",
    "-0",
    "null",
    "\"\"",
    "[]",
    "{}",
    "[[",
    "}}",
    ",",
    ",,,,",
    "\n",
    "\0",
    "99999999999999999999",
    "-1e38",
    "\u{fffd}",
];

fn damage() -> impl Strategy<Value = Damage> {
    let at = || 0.0..1.0_f64;
    prop_oneof![
        at().prop_map(Damage::Cut),
        prop::collection::vec((at(), 1_u8..), 1..8).prop_map(Damage::Flip),
        (at(), 1_usize..400).prop_map(|(at, length)| Damage::Drop(at, length)),
        (at(), 1_usize..400).prop_map(|(at, length)| Damage::Double(at, length)),
        (at(), prop::sample::select(&OVER[..])).prop_map(|(at, text)| Damage::Over(at, text)),
    ]
}

/// The bytes after the damage; there is nothing to damage in an empty file, which a cut leaves.
fn damaged(good: &[u8], damage: &Damage) -> Vec<u8> {
    let mut bytes = good.to_vec();
    if bytes.is_empty() {
        return bytes;
    }
    let place = |at: f64| ((at * good.len() as f64) as usize).min(good.len() - 1);
    let span = |at: f64, length: usize| place(at)..(place(at) + length).min(good.len());
    match damage {
        Damage::Cut(at) => bytes.truncate(place(*at)),
        Damage::Flip(flips) => {
            for (at, mask) in flips {
                bytes[place(*at)] ^= mask;
            }
        }
        Damage::Drop(at, length) => drop(bytes.drain(span(*at, *length))),
        Damage::Double(at, length) => {
            let twice = good[span(*at, *length)].to_vec();
            let at = place(*at);
            drop(bytes.splice(at..at, twice));
        }
        Damage::Over(at, text) => drop(bytes.splice(span(*at, text.len()), text.bytes())),
    }
    bytes
}

/// A track that can be used, or a fault that can.
fn sound(result: &Result<Opened, Fault>) -> Result<(), TestCaseError> {
    match result {
        Ok(opened) => {
            let track = &opened.track;
            prop_assert!(track.frames() >= 10);
            prop_assert!(track.picture.is_some() || track.space.is_some());
            for layer in [&track.picture, &track.space].into_iter().flatten() {
                prop_assert_eq!(layer.frames(), track.frames());
                prop_assert_eq!(layer.joints(), track.joints.len());
            }
            prop_assert!(
                track
                    .timeline
                    .times_s()
                    .windows(2)
                    .all(|pair| pair[0] < pair[1])
            );
        }
        Err(fault) => {
            prop_assert!(fault.place != Place::default(), "no place: {fault}");
            prop_assert!(fault.code.contains('/'), "{fault}");
            prop_assert!(
                !fault.what.is_empty() && !fault.remedy.is_empty(),
                "{fault}"
            );
            // A message is for a person: never a page, never raw bytes.
            prop_assert!(fault.to_string().len() < 2000, "{fault}");
            prop_assert!(
                !fault
                    .to_string()
                    .chars()
                    .any(|c| c.is_control() && c != '\n'),
                "{fault:?}"
            );
        }
    }
    Ok(())
}

fn config() -> ProptestConfig {
    ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

fn options() -> impl Strategy<Value = ReadOptions> {
    (any::<bool>(), any::<bool>()).prop_map(|(sized, mirrored)| ReadOptions {
        size: sized.then(size),
        mirrored,
        ..ReadOptions::default()
    })
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn damaged_files_are_read_or_refused(
        which in 0..GOOD,
        damage in prop::collection::vec(damage(), 1..4),
        packed in any::<bool>(),
        options in options(),
    ) {
        let (name, good) = &good()[which];
        let bad = damage.iter().fold(good.clone(), |bytes, one| damaged(&bytes, one));
        let bad = if packed { gz(&bad) } else { bad };
        sound(&super::read(name, bad, &options))?;
    }

    #[test]
    fn damaged_archives_are_read_or_refused(which in 0..GOOD, damage in damage()) {
        let (name, good) = &good()[which];
        sound(&super::read(name, damaged(&gz(good), &damage), &ReadOptions::default()))?;
    }

    #[test]
    fn a_reader_that_is_forced_on_a_file_reads_or_refuses_it(
        which in 0..GOOD,
        reader in 0..READERS.len(),
        layout in prop::option::of(prop::sample::select(models().skeletons.keys().map(str::to_string).collect::<Vec<_>>())),
        damage in prop::option::of(damage()),
    ) {
        let (name, good) = &good()[which];
        let bad = damage.map_or_else(|| good.clone(), |damage| damaged(good, &damage));
        let options = ReadOptions {
            format: Some(READERS[reader].id().to_string()),
            layout,
            size: Some(size()),
            ..ReadOptions::default()
        };
        sound(&super::read(name, bad, &options))?;
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        sound(&super::read("bytes", bytes, &ReadOptions::default()))?;
    }
}

#[test]
fn the_files_that_are_damaged_are_good() {
    assert_eq!(good().len(), GOOD);
    for (name, bytes) in good() {
        let opened = super::read(name, bytes.clone(), &ReadOptions::default());
        let opened = opened.unwrap_or_else(|fault| panic!("{name}: {fault}"));
        let frames = if BINARY.contains(&name.as_str()) {
            24
        } else {
            12
        };
        assert_eq!(opened.track.frames(), frames, "{name}");
        // An empty file, and every cut near the end, where one bracket decides.
        for length in (0..3).chain(bytes.len().saturating_sub(40)..bytes.len()) {
            let cut = super::read(name, bytes[..length].to_vec(), &ReadOptions::default());
            sound(&cut).unwrap_or_else(|error| panic!("{name} cut at {length}: {error}"));
        }
    }
}

#[test]
fn one_damaged_file_of_a_folder_is_named() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let place = short()
        .write(Format::Body25, folder.path(), "clip")
        .expect("it is written");
    let path = place.join("clip_000000000007_keypoints.json");
    let good = std::fs::read(&path).expect("the eighth frame");
    let (mut refused, mut read) = (0, 0);
    for length in (0..good.len()).step_by(23) {
        std::fs::write(&path, &good[..length]).expect("it is written");
        match open(&place, &ReadOptions::default(), models()) {
            Ok(_) => read += 1,
            Err(fault) => {
                refused += 1;
                let file = fault.place.file.clone().unwrap_or_default();
                let named = file.contains("000000000007") || fault.place.frame == Some(7);
                assert!(named, "cut at {length}: {fault}");
            }
        }
    }
    assert!(refused > 10 && read == 0, "{refused} refused, {read} read");
    std::fs::write(&path, &good).expect("it is written");
    let source = Source::open(&place).expect("it opens");
    assert!(open_source(&source, &ReadOptions::default(), models()).is_ok());
}
