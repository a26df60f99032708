//! Exports as other programs write them: every case of `tests/exports/*/cases.toml` is read, and the points it
//! names must come out where they are. Every sample is shown to every reader: one fits best, and it is the
//! one that the case names.
//!
//! The files are made by the `make.py` beside them with the libraries that the formats come from, so nothing of
//! the program under test had a hand in them.

use super::{models, project};
use scaplane::body::Joint;
use scaplane::note::Fault;
use scaplane::readers::{AxisOrder, Opened, Probe, ReadOptions, Source, choose, open, verdicts};
use scaplane::track::PictureSize;
use serde::Deserialize;
use std::path::PathBuf;

#[derive(Deserialize)]
struct Table {
    case: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Case {
    /// Name in the folder of the table.
    file: String,
    #[serde(default)]
    options: Stated,
    reader: String,
    layout: String,
    frames: usize,
    #[serde(default = "one")]
    people: usize,
    /// Notes that must be given.
    #[serde(default)]
    notes: Vec<String>,
    /// Distance that a point may be off, in the unit of the check.
    within: f64,
    check: Vec<Check>,
    #[serde(skip)]
    folder: PathBuf,
}

fn one() -> usize {
    1
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields)]
struct Stated {
    fps: Option<f64>,
    size: Option<[f64; 2]>,
    layout: Option<String>,
    format: Option<String>,
    #[serde(default)]
    map: Vec<(String, String)>,
    person: Option<String>,
    axis_order: Option<String>,
}

/// Where a joint is in a frame, counted from 0.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Check {
    frame: usize,
    joint: String,
    /// Pixels from the top left corner; or null.
    picture: Option<[f64; 2]>,
    /// Metres: to the picture's right, up, toward the camera.
    space: Option<[f64; 3]>,
    /// The joint must not be there.
    #[serde(default)]
    missing: bool,
}

impl Case {
    pub fn open(&self) -> Result<Opened, Fault> {
        let stated = &self.options;
        let options = ReadOptions {
            fps: stated.fps,
            size: stated
                .size
                .map(|[width, height]| PictureSize { width, height }),
            layout: stated.layout.clone(),
            format: stated.format.clone(),
            person: stated.person.clone(),
            axis_order: stated
                .axis_order
                .as_deref()
                .map(|id| AxisOrder::from_id(id).expect("xy or yx")),
            map: stated.map.clone(),
            ..ReadOptions::default()
        };
        open(&self.folder.join(&self.file), &options, models())
    }

    pub fn name(&self) -> String {
        self.folder.join(&self.file).display().to_string()
    }

    /// What is not as the case says.
    fn faults(&self) -> Vec<String> {
        let opened = match self.open() {
            Ok(opened) => opened,
            Err(fault) => return vec![format!("{fault:?}")],
        };
        let mut faults = Vec::new();
        let mut same = |what: &str, found: String, expected: String| {
            if found != expected {
                faults.push(format!("{what}: {found}, not {expected}"));
            }
        };
        let facts = &opened.facts;
        same("reader", facts.reader.into(), self.reader.clone());
        same("layout", facts.layout.clone(), self.layout.clone());
        let (frames, people) = (facts.frames, facts.people.len());
        same("frames", frames.to_string(), self.frames.to_string());
        same("people", people.to_string(), self.people.to_string());
        for code in &self.notes {
            let found = opened.notes.iter().any(|note| note.code == *code);
            same(code, found.to_string(), true.to_string());
        }
        for check in &self.check {
            faults.extend(self.off(&opened, check));
        }
        faults
    }

