//! The manifest: a CSV table with a row a clip.
//!
//! In: its path. Out: the clips in the order of the rows. A table that is no manifest is refused as a whole; a bad
//! cell is the failure of its clip only.

use super::clip::{About, Clip, Settings, Sides};
use crate::body::ViewName;
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::plan::{self, Plan};
use crate::session::Reported;
use crate::track::{PictureSize, Up};
use std::cell::RefCell;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Columns and what they hold; all but `clip` may be absent or empty.
pub const COLUMNS: [(&str, &str); 21] = [
    (
        "clip",
        "path of the track: a file, an archive or a folder of frames; from the manifest's folder, or from --root",
    ),
    (
        "exercise",
        "exercise id; without it the only one of the plan, else that of --exercise",
    ),
    (
        "side",
        "left, right or both; without it that of the plan, else of --side, else the arm that moves more",
    ),
    (
        "person",
        "pseudonym of the patient; rows of one person stand side by side on the summary page",
    ),
    ("date", "day of the session as YYYY-MM-DD"),
    (
        "video",
        "video that the track was made from, from the manifest's folder, or from --root; drawn on with --overlays",
    ),
    (
        "plan",
        "plan file of the treating clinician; from the manifest's folder, or from --root",
    ),
    ("pain_before", "pain before, 0 to 10, as the person said"),
    ("pain_during", "worst pain during the exercise, 0 to 10"),
    ("pain_after", "pain after, 0 to 10"),
    ("effort", "effort, 0 to 10, as the person said"),
    ("view", "front, back, left or right"),
    ("fps", "frames a second"),
    ("size", "picture size in pixels, such as 1080x1920"),
    ("layout", "keypoint layout id"),
    ("format", "file format id"),
    (
        "person_in_clip",
        "which person of the file: an id of the file, or a number by first appearance",
    ),
    ("mirrored", "true or false"),
    (
        "up",
        "upward axis of world coordinates: x, y, z, -x, -y or -z",
    ),
    ("cutoff_hz", "cut-off of the low-pass filter"),
    ("note", "free text; carried into the tables"),
];

/// Most bytes of a manifest: a hundred thousand clips with long paths have 30 MB.
const BYTES: u64 = 256 << 20;

/// The clips of a manifest.
pub fn clips(path: &Path, root: Option<&Path>, models: &Models) -> Result<Vec<Clip>, Fault> {
    let name = path.display().to_string();
    let refused = |what: String, remedy: &str| {
        Fault::new(
            FaultKind::Usage,
            "batch/manifest",
            what,
            Place::file(name.clone()),
            remedy,
        )
    };
    let size = std::fs::metadata(path)
        .map_err(|error| refused(error.to_string(), "a folder or a manifest that is there"))?
        .len();
    if size > BYTES {
        return Err(refused(
            format!("the manifest has {size} bytes; at most {BYTES} are read"),
            "splitting it",
        ));
    }
    let bytes = std::fs::read(path)
        .map_err(|error| refused(error.to_string(), "a manifest you may read"))?;
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes);
    let text = std::str::from_utf8(text).map_err(|_| {
        refused(
            "the manifest is no UTF-8 text".into(),
            "saving it as CSV in UTF-8",
        )
    })?;
    let mut table = csv::ReaderBuilder::new()
        .delimiter(delimiter(text))
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let bad = |error: &csv::Error| refused(error.to_string(), "saving it as CSV in UTF-8");
    let columns = columns(table.headers().map_err(|error| bad(&error))?, &name)?;
    let root = root.or_else(|| path.parent()).unwrap_or(Path::new(""));
    let plans = Plans::below(root, models);
    let mut clips = Vec::new();
    let mut seen: HashMap<String, u64> = HashMap::new();
    for (record, number) in table.records().zip(1..) {
        let record = record.map_err(|error| bad(&error))?;
        let line = record.position().map_or(number + 1, csv::Position::line);
        let row = Row {
            record: &record,
            columns: &columns,
            plans: &plans,
            place: Place::file(name.clone()).line(line),
        };
        let clip = row.clip(number, root);
        if let Some(other) = seen.insert(clip.id.clone(), line) {
            return Err(Fault {
                place: row.place,
                ..refused(
                    format!("`{}` is listed twice, first in line {other}", clip.shown),
                    "leaving one row out, or naming another side, exercise or person_in_clip",
                )
            });
        }
        clips.push(clip);
    }
    Ok(clips)
}

/// Spreadsheets of some countries write semicolons.
fn delimiter(text: &str) -> u8 {
    let head = text.lines().next().unwrap_or("");
    let count = |mark: char| head.matches(mark).count();
    match () {
        () if count('\t') > count(',').max(count(';')) => b'\t',
        () if count(';') > count(',') => b';',
        () => b',',
    }
}

