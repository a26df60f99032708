//! JSON as exports really are: with bare `NaN` and `Infinity`, very long, or nested by mistake.
//!
//! In: a [`Member`]. Out: whatever a `DeserializeSeed` makes of it. Bare `NaN`, `Infinity` and `-Infinity`
//! outside strings become `null`, so that only a value's own meaning decides what is missing.

use super::limits;
use super::source::{Member, Stop, io_fault};
use crate::note::{Fault, FaultKind};
use serde::de::{self, Deserialize, DeserializeSeed, Deserializer, Visitor};
use serde_json::error::Category;
use std::fmt;
use std::io::{self, BufRead, Cursor, Read};

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
        let mut deserializer = serde_json::Deserializer::from_slice(&start);
        let value = seed.deserialize(&mut deserializer);
        finish(
            member,
            value.and_then(|value| deserializer.end().map(|()| value)),
        )
    } else {
        let stream = io::BufReader::with_capacity(1 << 16, Cursor::new(start).chain(clean));
        let mut deserializer = serde_json::Deserializer::from_reader(stream);
        let value = seed.deserialize(&mut deserializer);
        finish(
            member,
            value.and_then(|value| deserializer.end().map(|()| value)),
        )
    }
}

fn finish<T>(member: &Member, result: serde_json::Result<T>) -> Result<T, Fault> {
    result.map_err(|error| fault(member, error))
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

/// Replaces bare words that stand for no number by `null` and watches the depth.
struct Cleaned<R> {
    inner: R,
    ready: Vec<u8>,
    given: usize,
    word: Vec<u8>,
    in_string: bool,
    escaped: bool,
    depth: usize,
    ended: bool,
}

impl<R: BufRead> Cleaned<R> {
    fn new(inner: R) -> Self {
        Cleaned {
            inner,
            ready: Vec::new(),
            given: 0,
            word: Vec::new(),
            in_string: false,
            escaped: false,
            depth: 0,
            ended: false,
        }
    }

    /// A word is a run of letters with a sign before it; numbers with an exponent pass unchanged since they
    /// begin with a digit.
    fn close_word(&mut self) {
        if self.word.is_empty() {
            return;
        }
        let bare = self.word.strip_prefix(b"-").unwrap_or(&self.word);
        let no_number = [&b"nan"[..], b"infinity", b"inf"]
            .iter()
            .any(|word| bare.eq_ignore_ascii_case(word));
        if no_number {
            self.ready.extend_from_slice(b"null");
        } else {
            self.ready.extend_from_slice(&self.word);
        }
        self.word.clear();
    }

    fn take_byte(&mut self, byte: u8) -> io::Result<()> {
        if self.in_string {
            self.ready.push(byte);
            match byte {
                _ if self.escaped => self.escaped = false,
                b'\\' => self.escaped = true,
                b'"' => self.in_string = false,
                _ => {}
            }
            return Ok(());
        }
        let starts = byte == b'-' && self.word.is_empty();
        let goes_on = byte.is_ascii_alphabetic() && self.word.len() < 16;
        if starts || goes_on {
            self.word.push(byte);
            return Ok(());
        }
        self.close_word();
        self.ready.push(byte);
        match byte {
            b'"' => self.in_string = true,
            b'[' | b'{' => {
                self.depth += 1;
                if self.depth > limits::DEPTH {
                    return Err(io::Error::other(Stop::Depth));
                }
            }
            b']' | b'}' => self.depth = self.depth.saturating_sub(1),
            _ => {}
        }
        Ok(())
    }

    fn refill(&mut self) -> io::Result<()> {
        self.ready.clear();
        self.given = 0;
        while self.ready.is_empty() && !self.ended {
            let chunk = self.inner.fill_buf()?.to_vec();
            if chunk.is_empty() {
                self.ended = true;
                self.close_word();
            }
            for byte in &chunk {
                self.take_byte(*byte)?;
            }
            self.inner.consume(chunk.len());
        }
        Ok(())
    }
}

impl<R: BufRead> Read for Cleaned<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.given >= self.ready.len() {
            self.refill()?;
        }
        let waiting = self.ready.get(self.given..).unwrap_or_default();
        let count = waiting.len().min(buffer.len());
        if let (Some(to), Some(from)) = (buffer.get_mut(..count), waiting.get(..count)) {
            to.copy_from_slice(from);
        }
        self.given += count;
        Ok(count)
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
                let mut numbers = Vec::new();
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

    fn clean(text: &str) -> String {
        let mut out = String::new();
        // A one-byte buffer puts every word across a chunk's edge.
        let reader = io::BufReader::with_capacity(1, text.as_bytes());
        Cleaned::new(reader).read_to_string(&mut out).unwrap();
        out
    }

    #[test]
    fn bare_words_become_null_outside_strings_only() {
        for (input, expected) in [
            ("[NaN, -Infinity,Infinity]", "[null, null,null]"),
            (
                r#"{"NaN":"a \" NaN","b":NaN}"#,
                r#"{"NaN":"a \" NaN","b":null}"#,
            ),
            (
                "[-1.5e-3, true, null, -2E+4]",
                "[-1.5e-3, true, null, -2E+4]",
            ),
            ("NaN", "null"),
        ] {
            assert_eq!(clean(input), expected);
        }
    }

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
