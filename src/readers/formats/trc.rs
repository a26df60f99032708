//! TRC marker files.
//!
//! Line 1 `PathFileType`, lines 2 and 3 names and values of the head, line 4 marker names, line 5 axes, then
//! rows of frame, time and x, y, z of each marker. Tabs by rule; commas and spaces occur. The number of frames
//! in the head may be wrong and is not used. Missing is an empty cell, NaN or 0, 0, 0; a marker that is 0, 0, 0
//! in the whole file is the origin of its axes, and a real point.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Note};
use crate::readers::gather::{Cell, Gather, Key};
use crate::readers::layout::Known;
use crate::readers::probe::{Shape, line_of};
use crate::readers::stamps::{self, Unit};
use crate::readers::table::{parse_number, plain};
use crate::readers::{Fit, Layout, Member, Probe, ReadOptions, Reader, Source, limits};
use crate::track::Recording;

/// The reader.
pub struct Trc;

impl Reader for Trc {
    fn id(&self) -> &'static str {
        "trc"
    }

    fn title(&self) -> &'static str {
        "TRC marker file"
    }

    fn about(&self) -> &'static str {
        "Reads marker positions with their rate and unit. Which axis is up is not stated in such files: it is \
         told by the trunk, or by --up. Markers are told by name; one without a side counts as the right arm. \
         0, 0, 0 is missing unless the marker never moves from it."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        match probe.shape {
            Shape::Markers => Fit::certain("it begins with PathFileType"),
            _ => Fit::no("it does not begin with PathFileType"),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let member = source.single()?;
        let mut reader = member.open()?;
        let head = Head::read(&mut *reader, member)?;
        let names: Vec<String> = head.markers.iter().map(|(name, _)| name.clone()).collect();
        let known = Known {
            names: Some(&names),
            count: names.len(),
            stated: options.layout.as_deref(),
            usual: &[],
        };
        let layout = Layout::settle(known, models, &member.place().line(4))?;
        let rows = Rows::read(&mut *reader, member, &head)?;
        let mut recording = Recording {
            rate_hz: head.rate,
            metres_per_unit: head.metres_per_unit,
            measured_depth: true,
            ..Recording::new(self.id(), layout.id.clone(), layout.joints.clone())
        };
        if let Some(stated) = head.frames.filter(|stated| *stated != rows.count) {
            recording.notes.push(Note::new(
                "read/frame-count",
                format!(
                    "The head says {stated} frames; {} are there and were read.",
                    rows.count
                ),
            ));
        }
        if let Some(stated) = head.marker_count.filter(|stated| *stated != names.len()) {
            recording.notes.push(Note::new(
                "read/marker-count",
                format!(
                    "The head says {stated} markers; {} are named and were read.",
                    names.len()
                ),
            ));
        }
        layout.tell_unused(&names, &mut recording);
        if let Some(name) = rows.origin.and_then(|marker| names.get(marker)) {
            recording.notes.push(Note::new(
                "read/origin-marker",
                format!("Marker `{name}` is 0, 0, 0 throughout: it is the origin of the axes and a real point."),
            ));
        }
        recording.frames = rows.gather.finish(&layout);
        stamps::settle(
            &mut recording.frames,
            Some(Unit::Seconds),
            &mut recording.notes,
        );
        Ok(recording)
    }
}

/// The five lines before the data.
struct Head {
    rate: Option<f64>,
    frames: Option<usize>,
    marker_count: Option<usize>,
    metres_per_unit: Option<f64>,
    /// Name and column of x.
    markers: Vec<(String, usize)>,
    separator: Option<char>,
    /// The fifth line, where it is data already because the line of axes was left out.
    first_row: Option<String>,
}

fn cells(line: &str, separator: Option<char>) -> Vec<&str> {
    match separator {
        Some(separator) => line.split(separator).map(str::trim).collect(),
        None => line.split_whitespace().collect(),
    }
}

/// Tab if there is one, else comma, else any white space.
fn separator_of(line: &str) -> Option<char> {
    ['\t', ',']
        .into_iter()
        .find(|separator| line.contains(*separator))
}

