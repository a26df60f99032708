//! The landmarks of one frame of the 33-landmark model, in the shapes in which JSON holds them.
//!
//! In: a value. Out: for each person a list of points, whether they were objects or lists of numbers, in one
//! list or in a list for each person.

use super::json::Number;
use super::limits;
use serde::de::{self, Deserialize, DeserializeSeed, Deserializer, IgnoredAny, Visitor};
use std::fmt;

/// A landmark; what is not there is not-a-number.
#[derive(Clone, Copy)]
pub struct Point {
    /// Across.
    pub x: f32,
    /// Down.
    pub y: f32,
    /// Away from the camera.
    pub z: f32,
    /// Score.
    pub visibility: f32,
}

impl Point {
    const NONE: Point = Point {
        x: f32::NAN,
        y: f32::NAN,
        z: f32::NAN,
        visibility: f32::NAN,
    };

    fn of_list(numbers: &[f32]) -> Point {
        let at = |index: usize| numbers.get(index).copied().unwrap_or(f32::NAN);
        Point {
            x: at(0),
            y: at(1),
            z: at(2),
            visibility: at(3),
        }
    }
}

/// Room that a list is given at once.
const USUAL_LANDMARKS: usize = 33;

/// Keys that are none of a point's, from which an object holds points by name (stated choice).
const NAMED: usize = 9;

/// People, each a list of landmarks: `[{..}]`, `[[{..}]]`, `[[x, y, z, v]]` and `[[[x, y, z, v]]]`.
pub type Poses = Vec<Vec<Point>>;

/// How landmarks are read: numbers that nobody asks for are passed over, which is faster than reading them.
#[derive(Clone, Copy)]
pub struct Wanted<'a> {
    /// By landmark, whether a joint is taken from it.
    pub uses: &'a [bool],
    /// Whether the third coordinate is used.
    pub depth: bool,
}

/// What an element of such a list is.
enum Node {
    Nothing,
    Number(f32),
    Point(Point),
    List(Vec<Node>),
}

impl<'de> DeserializeSeed<'de> for Wanted<'_> {
    type Value = Poses;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Poses, D::Error> {
        let nodes = match self.at(0).deserialize(deserializer)? {
            Node::List(nodes) => nodes,
            _ => return Ok(Vec::new()),
        };
        let point = |node: &Node| match node {
            Node::Point(point) => Some(*point),
            Node::Nothing => Some(Point::NONE),
            Node::Number(_) => None,
            Node::List(numbers) => {
                let number = |node: &Node| match node {
                    Node::Number(number) => Some(*number),
                    Node::Nothing => Some(f32::NAN),
                    _ => None,
                };
                let numbers: Option<Vec<f32>> = numbers.iter().map(number).collect();
                numbers
                    .filter(|numbers| numbers.len() >= 2)
                    .map(|n| Point::of_list(&n))
            }
        };
        let flat: Option<Vec<Point>> = nodes.iter().map(point).collect();
        if let Some(points) = flat {
            return Ok(match points.is_empty() {
                true => Vec::new(),
                false => vec![points],
            });
        }
        let each = |node: &Node| match node {
            Node::List(points) => points.iter().map(point).collect::<Option<Vec<Point>>>(),
            _ => None,
        };
        let people: Option<Vec<Vec<Point>>> = nodes.iter().map(each).collect();
        let people =
            people.ok_or_else(|| de::Error::custom("landmarks are not a list of points"))?;
        Ok(people
            .into_iter()
            .filter(|points| !points.is_empty())
            .collect())
    }
}

impl<'a> Wanted<'a> {
    /// The element of a list at that place.
    fn at(self, place: usize) -> NodeSeed<'a> {
        NodeSeed {
            wanted: self,
            used: self.uses.get(place) == Some(&true),
        }
    }
}

/// A node, and whether a joint is taken from it if it is a point.
struct NodeSeed<'a> {
    wanted: Wanted<'a>,
    used: bool,
}

impl<'de> DeserializeSeed<'de> for NodeSeed<'_> {
    type Value = Node;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Node, D::Error> {
        deserializer.deserialize_any(self)
    }
}

/// A key of a point, told by its bytes: a third of a file is keys.
enum Key {
    X,
    Y,
    Z,
    Visibility,
    /// Named lists wrap the points once more.
    Landmark,
    Other,
}

impl<'de> Deserialize<'de> for Key {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Key, D::Error> {
        struct KeyVisitor;
        impl Visitor<'_> for KeyVisitor {
            type Value = Key;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a key")
            }
            fn visit_bytes<E>(self, key: &[u8]) -> Result<Key, E> {
                Ok(match key {
                    b"x" => Key::X,
                    b"y" => Key::Y,
                    b"z" => Key::Z,
                    b"visibility" | b"score" | b"v" => Key::Visibility,
                    b"landmark" | b"landmarks" => Key::Landmark,
                    _ => Key::Other,
                })
            }
            fn visit_str<E: de::Error>(self, key: &str) -> Result<Key, E> {
                self.visit_bytes(key.as_bytes())
            }
        }
        deserializer.deserialize_bytes(KeyVisitor)
    }
}

