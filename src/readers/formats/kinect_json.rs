//! Bodies of a depth camera as JSON: frames with `bodies`, each with joints in space.
//!
//! Joints are a list in the camera's order, a list of objects that name their joint, or an object by name;
//! or the joint positions stand in one list and `joint_names` at the end of the file names them. Each joint
//! has x, y, z (`cameraX`, `Position`) and a tracking state 0, 1, 2 or a confidence 0 to 3. Keys occur in any
//! case.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Note};
use crate::readers::gather::{Gather, Key};
use crate::readers::json;
use crate::readers::layout::Known;
use crate::readers::stamps::{self, Unit};
use crate::readers::table::plain;
use crate::readers::{
    Fit, Layout, Probe, ReadOptions, Reader, Sketch, Source, depth_camera, limits,
};
use crate::track::{Detection, Recording};
use serde::de::{self, DeserializeSeed, Deserializer, IgnoredAny, Visitor};
use serde_json::Value;
use std::fmt;

/// Layouts by count.
const USUAL: [&str; 2] = ["azure-32", "kinect-25"];
const BODIES: [&str; 3] = ["bodies", "bodyframe", "skeletons"];
const JOINTS: [&str; 3] = ["joints", "jointpositions", "joint"];
const NAME: [&str; 6] = ["jointtype", "name", "jointname", "joint", "jointid", "type"];
const STATE: [&str; 5] = [
    "trackingstate",
    "state",
    "confidencelevel",
    "confidence",
    "jointconfidence",
];

/// The reader.
pub struct KinectJson;

impl Reader for KinectJson {
    fn id(&self) -> &'static str {
        "kinect-json"
    }

    fn title(&self) -> &'static str {
        "depth camera bodies, JSON"
    }

    fn about(&self) -> &'static str {
        "Reads frames with bodies and their joints in space: 25 joints of the second Kinect (y up) or 32 of \
         the Azure Kinect (y down), in the camera's order or by name. The unit is told by the bones. A joint \
         that was not tracked is missing; an inferred one counts. Tables of the same joints are read as \
         tables of named points."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Some(json) = probe.json() else {
            return Fit::no("not JSON");
        };
        let mut bodies = frames_of(json)
            .iter()
            .filter_map(|frame| key_of(frame, &BODIES))
            .flat_map(Sketch::items);
        let is_body = |body: &Sketch| match key_of(body, &JOINTS) {
            Some(Sketch::List(joints, _)) => joints
                .iter()
                .any(|joint| matches!(joint, Sketch::Object(_) | Sketch::List(..))),
            Some(Sketch::Object(_)) => true,
            _ => false,
        };
        match bodies.any(is_body) {
            true => Fit::certain("frames with `bodies` that have joints"),
            false => Fit::no("no frames with `bodies` that have joints"),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let member = source.single()?;
        let mut clip = Clip::default();
        json::parse_seed(member, &mut clip)?;
        let place = member.place();
        if let Some((frame, what)) = clip.wrong {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/value",
                what,
                place.frame(frame),
                "exporting again",
            ));
        }
        let named = !clip.names.is_empty() || clip.listed.len() >= clip.count.max(1);
        let names = match clip.names.is_empty() {
            true => &clip.listed,
            false => &clip.names,
        };
        let known = Known {
            names: named.then_some(names.as_slice()),
            count: clip.count,
            stated: options.layout.as_deref(),
            usual: &USUAL,
        };
        let layout = Layout::settle(known, models, &place.field("joints"))?;
        let mut recording = Recording {
            layout_by_count: layout.by_count,
            measured_depth: true,
            ..Recording::new(self.id(), layout.id.clone(), layout.joints.clone())
        };
        if named {
            layout.tell_unused(names, &mut recording);
        }
        if clip.doubles > 0 {
            recording.notes.push(Note::new(
                "read/duplicate-points",
                format!(
                    "{} joints came twice in a body; the first counts.",
                    clip.doubles
                ),
            ));
        }
        recording.frames = clip.gather.finish(&layout);
        depth_camera::settle_axes(&mut recording, options.up);
        stamps::settle(&mut recording.frames, clip.unit, &mut recording.notes);
        Ok(recording)
    }
}

