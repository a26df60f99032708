//! The one way in: look, choose the reader, read, check, assemble.

use super::plausible::{self, Plausible};
use super::printable;
use super::{Degree, Probe, ReadOptions, Reader, Source, Verdict, choose, named, verdicts};
use crate::models::{Models, NameMap, Order};
use crate::note::{Fault, FaultKind, Note, Place};
use crate::track::{Person, PictureSize, Recording, Track, assemble};
use std::path::Path;

/// A file as opened.
#[derive(Debug, Clone)]
pub struct Opened {
    /// The track of the chosen person.
    pub track: Track,
    /// What the file is.
    pub facts: Facts,
    /// SHA-256 of the bytes read, hexadecimal.
    pub sha256: String,
    /// What was assumed, left out or repaired, in order.
    pub notes: Vec<Note>,
    /// Every reader's verdict, best first.
    pub verdicts: Vec<Verdict>,
}

/// What a file is, before the person was chosen.
#[derive(Debug, Clone, PartialEq)]
pub struct Facts {
    /// Reader id.
    pub reader: &'static str,
    /// Layout id.
    pub layout: String,
    /// Whether only the number of keypoints spoke for the layout.
    pub layout_by_count: bool,
    /// Whether the file says that its picture is mirrored.
    pub mirrored: bool,
    /// People found, by first appearance.
    pub people: Vec<Person>,
    /// Frames in the file, before doubles were merged.
    pub frames: usize,
    /// Frames with at least one person.
    pub frames_with_people: usize,
    /// Frames a second as the file states it.
    pub rate_hz: Option<f64>,
    /// Whether the file has time stamps.
    pub stamped: bool,
    /// Size of the picture as the file states it.
    pub size: Option<PictureSize>,
    /// Whether the file has picture coordinates.
    pub picture: bool,
    /// Whether the file has world coordinates.
    pub space: bool,
    /// Names of points that no joint is taken from.
    pub unused: Vec<String>,
}

/// Opens a path, or standard input if it is `-`.
///
/// # Errors
/// What is wrong, where, and what to do.
pub fn open(path: &Path, options: &ReadOptions, models: &Models) -> Result<Opened, Fault> {
    let source = Source::open(path).map_err(printable::fault)?;
    open_source(&source, options, models)
}

/// Opens a source.
///
/// # Errors
/// What is wrong, where, and what to do.
pub fn open_source(
    source: &Source,
    options: &ReadOptions,
    models: &Models,
) -> Result<Opened, Fault> {
    let inside = source.unpacked().map_err(printable::fault)?;
    let source = inside.as_ref().unwrap_or(source);
    mapped(source, options, models).map_err(|mut fault| {
        // What the user typed has no place in the file.
        if fault.kind != FaultKind::Usage || fault.place == Place::default() {
            fault
                .place
                .file
                .get_or_insert_with(|| source.name().to_string());
        }
        printable::fault(fault)
    })
}

/// With the names that the user maps.
fn mapped(source: &Source, options: &ReadOptions, models: &Models) -> Result<Opened, Fault> {
    if options.map.is_empty() {
        return opened(source, options, models);
    }
    let named = Models {
        names: NameMap::of(&options.map, models)?,
        ..models.clone()
    };
    opened(source, options, &named)
}

fn opened(source: &Source, options: &ReadOptions, models: &Models) -> Result<Opened, Fault> {
    // The digest waits for nothing, and another core may be idle.
    let (recorded, sha256) = rayon::join(|| recorded(source, options, models), || source.sha256());
    let (recording, verdicts) = recorded?;
    let mut with_people = 0;
    let (mut stamped, mut picture, mut space) = (false, false, false);
    recording.frames.each(|frame| {
        with_people += usize::from(!frame.people.is_empty());
        stamped |= frame.stamp_s.is_some();
        picture |= frame.people.iter().any(|one| !one.picture.is_empty());
        space |= frame.people.iter().any(|one| !one.space.is_empty());
    });
    let mut facts = Facts {
        reader: recording.reader,
        layout: recording.layout.clone(),
        layout_by_count: recording.layout_by_count,
        mirrored: recording.mirrored,
        people: Vec::new(),
        frames: recording.frames.len(),
        frames_with_people: with_people,
        rate_hz: recording.rate_hz,
        stamped,
        size: recording.size,
        picture,
        space,
        unused: recording.unused.clone(),
    };
    let mut assembled = assemble(recording, &options.assemble())?;
    assembled.notes.splice(0..0, source.notes().iter().cloned());
    for person in &mut assembled.people {
        printable::label(&mut person.label);
    }
    facts.unused.iter_mut().for_each(printable::label);
    printable::label(&mut assembled.track.person);
    printable::notes(&mut assembled.notes);
    facts.people = assembled.people;
    Ok(Opened {
        track: assembled.track,
        facts,
        sha256: sha256?,
        notes: assembled.notes,
        verdicts,
    })
}

