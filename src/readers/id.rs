//! Ids of pictures and people, and the frame number that a picture's name holds.

use serde::de::{self, Deserialize, Deserializer, Visitor};
use std::fmt;

/// A number, or a text such as a file name.
#[derive(Debug, Clone, Default, PartialEq)]
pub enum Id {
    /// There is none.
    #[default]
    None,
    /// A whole number.
    Number(i64),
    /// A text.
    Text(String),
}

impl Id {
    /// The number, or that of the text by [`last_number`].
    pub fn number(&self) -> Option<i64> {
        match self {
            Id::None => None,
            Id::Number(number) => Some(*number),
            Id::Text(text) => last_number(text),
        }
    }

    /// As a person's id.
    pub fn label(&self) -> Option<String> {
        match self {
            Id::None => None,
            Id::Number(number) => Some(number.to_string()),
            Id::Text(text) => Some(text.clone()),
        }
    }
}

/// The last run of digits of a name, before its ending: 12 of `clip_2_000012_keypoints.json` and of `12.jp2`.
pub fn last_number(name: &str) -> Option<i64> {
    let name = name.rsplit(['/', '\\']).next().unwrap_or(name);
    let mut stem = name;
    // Endings such as .json.gz begin with a letter.
    while let Some((before, ending)) = stem.rsplit_once('.') {
        let is_ending = ending.starts_with(|c: char| c.is_ascii_alphabetic()) || ending.is_empty();
        if !is_ending {
            break;
        }
        stem = before;
    }
    let tail = stem.trim_end_matches(|c: char| !c.is_ascii_digit());
    let start = tail.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    tail.get(start..)?.parse().ok()
}

impl<'de> Deserialize<'de> for Id {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct IdVisitor;
        impl<'de> Visitor<'de> for IdVisitor {
            type Value = Id;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number or a text")
            }
            fn visit_i64<E>(self, value: i64) -> Result<Id, E> {
                Ok(Id::Number(value))
            }
            fn visit_u64<E: de::Error>(self, value: u64) -> Result<Id, E> {
                i64::try_from(value)
                    .map(Id::Number)
                    .map_err(|_| E::custom("the number is too large"))
            }
            fn visit_f64<E: de::Error>(self, value: f64) -> Result<Id, E> {
                match value.fract() == 0.0 && value.abs() < 9e15 {
                    true => Ok(Id::Number(value as i64)),
                    false => Err(E::custom("an id has no fraction")),
                }
            }
            fn visit_str<E>(self, text: &str) -> Result<Id, E> {
                Ok(Id::Text(text.to_string()))
            }
            fn visit_unit<E>(self) -> Result<Id, E> {
                Ok(Id::None)
            }
            /// One estimator lists the ids of all the boxes it merged into one; the first is taken.
            fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<Id, A::Error> {
                let first = seq.next_element()?.unwrap_or_default();
                while seq.next_element::<de::IgnoredAny>()?.is_some() {}
                Ok(first)
            }
        }
        deserializer.deserialize_any(IdVisitor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_digits_before_the_ending_are_the_number() {
        for (name, number) in [
            ("Kick_10_000000000012_keypoints.json", Some(12)),
            ("img7_keypoints.json.gz", Some(7)),
            ("12.jp2", Some(12)),
            ("clip_3.mp4", Some(3)),
            ("clip.mp4", None),
            ("7", Some(7)),
            ("out/take 9/frame-0042.png", Some(42)),
            ("é5é.json", Some(5)),
            ("v1.0", Some(0)),
            ("pose.json", None),
            ("99999999999999999999.jpg", None),
        ] {
            assert_eq!(last_number(name), number, "{name}");
        }
    }

    #[test]
    fn ids_come_as_numbers_texts_and_lists() {
        for (text, id) in [
            ("3", Id::Number(3)),
            ("3.0", Id::Number(3)),
            ("[0.0]", Id::Number(0)),
            ("[[2.0], [5.0]]", Id::Number(2)),
            ("[]", Id::None),
            ("null", Id::None),
            (r#""a7""#, Id::Text("a7".into())),
        ] {
            assert_eq!(serde_json::from_str::<Id>(text).unwrap(), id, "{text}");
        }
        assert!(serde_json::from_str::<Id>("0.5").is_err());
    }
}
