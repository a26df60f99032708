//! MoveNet and PoseNet keypoints as JSON: the objects of their browser library, or bare dumps of their output.
//!
//! Objects: `keypoints` of `{x, y, score, name}`, or in the first version `{position: {x, y}, part, score}`; a
//! list with one pose or one list of poses for each frame, perhaps under `frames` and with time stamps. Dumps:
//! numbers nested as frames x 17 x 3, with lists of one in between, or 56 numbers for each of several people.
//! A dump does not say whether y or x comes first: the model gives y first, but people turn it.

use super::movenet_dump as dump;
use super::movenet_node::{Frame, Node, Pose};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::readers::axis_order;
use crate::readers::clip::{Clip, USUAL};
use crate::readers::stamps::{self, Unit};
use crate::readers::{Fit, Probe, ReadOptions, Reader, Sketch, Source, limits, stream};
use crate::track::{Detection, Recording, RecordingFrame};
use std::collections::BTreeMap;

/// Score below which a point counts as not seen: the one below which the model's own example no longer trusts
/// a point for following the person (from memory, not verified).
const LEAST_SCORE: f64 = 0.2;

/// The reader.
pub struct MovenetJson;

impl Reader for MovenetJson {
    fn id(&self) -> &'static str {
        "movenet-json"
    }

    fn title(&self) -> &'static str {
        "MoveNet or PoseNet keypoints, JSON"
    }

    fn about(&self) -> &'static str {
        "Reads the poses of TF.js (keypoints with x, y, score, name, or in the first version position and part), \
         one pose or one list of poses for each frame, and bare dumps of the model's output: frames x 17 x 3 or \
         56 numbers for each person. A dump does not say which of y and x comes first: it is told by the trunk \
         of an upright person, and --axis-order states it. Dumps are shares of the picture that the model saw: \
         state --size, and if the picture was padded to a square, the size of that square. Without time stamps \
         state --fps."
    }

    fn takes_axis_order(&self) -> bool {
        true
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Some(json) = probe.json().filter(|_| !probe.folder) else {
            return Fit::no("not one JSON file");
        };
        let list = json.get("frames").unwrap_or(json);
        let named = list.items().iter().any(|item| {
            let poses = item.get("poses").unwrap_or(item);
            is_pose(item) || poses.items().iter().any(is_pose)
        });
        if named {
            return Fit::certain("`keypoints` of objects with x, y and a score");
        }
        match dump::looks_like(json) {
            Some(what) => Fit::possible(what),
            None => Fit::no("neither `keypoints` of objects nor 17 triples of numbers"),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let member = source.single()?;
        let place = member.place();
        let mut poses = Poses {
            clip: Clip::new(options, models, &USUAL),
            names: None,
            stamps: BTreeMap::new(),
            unit: None,
            bare: false,
        };
        stream::elements(member, &["frames"], |index, node: Node| {
            poses.add(index, node, &place)
        })?;
        let (bare, unit, mut of_frame) = (poses.bare, poses.unit, poses.stamps);
        let mut recording = poses.clip.finish(self.id(), place)?;
        recording.least_score = LEAST_SCORE;
        if bare {
            axis_order::turn(&mut recording, options.axis_order)?;
        }
        if !of_frame.is_empty() {
            let stamps =
                |frame: &mut RecordingFrame| frame.stamp_s = of_frame.remove(&frame.number);
            recording.frames.change(stamps);
            stamps::settle(&mut recording.frames, unit, &mut recording.notes);
        }
        Ok(recording)
    }
}

/// Whether an object is a pose whose keypoints are objects.
fn is_pose(item: &Sketch) -> bool {
    let points = item.get("keypoints").map(Sketch::items).unwrap_or_default();
    points.iter().any(|point| {
        (point.has("x") && point.has("y")) || (point.has("position") && point.has("part"))
    })
}

/// The clip as it grows.
struct Poses<'a> {
    clip: Clip<'a>,
    /// Names of the first pose that has any.
    names: Option<Vec<String>>,
    stamps: BTreeMap<i64, f64>,
    unit: Option<Unit>,
    bare: bool,
}

impl Poses<'_> {
    fn add(&mut self, index: usize, node: Node, place: &Place) -> Result<(), Fault> {
        let mut number = index as i64;
        let nodes = match node {
            Node::Nothing => Vec::new(),
            Node::Number(_) => return Err(one_picture(place)),
            Node::Pose(pose) => vec![Node::Pose(pose)],
            Node::List(nodes) => nodes,
            Node::Frame(frame) => {
                let Frame {
                    number: own,
                    stamp,
                    unit,
                    poses,
                } = *frame;
                number = own.get().map_or(number, |own| own as i64);
                self.unit = self.unit.or(unit);
                if let Some(stamp) = stamp.get() {
                    self.stamps.insert(number, stamp);
                }
                poses
            }
        };
        self.clip.frame(number, place)?;
        let at = place.clone().frame(number);
        let named = nodes.iter().any(|node| matches!(node, Node::Pose(_)));
        if !named {
            let numbers = dump::flat(&nodes);
            if numbers.is_empty() {
                return Ok(());
            }
            if nodes.iter().all(|node| matches!(node, Node::Number(_))) && numbers.len() <= 3 {
                return Err(one_picture(place));
            }
            self.bare = true;
            for one in dump::people(&numbers, &at)? {
                self.clip.person(number, one, place)?;
            }
            return Ok(());
        }
        for node in nodes.into_iter().take(limits::PEOPLE) {
            if let Node::Pose(pose) = node {
                let one = self.person(*pose, &at)?;
                self.clip.person(number, one, place)?;
            }
        }
        Ok(())
    }

    /// A pose with its points in the order of the first pose's names.
    fn person(&mut self, pose: Pose, place: &Place) -> Result<Detection, Fault> {
        let names: Option<Vec<String>> =
            pose.points.iter().map(|point| point.name.clone()).collect();
        let points = pose.points.iter().map(|point| point.at).collect();
        let picture = match (names, &self.names) {
            (None, _) => points,
            (Some(names), None) => {
                self.clip.name(names.clone());
                self.names = Some(names);
                points
            }
            (Some(names), Some(first)) if names == *first => points,
            (Some(names), Some(first)) => {
                if let Some(new) = names.iter().find(|name| !first.contains(name)) {
                    return Err(Fault::new(
                        FaultKind::Malformed,
                        "read/length",
                        format!("the point `{new}` is not in the first pose of the file"),
                        place.clone().field("keypoints"),
                        "exporting all points of every pose, also those with a low score",
                    ));
                }
                let find =
                    |name: &String| pose.points.iter().find(|p| p.name.as_ref() == Some(name));
                first
                    .iter()
                    .map(|name| find(name).map_or([f32::NAN; 3], |point| point.at))
                    .collect()
            }
        };
        Ok(Detection {
            id: pose.id.label(),
            picture,
            space: Vec::new(),
        })
    }
}

fn one_picture(place: &Place) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/too-few-frames",
        "these are the keypoints of one picture, not of a clip",
        place.clone(),
        "exporting a list with one entry for each frame of the video",
    )
}