/// What the reader that fits made of the source, and every reader's verdict.
fn recorded(
    source: &Source,
    options: &ReadOptions,
    models: &Models,
) -> Result<(Recording, Vec<Verdict>), Fault> {
    let stated = options.format.as_deref().map(named).transpose()?;
    let (probe, verdicts) = look(source, models)?;
    let reader = match stated {
        Some(reader) => reader,
        None => choose(&verdicts, &probe, Place::file(source.name()))?,
    };
    idle_option(reader, options)?;
    let recording = checked(reader, source, options, models)?;
    source.verify()?;
    Ok((recording, verdicts))
}

/// The look and every reader's verdict. The beginning of a long file is enough where one reader alone is certain of it.
fn look(source: &Source, models: &Models) -> Result<(Probe, Vec<Verdict>), Fault> {
    for further in [false, true] {
        let Some(probe) = Probe::of_beginning(source, further)? else {
            break;
        };
        let verdicts = verdicts(&probe, models);
        let certain = |verdict: &&Verdict| verdict.fit.degree == Degree::Certain;
        if verdicts.iter().filter(certain).count() == 1 {
            return Ok((probe, verdicts));
        }
    }
    let probe = Probe::of(source)?;
    let verdicts = verdicts(&probe, models);
    Ok((probe, verdicts))
}

/// A stated layout is believed, but what is no body in it is told.
fn doubt(recording: &mut Recording, options: &ReadOptions) {
    if options.layout.is_none() {
        return;
    }
    if let Plausible::Tested {
        is_body: false,
        share,
    } = plausible::test(recording)
    {
        recording.notes.push(Note::new(
            "read/layout-doubtful",
            format!(
                "In the stated layout {} the keypoints form a body in only {:.0} % of the detections: if it is not \
                 the estimator's, every number below is wrong.",
                recording.layout,
                100.0 * share
            ),
        ));
    }
}

/// An option that the format makes no use of would be believed to have been obeyed.
fn idle_option(reader: &dyn Reader, options: &ReadOptions) -> Result<(), Fault> {
    let idle = if options.axis_order.is_some() && !reader.takes_axis_order() {
        ("--axis-order", "which coordinate comes first")
    } else if !options.map.is_empty() && !reader.takes_names() {
        ("--map", "which joint a point is")
    } else {
        return Ok(());
    };
    let (option, tells) = idle;
    Err(Fault::new(
        FaultKind::Usage,
        "usage/bad-value",
        format!(
            "{option} has no use: the format `{}` says {tells}",
            reader.id()
        ),
        Place::default().field(option),
        format!("leaving out {option}"),
    ))
}

/// Reads, and where only the number of keypoints spoke for the layout, looks whether they form a body.
fn checked(
    reader: &dyn Reader,
    source: &Source,
    options: &ReadOptions,
    models: &Models,
) -> Result<Recording, Fault> {
    let mut recording = reader.read(source, options, models)?;
    if !recording.layout_by_count {
        doubt(&mut recording, options);
        return Ok(recording);
    }
    let share = match plausible::test(&recording) {
        Plausible::Tested { is_body: true, .. } => return Ok(recording),
        Plausible::Untested => {
            recording.notes.push(Note::new(
                "read/layout-unchecked",
                format!(
                    "The layout {} was told by the number of keypoints alone; too few frames show head, \
                     shoulders and hips to check it.",
                    recording.layout
                ),
            ));
            return Ok(recording);
        }
        Plausible::Tested { share, .. } => share,
    };
    let count = models
        .skeleton(&recording.layout)
        .map_or(0, |layout| layout.keypoints.len());
    let others: Vec<&str> = models
        .skeletons
        .values()
        .filter(|other| other.order == Order::Fixed && other.keypoints.len() == count)
        .map(|other| other.id.as_str())
        .filter(|id| *id != recording.layout)
        .collect();
    let fitting: Vec<&str> = others
        .iter()
        .copied()
        .filter(|id| {
            let layout = Some((*id).to_string());
            let options = ReadOptions {
                layout,
                ..options.clone()
            };
            let read = reader.read(source, &options, models);
            read.is_ok_and(|other| {
                matches!(
                    plausible::test(&other),
                    Plausible::Tested { is_body: true, .. }
                )
            })
        })
        .collect();
    let (what, remedy) = match fitting.as_slice() {
        [] => (
            "and no other layout of that count does better".to_string(),
            format!(
                "stating the layout, such as --layout {}, if it is right",
                recording.layout
            ),
        ),
        fitting => (
            format!("but they do as {}", fitting.join(" or ")),
            format!("--layout {}", fitting.join(" or --layout ")),
        ),
    };
    Err(Fault::new(
        FaultKind::Unsupported,
        "read/layout",
        format!(
            "read as {}, the {count} keypoints form a body in only {:.0} % of the detections, {what}",
            recording.layout,
            100.0 * share
        ),
        Place::file(source.name()),
        remedy,
    ))
}