/// Column names to their places.
fn columns(head: &csv::StringRecord, name: &str) -> Result<HashMap<&'static str, usize>, Fault> {
    let mut found = HashMap::new();
    let known: Vec<&str> = COLUMNS.iter().map(|(name, _)| *name).collect();
    let refused = |what: String, remedy: String| {
        let place = Place::file(name).line(1);
        Err(Fault::new(
            FaultKind::Usage,
            "batch/manifest",
            what,
            place,
            remedy,
        ))
    };
    for (place, title) in head.iter().enumerate() {
        let title = title.to_ascii_lowercase();
        match known.iter().find(|known| **known == title) {
            Some(known) if found.insert(*known, place).is_none() => {}
            Some(known) => {
                return refused(
                    format!("two columns are called `{known}`"),
                    "leaving one out".into(),
                );
            }
            None if !found.contains_key("clip")
                && !head.iter().any(|t| t.eq_ignore_ascii_case("clip")) =>
            {
                break;
            }
            None => {
                let shown: String = title.chars().filter(|c| !c.is_control()).take(40).collect();
                return refused(
                    format!("no column is called `{shown}`"),
                    format!("one of {}", known.join(", ")),
                );
            }
        }
    }
    if !found.contains_key("clip") {
        return refused(
            "the table has no column `clip`, so it is no manifest".into(),
            "a first line with column names, `clip` among them; for a single clip `scaplane review`".into(),
        );
    }
    Ok(found)
}

struct Row<'a> {
    record: &'a csv::StringRecord,
    columns: &'a HashMap<&'static str, usize>,
    plans: &'a Plans<'a>,
    place: Place,
}

impl Row<'_> {
    fn text(&self, column: &str) -> Option<&str> {
        let cell = self.record.get(*self.columns.get(column)?)?.trim();
        (!cell.is_empty()).then_some(cell)
    }

    fn owned(&self, column: &str) -> Option<String> {
        self.text(column).map(str::to_string)
    }

    /// A cell by a function that knows its form.
    fn value<T>(
        &self,
        column: &str,
        expected: &str,
        read: impl Fn(&str) -> Option<T>,
    ) -> Result<Option<T>, Box<Fault>> {
        let Some(text) = self.text(column) else {
            return Ok(None);
        };
        match read(text) {
            Some(value) => Ok(Some(value)),
            None => Err(self.refused(column, text, expected)),
        }
    }

    fn refused(&self, column: &str, text: &str, expected: &str) -> Box<Fault> {
        let shown: String = text.chars().filter(|c| !c.is_control()).take(60).collect();
        Box::new(Fault::new(
            FaultKind::Malformed,
            "batch/manifest-cell",
            format!("`{shown}` is no {column}"),
            self.place.clone().field(column),
            expected,
        ))
    }

    fn clip(&self, number: u64, root: &Path) -> Clip {
        let settings = self.settings();
        let shown = self.text("clip").unwrap_or("").to_string();
        let plain = Settings::default();
        let id = match &settings {
            Ok(settings) => Clip::id_of(&shown, settings),
            // Rows that cannot be used are failures each, not one and the same clip.
            Err(_) => Clip::id_of(&format!("{shown} row {number}"), &plain),
        };
        Clip {
            number,
            id,
            path: root.join(PathBuf::from(&shown)),
            video: self.text("video").map(|video| root.join(video)),
            about: About {
                person: self.owned("person"),
                date: self.owned("date").filter(|text| is_date(text)),
                video: self.owned("video"),
                note: self.owned("note"),
            },
            shown,
            settings,
        }
    }

    fn settings(&self) -> Result<Settings, Box<Fault>> {
        if self.record.len()
            > self
                .columns
                .len()
                .max(*self.columns.values().max().unwrap_or(&0) + 1)
        {
            let what = format!("the row has {} cells", self.record.len());
            return Err(Box::new(Fault::new(
                FaultKind::Malformed,
                "batch/manifest-cell",
                what,
                self.place.clone(),
                "as many cells as the first line has; text with commas in it in quotes",
            )));
        }
        if self.text("clip").is_none() {
            return Err(self.refused("clip", "", "the path of a track"));
        }
        self.value("date", "a day such as 2026-03-09", |text| {
            is_date(text).then_some(())
        })?;
        let positive = |text: &str| {
            text.parse()
                .ok()
                .filter(|v: &f64| v.is_finite() && *v > 0.0)
        };
        let plan = match self.text("plan") {
            Some(plan) => Some(self.plans.read(plan)?),
            None => None,
        };
        let settings = Settings {
            exercise: self.owned("exercise"),
            sides: self.value("side", "left, right or both", |text| match text {
                "left" => Some(Sides::Left),
                "right" => Some(Sides::Right),
                "both" => Some(Sides::Both),
                _ => None,
            })?,
            view: self.value("view", "front, back, left or right", |text| match text {
                "front" => Some(ViewName::Front),
                "back" => Some(ViewName::Back),
                "left" => Some(ViewName::Left),
                "right" => Some(ViewName::Right),
                _ => None,
            })?,
            cutoff_hz: self.value("cutoff_hz", "a frequency in hertz, such as 6", positive)?,
            fps: self.value("fps", "frames a second, such as 29.97", positive)?,
            size: self.value("size", "a size such as 1080x1920", PictureSize::from_text)?,
            layout: self.owned("layout"),
            format: self.owned("format"),
            person_in_clip: self.owned("person_in_clip"),
            mirrored: self.value("mirrored", "true or false", |text| match text {
                "true" | "yes" | "1" => Some(true),
                "false" | "no" | "0" => Some(false),
                _ => None,
            })?,
            up: self.value("up", "x, y, z, -x, -y or -z", Up::from_id)?,
            reported: self.reported()?,
            plan: None,
        };
        Ok(settings.with_plan(plan))
    }

    fn reported(&self) -> Result<Option<Reported>, Box<Fault>> {
        let told = |column| {
            self.value(column, "a number from 0 to 10", |text| {
                text.parse().ok().filter(|v| (0.0..=10.0).contains(v))
            })
        };
        let reported = Reported {
            pain_before: told("pain_before")?,
            pain_during: told("pain_during")?,
            pain_after: told("pain_after")?,
            effort: told("effort")?,
        };
        Ok((reported != Reported::default()).then_some(reported))
    }
}