impl Head {
    fn read(reader: &mut dyn std::io::BufRead, member: &Member) -> Result<Head, Fault> {
        let mut lines = Vec::new();
        for number in 1..=5 {
            let line = line_of(reader, member, number)?.ok_or_else(|| {
                Fault::new(
                    FaultKind::Malformed,
                    "read/length",
                    format!("the file ends after {} lines of its head", number - 1),
                    member.place().line(number),
                    "exporting the markers again",
                )
            })?;
            if number == 1 && !line.trim_start().starts_with("PathFileType") {
                return Err(Fault::new(
                    FaultKind::Malformed,
                    "read/syntax",
                    "a marker file begins with PathFileType, this one does not",
                    member.place().line(1),
                    "leaving out --format, so that the format is told from the content",
                ));
            }
            lines.push(line);
        }
        let line = |index: usize| lines.get(index).map_or("", String::as_str);
        let separator = separator_of(line(3));
        let (keys, values) = (
            cells(line(1), separator_of(line(1))),
            cells(line(2), separator_of(line(2))),
        );
        let value = |key: &str| {
            let at = keys.iter().position(|name| plain(name) == key)?;
            values.get(at).copied()
        };
        let number = |key: &str| value(key).and_then(|text| text.parse::<f64>().ok());
        let titles = cells(line(3), separator);
        let mut markers: Vec<(String, usize)> = titles
            .iter()
            .enumerate()
            .skip(2)
            .filter(|(_, name)| !name.is_empty())
            .map(|(index, name)| ((*name).to_string(), index))
            .collect();
        // Names side by side, without the two empty cells after each, stand for three columns all the same.
        let side_by_side = |(order, marker): (usize, &(String, usize))| marker.1 == 2 + order;
        if separator.is_none()
            || (markers.len() > 1 && markers.iter().enumerate().all(side_by_side))
        {
            for (order, marker) in markers.iter_mut().enumerate() {
                marker.1 = 2 + 3 * order;
            }
        }
        if markers.is_empty() || markers.len() > limits::KEYPOINTS {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/length",
                format!("{} markers are named", markers.len()),
                member.place().line(4),
                "exporting the markers again, with their names in the fourth line",
            ));
        }
        let fifth = cells(line(4), separator_of(line(4)));
        let is_data = fifth
            .first()
            .is_some_and(|cell| cell.parse::<f64>().is_ok());
        Ok(Head {
            first_row: is_data.then(|| line(4).to_string()),
            marker_count: number("nummarkers")
                .filter(|count| *count >= 0.0)
                .map(|count| count as usize),
            rate: number("datarate")
                .or_else(|| number("camerarate"))
                .filter(|rate| *rate > 0.0),
            frames: number("numframes")
                .filter(|frames| *frames >= 0.0)
                .map(|frames| frames as usize),
            metres_per_unit: value("units").and_then(|unit| match plain(unit).as_str() {
                "m" | "meters" | "metres" => Some(1.0),
                "cm" | "centimeters" | "centimetres" => Some(0.01),
                "mm" | "millimeters" | "millimetres" => Some(0.001),
                _ => None,
            }),
            markers,
            separator,
        })
    }
}

struct Rows {
    gather: Gather,
    count: usize,
    /// The one marker that is 0, 0, 0 throughout.
    origin: Option<usize>,
}

impl Rows {
    fn read(
        reader: &mut dyn std::io::BufRead,
        member: &Member,
        head: &Head,
    ) -> Result<Rows, Fault> {
        let mut gather = Gather::default();
        let (mut count, mut number) = (0, 5);
        let mut always_zero = vec![true; head.markers.len()];
        let mut frames = Vec::new();
        let mut first_row = head.first_row.clone();
        if first_row.is_some() {
            number -= 1;
        }
        while let Some(line) = {
            number += 1;
            match first_row.take() {
                Some(line) => Some(line),
                None => line_of(reader, member, number)?,
            }
        } {
            // Rows in spaces below a head in tabs occur.
            let separator = head.separator.filter(|separator| line.contains(*separator));
            let row = cells(&line, separator);
            if row.iter().all(|cell| cell.is_empty()) {
                continue;
            }
            count += 1;
            let place = member.place().line(number);
            let whole = 2 + 3 * head.markers.len();
            if separator.is_none() && row.len() != whole {
                return Err(Fault::new(
                    FaultKind::Malformed,
                    "read/length",
                    format!(
                        "{} numbers where {whole} belong, and spaces show no empty cells",
                        row.len()
                    ),
                    place,
                    "exporting the markers again, separated by tabs",
                ));
            }
            let value = |column: usize, field: &str| {
                let cell = row.get(column).copied().unwrap_or_default();
                parse_number(cell, separator.map_or(b' ', |c| c as u8)).ok_or_else(|| {
                    Fault::new(
                        FaultKind::Malformed,
                        "read/number",
                        format!(
                            "`{}` is not a number",
                            cell.chars().take(40).collect::<String>()
                        ),
                        place.clone().field(field),
                        "correcting the cell, or leaving it empty if the marker was not seen",
                    )
                })
            };
            let frame_number = value(0, "Frame#")?;
            if !(frame_number.is_finite() && frame_number.abs() < 9e15) {
                return Err(Fault::new(
                    FaultKind::Malformed,
                    "read/number",
                    "the row has no frame number",
                    place.field("Frame#"),
                    "numbering the rows 1, 2, 3, ...",
                ));
            }
            let time = value(1, "Time")?;
            let frame = gather.frame(Key::Number(frame_number.round() as i64), time, &place)?;
            frames.push(frame);
            for (marker, (name, column)) in head.markers.iter().enumerate() {
                let column = match separator {
                    Some(_) => *column,
                    None => 2 + 3 * marker,
                };
                let at = [
                    value(column, name)?,
                    value(column + 1, name)?,
                    value(column + 2, name)?,
                ];
                if at == [0.0, 0.0, 0.0] {
                    continue;
                }
                if let Some(zero) = always_zero.get_mut(marker) {
                    *zero = false;
                }
                let cell = Cell {
                    picture: None,
                    space: Some(at),
                    score: 1.0,
                };
                gather.point(frame, None, marker, cell);
            }
        }
        // Two markers cannot both be the origin: then 0, 0, 0 says missing.
        let zero: Vec<usize> = (0..always_zero.len())
            .filter(|marker| always_zero.get(*marker) == Some(&true))
            .collect();
        let origin = match zero.as_slice() {
            [only] if head.markers.len() > 1 && count > 0 => Some(*only),
            _ => None,
        };
        if let Some(marker) = origin {
            let cell = Cell {
                picture: None,
                space: Some([0.0; 3]),
                score: 1.0,
            };
            for frame in frames {
                gather.point(frame, None, marker, cell);
            }
        }
        Ok(Rows {
            gather,
            count,
            origin,
        })
    }
}
