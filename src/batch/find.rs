//! Clips in a folder and the folders below it.
//!
//! In: a folder. Out: the clips in the order of their paths: files that may be exports by their names (archives
//! among them), and folders that a reader takes for the frames of one clip. Whether a file is a clip in truth is
//! left to its reading: what cannot be read is a failure that is listed, not a file passed over.
//!
//! Hidden entries, links to folders and the output folder are not entered.

use super::clip::{About, Clip, Settings};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::readers::{self, FrameFile};
use std::path::{Path, PathBuf};

/// Deepest folder: deeper is a loop that a file system should not have.
const DEPTH: usize = 32;

/// Fewest files of one name but for their numbers that are taken for the frames of a damaged clip, if they are
/// small and no reader knows them; a stated choice, less than a second of video.
const FRAMES: usize = 20;

/// Most bytes of such a file: the densest export known has 30 kB a frame and person; a clip of seconds is larger.
const FRAME_BYTES: u64 = 64 << 10;

/// The clips, and the number of other files.
pub fn clips(folder: &Path, out: &Path, models: &Models) -> Result<(Vec<Clip>, usize), Fault> {
    let mut walk = Walk {
        out: out.canonicalize().ok(),
        models,
        found: Vec::new(),
        left_out: 0,
    };
    walk.enter(folder, DEPTH)?;
    let clips = walk
        .found
        .into_iter()
        .zip(1..)
        .map(|(path, number)| clip(folder, path, number))
        .collect();
    Ok((clips, walk.left_out))
}

fn clip(folder: &Path, path: PathBuf, number: u64) -> Clip {
    let below = path.strip_prefix(folder).unwrap_or(&path);
    let shown = match below.as_os_str().is_empty() {
        // The folder given is itself one clip.
        true => folder.file_name().map(PathBuf::from).unwrap_or_default(),
        false => below.to_path_buf(),
    };
    let shown = shown.to_string_lossy().replace('\\', "/");
    Clip {
        number,
        id: Clip::id_of(&shown, &Settings::default()),
        shown,
        path,
        video: None,
        about: About::default(),
        settings: Ok(Settings::default()),
    }
}

struct Walk<'a> {
    out: Option<PathBuf>,
    models: &'a Models,
    found: Vec<PathBuf>,
    left_out: usize,
}

impl Walk<'_> {
    fn enter(&mut self, folder: &Path, depth: usize) -> Result<(), Fault> {
        let (files, folders) = entries(folder)?;
        let frames: Vec<&PathBuf> = files
            .iter()
            .filter(|path| FrameFile::of_frame(&name(path)).is_some())
            .collect();
        let is_clip = frames.len() > 1
            && (readers::is_folder_of_frames(folder, self.models) || damaged_frames(&frames));
        if is_clip {
            self.found.push(folder.to_path_buf());
            return Ok(());
        }
        let mut all: Vec<(PathBuf, bool)> = files.into_iter().map(|path| (path, false)).collect();
        all.extend(folders.into_iter().map(|path| (path, true)));
        all.sort();
        for (path, is_folder) in all {
            match is_folder {
                true if self.is_out(&path) || depth == 0 => {}
                true => self.enter(&path, depth - 1)?,
                false if may_be_export(&name(&path)) => self.found.push(path),
                false => self.left_out += 1,
            }
        }
        Ok(())
    }

    fn is_out(&self, path: &Path) -> bool {
        self.out.is_some() && path.canonicalize().ok() == self.out
    }
}

/// Files and folders of a folder; links to files are files.
fn entries(folder: &Path) -> Result<(Vec<PathBuf>, Vec<PathBuf>), Fault> {
    let unreadable = |error: &std::io::Error| {
        Fault::new(
            FaultKind::Io,
            "batch/folder",
            format!("the folder cannot be searched: {error}"),
            Place::file(folder.display().to_string()),
            "a folder you may read, or a manifest that lists the clips",
        )
    };
    let (mut files, mut folders) = (Vec::new(), Vec::new());
    for entry in std::fs::read_dir(folder).map_err(|error| unreadable(&error))? {
        let entry = entry.map_err(|error| unreadable(&error))?;
        let path = entry.path();
        if name(&path).starts_with('.') {
            continue;
        }
        match entry.file_type() {
            Ok(kind) if kind.is_dir() => folders.push(path),
            // A link that leads to a folder may lead back up.
            Ok(kind) if kind.is_symlink() && path.is_dir() => {}
            _ => files.push(path),
        }
    }
    files.sort();
    Ok((files, folders))
}

fn name(path: &Path) -> String {
    path.file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

/// Text files are exports only as the frames of a folder; alone they are mostly notes.
fn may_be_export(name: &str) -> bool {
    readers::is_whole(name)
        || readers::is_packed(name)
        || FrameFile::of(name) == Some(FrameFile::Json)
}

/// Many small files whose names differ by their numbers only.
fn damaged_frames(frames: &[&PathBuf]) -> bool {
    let pattern = |path: &Path| name(path).replace(|c: char| c.is_ascii_digit(), "");
    let Some(first) = frames.first() else {
        return false;
    };
    let wanted = pattern(first);
    let small = |path: &Path| std::fs::metadata(path).is_ok_and(|meta| meta.len() <= FRAME_BYTES);
    frames.len() >= FRAMES
        && !wanted.ends_with(".gz")
        && frames
            .iter()
            .all(|path| pattern(path) == wanted && small(path))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn shown(root: &Path, out: &Path) -> (Vec<String>, usize) {
        let models = Models::embedded().unwrap();
        let (clips, others) = clips(root, out, &models).unwrap();
        assert!(clips.iter().zip(1..).all(|(clip, n)| clip.number == n));
        (clips.into_iter().map(|clip| clip.shown).collect(), others)
    }

    #[test]
    fn files_folders_of_frames_and_archives_are_clips() {
        let dir = tempfile::tempdir().unwrap();
        let root = dir.path();
        let put = |path: &str, text: &str| {
            let path = root.join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        };
        let frame = format!(
            "{{\"version\":1.3,\"people\":[{{\"pose_keypoints_2d\":[{}]}}]}}",
            vec!["1,2,0.9"; 25].join(",")
        );
        for number in 0..4 {
            put(
                &format!("b/frames/clip_{number:012}_keypoints.json"),
                &frame,
            );
        }
        for number in 0..30 {
            put(
                &format!("c/broken/clip_{number:012}_keypoints.json"),
                "{\"peo",
            );
        }
        put("a/track.json.gz", "x");
        put("a/notes.txt", "x");
        put("a/video.mp4", "x");
        put("d/clip-1.json", "[]");
        put("d/clip-2.json", "[]");
        put("export.zip", "x");
        put(".hidden/track.csv", "x");
        put("out/clips/a/review.json", "{}");
        assert_eq!(
            shown(root, &root.join("out")),
            (
                [
                    "a/track.json.gz",
                    "b/frames",
                    "c/broken",
                    "d/clip-1.json",
                    "d/clip-2.json",
                    "export.zip"
                ]
                .map(String::from)
                .to_vec(),
                2
            )
        );
        assert_eq!(shown(&root.join("b/frames"), root).0, ["frames"]);
    }
}
