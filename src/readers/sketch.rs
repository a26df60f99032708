//! The outline of a JSON file: keys, kinds and the first few elements of each list.
//!
//! In: any JSON. Out: a [`Sketch`] of bounded size, with which readers tell a format by its content. The
//! whole file is walked, so that a key after a long list counts too, but nothing else is kept.

use compact_str::CompactString;
use serde::de::{self, DeserializeSeed, Deserializer, IgnoredAny, Visitor};
use std::fmt;

/// Levels that are kept: object, frames, frame, people, person, point, number.
const LEVELS: usize = 7;
/// Elements of a list that are kept; the first may be empty where nobody was in the picture yet.
const ELEMENTS: usize = 3;
/// Elements of the outermost lists that are kept: a clip may begin with seconds of an empty room.
pub(super) const OUTER_ELEMENTS: usize = 300;
/// Keys of an object that are kept.
const KEYS: usize = 64;
/// Characters of a text that are kept.
const TEXT: usize = 80;

/// An outline.
#[derive(Debug, Clone, PartialEq)]
pub enum Sketch {
    /// `null`, which also stands for a bare NaN.
    Null,
    /// true or false.
    Truth,
    /// Any number.
    Number(f64),
    /// The beginning of a text.
    Text(CompactString),
    /// The first elements of a list, and how many there are.
    List(Vec<Sketch>, usize),
    /// The keys of an object.
    Object(Vec<(CompactString, Sketch)>),
    /// Deeper than the outline goes.
    Deeper,
}

impl Sketch {
    /// The value of a key, if this is an object that has it.
    pub fn get(&self, key: &str) -> Option<&Sketch> {
        match self {
            Sketch::Object(entries) => entries.iter().find(|(name, _)| name == key).map(|e| &e.1),
            _ => None,
        }
    }

    /// Whether an object has a key.
    pub fn has(&self, key: &str) -> bool {
        self.get(key).is_some()
    }

    /// Whether an object has one of the keys.
    pub fn has_any(&self, keys: &[&str]) -> bool {
        keys.iter().any(|key| self.has(key))
    }

    /// The kept elements of a list; empty if it is none.
    pub fn items(&self) -> &[Sketch] {
        match self {
            Sketch::List(items, _) => items,
            _ => &[],
        }
    }

    /// Number of elements of a list, 0 if it is none.
    pub fn len(&self) -> usize {
        match self {
            Sketch::List(_, len) => *len,
            _ => 0,
        }
    }

    /// Whether it is a list without elements, or no list.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Whether one of the kept elements has one of the keys.
    pub fn any_item_has(&self, keys: &[&str]) -> bool {
        self.items().iter().any(|item| item.has_any(keys))
    }

    /// Keys of an object.
    pub fn keys(&self) -> Vec<&str> {
        match self {
            Sketch::Object(entries) => entries.iter().map(|(name, _)| name.as_str()).collect(),
            _ => Vec::new(),
        }
    }

    /// A text, if it is one.
    pub fn text(&self) -> Option<&str> {
        match self {
            Sketch::Text(text) => Some(text),
            _ => None,
        }
    }

    /// A phrase for people: what the top level is.
    pub fn describe(&self) -> String {
        match self {
            Sketch::Object(_) => format!("a JSON object with the keys {}", listed(&self.keys())),
            Sketch::List(items, len) => match items.iter().find(|item| !item.keys().is_empty()) {
                Some(item) => format!(
                    "a JSON list of {len}, the elements with the keys {}",
                    listed(&item.keys())
                ),
                None => format!("a JSON list of {len} without objects"),
            },
            _ => "JSON that is neither an object nor a list".to_string(),
        }
    }
}

/// Names for a message, at most ten of them.
pub fn listed<T: AsRef<str>>(names: &[T]) -> String {
    let shown: Vec<String> = names
        .iter()
        .take(10)
        .map(|name| format!("`{}`", name.as_ref().chars().take(40).collect::<String>()))
        .collect();
    let more = names.len().saturating_sub(10);
    match (shown.is_empty(), more) {
        (true, _) => "(none)".to_string(),
        (false, 0) => shown.join(", "),
        (false, more) => format!("{} and {more} more", shown.join(", ")),
    }
}

/// Makes a [`Sketch`]; the number is the level it stands on.
#[derive(Debug, Clone, Copy, Default)]
pub struct Sketcher(usize);

impl<'de> DeserializeSeed<'de> for Sketcher {
    type Value = Sketch;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Sketch, D::Error> {
        if self.0 >= LEVELS {
            deserializer.deserialize_ignored_any(IgnoredAny)?;
            return Ok(Sketch::Deeper);
        }
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Sketcher {
    type Value = Sketch;
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("any JSON value")
    }
    fn visit_bool<E>(self, _: bool) -> Result<Sketch, E> {
        Ok(Sketch::Truth)
    }
    fn visit_i64<E>(self, value: i64) -> Result<Sketch, E> {
        Ok(Sketch::Number(value as f64))
    }
    fn visit_u64<E>(self, value: u64) -> Result<Sketch, E> {
        Ok(Sketch::Number(value as f64))
    }
    fn visit_f64<E>(self, value: f64) -> Result<Sketch, E> {
        Ok(Sketch::Number(value))
    }
    fn visit_unit<E>(self) -> Result<Sketch, E> {
        Ok(Sketch::Null)
    }
    fn visit_str<E>(self, text: &str) -> Result<Sketch, E> {
        Ok(Sketch::Text(text.chars().take(TEXT).collect()))
    }
    fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<Sketch, A::Error> {
        let most = if self.0 <= 1 {
            OUTER_ELEMENTS
        } else {
            ELEMENTS
        };
        let (mut items, mut len) = (Vec::new(), 0);
        loop {
            let more = if items.len() < most {
                let item = seq.next_element_seed(Sketcher(self.0 + 1))?;
                let more = item.is_some();
                items.extend(item);
                more
            } else {
                seq.next_element::<IgnoredAny>()?.is_some()
            };
            if !more {
                return Ok(Sketch::List(items, len));
            }
            len += 1;
        }
    }
    fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<Sketch, A::Error> {
        let mut entries: Vec<(CompactString, Sketch)> = Vec::new();
        while let Some(key) = map.next_key::<CompactString>()? {
            if entries.len() < KEYS {
                entries.push((key, map.next_value_seed(Sketcher(self.0 + 1))?));
            } else {
                map.next_value::<IgnoredAny>()?;
            }
        }
        Ok(Sketch::Object(entries))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sketch(text: &str) -> Sketch {
        Sketcher::default()
            .deserialize(&mut serde_json::Deserializer::from_str(text))
            .unwrap()
    }

    #[test]
    fn the_outline_is_bounded_and_keeps_late_keys() {
        let long = format!(
            r#"{{"frames":[{}1],"fps":30}}"#,
            "[[2,3,4,5]],".repeat(1000)
        );
        let outline = sketch(&long);
        assert_eq!(outline.keys(), ["frames", "fps"]);
        let frames = outline.get("frames").unwrap();
        assert_eq!((frames.len(), frames.items().len()), (1001, OUTER_ELEMENTS));
        assert_eq!(outline.get("fps"), Some(&Sketch::Number(30.0)));
        assert!(outline.describe().contains("`frames`, `fps`"));
    }

    #[test]
    fn what_lies_too_deep_is_passed_over() {
        let deep = "[".repeat(20) + &"]".repeat(20);
        assert!(matches!(sketch(&deep), Sketch::List(_, 1)));
    }
}
