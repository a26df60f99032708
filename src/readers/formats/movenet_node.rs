//! What an element of a MoveNet or PoseNet export is: a pose, a frame with poses, or nested numbers.

use crate::readers::id::Id;
use crate::readers::json::Number;
use crate::readers::limits;
use crate::readers::stamps::Unit;
use serde::Deserialize;
use serde::de::{self, Deserializer, IgnoredAny, Visitor};
use std::fmt;

/// One element.
pub enum Node {
    /// `null`.
    Nothing,
    /// A number.
    Number(f32),
    /// An object with `keypoints`.
    Pose(Box<Pose>),
    /// An object with `poses`, or with a time stamp beside `keypoints`.
    Frame(Box<Frame>),
    /// A list.
    List(Vec<Node>),
}

/// One person.
#[derive(Default)]
pub struct Pose {
    /// Track id, if the tracker gave one.
    pub id: Id,
    /// In the file's order.
    pub points: Vec<Named>,
}

/// A point with its name.
pub struct Named {
    /// `name` or `part`.
    pub name: Option<String>,
    /// x, y, score.
    pub at: [f32; 3],
}

/// One frame.
#[derive(Default)]
pub struct Frame {
    /// Its number, if the file has one.
    pub number: Number,
    /// Its time stamp, if the file has one.
    pub stamp: Number,
    /// Unit of the stamp, if its key names one.
    pub unit: Option<Unit>,
    /// Poses, or nested numbers.
    pub poses: Vec<Node>,
}

#[derive(Deserialize)]
struct RawPoint {
    #[serde(default)]
    x: Number,
    #[serde(default)]
    y: Number,
    #[serde(default)]
    position: Option<Position>,
    #[serde(default, alias = "visibility", alias = "confidence")]
    score: Option<Number>,
    #[serde(default, alias = "part")]
    name: Option<String>,
}

#[derive(Deserialize)]
struct Position {
    #[serde(default)]
    x: Number,
    #[serde(default)]
    y: Number,
}

impl From<RawPoint> for Named {
    fn from(raw: RawPoint) -> Named {
        let (x, y) = raw
            .position
            .map_or((raw.x, raw.y), |position| (position.x, position.y));
        // Without a score every point counts as seen.
        let score = raw.score.map_or(1.0, |score| score.0);
        Named {
            name: raw.name,
            at: [x.0 as f32, y.0 as f32, score as f32],
        }
    }
}

impl<'de> Deserialize<'de> for Node {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct NodeVisitor;
        impl<'de> Visitor<'de> for NodeVisitor {
            type Value = Node;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a pose, a list of poses, or numbers")
            }
            fn visit_unit<E>(self) -> Result<Node, E> {
                Ok(Node::Nothing)
            }
            fn visit_f64<E>(self, value: f64) -> Result<Node, E> {
                Ok(Node::Number(value as f32))
            }
            fn visit_i64<E>(self, value: i64) -> Result<Node, E> {
                Ok(Node::Number(value as f32))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Node, E> {
                Ok(Node::Number(value as f32))
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<Node, A::Error> {
                let mut nodes = Vec::new();
                while let Some(node) = seq.next_element()? {
                    if nodes.len() >= limits::KEYPOINTS {
                        return Err(de::Error::custom(format!(
                            "more than {} numbers, points or people in one frame",
                            limits::KEYPOINTS
                        )));
                    }
                    nodes.push(node);
                }
                Ok(Node::List(nodes))
            }
            fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<Node, A::Error> {
                let (mut frame, mut pose) = (Frame::default(), None);
                let (mut id, mut is_frame) = (Id::None, false);
                while let Some(key) = map.next_key::<String>()? {
                    match key.as_str() {
                        "keypoints" => {
                            let raw = map.next_value::<Option<Vec<RawPoint>>>()?;
                            let points = raw.unwrap_or_default().into_iter().map(Named::from);
                            pose = Some(Pose {
                                id: Id::None,
                                points: points.collect(),
                            });
                        }
                        "poses" => {
                            is_frame = true;
                            frame.poses =
                                map.next_value::<Option<Vec<Node>>>()?.unwrap_or_default();
                        }
                        "id" => id = map.next_value()?,
                        "frame" | "frame_id" | "frameId" | "frame_index" | "frameIndex" => {
                            is_frame = true;
                            frame.number = map.next_value()?;
                        }
                        key if key.starts_with("time") || key == "t" => {
                            is_frame = true;
                            frame.stamp = map.next_value()?;
                            frame.unit = Unit::of_key(key);
                        }
                        _ => {
                            map.next_value::<IgnoredAny>()?;
                        }
                    }
                }
                let pose = pose.map(|pose| Node::Pose(Box::new(Pose { id, ..pose })));
                match (is_frame, pose) {
                    (true, pose) => {
                        frame.poses.extend(pose);
                        Ok(Node::Frame(Box::new(frame)))
                    }
                    (false, Some(pose)) => Ok(pose),
                    (false, None) => Ok(Node::Nothing),
                }
            }
        }
        deserializer.deserialize_any(NodeVisitor)
    }
}
