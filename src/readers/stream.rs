//! JSON files that are one long list, or one long object, taken piece by piece.
//!
//! In: a [`Member`] and what to do with a piece. Out: nothing is kept; a piece that is refused ends the
//! reading with that piece's own fault. It knows nothing of any format.

use super::json;
use super::source::{Member, io_fault};
use crate::note::Fault;
use serde::de::{self, DeserializeOwned, DeserializeSeed, Deserializer, IgnoredAny, Visitor};
use std::fmt;
use std::io::BufRead;
use std::marker::PhantomData;

/// Hands every element of a list to `each`, with its index: of the list at the top, or of the one under the
/// first of these keys that an object at the top has.
///
/// # Errors
/// Those of the file, and those of `each`.
pub fn elements<T: DeserializeOwned>(
    member: &Member,
    under: &[&str],
    mut each: impl FnMut(usize, T) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let mut stopped = None;
    let walk = Elements {
        under,
        each: &mut each,
        stopped: &mut stopped,
        kind: PhantomData,
    };
    let done = json::parse_seed(member, walk);
    match stopped {
        Some(fault) => Err(fault),
        None => done,
    }
}

/// Hands every entry of the object at the top to `each`.
///
/// # Errors
/// Those of the file, and those of `each`.
pub fn entries<T: DeserializeOwned>(
    member: &Member,
    mut each: impl FnMut(String, T) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let mut stopped = None;
    let walk = Entries {
        each: &mut each,
        stopped: &mut stopped,
        kind: PhantomData,
    };
    let done = json::parse_seed(member, walk);
    match stopped {
        Some(fault) => Err(fault),
        None => done,
    }
}

/// Whether the file begins as an object does.
///
/// # Errors
/// The file could not be read.
pub fn is_object(member: &Member) -> Result<bool, Fault> {
    let mut reader = member.open()?;
    loop {
        let start = reader
            .fill_buf()
            .map_err(|error| io_fault(member.place(), &error))?;
        let blank = start.iter().take_while(|b| b.is_ascii_whitespace()).count();
        match start.get(blank) {
            Some(byte) => return Ok(*byte == b'{'),
            None if start.is_empty() => return Ok(false),
            None => reader.consume(blank),
        }
    }
}

/// Ends the reading; the fault itself is told by whoever began it.
fn stop<E: de::Error>(stopped: &mut Option<Fault>, fault: Fault) -> E {
    *stopped = Some(fault);
    E::custom("stopped")
}

struct Elements<'a, T, F> {
    under: &'a [&'a str],
    each: &'a mut F,
    stopped: &'a mut Option<Fault>,
    kind: PhantomData<T>,
}

impl<'de, T, F> DeserializeSeed<'de> for Elements<'_, T, F>
where
    T: DeserializeOwned,
    F: FnMut(usize, T) -> Result<(), Fault>,
{
    type Value = ();
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de, T, F> Visitor<'de> for Elements<'_, T, F>
where
    T: DeserializeOwned,
    F: FnMut(usize, T) -> Result<(), Fault>,
{
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.under {
            [] => f.write_str("a list"),
            keys => write!(f, "a list, or an object with `{}`", keys.join("` or `")),
        }
    }

    fn visit_unit<E>(self) -> Result<(), E> {
        Ok(())
    }

    fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<(), A::Error> {
        let mut index = 0;
        while let Some(element) = seq.next_element()? {
            (self.each)(index, element).map_err(|fault| stop(self.stopped, fault))?;
            index += 1;
        }
        Ok(())
    }

    fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        let mut found = false;
        while let Some(key) = map.next_key::<String>()? {
            if found || !self.under.contains(&key.as_str()) {
                map.next_value::<IgnoredAny>()?;
                continue;
            }
            found = true;
            map.next_value_seed(Elements {
                under: &[],
                each: &mut *self.each,
                stopped: &mut *self.stopped,
                kind: PhantomData,
            })?;
        }
        match found {
            true => Ok(()),
            false => Err(de::Error::invalid_type(de::Unexpected::Map, &self)),
        }
    }
}

struct Entries<'a, T, F> {
    each: &'a mut F,
    stopped: &'a mut Option<Fault>,
    kind: PhantomData<T>,
}

impl<'de, T, F> DeserializeSeed<'de> for Entries<'_, T, F>
where
    T: DeserializeOwned,
    F: FnMut(String, T) -> Result<(), Fault>,
{
    type Value = ();
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_map(self)
    }
}

impl<'de, T, F> Visitor<'de> for Entries<'_, T, F>
where
    T: DeserializeOwned,
    F: FnMut(String, T) -> Result<(), Fault>,
{
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object")
    }

    fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        while let Some((key, value)) = map.next_entry()? {
            (self.each)(key, value).map_err(|fault| stop(self.stopped, fault))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::note::{FaultKind, Place};
    use crate::readers::Source;

    fn sum(text: &str, under: &[&str]) -> Result<i64, Fault> {
        let source = Source::from_bytes("t", text.as_bytes());
        let mut sum = 0;
        elements(source.single()?, under, |index, number: i64| {
            sum += number * (index as i64 + 1);
            match number {
                13 => Err(Fault::new(
                    FaultKind::Malformed,
                    "read/number",
                    "thirteen",
                    Place::default(),
                    "another number",
                )),
                _ => Ok(()),
            }
        })?;
        Ok(sum)
    }

    #[test]
    fn lists_are_taken_from_the_top_or_from_under_a_key() {
        assert_eq!(sum("[1, 2, 3]", &[]).unwrap(), 14);
        assert_eq!(sum(r#"{"a": {"b": 1}, "c": [4, 5]}"#, &["c"]).unwrap(), 14);
        assert_eq!(sum("[13, true]", &[]).unwrap_err().code, "read/number");
        assert_eq!(sum("[1, true]", &[]).unwrap_err().code, "read/value");
        assert_eq!(sum(r#"{"a": 1}"#, &["c"]).unwrap_err().code, "read/value");
    }

    #[test]
    fn entries_come_with_their_keys() {
        let source = Source::from_bytes("t", *br#"{"a": 1, "b": 2}"#);
        let mut seen = Vec::new();
        entries(source.single().unwrap(), |key, value: i64| {
            seen.push((key, value));
            Ok(())
        })
        .unwrap();
        assert_eq!(seen, [("a".to_string(), 1), ("b".to_string(), 2)]);
    }
}
