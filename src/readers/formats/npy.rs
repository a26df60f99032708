//! NumPy arrays of poses: frames x keypoints x 2, 3 or 4 numbers.
//!
//! An array has no names, rate or units. Without `--layout` only 17 keypoints with three or four numbers are
//! taken, as Human3.6M joints, and then looked at for a body's shape. An axis of length 1 for the clip or the
//! person may stand beside that of the frames. The fourth number is a score. Not-a-number is missing; so is
//! 0, 0, 0, unless it is the one point that never moves from there, the root of the coordinates.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::readers::array::Array;
use crate::readers::axis_order;
use crate::readers::layout::Known;
use crate::readers::probe::Shape;
use crate::readers::{
    BinaryKind, Fit, Layout, Probe, ReadOptions, Reader, Source, gather, limits, unnamed,
};
use crate::track::{Detection, Frames, Recording, RecordingFrame};
use std::io::Read;

/// The layout that is taken for 17 points in space: what pose lifters give.
const LIFTED: &str = "h36m-17";

/// Id of the reader.
const ID: &str = "npy";

/// The reader.
pub struct Npy;

impl Reader for Npy {
    fn id(&self) -> &'static str {
        ID
    }

    fn title(&self) -> &'static str {
        "NumPy array of poses"
    }

    fn about(&self) -> &'static str {
        "Reads arrays of frames x keypoints x 2, 3 or 4 numbers (x, y; x, y, score; x, y, z; x, y, z, score) of \
         32- or 64-bit numbers, as numpy.save writes them. Such a file has no names: 17 keypoints with three or \
         four numbers are taken as Human3.6M joints if they form a body, everything else needs --layout. It \
         has no rate: state --fps. Positions in space must be relative to the hips or to a camera; up and the \
         unit are told by the body, or up by --up. The axes are taken as right-handed: if a lifter turned \
         them into a mirror image, front and back are exchanged. Shares of a picture need --size."
    }

    fn takes_axis_order(&self) -> bool {
        true
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        match probe.shape {
            Shape::Binary(BinaryKind::Npy, _) => Fit::certain("it begins as a NumPy array"),
            _ => Fit::no("it does not begin as a NumPy array"),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let member = source.single()?;
        recording(Box::new(member.open()?), member.place(), options, models)
    }
}

/// Reads one array, wherever its bytes come from.
///
/// # Errors
/// It is damaged, its shape is not that of poses, or what its numbers are cannot be told.
pub fn recording(
    bytes: Box<dyn Read + '_>,
    place: Place,
    options: &ReadOptions,
    models: &Models,
) -> Result<Recording, Fault> {
    let array = Array::open(bytes, place.clone())?;
    let poses = Poses::of(array.shape(), &place)?;
    let layout = poses.layout(options, models, &place)?;
    let mut rows = Rows::new(&poses, &layout);
    array.rows([poses.frames, poses.keypoints, poses.numbers], &mut |row| {
        rows.add(row);
        Ok(())
    })?;
    let mut recording = Recording {
        layout_by_count: layout.by_count,
        frames: rows.finish(),
        ..Recording::new(ID, layout.id.clone(), layout.joints.clone())
    };
    unnamed::settle(&mut recording, poses.numbers, &place)?;
    let in_picture = recording.frames.any_person(|one| !one.picture.is_empty());
    match (options.axis_order, in_picture) {
        (Some(order), true) => axis_order::turn(&mut recording, Some(order))?,
        (Some(_), false) => {
            return Err(Fault::new(
                FaultKind::Usage,
                "usage/bad-value",
                "--axis-order is about picture coordinates, and these points are in space",
                Place::default().field("--axis-order"),
                "leaving out --axis-order",
            ));
        }
        // Only what is clearly turned is turned.
        (None, true) if axis_order::is_yx(&recording) => axis_order::turn(&mut recording, None)?,
        (None, _) => {}
    }
    Ok(recording)
}

/// The axes of an array of poses.
struct Poses {
    frames: usize,
    keypoints: usize,
    /// Numbers of one point, 2 to 4.
    numbers: usize,
}

