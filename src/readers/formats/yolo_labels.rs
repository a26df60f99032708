//! YOLO pose labels: a text file for each picture, a line for each person.
//!
//! A line is class, box (middle x, y, width, height), then x, y or x, y, v for each keypoint, then perhaps the
//! confidence of the box and the track id; everything is a share of the picture. The number of numbers tells
//! what the tail is. A point at 0, 0 is missing. Pictures without people have no file, and a second run appends
//! to the first one's files.

use super::yolo_line::{Form, Line, forms_of};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::readers::clip::{Clip, USUAL};
use crate::readers::id::last_number;
use crate::readers::probe::line_of;
use crate::readers::source::Member;
use crate::readers::{Fit, Probe, ReadOptions, Reader, Shape, Source, limits};
use crate::track::{Detection, Recording, Scale};

/// Score below which a point counts as not seen, where v is a score (common practice, no source).
const LEAST_SCORE: f64 = 0.3;
/// Overlap of two boxes of one file, as a share of both together, from which they are one person labelled
/// twice: the detector itself keeps no two boxes that overlap by more than 0.7 (its default, from memory, not
/// verified).
const TWICE: f64 = 0.9;
/// Overlap of the boxes of two lines of a single file from which they may be one person in successive frames
/// (stated choice: a person moves little in a thirtieth of a second, two people hardly stand so).
const SUCCESSIVE: f64 = 0.5;
/// Fewest lines of a single file that may be a clip: fewer are too few frames anyhow.
const FEWEST_LINES: usize = 10;

/// The reader.
pub struct YoloLabels;

impl Reader for YoloLabels {
    fn id(&self) -> &'static str {
        "yolo-labels"
    }

    fn title(&self) -> &'static str {
        "YOLO pose labels, a folder with one text file for each picture"
    }

    fn about(&self) -> &'static str {
        "Reads the folder of text files that save_txt makes, or a set of labels: class, box, keypoints with or \
         without a third number, then confidence and track id if they were saved. The last number in a file's \
         name is the frame; frames without people have no file. Everything is a share of the picture: state \
         --size, and --fps. A single text file is read if its lines are one person frame after frame."
    }

    fn fit(&self, probe: &Probe, models: &Models) -> Fit {
        let Shape::Table { header, rows } = &probe.shape else {
            return Fit::no("not a table of text");
        };
        let lines = std::iter::once(header)
            .chain(rows)
            .map(|cells| cells.join(" "));
        let first = lines
            .filter(|line| !is_idle(line))
            .find_map(|line| Line::parse(&line));
        let Some(first) = first else {
            return Fit::no("no line of numbers: class, box, keypoints");
        };
        match forms_of(&first, None, models).is_empty() {
            true if first.has_box() => Fit::possible(format!(
                "class and box, and {} numbers, which no layout has",
                first.numbers.len()
            )),
            true => Fit::no("the first number is no class, or the next four are no box"),
            false => Fit::certain(format!(
                "{} numbers a line: class, box, keypoints",
                first.numbers.len()
            )),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let mut labels = Labels {
            clip: Clip::new(options, models, &USUAL),
            form: None,
            options,
            models,
            doubles: 0,
        };
        let mut notes = Vec::new();
        match source.is_folder() {
            true => {
                let mut others = 0;
                for member in source.members() {
                    match last_number(member.name()) {
                        Some(number) => labels.picture(number, member)?,
                        // Names of classes and notes stand beside label files.
                        None => others += 1,
                    }
                }
                if others > 0 {
                    notes.push(Note::new(
                        "read/mixed-folder",
                        format!("{others} files without a number in their name were left out."),
                    ));
                }
            }
            false => labels.clip_in_one(source.single()?)?,
        }
        labels.clip.keep_ids_if_all(is_track_id);
        let place = Place::file(source.name());
        if labels.doubles > 0 {
            notes.push(Note::new(
                "read/duplicate-points",
                format!(
                    "{} people were labelled twice in one file, as a second run does; the first counts.",
                    labels.doubles
                ),
            ));
        }
        let flags = labels.clip.has_only_flags();
        let mut recording = labels.clip.finish(self.id(), place)?;
        recording.notes.extend(notes);
        Ok(Recording {
            scale: Scale::Normalised,
            least_score: if flags { 0.0 } else { LEAST_SCORE },
            ..recording
        })
    }
}

/// Whether a line says nothing.
fn is_idle(line: &str) -> bool {
    let line = line.trim();
    line.is_empty() || line.starts_with('#')
}

