//! SLEAP projects saved as JSON: `skeletons`, `nodes`, `videos`, `tracks` and `labels`, each label a frame
//! with its instances.
//!
//! They hold what a person labelled, and predictions that were kept in the project. Nodes are named in a list
//! of their own or inside the skeleton, in the `py/object` form of the library that wrote them. Points are
//! keyed by the number of their node. Frames that were not labelled are absent; a label may have no instance.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::readers::json::{self, Number};
use crate::readers::layout::Known;
use crate::readers::{Fit, Layout, Probe, ReadOptions, Reader, Source, gather, limits};
use crate::track::{Detection, Frames, Recording, RecordingFrame, Scale};
use serde::Deserialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// Score below which a predicted point counts as not seen, as in the analysis table.
const LEAST_SCORE: f64 = 0.2;

/// The reader.
pub struct SleapJson;

impl Reader for SleapJson {
    fn id(&self) -> &'static str {
        "sleap-json"
    }

    fn title(&self) -> &'static str {
        "SLEAP project, JSON"
    }

    fn about(&self) -> &'static str {
        "Reads the labels of a project saved as JSON: pixels, points that are marked as visible or scored 0.2 \
         or more. A project usually has labels of some frames only; of tracks, export the analysis CSV. The \
         project must have labels of one video. There is no rate (--fps) and no picture size (--size). --map \
         left_shoulder=NAME says what a node's name means."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Some(json) = probe.json() else {
            return Fit::no("not JSON");
        };
        match json.has("skeletons") && json.has("labels") {
            true => Fit::certain("`skeletons` and `labels`"),
            false => Fit::no("no `skeletons` with `labels`"),
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
        let project: Project = json::parse(member)?;
        let names = project.names(&place)?;
        let known = Known {
            names: Some(&names),
            count: names.len(),
            stated: options.layout.as_deref(),
            usual: &[],
        };
        let layout = Layout::settle(known, models, &place.clone().field("nodes"))?;
        let mut recording = Recording {
            scale: Scale::Pixels,
            least_score: LEAST_SCORE,
            ..Recording::new(self.id(), layout.id.clone(), layout.joints.clone())
        };
        layout.tell_unused(&names, &mut recording);
        recording.frames = project.frames(&names, &layout, &place)?;
        Ok(recording)
    }
}

#[derive(Deserialize)]
struct Project {
    skeletons: Vec<Value>,
    #[serde(default)]
    nodes: Vec<Node>,
    labels: Vec<Label>,
}

#[derive(Deserialize)]
struct Node {
    name: String,
}

#[derive(Deserialize)]
struct Label {
    frame_idx: Number,
    #[serde(default)]
    video: Value,
    #[serde(default, rename = "_instances", alias = "instances")]
    instances: Vec<Instance>,
}

#[derive(Deserialize)]
struct Instance {
    #[serde(default)]
    track: Value,
    #[serde(default, rename = "_points", alias = "points")]
    points: BTreeMap<String, Option<Point>>,
}

#[derive(Deserialize)]
struct Point {
    x: Number,
    y: Number,
    #[serde(default = "yes")]
    visible: bool,
    #[serde(default)]
    score: Option<Number>,
}

fn yes() -> bool {
    true
}

impl Project {
    /// Names of the nodes by their number.
    fn names(&self, place: &Place) -> Result<Vec<String>, Fault> {
        let mut names: Vec<String> = self.nodes.iter().map(|node| node.name.clone()).collect();
        if names.is_empty() {
            for skeleton in &self.skeletons {
                names.extend(pickled_nodes(skeleton));
            }
        }
        match names.len() {
            1..=limits::KEYPOINTS => Ok(names),
            count => Err(Fault::new(
                FaultKind::Malformed,
                "read/length",
                format!("the skeletons name {count} nodes"),
                place.clone().field("skeletons"),
                "saving the project again, or exporting the analysis CSV",
            )),
        }
    }

    fn frames(self, names: &[String], layout: &Layout, place: &Place) -> Result<Frames, Fault> {
        let video = self.labels.first().map(|label| label.video.to_string());
        let mut frames = Frames::default();
        for label in self.labels {
            let other = label.video.to_string();
            if Some(&other) != video.as_ref() {
                return Err(Fault::new(
                    FaultKind::Unsupported,
                    "read/mixed-folder",
                    format!(
                        "it holds labels of two videos, {} and {other}",
                        video.unwrap_or_default()
                    ),
                    place.clone().field("labels"),
                    "exporting the analysis CSV of one video",
                ));
            }
            let number = label
                .frame_idx
                .get()
                // Beyond 2^53 neighbouring frame numbers could not be told apart.
                .filter(|number| number.abs() < 9e15)
                .ok_or_else(|| {
                    Fault::new(
                        FaultKind::Malformed,
                        "read/number",
                        "a label has no frame number",
                        place.clone().field("frame_idx"),
                        "saving the project again",
                    )
                })?;
            let number = number.round() as i64;
            if frames.len() >= limits::FRAMES || label.instances.len() > limits::PEOPLE {
                return Err(limits::people(place.clone().frame(number)));
            }
            let mut people = Vec::new();
            for instance in label.instances {
                let one = instance.detection(names, &place.clone().frame(number))?;
                people.extend(gather::joints(one, layout));
            }
            frames.push(RecordingFrame {
                number,
                stamp_s: None,
                people,
            });
        }
        Ok(frames)
    }
}