fn frames_of(json: &Sketch) -> &[Sketch] {
    match json {
        Sketch::Object(_) => key_of(json, &["frames", "bodyframes"]).map_or(&[], Sketch::items),
        _ => json.items(),
    }
}

fn key_of<'a>(object: &'a Sketch, keys: &[&str]) -> Option<&'a Sketch> {
    match object {
        Sketch::Object(entries) => entries
            .iter()
            .find(|(name, _)| keys.contains(&plain(name).as_str()))
            .map(|(_, value)| value),
        _ => None,
    }
}

/// The value of the first key that an object has, compared as letters and digits only.
fn get<'a>(object: &'a Value, keys: &[&str]) -> Option<&'a Value> {
    let entries = object.as_object()?;
    keys.iter().find_map(|key| {
        let found = entries.iter().find(|(name, _)| plain(name) == *key)?;
        Some(found.1)
    })
}

/// The clip as it grows while the file is read; of each frame only the joints' places are kept.
#[derive(Default)]
struct Clip {
    gather: Gather,
    /// Names that the joints carry, in the order in which they first come.
    names: Vec<String>,
    /// Names in a list of their own.
    listed: Vec<String>,
    /// Most joints of a body in the camera's order.
    count: usize,
    frames: i64,
    doubles: usize,
    unit: Option<Unit>,
    /// First frame that is not as it should be, and what is wrong.
    wrong: Option<(i64, String)>,
}

impl<'de> DeserializeSeed<'de> for &mut Clip {
    type Value = ();
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for &mut Clip {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object with `frames`, or a list of frames")
    }

    fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<(), A::Error> {
        while let Some(frame) = seq.next_element::<Value>()? {
            self.add(&frame).map_err(de::Error::custom)?;
        }
        Ok(())
    }

    fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        while let Some(key) = map.next_key::<String>()? {
            match plain(&key).as_str() {
                "frames" | "bodyframes" => map.next_value_seed(&mut *self)?,
                "jointnames" => self.listed = map.next_value()?,
                _ => {
                    map.next_value::<IgnoredAny>()?;
                }
            }
        }
        Ok(())
    }
}

impl Clip {
    fn add(&mut self, frame: &Value) -> Result<(), String> {
        let number = get(
            frame,
            &["frameid", "frame", "framenumber", "frameindex", "index"],
        )
        .and_then(Value::as_i64)
        .unwrap_or(self.frames);
        self.frames += 1;
        let stamp = frame.as_object().and_then(|entries| {
            let is_time =
                |name: &str| name.starts_with("time") || name == "relativetime" || name == "t";
            let found = entries.iter().find(|(name, _)| is_time(&plain(name)))?;
            Some((Unit::of_key(found.0), found.1.as_f64()?))
        });
        self.unit = self.unit.or(stamp.and_then(|(unit, _)| unit));
        let at = self
            .gather
            .frame(
                Key::Number(number),
                stamp.map_or(f64::NAN, |(_, stamp)| stamp),
                &crate::note::Place::default().frame(number),
            )
            .map_err(|fault| fault.what)?;
        let bodies = match get(frame, &BODIES) {
            Some(Value::Array(bodies)) => bodies.as_slice(),
            _ => &[],
        };
        for body in bodies {
            let unseen =
                get(body, &["tracked", "istracked"]).and_then(Value::as_bool) == Some(false);
            if unseen {
                continue;
            }
            let space = match self.joints(body) {
                Ok(space) => space,
                Err(what) => {
                    self.wrong.get_or_insert((number, what));
                    continue;
                }
            };
            let id = get(body, &["bodyid", "trackingid", "id", "bodyindex"]).and_then(label);
            let one = Detection {
                id,
                picture: Vec::new(),
                space,
            };
            if !one.space.is_empty() && !self.gather.whole(at, one) {
                return Err(limits::people(Default::default()).what);
            }
        }
        Ok(())
    }

