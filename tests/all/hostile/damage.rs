//! Every sample and every export, cut short at many lengths and with flipped bytes.

use super::{files_below, options, project, unsound};
use crate::support::MODELS;
use rayon::prelude::*;
use scaplane::readers::{Source, open, open_source};
use std::path::{Path, PathBuf};

/// Cuts of one file.
const CUTS: usize = 64;
/// Cuts of a file so large that each takes a second: bytes as stored, and cuts.
const LARGE: (usize, usize) = (1 << 20, 16);
/// Flipped bytes of one file.
const FLIPS: usize = 24;
/// Files of a folder of frames that are damaged: the first, some between, the last.
const OF_FOLDER: usize = 4;

/// Files of samples and exports, without what only describes them.
fn samples() -> Vec<PathBuf> {
    let mut all = Vec::new();
    for root in ["sample-keypoints", "tests/exports"] {
        for path in files_below(&project(root)) {
            let end = path
                .extension()
                .and_then(|end| end.to_str())
                .unwrap_or_default();
            if !matches!(end, "toml" | "py" | "md") {
                all.push(path);
            }
        }
    }
    all
}

/// The folder of a file if it holds one file for each frame.
fn frame_folder(path: &Path) -> Option<&Path> {
    let folder = path.parent()?;
    let alike = std::fs::read_dir(folder)
        .ok()?
        .flatten()
        .filter(|entry| entry.path().extension() == path.extension());
    let numbered = path.file_stem().is_some_and(|stem| {
        stem.to_string_lossy()
            .bytes()
            .any(|byte| byte.is_ascii_digit())
    });
    // Beside a table of cases stand clips, not frames.
    let of_frames = numbered && !folder.join("cases.toml").exists();
    (of_frames && alike.count() > 8).then_some(folder)
}

/// Lengths to cut at: evenly, and every one near the ends, where one bracket decides.
fn cuts(length: usize) -> Vec<usize> {
    let count = if length > LARGE.0 { LARGE.1 } else { CUTS };
    let near = count / 4;
    let even = (0..count - 2 * near).map(|cut| cut * length / count);
    let mut all: Vec<usize> = even
        .chain(0..near.min(length))
        .chain(length.saturating_sub(near)..length)
        .collect();
    all.retain(|cut| *cut < length);
    all.sort_unstable();
    all.dedup();
    all
}

/// What came of the damage to one file.
#[derive(Default)]
struct Tally {
    read: usize,
    refused: usize,
    bad: Vec<String>,
}

impl Tally {
    fn and(mut self, other: Tally) -> Tally {
        self.read += other.read;
        self.refused += other.refused;
        self.bad.extend(other.bad);
        self
    }
}

/// Damages a file that stands alone, in memory.
fn alone(path: &Path) -> Tally {
    let whole = std::fs::read(path).expect("a sample");
    let packed = whole.starts_with(&[0x1f, 0x8b]) || whole.starts_with(b"PK");
    let name = path
        .file_name()
        .expect("a name")
        .to_string_lossy()
        .into_owned();
    let mut tally = Tally::default();
    let mut check = |what: String, bytes: Vec<u8>, must_fail: bool| {
        let result = open_source(
            &Source::from_bytes(name.clone(), bytes),
            &options(),
            &MODELS,
        );
        let wrong =
            unsound(&result).or((must_fail && result.is_ok()).then(|| "it was read".to_string()));
        tally
            .bad
            .extend(wrong.map(|wrong| format!("{name} {what}: {wrong}")));
        match result {
            Ok(_) => tally.read += 1,
            Err(_) => tally.refused += 1,
        }
    };
    for cut in cuts(whole.len()) {
        // A cut of packed data always shows; text may end after a whole row.
        check(format!("cut at {cut}"), whole[..cut].to_vec(), packed);
    }
    let flips = if whole.len() > LARGE.0 {
        FLIPS / 4
    } else {
        FLIPS
    };
    for flip in 0..flips {
        let at = flip * whole.len() / flips;
        let mut bytes = whole.clone();
        if let Some(byte) = bytes.get_mut(at) {
            *byte ^= 1 << (flip % 8);
            check(format!("flipped at {at}"), bytes, false);
        }
    }
    tally
}

/// Damages some files of a folder, each in a copy of the folder.
fn in_folder(folder: &Path) -> Tally {
    let files = files_below(folder);
    let copy = tempfile::tempdir().expect("a temporary folder");
    let target = |path: &Path| copy.path().join(path.file_name().expect("a name"));
    // Enough frames for a track; the rest would only cost time.
    let kept: Vec<&PathBuf> = files.iter().take(40).collect();
    for path in &kept {
        std::fs::copy(path, target(path)).expect("a copy");
    }
    let mut tally = Tally::default();
    for path in kept.iter().step_by(kept.len().div_ceil(OF_FOLDER).max(1)) {
        let whole = std::fs::read(path).expect("a frame");
        for cut in cuts(whole.len()).into_iter().step_by(2) {
            std::fs::write(target(path), &whole[..cut]).expect("a damaged frame");
            let result = open(copy.path(), &options(), &MODELS);
            let name = path.file_name().expect("a name").to_string_lossy();
            // A file that was cut so that it still looks whole is told by the next one, which then differs.
            let names = || kept.iter().filter_map(|file| file.file_name());
            let named = |text: &str| names().any(|name| text.contains(&*name.to_string_lossy()));
            let wrong = unsound(&result).or_else(|| match &result {
                Err(fault) if !named(&fault.to_string()) => {
                    Some(format!("no frame is named: {fault}"))
                }
                _ => None,
            });
            tally
                .bad
                .extend(wrong.map(|wrong| format!("{name} cut at {cut}: {wrong}")));
            match result {
                Ok(_) => tally.read += 1,
                Err(_) => tally.refused += 1,
            }
        }
        std::fs::write(target(path), &whole).expect("the whole frame again");
    }
    tally
}

#[test]
fn every_sample_cut_or_flipped_is_read_or_refused() {
    let all = samples();
    let mut folders: Vec<PathBuf> = all
        .iter()
        .filter_map(|path| frame_folder(path))
        .map(Into::into)
        .collect();
    folders.dedup();
    let single: Vec<&PathBuf> = all
        .iter()
        .filter(|path| frame_folder(path).is_none())
        .collect();
    let tally = single
        .par_iter()
        .map(|path| alone(path))
        .chain(folders.par_iter().map(|folder| in_folder(folder)))
        .reduce(Tally::default, Tally::and);
    println!(
        "{} files and {} folders: {} cases refused, {} read",
        single.len(),
        folders.len(),
        tally.refused,
        tally.read
    );
    assert!(tally.bad.is_empty(), "{}", tally.bad.join("\n"));
    assert!(single.len() >= 12 && !folders.is_empty());
    assert!(tally.refused > 600, "{}", tally.refused);
}