impl Instance {
    fn detection(self, names: &[String], place: &Place) -> Result<Detection, Fault> {
        let mut picture = vec![[f32::NAN; 3]; names.len()];
        for (key, point) in self.points {
            let at = key.parse::<usize>().ok().filter(|at| *at < names.len());
            let at = at.or_else(|| names.iter().position(|name| *name == key));
            let slot = at.and_then(|at| picture.get_mut(at)).ok_or_else(|| {
                Fault::new(
                    FaultKind::Malformed,
                    "read/value",
                    format!("there is a point of node `{key}`, which the skeleton does not have"),
                    place.clone(),
                    "saving the project again, or exporting the analysis CSV",
                )
            })?;
            let Some(point) = point.filter(|point| point.visible) else {
                continue;
            };
            let score = point.score.and_then(Number::get).unwrap_or(1.0);
            *slot = [point.x.0 as f32, point.y.0 as f32, score as f32];
        }
        Ok(Detection {
            // Tracks are a number in the project's list, or nothing.
            id: match self.track {
                Value::Null => None,
                Value::String(text) => Some(text),
                other => Some(other.to_string()),
            },
            picture,
            space: Vec::new(),
        })
    }
}

/// Names of the nodes of a skeleton in its own order. Nodes are written out where they first occur, in a
/// link or in the list, and by number (`py/id`, from 1, counting nodes and kinds of links) after that.
fn pickled_nodes(skeleton: &Value) -> Vec<String> {
    let mut seen = Vec::new();
    // The library walks the object in the order of its keys as saved, which is that of the alphabet.
    for key in ["links", "nodes"] {
        if let Some(part) = skeleton.get(key) {
            walk(part, &mut seen);
        }
    }
    let listed = skeleton.get("nodes").and_then(Value::as_array);
    let listed: Vec<String> = listed
        .into_iter()
        .flatten()
        .filter_map(|node| {
            let id = node.get("id")?;
            match id.get("py/id").and_then(Value::as_u64) {
                Some(number) => {
                    let at = usize::try_from(number).ok()?.checked_sub(1)?;
                    seen.get(at).cloned().flatten()
                }
                None => name_of(id),
            }
        })
        .collect();
    match listed.is_empty() {
        true => seen.into_iter().flatten().collect(),
        false => listed,
    }
}

/// Name of a node that is written out: `py/state` holds a tuple or an object.
fn name_of(value: &Value) -> Option<String> {
    let class = value.get("py/object")?.as_str()?;
    if !class.ends_with(".Node") {
        return None;
    }
    let state = value.get("py/state").unwrap_or(value);
    let name = match state.get("py/tuple") {
        Some(tuple) => tuple.get(0)?,
        None => state.get("name")?,
    };
    name.as_str().map(str::to_string)
}

/// Objects in the order in which they are written out: the name of a node, nothing for a kind of link.
fn walk(value: &Value, seen: &mut Vec<Option<String>>) {
    match value {
        Value::Object(entries) => {
            if let Some(name) = name_of(value) {
                seen.push(Some(name));
                return;
            }
            if entries.contains_key("py/reduce") {
                seen.push(None);
                return;
            }
            // `source` and `target` come before `type`, as in the alphabet.
            entries.values().for_each(|value| walk(value, seen));
        }
        Value::Array(items) => items.iter().for_each(|value| walk(value, seen)),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nodes_are_named_by_number_after_their_first_place() {
        let skeleton: Value = serde_json::from_str(
            r#"{"links": [
                {"source": {"py/object": "sleap.skeleton.Node", "py/state": {"py/tuple": ["a", 1.0]}},
                 "target": {"py/object": "sleap.skeleton.Node", "py/state": {"py/tuple": ["b", 1.0]}},
                 "type": {"py/reduce": [{"py/type": "sleap.skeleton.EdgeType"}, {"py/tuple": [1]}]}},
                {"source": {"py/id": 2},
                 "target": {"py/object": "sleap.skeleton.Node", "py/state": {"name": "c", "weight": 1.0}},
                 "type": {"py/id": 3}}],
                "nodes": [{"id": {"py/id": 4}}, {"id": {"py/id": 1}}, {"id": {"py/id": 2}},
                 {"id": {"py/object": "sleap.skeleton.Node", "py/state": {"py/tuple": ["d", 1.0]}}}]}"#,
        )
        .expect("JSON");
        assert_eq!(pickled_nodes(&skeleton), ["c", "a", "b", "d"]);
    }
}
