//! C3D marker files.
//!
//! Points are read frame after frame; analog channels between them are passed over and events are not looked
//! at. A point is missing if its residual is negative, or if it is 0, 0, 0; a marker that is 0, 0, 0 in the
//! whole file is the origin of its axes, and a real point. Labels may carry the subject before a colon: each
//! subject is then a person of its own. The number of frames in the head may be wrong; fewer that are there
//! are read with a note.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Note};
use crate::readers::c3d_head::{Head, Storage, fill};
use crate::readers::gather::{Cell, Gather, Key};
use crate::readers::layout::Known;
use crate::readers::probe::Shape;
use crate::readers::sketch::listed;
use crate::readers::source::io_fault;
use crate::readers::table::plain;
use crate::readers::{BinaryKind, Fit, Layout, Member, Probe, ReadOptions, Reader, Source, limits};
use crate::track::Recording;
use std::io::{self, Read};

/// The reader.
pub struct C3d;

impl Reader for C3d {
    fn id(&self) -> &'static str {
        "c3d"
    }

    fn title(&self) -> &'static str {
        "C3D marker file"
    }

    fn about(&self) -> &'static str {
        "Reads marker positions with their rate and unit, stored as floats or as scaled integers in the Intel \
         form; analog channels and events are passed over. Which axis is up is told by the trunk, or by --up. \
         Markers are told by name, with or without the subject before a colon; one without a side counts as \
         the right arm. A negative residual or 0, 0, 0 is missing, unless the marker never moves from \
         0, 0, 0. Files in the DEC or MIPS form must be saved again."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        match probe.shape {
            Shape::Binary(BinaryKind::C3d, _) => Fit::certain("it begins as a C3D file"),
            _ => Fit::no("it does not begin as a C3D file"),
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
        let markers = Markers::of(&head);
        let known = Known {
            names: Some(&markers.names),
            count: markers.names.len(),
            stated: options.layout.as_deref(),
            usual: &[],
        };
        let place = member.place().field("POINT:LABELS");
        let layout = Layout::settle(known, models, &place)?;
        let mut recording = Recording {
            rate_hz: head.rate_hz,
            metres_per_unit: match plain(&head.unit).as_str() {
                "m" | "meter" | "meters" | "metre" | "metres" => Some(1.0),
                "cm" | "centimeters" | "centimetres" => Some(0.01),
                "mm" | "millimeters" | "millimetres" => Some(0.001),
                "in" | "inch" | "inches" => Some(0.0254),
                _ => None,
            },
            measured_depth: true,
            ..Recording::new(self.id(), layout.id.clone(), layout.joints.clone())
        };
        let unused = layout.unused(&markers.names);
        let used = markers.used(&unused);
        let mut frames = Frames::new(&head, &used, member);
        frames.read(&mut *reader)?;
        recording.notes.extend(frames.count_note());
        if !unused.is_empty() {
            recording.notes.push(Note::new(
                "read/points-unused",
                format!("No joint is taken from the markers {}.", listed(&unused)),
            ));
        }
        if let Some(label) = frames.set_origin() {
            recording.notes.push(Note::new(
                "read/origin-marker",
                format!("Marker `{label}` is 0, 0, 0 throughout: it is the origin of the axes and a real point."),
            ));
        }
        recording.frames = frames.gather.finish(&layout);
        Ok(recording)
    }
}

/// One marker of the file that a joint is taken from.
struct Marker<'a> {
    /// Place in a frame of the file.
    column: usize,
    label: &'a str,
    subject: Option<&'a str>,
    /// Place in the list of names.
    name: usize,
}

/// Labels taken apart into subjects and names.
struct Markers<'a> {
    /// Each name once, whichever subjects have it.
    names: Vec<String>,
    all: Vec<Marker<'a>>,
}

impl<'a> Markers<'a> {
    fn of(head: &'a Head) -> Markers<'a> {
        let mut subjects: Vec<&str> = head
            .labels
            .iter()
            .filter_map(|label| label.rsplit_once(':'))
            .map(|(subject, _)| subject)
            .collect();
        subjects.sort_unstable();
        subjects.dedup();
        let (mut names, mut all) = (Vec::new(), Vec::new());
        for (column, label) in head.labels.iter().enumerate() {
            // A single subject needs no id.
            let (subject, name) = match label.rsplit_once(':') {
                Some((subject, name)) => (Some(subject).filter(|_| subjects.len() > 1), name),
                None => (None, label.as_str()),
            };
            let known = names.iter().position(|known| known == name);
            let name = known.unwrap_or_else(|| {
                names.push(name.to_string());
                names.len() - 1
            });
            all.push(Marker {
                column,
                label,
                subject,
                name,
            });
        }
        Markers { names, all }
    }

    fn used(&self, unused: &[&str]) -> Vec<&Marker<'a>> {
        let of_joint = |marker: &&Marker<'a>| {
            self.names
                .get(marker.name)
                .is_some_and(|name| !unused.contains(&name.as_str()))
        };
        self.all.iter().filter(of_joint).collect()
    }
}