impl<'de> Visitor<'de> for NodeSeed<'_> {
    type Value = Node;
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("landmarks")
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
        let mut nodes = Vec::with_capacity(USUAL_LANDMARKS);
        loop {
            let seed = self.wanted.at(nodes.len());
            // After a point come points.
            let passed = !seed.used && matches!(nodes.first(), Some(Node::Point(_)));
            let node = match passed {
                true => seq.next_element::<IgnoredAny>()?.map(|_| Node::Nothing),
                false => seq.next_element_seed(seed)?,
            };
            let Some(node) = node else {
                return Ok(Node::List(nodes));
            };
            if nodes.len() >= limits::KEYPOINTS {
                return Err(de::Error::custom(format!(
                    "more than {} landmarks",
                    limits::KEYPOINTS
                )));
            }
            nodes.push(node);
        }
    }
    fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<Node, A::Error> {
        let mut point = Point::NONE;
        let (mut inner, mut named) = (None, 0_usize);
        while let Some(key) = map.next_key::<Key>()? {
            match key {
                Key::X | Key::Y | Key::Z | Key::Visibility if !self.used => {
                    map.next_value::<IgnoredAny>()?;
                }
                Key::Z if !self.wanted.depth => {
                    map.next_value::<IgnoredAny>()?;
                }
                Key::X => point.x = map.next_value::<Number>()?.0 as f32,
                Key::Y => point.y = map.next_value::<Number>()?.0 as f32,
                Key::Z => point.z = map.next_value::<Number>()?.0 as f32,
                Key::Visibility => point.visibility = map.next_value::<Number>()?.0 as f32,
                Key::Landmark => inner = Some(map.next_value_seed(self.wanted.at(0))?),
                Key::Other => {
                    named += 1;
                    map.next_value::<IgnoredAny>()?;
                }
            }
        }
        if inner.is_none() && named > NAMED && point.x.is_nan() {
            return Err(de::Error::custom(
                "the landmarks are an object by name; a list of 33 in the model's order, or a table with \
                 their names, is read",
            ));
        }
        Ok(inner.unwrap_or(Node::Point(point)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, uses: &[bool], depth: bool) -> Poses {
        let mut deserializer = serde_json::Deserializer::from_str(text);
        let wanted = Wanted { uses, depth };
        wanted.deserialize(&mut deserializer).unwrap()
    }

    /// Across, depth and score of every point, not-a-number as `None`.
    fn told(people: &Poses) -> Vec<Vec<[Option<f32>; 3]>> {
        let told = |value: f32| Some(value).filter(|value| !value.is_nan());
        let of_point = |point: &Point| [point.x, point.z, point.visibility].map(told);
        let of_person = |person: &Vec<Point>| person.iter().map(of_point).collect();
        people.iter().map(of_person).collect()
    }

    #[test]
    fn what_no_joint_is_taken_from_is_passed_over() {
        let point = |x: usize| format!(r#"{{"x": {x}, "y": 1, "z": 2, "visibility": 0.5}}"#);
        let list = format!("[{}, {}, {}]", point(7), point(8), point(9));
        let all = |x: f32| [Some(x), Some(2.0), Some(0.5)];
        let flat = |x: f32| [Some(x), None, Some(0.5)];
        let none = [None; 3];
        let uses = [true, false, true];
        assert_eq!(
            told(&read(&list, &[true; 3], true)),
            [[all(7.0), all(8.0), all(9.0)]]
        );
        assert_eq!(
            told(&read(&list, &uses, true)),
            [[all(7.0), none, all(9.0)]]
        );
        assert_eq!(
            told(&read(&list, &uses, false)),
            [[flat(7.0), none, flat(9.0)]]
        );
        let first = [false, true, true];
        assert_eq!(
            told(&read(&list, &first, true)),
            [[none, all(8.0), all(9.0)]]
        );
        // Of several people, in lists, wrapped, and as lists of numbers.
        let two = [[all(7.0), none, all(9.0)]; 2];
        let wrapped = format!(r#"[{{"landmarks": {list}}}, {{"landmark": {list}}}]"#);
        assert_eq!(told(&read(&format!("[{list}, {list}]"), &uses, true)), two);
        assert_eq!(told(&read(&wrapped, &uses, true)), two);
        let numbers = "[[7, 1, 2, 0.5], [8, 1, 2, 0.5], null]";
        assert_eq!(
            told(&read(numbers, &[true; 3], true)),
            [[all(7.0), all(8.0), none]]
        );
    }
}