    /// The joints of a body, by their place in the list of names or in the camera's order.
    fn joints(&mut self, body: &Value) -> Result<Vec<[f32; 4]>, String> {
        let mut space: Vec<[f32; 4]> = Vec::new();
        let joints: Vec<(Option<String>, &Value)> = match get(body, &JOINTS) {
            Some(Value::Array(joints)) => joints
                .iter()
                .map(|joint| (get(joint, &NAME).and_then(label), joint))
                .collect(),
            Some(Value::Object(joints)) => joints
                .iter()
                .map(|(name, joint)| (Some(name.clone()), joint))
                .collect(),
            _ => Vec::new(),
        };
        let levels = get(
            body,
            &["jointconfidences", "confidencelevels", "jointstates"],
        );
        for (index, (name, joint)) in joints.into_iter().enumerate() {
            let level = levels.and_then(|levels| levels.get(index));
            let Some(point) = point(joint, level)? else {
                continue;
            };
            let at = match name {
                None => index,
                Some(name) => match name.parse::<usize>() {
                    Ok(number) => number,
                    Err(_) => self.place_of(&name),
                },
            };
            if at >= limits::KEYPOINTS {
                return Err(format!(
                    "there are more than {} different joints",
                    limits::KEYPOINTS
                ));
            }
            if space.len() <= at {
                space.resize(at + 1, [f32::NAN; 4]);
            }
            match space.get_mut(at) {
                Some(slot) if slot.iter().all(|value| value.is_nan()) => *slot = point,
                _ => self.doubles += 1,
            }
        }
        self.count = self.count.max(space.len());
        Ok(space)
    }

    fn place_of(&mut self, name: &str) -> usize {
        match self.names.iter().position(|known| known == name) {
            Some(at) => at,
            None => {
                self.names.push(name.to_string());
                self.names.len() - 1
            }
        }
    }
}

/// A text or a number as a text.
fn label(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text.clone()),
        Value::Number(number) => Some(number.to_string()),
        _ => None,
    }
}

/// x, y, z and score of a joint; `None` for a joint that is null.
fn point(joint: &Value, level: Option<&Value>) -> Result<Option<[f32; 4]>, String> {
    if joint.is_null() {
        return Ok(None);
    }
    let at = get(joint, &["position", "cameraspacepoint", "camera"]).unwrap_or(joint);
    let number = |value: Option<&Value>| match value {
        None | Some(Value::Null) => Some(f64::NAN),
        Some(value) => value.as_f64(),
    };
    let axis = |index: usize, keys: [&str; 3]| match at {
        Value::Array(list) => number(list.get(index)),
        _ => number(get(at, &keys)),
    };
    let (x, y, z) = (
        axis(0, ["x", "camerax", "positionx"]),
        axis(1, ["y", "cameray", "positiony"]),
        axis(2, ["z", "cameraz", "positionz"]),
    );
    let (Some(x), Some(y), Some(z)) = (x, y, z) else {
        return Err("a coordinate of a joint is not a number".to_string());
    };
    let score = match level.or_else(|| get(joint, &STATE)) {
        None | Some(Value::Null) => 1.0,
        Some(Value::String(text)) => depth_camera::score_of_word(text)
            .ok_or_else(|| format!("`{text}` is no tracking state"))?,
        Some(value) => {
            let level = value
                .as_f64()
                .ok_or_else(|| "a tracking state is not a number".to_string())?;
            depth_camera::score_of_level(level)
        }
    };
    Ok(Some([x as f32, y as f32, z as f32, score as f32]))
}