struct Frames<'a> {
    head: &'a Head,
    markers: &'a [&'a Marker<'a>],
    member: &'a Member,
    gather: Gather,
    /// Places of the frames in `gather`.
    places: Vec<usize>,
    /// Markers that were seen nowhere but at 0, 0, 0.
    always_zero: Vec<bool>,
    /// Bytes that were left over at the end.
    torn: usize,
}

impl<'a> Frames<'a> {
    fn new(head: &'a Head, markers: &'a [&'a Marker<'a>], member: &'a Member) -> Frames<'a> {
        Frames {
            head,
            markers,
            member,
            gather: Gather::default(),
            places: Vec::new(),
            always_zero: vec![true; markers.len()],
            torn: 0,
        }
    }

    fn read(&mut self, reader: &mut dyn Read) -> Result<(), Fault> {
        let number = match self.head.storage {
            Storage::Float => 4,
            Storage::Scaled(_) => 2,
        };
        let (points, analog) = (4 * number * self.head.points, number * self.head.analog);
        let mut buffer = vec![0; points];
        let failed = |error: io::Error| io_fault(self.member.place(), &error);
        // Without a count the frames end where the file does.
        let stated = self.head.frames.unwrap_or(limits::FRAMES + 1);
        while self.places.len() < stated {
            let filled = fill(reader, &mut buffer).map_err(failed)?;
            if filled < points {
                self.torn = filled;
                break;
            }
            let number = self.head.first_frame + self.places.len() as i64;
            let place = self.member.place().frame(number);
            let frame = self.gather.frame(Key::Number(number), f64::NAN, &place)?;
            self.places.push(frame);
            for (index, marker) in self.markers.iter().enumerate() {
                let Some([x, y, z, residual]) = point(&buffer, marker.column, self.head.storage)
                else {
                    continue;
                };
                let at = [x, y, z];
                if residual < 0.0 || at == [0.0; 3] || at.iter().any(|value| !value.is_finite()) {
                    // A marker that was lost once is no origin.
                    if let Some(zero) = self.always_zero.get_mut(index) {
                        *zero &= residual >= 0.0 && at == [0.0; 3];
                    }
                    continue;
                }
                if let Some(zero) = self.always_zero.get_mut(index) {
                    *zero = false;
                }
                self.gather
                    .point(frame, marker.subject, marker.name, seen(at));
            }
            let skipped = io::copy(&mut reader.take(analog as u64), &mut io::sink());
            // The points of a frame are whole even if its analog numbers are cut off.
            skipped.map_err(failed)?;
        }
        if self.places.is_empty() {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/length",
                "the file ends before its first frame is whole",
                self.member.place().frame(self.head.first_frame),
                "copying or exporting the file again",
            ));
        }
        // Only at its end do packed data show whether they are whole.
        io::copy(reader, &mut io::sink()).map_err(failed)?;
        Ok(())
    }

    fn count_note(&self) -> Option<Note> {
        let read = self.places.len();
        let note = |text: String| Some(Note::new("read/frame-count", text));
        match (self.head.frames, self.head.other_frames) {
            (Some(stated), _) if stated > read => note(format!(
                "The head says {stated} frames; the file ends after {read} whole ones, which were read."
            )),
            (_, Some(other)) => note(format!(
                "The header block says {other} frames, the parameters {read}, which were read."
            )),
            (None, _) if self.torn > 0 => note(format!(
                "The head does not say how many frames there are; {read} whole ones were read to the end."
            )),
            _ => None,
        }
    }

    /// Two markers cannot both be the origin: then 0, 0, 0 says missing.
    fn set_origin(&mut self) -> Option<&'a str> {
        let mut zero =
            (0..self.always_zero.len()).filter(|index| self.always_zero.get(*index) == Some(&true));
        let (Some(only), None) = (zero.next(), zero.next()) else {
            return None;
        };
        let marker = self.markers.get(only).filter(|_| self.markers.len() > 1)?;
        for frame in &self.places {
            self.gather
                .point(*frame, marker.subject, marker.name, seen([0.0; 3]));
        }
        Some(marker.label)
    }
}

fn seen(at: [f64; 3]) -> Cell {
    Cell {
        picture: None,
        space: Some(at),
        score: 1.0,
    }
}

/// x, y, z and residual of a point of a frame.
fn point(frame: &[u8], column: usize, storage: Storage) -> Option<[f64; 4]> {
    let mut numbers = [0.0; 4];
    for (index, number) in numbers.iter_mut().enumerate() {
        let at = 4 * column + index;
        *number = match storage {
            Storage::Float => {
                let bytes = frame.get(4 * at..4 * at + 4)?.try_into().ok()?;
                f64::from(f32::from_le_bytes(bytes))
            }
            Storage::Scaled(scale) => {
                let bytes = frame.get(2 * at..2 * at + 2)?.try_into().ok()?;
                let factor = if index < 3 { f64::from(scale) } else { 1.0 };
                f64::from(i16::from_le_bytes(bytes)) * factor
            }
        };
    }
    Some(numbers)
}
