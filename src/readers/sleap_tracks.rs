//! SLEAP analysis files: `tracks` and what stands beside it.
//!
//! In: an open HDF5 file. Out: a recording. As stored, `tracks` is (tracks, 2, nodes, frames) and `point_scores`
//! (tracks, nodes, frames); the documentation lists the axes in reverse, and files written so are read as well.
//! Not-a-number is missing.

use super::gather::{Cell, Gather, Key};
use super::hdf5_file::{File, WINDOW};
use super::layout::{Known, Layout};
use super::sketch::listed;
use super::{ReadOptions, limits};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Note};
use crate::track::{Recording, Scale};
use hdf5_reader::Dataset;
use hdf5_reader::group::Group;

/// Where each axis of `tracks` is.
struct Axes {
    track: usize,
    coordinate: usize,
    node: usize,
    frame: usize,
}

/// Axes as stored, and in reverse.
const STORED: [Axes; 2] = [
    Axes {
        track: 0,
        coordinate: 1,
        node: 2,
        frame: 3,
    },
    Axes {
        track: 3,
        coordinate: 2,
        node: 1,
        frame: 0,
    },
];

/// Reads the tracks.
///
/// # Errors
/// The file is damaged, its datasets do not fit each other, or no name is known.
pub fn read(
    reader: &'static str,
    file: &File,
    root: &Group,
    options: &ReadOptions,
    models: &Models,
) -> Result<Recording, Fault> {
    let wrong = |what: String| {
        Fault::new(
            FaultKind::Malformed,
            "read/length",
            what,
            file.place().field("tracks"),
            "exporting the analysis file again",
        )
    };
    let needed = |name: &str| {
        file.dataset(root, name)?
            .ok_or_else(|| wrong(format!("there is no dataset `{name}`")))
    };
    let names = file.texts(&needed("node_names")?)?;
    let known = Known {
        names: Some(&names),
        count: names.len(),
        stated: options.layout.as_deref(),
        usual: &[],
    };
    let layout = Layout::settle(known, models, &file.place().field("node_names"))?;
    let tracks = needed("tracks")?;
    let shape: Vec<u64> = tracks.shape().to_vec();
    let fits = |axes: &&Axes| {
        shape.len() == 4
            && shape.get(axes.coordinate) == Some(&2)
            && shape.get(axes.node) == Some(&(names.len() as u64))
    };
    let Some(axes) = STORED.iter().find(fits) else {
        return Err(wrong(format!(
            "the tracks have the shape {shape:?}, which does not fit {} nodes with x and y",
            names.len()
        )));
    };
    let length = |axis: usize| shape.get(axis).copied().unwrap_or(0);
    let (people, frames) = (length(axes.track), length(axes.frame));
    if people > limits::PEOPLE as u64 || frames > limits::FRAMES as u64 {
        return Err(file.too_many(&tracks, people.max(frames)));
    }
    let scores = scores(file, root, axes, &shape)?;
    if let Some(scores) = &scores
        && scores.shape().len() != 3
    {
        return Err(wrong("the scores do not fit the tracks".to_string()));
    }
    let mut recording = Recording {
        scale: Scale::Pixels,
        ..Recording::new(reader, layout.id.clone(), layout.joints.clone())
    };
    let unused = layout.unused(&names);
    if !unused.is_empty() {
        recording.notes.push(Note::new(
            "read/points-unused",
            format!("No joint is taken from the points {}.", listed(&unused)),
        ));
    }
    let used: Vec<usize> = (0..names.len())
        .filter(|node| {
            names
                .get(*node)
                .is_some_and(|name| !unused.contains(&name.as_str()))
        })
        .collect();
    let ids = ids(file, root, people as usize)?;
    let mut gather = Gather::default();
    let mut start = 0;
    while start < frames {
        let points = Window::read(file, &tracks, axes.frame, start)?;
        let scores = match &scores {
            Some(scores) => Some(Window::read(
                file,
                scores,
                if axes.frame == 0 { 0 } else { 2 },
                start,
            )?),
            None => None,
        };
        for frame in 0..WINDOW.min(frames - start) as usize {
            let number = start as i64 + frame as i64;
            let place = file.place().frame(number);
            let at = gather.frame(Key::Number(number), f64::NAN, &place)?;
            for (track, id) in ids.iter().enumerate() {
                for &node in &used {
                    let value = |coordinate: usize| {
                        let mut index = [0; 4];
                        for (axis, value) in [
                            (axes.track, track),
                            (axes.coordinate, coordinate),
                            (axes.node, node),
                            (axes.frame, frame),
                        ] {
                            if let Some(slot) = index.get_mut(axis) {
                                *slot = value;
                            }
                        }
                        points.at(&index)
                    };
                    let (x, y) = (value(0), value(1));
                    if !(x.is_finite() && y.is_finite()) {
                        continue;
                    }
                    let score = scores.as_ref().map(|scores| match axes.frame {
                        0 => scores.at(&[frame, node, track]),
                        _ => scores.at(&[track, node, frame]),
                    });
                    let cell = Cell {
                        picture: Some([f64::from(x), f64::from(y)]),
                        space: None,
                        // A point placed by hand has no score.
                        score: score.filter(|s| s.is_finite()).map_or(1.0, f64::from),
                    };
                    gather.point(at, id.as_deref(), node, cell);
                }
            }
        }
        start += WINDOW;
    }
    recording.frames = gather.finish(&layout);
    Ok(recording)
}