/// A tail of one number is the confidence or the id. Ids are whole numbers from 1; a confidence is whole in
/// every line only if it is 1 in every line, and then nothing is told by it.
fn is_track_id(tail: &str) -> bool {
    tail.parse::<f64>()
        .is_ok_and(|id| id >= 1.0 && id.fract() == 0.0)
}

struct Labels<'a> {
    clip: Clip<'a>,
    /// How lines are laid out, told by the first.
    form: Option<Form>,
    options: &'a ReadOptions,
    models: &'a Models,
    doubles: usize,
}

impl Labels<'_> {
    /// One file of a folder.
    fn picture(&mut self, number: i64, member: &Member) -> Result<(), Fault> {
        let place = member.place();
        self.clip.frame(number, &place)?;
        let mut kept: Vec<Line> = Vec::new();
        each_line(member, |at, line| {
            if kept.iter().any(|other| other.overlap(&line) > TWICE) {
                self.doubles += 1;
                return Ok(());
            }
            let one = self.detection(&line, &at.frame(number))?;
            if kept.len() < limits::PEOPLE {
                kept.push(line);
            }
            self.clip.person(number, one, &place)
        })
    }

    /// One file alone: a line for each frame, if they follow one person.
    fn clip_in_one(&mut self, member: &Member) -> Result<(), Fault> {
        let place = member.place();
        let (mut count, mut follows, mut last) = (0_usize, true, None::<Line>);
        each_line(member, |at, line| {
            let number = count as i64;
            count += 1;
            follows &= last
                .as_ref()
                .is_none_or(|last| last.overlap(&line) > SUCCESSIVE);
            if follows {
                let one = self.detection(&line, &at.frame(number))?;
                self.clip.person(number, one, &place)?;
            }
            last = Some(line);
            Ok(())
        })?;
        if follows && count >= FEWEST_LINES {
            return Ok(());
        }
        Err(Fault::new(
            FaultKind::Malformed,
            "read/too-few-frames",
            format!("these are the labels of one picture, with {count} people"),
            place,
            "giving the folder that holds one label file for each picture",
        ))
    }

    fn detection(&mut self, line: &Line, place: &Place) -> Result<Detection, Fault> {
        let form = match self.form.take() {
            Some(form) => form,
            None => self.settle(line, place)?,
        };
        let form = self.form.insert(form);
        form.detection(line).ok_or_else(|| {
            Fault::new(
                FaultKind::Malformed,
                "read/length",
                format!(
                    "{} numbers where {} were expected",
                    line.numbers.len(),
                    form.length()
                ),
                place.clone(),
                "exporting again into an empty folder; all lines need the same columns",
            )
        })
    }

    fn settle(&self, line: &Line, place: &Place) -> Result<Form, Fault> {
        let stated = self.options.layout.as_deref();
        match forms_of(line, stated, self.models).as_slice() {
            [form] => Ok(form.clone()),
            [] => Err(Fault::new(
                FaultKind::Unsupported,
                "read/layout",
                format!(
                    "{} numbers a line: class and box leave {}, which are the keypoints of no layout",
                    line.numbers.len(),
                    line.numbers.len().saturating_sub(5)
                ),
                place.clone(),
                "stating the layout with --layout; 17 points make 39 or 56 numbers",
            )),
            several => {
                let named: Vec<String> = several.iter().map(Form::describe).collect();
                let mut options: Vec<String> = several
                    .iter()
                    .map(|form| format!("--layout {}", form.layout))
                    .collect();
                options.dedup();
                Err(Fault::new(
                    FaultKind::Unsupported,
                    "read/layout",
                    format!("a line may be {}", named.join(" or ")),
                    place.clone(),
                    options.join(" or "),
                ))
            }
        }
    }
}

/// Hands every line of numbers to `each`, with its place.
fn each_line(
    member: &Member,
    mut each: impl FnMut(Place, Line) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let mut reader = member.open()?;
    let mut number = 0;
    loop {
        number += 1;
        let Some(text) = line_of(&mut reader, member, number)? else {
            return Ok(());
        };
        if is_idle(&text) {
            continue;
        }
        let place = member.place().line(number);
        match Line::parse(&text).filter(Line::has_box) {
            Some(line) => each(place, line)?,
            None => {
                return Err(Fault::new(
                    FaultKind::Malformed,
                    "read/number",
                    "the line is not class, box and keypoints in numbers",
                    place,
                    "giving a folder with label files alone, exported again",
                ));
            }
        }
    }
}
