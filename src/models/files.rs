//! Where the definition files come from: embedded at build, or a folder laid over them.
//!
//! In: the `models/` folder at build time and, optionally, one on disk. Out: text by relative
//! path. Does not parse anything.

use std::collections::BTreeMap;
use std::path::Path;

use include_dir::{Dir, File, include_dir};
use memchr::memmem;

use super::error::{ModelError, ModelErrors};

/// The folder as it was at build time.
static EMBEDDED: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/models");

/// Path and JSON text of every definition file of [`EMBEDDED`] that is TOML, made at build time.
static PARSED: &[(&str, &str)] = include!(concat!(env!("OUT_DIR"), "/parsed.rs"));

/// Files that stand alone; everything else lives in one of [`FOLDERS`].
const SINGLE: [&str; 8] = [
    "sources.toml",
    "notes.toml",
    "linkage.toml",
    "landmarks.toml",
    "floors.toml",
    "references.csv",
    "patient-words.toml",
    "progression.toml",
];
/// Folders in which each file is one definition.
const FOLDERS: [&str; 2] = ["exercises", "skeletons"];
/// A definition is a page or two of text; a larger file is something else.
const MAX_BYTES: u64 = 1 << 20;
/// More files than any clinic writes; guards against pointing at a whole disk.
const MAX_FILES: usize = 2_000;

/// Whether a file was built in or came from a folder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Built into the program.
    Embedded,
    /// Read from the folder the user named.
    Folder,
}

/// Texts of all definition files by path relative to `models/`, with `/` as separator.
#[derive(Debug, Clone)]
pub struct ModelFiles(BTreeMap<String, Text>);

/// A text, or the built-in file that has it.
#[derive(Debug, Clone)]
enum Text {
    BuiltIn(&'static File<'static>),
    Given(String),
}

impl Text {
    fn get(&self) -> Option<&str> {
        match self {
            Text::BuiltIn(file) => file.contents_utf8(),
            Text::Given(text) => Some(text),
        }
    }
}

impl ModelFiles {
    /// The files built into the program.
    #[must_use]
    pub fn embedded() -> Self {
        let mut files = BTreeMap::new();
        let top = EMBEDDED.files();
        let nested = EMBEDDED.dirs().flat_map(Dir::files);
        for file in top.chain(nested) {
            let path = file.path().to_string_lossy().replace('\\', "/");
            if belongs(&path) {
                files.insert(path, Text::BuiltIn(file));
            }
        }
        Self(files)
    }

    /// Lays the files of a folder over these, file by file.
    ///
    /// # Errors
    /// A folder or file that cannot be read, is too large, or is of no known kind.
    pub fn overlaid(mut self, folder: &Path) -> Result<Self, ModelErrors> {
        let mut faults = Vec::new();
        let mut found = Vec::new();
        list(folder, "", &mut found, &mut faults);
        for name in FOLDERS {
            if folder.join(name).is_dir() {
                list(
                    &folder.join(name),
                    &format!("{name}/"),
                    &mut found,
                    &mut faults,
                );
            }
        }
        if found.len() > MAX_FILES {
            faults.push(ModelError::new(
                &folder.display().to_string(),
                "(folder)",
                format!("{} files where at most {MAX_FILES} are read", found.len()),
                "name the folder that holds exercises/ and skeletons/",
            ));
            found.clear();
        }
        for path in found {
            if !belongs(&path) {
                faults.push(ModelError::new(
                    &path,
                    "(whole file)",
                    "not a file this program knows",
                    "exercises go to exercises/<id>.toml, layouts to skeletons/<id>.toml",
                ));
                continue;
            }
            match read(&folder.join(&path)) {
                Ok(text) => {
                    self.0.insert(path, Text::Given(text));
                }
                Err(problem) => faults.push(ModelError::new(
                    &path,
                    "(whole file)",
                    problem,
                    "save it as UTF-8 text that you may read, under 1 MiB",
                )),
            }
        }
        if faults.is_empty() {
            Ok(self)
        } else {
            Err(ModelErrors(faults))
        }
    }

    /// Puts a text in place of whatever had that path; used to try a changed definition.
    #[must_use]
    pub fn with(mut self, path: &str, text: &str) -> Self {
        self.0.insert(path.to_owned(), Text::Given(text.to_owned()));
        self
    }

    /// The text of one file.
    #[must_use]
    pub fn text(&self, path: &str) -> Option<&str> {
        self.0.get(path)?.get()
    }

    /// The JSON text of one file, if it is as it was at build time.
    #[must_use]
    pub(super) fn parsed(&self, path: &str) -> Option<&'static str> {
        let (_, json) = PARSED.iter().find(|(name, _)| *name == path)?;
        (self.origin(path)? == Origin::Embedded).then_some(*json)
    }

    /// The built-in layout that lists exactly these keypoints; `None` if there is none, or more than one.
    pub(super) fn layout_that_lists(&self, names: &[String]) -> Option<&str> {
        let list = format!("\"keypoints\":{}", serde_json::to_string(names).ok()?);
        let finder = memmem::Finder::new(&list);
        let lists = |path: &&str| {
            let text = self.parsed(path);
            text.is_some_and(|text| finder.find(text.as_bytes()).is_some())
        };
        let mut found = self.in_folder("skeletons").filter(lists);
        found.next().filter(|_| found.next().is_none())
    }

    /// Where one file came from.
    #[must_use]
    pub fn origin(&self, path: &str) -> Option<Origin> {
        self.0.get(path).map(|text| match text {
            Text::BuiltIn(_) => Origin::Embedded,
            Text::Given(_) => Origin::Folder,
        })
    }

    /// All relative paths, sorted.
    pub fn paths(&self) -> impl Iterator<Item = &str> {
        self.0.keys().map(String::as_str)
    }

    /// Path of each definition in a folder, sorted.
    pub fn in_folder<'a>(&'a self, folder: &'a str) -> impl Iterator<Item = &'a str> {
        self.paths()
            .filter(move |path| path.split_once('/').is_some_and(|(head, _)| head == folder))
    }
}

/// Whether a relative path is one of the known kinds.
fn belongs(path: &str) -> bool {
    SINGLE.contains(&path)
        || path
            .split_once('/')
            .is_some_and(|(head, rest)| FOLDERS.contains(&head) && rest.ends_with(".toml"))
}

/// Adds the plain files of one folder, hidden files and read-me pages left out.
fn list(folder: &Path, prefix: &str, found: &mut Vec<String>, faults: &mut Vec<ModelError>) {
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) => {
            faults.push(ModelError::new(
                &folder.display().to_string(),
                "(folder)",
                format!("the folder cannot be read: {error}"),
                "name a folder that exists and that you may read",
            ));
            return;
        }
    };
    for entry in entries.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let skip = name.starts_with('.') || name.to_lowercase().ends_with(".md");
        if !skip && entry.path().is_file() {
            found.push(format!("{prefix}{name}"));
        }
    }
    found.sort();
}

/// Reads one text file within the size limit.
fn read(path: &Path) -> Result<String, String> {
    let size = std::fs::metadata(path).map_err(|e| e.to_string())?.len();
    if size > MAX_BYTES {
        return Err(format!("{size} bytes where at most {MAX_BYTES} are read"));
    }
    std::fs::read_to_string(path).map_err(|e| format!("it cannot be read: {e}"))
}