/// The plans of a manifest, each read once.
struct Plans<'a> {
    root: &'a Path,
    models: &'a Models,
    read: RefCell<HashMap<PathBuf, Result<Arc<Plan>, Fault>>>,
}

impl<'a> Plans<'a> {
    fn below(root: &'a Path, models: &'a Models) -> Plans<'a> {
        Plans {
            root,
            models,
            read: RefCell::default(),
        }
    }

    fn read(&self, name: &str) -> Result<Arc<Plan>, Box<Fault>> {
        let path = self.root.join(name);
        let mut read = self.read.borrow_mut();
        let plan = read
            .entry(path)
            .or_insert_with_key(|path| plan::read(path, self.models).map(Arc::new));
        plan.clone().map_err(Box::new)
    }
}

/// Whether a text is a day as `YYYY-MM-DD` (RFC 3339).
fn is_date(text: &str) -> bool {
    text.parse::<toml::value::Datetime>()
        .is_ok_and(|day| day.date.is_some() && day.time.is_none() && day.offset.is_none())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Vec<Clip>, Fault> {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("manifest.csv");
        std::fs::write(&path, text).unwrap();
        let models = Models::embedded().unwrap();
        clips(&path, None, &models)
    }

    #[test]
    fn rows_are_clips_in_order_and_a_bad_cell_spoils_its_row_only() {
        let clips = read(
            "clip,exercise,side,person,date,fps,size,mirrored\n\
             a.json,row,both,P1,2026-03-09,29.97,1080x1920,true\n\
             b.json,,up,P1,,,,\n\
             c.json,,,,2026-02-30,,,\n\
             ,row,,,,,,\n\
             d.json,,,,,-3,,\n\
             e.json\n\
             f.json,,,,,,,,,too many\n",
        )
        .unwrap();
        let good = clips[0].settings.as_ref().unwrap();
        assert_eq!(good.sides, Some(Sides::Both));
        assert_eq!(good.fps, Some(29.97));
        assert_eq!(good.mirrored, Some(true));
        assert_eq!(clips[0].about.date.as_deref(), Some("2026-03-09"));
        let faults: Vec<Option<String>> = clips
            .iter()
            .map(|clip| clip.settings.as_ref().err().map(|f| f.place.to_string()))
            .collect();
        let lines: Vec<bool> = faults.iter().map(Option::is_some).collect();
        assert_eq!(lines, [false, true, true, true, true, false, true]);
        assert!(
            faults[1].as_ref().unwrap().ends_with("line 3  side"),
            "{:?}",
            faults[1]
        );
    }

    #[test]
    fn what_is_no_manifest_is_refused() {
        for (text, needle) in [
            ("name,exercise\na,row\n", "no column `clip`"),
            ("clip,excercise\na,row\n", "`excercise`"),
            ("clip,clip\na,b\n", "two columns"),
            ("clip\na.json\na.json\n", "twice"),
            ("{\"frames\": []}", "no column `clip`"),
        ] {
            let fault = read(text).unwrap_err();
            assert_eq!(
                (fault.code, fault.exit_status()),
                ("batch/manifest", 2),
                "{text}"
            );
            assert!(fault.what.contains(needle), "{}", fault.what);
        }
        assert_eq!(read("clip;side\na.json;left\n").unwrap().len(), 1);
        assert_eq!(read("\u{feff}Clip\tSide\na.json\tleft\n").unwrap().len(), 1);
    }

    #[test]
    fn one_file_may_be_two_clips_by_side() {
        let clips = read("clip,side\na.json,left\na.json,right\n").unwrap();
        assert_ne!(clips[0].id, clips[1].id);
    }
}