    fn off(&self, opened: &Opened, check: &Check) -> Option<String> {
        let track = &opened.track;
        let at = format!("{} in frame {}", check.joint, check.frame);
        let joint = Joint::from_id(&check.joint).unwrap_or_else(|| panic!("{at}: no joint"));
        let column = track.column(joint);
        let [half_width, half_height] = track
            .size
            .map_or([0.0; 2], |size| [size.width / 2.0, size.height / 2.0]);
        let picture = column
            .zip(track.picture.as_ref())
            .and_then(|(column, layer)| layer.flat(check.frame, column))
            .map(|p| vec![p.x + half_width, half_height - p.y]);
        let space = column
            .zip(track.space.as_ref())
            .and_then(|(column, layer)| layer.point(check.frame, column))
            .map(|p| vec![p.x, p.y, p.z]);
        if check.missing {
            return (picture.is_some() || space.is_some()).then(|| format!("{at} is there"));
        }
        let expected = [
            (picture, check.picture.map(|p| p.to_vec())),
            (space, check.space.map(|p| p.to_vec())),
        ];
        assert!(
            expected.iter().any(|(_, expected)| expected.is_some()),
            "{at}: the case checks nothing"
        );
        expected.into_iter().find_map(|(found, expected)| {
            let expected = expected?;
            let Some(found) = found else {
                return Some(format!("{at} is missing"));
            };
            let far = found
                .iter()
                .zip(&expected)
                .any(|(a, b)| (a - b).abs() > self.within);
            far.then(|| format!("{at}: {found:?}, not {expected:?}"))
        })
    }
}

/// Number of cases in all tables; a new one is counted here.
const EXPORTS: usize = 121;

pub fn cases() -> Vec<Case> {
    let folders = std::fs::read_dir(project("tests/exports")).expect("the folder");
    let mut all = Vec::new();
    for folder in folders.map(|entry| entry.expect("an entry").path()) {
        let table = folder.join("cases.toml");
        let Ok(text) = std::fs::read_to_string(&table) else {
            continue;
        };
        let read: Table =
            toml::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", table.display()));
        all.extend(read.case.into_iter().map(|case| Case {
            folder: folder.clone(),
            ..case
        }));
    }
    all.sort_by_key(Case::name);
    all
}

#[test]
fn exports_are_read_without_guessing() {
    let cases = cases();
    let bad: Vec<String> = cases
        .iter()
        .flat_map(|case| {
            case.faults()
                .into_iter()
                .map(|fault| format!("{}: {fault}", case.name()))
        })
        .collect();
    assert!(bad.is_empty(), "{}", bad.join("\n"));
    let checks: usize = cases.iter().map(|case| case.check.len()).sum();
    println!("{} exports, {checks} points", cases.len());
    assert_eq!(cases.len(), EXPORTS, "cases were lost or added");
    assert!(cases.iter().all(|case| !case.check.is_empty()));
}

#[test]
fn every_sample_against_every_reader() {
    let mut looked = 0;
    for case in cases() {
        let path = case.folder.join(&case.file);
        let source = Source::open(&path).expect("it opens");
        let probe = Probe::of(&source).expect("it is looked at");
        let all = verdicts(&probe, models());
        looked += all.len();
        let place = scaplane::note::Place::file(case.file.clone());
        let chosen = choose(&all, &probe, place).map(|reader| reader.id());
        if case.options.format.is_none() {
            assert_eq!(
                chosen.ok(),
                Some(case.reader.as_str()),
                "{}: {all:?}",
                case.name()
            );
        }
    }
    // The invented samples of the project too, which are written by its own simulation.
    let samples = std::fs::read_dir(project("sample-keypoints")).expect("the samples");
    let mut shown = 0;
    for folder in samples.map(|entry| entry.expect("an entry").path()) {
        for entry in std::fs::read_dir(&folder).into_iter().flatten() {
            let path = entry.expect("an entry").path();
            if !path
                .file_name()
                .is_some_and(|name| name.to_string_lossy().starts_with("track"))
            {
                continue;
            }
            let source = Source::open(&path).expect("it opens");
            let probe = Probe::of(&source).expect("it is looked at");
            let all = verdicts(&probe, models());
            looked += all.len();
            shown += 1;
            let place = scaplane::note::Place::file(path.display().to_string());
            assert!(
                choose(&all, &probe, place).is_ok(),
                "{}: {all:?}",
                path.display()
            );
        }
    }
    println!("{looked} samples and readers compared");
    assert!(shown >= 5, "only {shown} samples of the project");
}
