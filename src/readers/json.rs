//! JSON as exports really are: with bare `NaN` and `Infinity`, very long, or nested by mistake.
//!
//! In: a [`Member`]. Out: whatever a `DeserializeSeed` makes of it. Bare `NaN`, `Infinity` and `-Infinity`
//! outside strings become `null`, so that only a value's own meaning decides what is missing.

use super::clean::Cleaned;
use super::limits;
use super::source::{Member, Stop, io_fault};
use crate::note::{Fault, FaultKind};
use serde::de::{self, Deserialize, DeserializeSeed, Deserializer, Visitor};
use serde_json::error::Category;
use std::fmt;
use std::io::{self, Cursor, Read};

/// Parses a whole file into a type.
///
/// # Errors
/// Syntax, encoding, limits, or a value of the wrong kind, each with its line.
pub fn parse<T: for<'de> Deserialize<'de>>(member: &Member) -> Result<T, Fault> {
    parse_seed(member, std::marker::PhantomData)
}

/// Parses a whole file with a seed that may gather as it goes.
///
/// # Errors
/// See [`parse`].
pub fn parse_seed<S, T>(member: &Member, seed: S) -> Result<T, Fault>
where
    S: for<'de> DeserializeSeed<'de, Value = T>,
{
    let mut clean = Cleaned::new(member.open()?);
    // Room at once: a list that grows by doubling would need three times its length while it moves.
    let mut start = Vec::with_capacity(member.stored_bytes()?.min(limits::IN_MEMORY) as usize + 1);
    (&mut clean)
        .take(limits::IN_MEMORY)
        .read_to_end(&mut start)
        .map_err(|error| io_fault(member.place(), &error))?;
    if (start.len() as u64) < limits::IN_MEMORY {
        return parse_cleaned(&start, seed).map_err(|error| fault(member, error));
    }
    let stream = io::BufReader::with_capacity(1 << 16, Cursor::new(start).chain(clean));
    let mut deserializer = serde_json::Deserializer::from_reader(stream);
    let value = seed.deserialize(&mut deserializer);
    value
        .and_then(|value| deserializer.end().map(|()| value))
        .map_err(|error| fault(member, error))
}

/// Parses a text that was cleaned before.
///
/// # Errors
/// See [`parse`]; lines are those of the text.
pub(super) fn parse_cleaned<S, T>(text: &[u8], seed: S) -> serde_json::Result<T>
where
    S: for<'de> DeserializeSeed<'de, Value = T>,
{
    let mut deserializer = serde_json::Deserializer::from_slice(text);
    let value = seed.deserialize(&mut deserializer)?;
    deserializer.end().map(|()| value)
}

fn fault(member: &Member, error: serde_json::Error) -> Fault {
    let (line, column, category) = (error.line(), error.column(), error.classify());
    let place = member.place().line(line.max(1) as u64);
    let text = error.to_string();
    let what = text.split(" at line ").next().unwrap_or_default();
    match category {
        Category::Io => io_fault(member.place(), &io::Error::from(error)),
        Category::Eof => Fault::new(
            FaultKind::Malformed,
            "read/syntax",
            format!("the JSON ends in the middle: {what}"),
            place,
            "exporting or copying the file again; it was cut off",
        ),
        Category::Syntax if what.contains("recursion limit") => {
            io_fault(member.place(), &io::Error::other(Stop::Depth))
        }
        Category::Syntax => Fault::new(
            FaultKind::Malformed,
            "read/syntax",
            format!("this is not valid JSON at column {column}: {what}"),
            place,
            "exporting the file again with a JSON writer",
        ),
        Category::Data => Fault::new(
            FaultKind::Malformed,
            "read/value",
            format!("a value is not what this format has there: {what} (column {column})"),
            place,
            "exporting again, or stating what the file is with --format",
        ),
    }
}

/// A number, a number in quotes, or nothing (`null`, an empty text), which reads as not-a-number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number(pub f64);

impl Number {
    /// No number.
    pub const NONE: Number = Number(f64::NAN);

    /// The number, if there is one.
    pub fn get(self) -> Option<f64> {
        self.0.is_finite().then_some(self.0)
    }
}

impl Default for Number {
    fn default() -> Self {
        Number::NONE
    }
}