impl Poses {
    fn of(shape: &[u64], place: &Place) -> Result<Poses, Fault> {
        let found = match *shape {
            [frames, keypoints, numbers]
            | [1, frames, keypoints, numbers]
            | [frames, 1, keypoints, numbers] => Some((frames, keypoints, numbers)),
            _ => None,
        };
        let fits = found.filter(|(_, keypoints, numbers)| {
            (2..=4).contains(numbers) && (1..=limits::KEYPOINTS as u64).contains(keypoints)
        });
        let Some((frames, keypoints, numbers)) = fits else {
            let axes: Vec<String> = shape.iter().take(8).map(u64::to_string).collect();
            return Err(Fault::new(
                FaultKind::Unsupported,
                "read/layout",
                format!(
                    "the shape of the array is ({}), not (frames, keypoints, 2, 3 or 4) of one person",
                    axes.join(", ")
                ),
                place.clone(),
                "saving the array in that shape, such as (300, 17, 3), one person at a time",
            ));
        };
        if frames > limits::FRAMES as u64 {
            return Err(Fault::new(
                FaultKind::Limit,
                "read/limit",
                format!(
                    "the head states {frames} frames; at most {} are read",
                    limits::FRAMES
                ),
                place.clone(),
                "cutting the clip into shorter ones",
            ));
        }
        Ok(Poses {
            frames: frames as usize,
            keypoints: keypoints as usize,
            numbers: numbers as usize,
        })
    }

    fn layout(
        &self,
        options: &ReadOptions,
        models: &Models,
        place: &Place,
    ) -> Result<Layout, Fault> {
        if options.layout.is_none() && self.numbers == 2 {
            return Err(Fault::new(
                FaultKind::Unsupported,
                "read/layout",
                format!(
                    "{} keypoints with x and y alone, without names; several layouts could have them",
                    self.keypoints
                ),
                place.clone(),
                "stating the layout, such as --layout coco-17",
            ));
        }
        let known = Known {
            names: None,
            count: self.keypoints,
            stated: options.layout.as_deref(),
            usual: &[LIFTED],
        };
        Layout::settle(known, models, place)
    }
}

/// Frames as they are read.
struct Rows<'a> {
    poses: &'a Poses,
    layout: &'a Layout,
    frames: Frames,
    /// Keypoints that were 0, 0, 0 in every frame with anything in it.
    always_zero: Vec<bool>,
}

impl<'a> Rows<'a> {
    fn new(poses: &'a Poses, layout: &'a Layout) -> Rows<'a> {
        Rows {
            poses,
            layout,
            frames: Frames::default(),
            always_zero: vec![true; poses.keypoints],
        }
    }

    /// Takes the numbers of one frame. A point at zero waits with the score -1 - index until the end, when it
    /// is known which one is the root.
    fn add(&mut self, row: &[f32]) {
        let number = self.frames.len() as i64;
        let empty = row.iter().all(|value| *value == 0.0 || value.is_nan());
        let points: Vec<[f32; 4]> = row
            .chunks(self.poses.numbers)
            .enumerate()
            .map(|(index, point)| {
                let at = |axis: usize| point.get(axis).copied().unwrap_or(0.0);
                let (at, score) = ([at(0), at(1), at(2)], point.get(3).copied().unwrap_or(1.0));
                let zero = match self.poses.numbers {
                    // x, y may be followed by a score.
                    2 | 3 if at[0] == 0.0 && at[1] == 0.0 => {
                        self.poses.numbers == 2 || at[2] == 0.0
                    }
                    _ => at == [0.0; 3],
                };
                if let Some(always) = self.always_zero.get_mut(index) {
                    *always &= zero || empty;
                }
                match (zero, at.iter().all(|value| value.is_finite())) {
                    (true, _) => [0.0, 0.0, 0.0, -1.0 - index as f32],
                    (false, true) if score > 0.0 => [at[0], at[1], at[2], score],
                    _ => [f32::NAN; 4],
                }
            })
            .collect();
        let one = Detection {
            space: points,
            ..Detection::default()
        };
        let people = match empty {
            true => None,
            false => gather::joints(one, self.layout),
        };
        self.frames.push(RecordingFrame {
            number,
            stamp_s: None,
            people: people.into_iter().collect(),
        });
    }

    fn finish(mut self) -> Frames {
        let mut zero =
            (0..self.always_zero.len()).filter(|index| self.always_zero.get(*index) == Some(&true));
        let root = match (zero.next(), zero.next(), self.poses.numbers) {
            (Some(only), None, 3 | 4) => -1.0 - only as f32,
            _ => f32::NAN,
        };
        self.frames.change_people(|one| {
            for point in &mut one.space {
                if point[3] == root {
                    point[3] = 1.0;
                } else if point[3] < 0.0 || point[3].is_nan() {
                    *point = [f32::NAN; 4];
                }
            }
        });
        self.frames
    }
}