/// The scores of the points, if they are there.
fn scores(file: &File, root: &Group, axes: &Axes, shape: &[u64]) -> Result<Option<Dataset>, Fault> {
    let length = |axis: usize| shape.get(axis).copied().unwrap_or(0);
    let (track, node, frame) = (length(axes.track), length(axes.node), length(axes.frame));
    let expected = match axes.frame {
        0 => [frame, node, track],
        _ => [track, node, frame],
    };
    match file.dataset(root, "point_scores")? {
        Some(scores) if scores.shape() == expected => Ok(Some(scores)),
        Some(scores) => Err(Fault::new(
            FaultKind::Malformed,
            "read/length",
            format!(
                "the scores have the shape {:?}, the tracks {shape:?}",
                scores.shape()
            ),
            file.place().field("point_scores"),
            "exporting the analysis file again",
        )),
        None => Ok(None),
    }
}

/// Ids of the tracks; a single one needs none.
fn ids(file: &File, root: &Group, people: usize) -> Result<Vec<Option<String>>, Fault> {
    if people == 1 {
        return Ok(vec![None]);
    }
    let names = match file.dataset(root, "track_names")? {
        Some(names)
            if names
                .num_elements()
                .is_ok_and(|count| count == people as u64) =>
        {
            file.texts(&names)?
        }
        _ => Vec::new(),
    };
    let mut known: Vec<String> = Vec::new();
    for index in 0..people {
        // Two tracks of one name must stay two people.
        let name = names
            .get(index)
            .filter(|name| !known.contains(name))
            .cloned();
        known.push(name.unwrap_or_else(|| format!("track {index}")));
    }
    Ok(known.into_iter().map(Some).collect())
}

/// Numbers of some frames, in the order of the file.
struct Window {
    shape: Vec<usize>,
    values: Vec<f32>,
}

impl Window {
    fn read(file: &File, dataset: &Dataset, axis: usize, start: u64) -> Result<Window, Fault> {
        let mut shape: Vec<usize> = dataset
            .shape()
            .iter()
            .map(|length| *length as usize)
            .collect();
        if let Some(frames) = shape.get_mut(axis) {
            *frames = frames.saturating_sub(start as usize).min(WINDOW as usize);
        }
        Ok(Window {
            values: file.window(dataset, axis, start)?,
            shape,
        })
    }

    /// Not-a-number if there is no such place.
    fn at(&self, index: &[usize]) -> f32 {
        let flat = self
            .shape
            .iter()
            .zip(index)
            .fold(0, |flat, (length, at)| flat * length + at);
        self.values.get(flat).copied().unwrap_or(f32::NAN)
    }
}