impl<'de> Deserialize<'de> for Number {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct NumberVisitor;
        impl<'de> Visitor<'de> for NumberVisitor {
            type Value = Number;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number")
            }
            fn visit_f64<E>(self, value: f64) -> Result<Number, E> {
                Ok(Number(value))
            }
            fn visit_i64<E>(self, value: i64) -> Result<Number, E> {
                Ok(Number(value as f64))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Number, E> {
                Ok(Number(value as f64))
            }
            fn visit_bool<E>(self, value: bool) -> Result<Number, E> {
                Ok(Number(f64::from(u8::from(value))))
            }
            fn visit_unit<E>(self) -> Result<Number, E> {
                Ok(Number::NONE)
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<Number, E> {
                match text.trim() {
                    "" => Ok(Number::NONE),
                    word if word.eq_ignore_ascii_case("nan") => Ok(Number::NONE),
                    digits => digits
                        .parse()
                        .map(Number)
                        .map_err(|_| E::invalid_value(de::Unexpected::Str(text), &"a number")),
                }
            }
        }
        deserializer.deserialize_any(NumberVisitor)
    }
}

/// Room that a list of numbers is given at once: 17 points of three numbers.
const USUAL_NUMBERS: usize = 51;

/// A flat list of numbers; lists inside it (`[[x, y, c], ...]`) are laid end to end.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Flat(pub Vec<f32>);

impl<'de> Deserialize<'de> for Flat {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Into<'a>(&'a mut Vec<f32>);
        impl<'de> DeserializeSeed<'de> for Into<'_> {
            type Value = ();
            fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
                deserializer.deserialize_any(self)
            }
        }
        impl<'de> Visitor<'de> for Into<'_> {
            type Value = ();
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list of numbers")
            }
            fn visit_f64<E>(self, value: f64) -> Result<(), E> {
                self.0.push(value as f32);
                Ok(())
            }
            fn visit_i64<E>(self, value: i64) -> Result<(), E> {
                self.0.push(value as f32);
                Ok(())
            }
            fn visit_u64<E>(self, value: u64) -> Result<(), E> {
                self.0.push(value as f32);
                Ok(())
            }
            fn visit_unit<E>(self) -> Result<(), E> {
                self.0.push(f32::NAN);
                Ok(())
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<(), A::Error> {
                while seq.next_element_seed(Into(self.0))?.is_some() {
                    if self.0.len() > 4 * limits::KEYPOINTS {
                        return Err(de::Error::custom(format!(
                            "more than {} keypoints in one person",
                            limits::KEYPOINTS
                        )));
                    }
                }
                Ok(())
            }
        }
        struct Outer;
        impl<'de> Visitor<'de> for Outer {
            type Value = Flat;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list of numbers")
            }
            fn visit_unit<E>(self) -> Result<Flat, E> {
                Ok(Flat::default())
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, seq: A) -> Result<Flat, A::Error> {
                let mut numbers = Vec::with_capacity(USUAL_NUMBERS);
                Into(&mut numbers).visit_seq(seq)?;
                Ok(Flat(numbers))
            }
        }
        deserializer.deserialize_any(Outer)
    }
}

#[cfg(test)]
mod tests {
    use super::super::source::Source;
    use super::*;

    #[test]
    fn faults_name_kind_and_line() {
        let deep = "[".repeat(100) + &"]".repeat(100);
        for (input, code) in [
            ("[1,\n2", "read/syntax"),
            ("[1 2]", "read/syntax"),
            (r#"{"a":1}"#, "read/value"),
            (deep.as_str(), "read/depth"),
            ("[1e999]", "read/syntax"),
        ] {
            let source = Source::from_bytes("t.json", input.as_bytes());
            let fault = parse::<Flat>(source.single().unwrap()).unwrap_err();
            assert_eq!(fault.code, code, "{input}");
            assert_eq!(fault.place.file.as_deref(), Some("t.json"));
        }
    }

    #[test]
    fn nested_lists_are_laid_flat() {
        let source = Source::from_bytes("t", *b"[[1,2,0.5],[3,4,null]]");
        let flat: Flat = parse(source.single().unwrap()).unwrap();
        assert_eq!(flat.0.get(..5), Some(&[1.0, 2.0, 0.5, 3.0, 4.0][..]));
        assert!(flat.0.get(5).is_some_and(|v| v.is_nan()));
    }
}
