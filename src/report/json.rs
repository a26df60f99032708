//! `review.json`: the whole result, for other programs.
//!
//! In: a session. Out: pretty JSON, keys in the order of the types, no NaN, floats rounded to what they are
//! worth. What it may contain is described by the schema beside it.

use super::finite::finite;
use crate::compare::Comparison;
use crate::session::Session;
use serde::Serialize;
use serde_json::Serializer;
use serde_json::ser::{Formatter, PrettyFormatter};
use std::io::{self, Write};

pub use super::schema::{comparison_schema, schema};

/// The result as JSON text, pretty, ending in a newline.
pub fn review(session: &Session) -> String {
    text(&finite(session))
}

/// A comparison as JSON text, pretty, ending in a newline.
pub fn comparison(comparison: &Comparison) -> String {
    text(comparison)
}

/// Anything as JSON text, pretty, with rounded numbers, ending in a newline.
pub(in crate::report) fn text(of: &impl Serialize) -> String {
    // Room at once for the review of a usual clip: a list that grows takes new memory at each move.
    let mut bytes = Vec::with_capacity(1 << 17);
    let mut serializer = Serializer::with_formatter(&mut bytes, Rounding::default());
    match of.serialize(&mut serializer) {
        Ok(()) => bytes.push(b'\n'),
        Err(_) => bytes.clear(),
    }
    String::from_utf8(bytes).unwrap_or_default()
}

/// Pretty JSON whose floats have four decimals (a ten-thousandth of a degree is far below any error here); a small one,
/// such as p, three figures, so that it does not become zero.
#[derive(Default)]
struct Rounding(PrettyFormatter<'static>);

impl Formatter for Rounding {
    fn write_f32<W: ?Sized + Write>(&mut self, writer: &mut W, value: f32) -> io::Result<()> {
        self.write_f64(writer, f64::from(value))
    }
    fn write_f64<W: ?Sized + Write>(&mut self, writer: &mut W, value: f64) -> io::Result<()> {
        self.0.write_f64(writer, rounded(value))
    }
    fn begin_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_array(writer)
    }
    fn end_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_array(writer)
    }
    fn begin_array_value<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.0.begin_array_value(out, first)
    }
    fn end_array_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_array_value(writer)
    }
    fn begin_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_object(writer)
    }
    fn end_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_object(writer)
    }
    fn begin_object_key<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.0.begin_object_key(out, first)
    }
    fn begin_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_object_value(writer)
    }
    fn end_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_object_value(writer)
    }
}

fn rounded(x: f64) -> f64 {
    if x != 0.0 && x.abs() < 0.01 {
        return format!("{x:.2e}").parse().unwrap_or(x);
    }
    (x * 1e4).round() / 1e4
}

#[cfg(test)]
mod tests {
    use super::{rounded, text};
    use serde_json::{Value, json};

    #[test]
    fn a_small_p_does_not_become_zero() {
        assert_eq!(rounded(0.000_012_345), 0.000_012_3);
        assert_eq!(rounded(12.345_678), 12.345_7);
        assert_eq!(rounded(0.0), 0.0);
    }

    #[test]
    fn text_is_pretty_json_and_only_floats_are_rounded() {
        let of = json!({
            "whole": 12_345_678, "share": 1.0 / 3.0, "p": 0.000_012_345, "none": null, "round": 30.0,
            "list": [], "lists": [[1, 2.000_04], {}], "text": "0.123456 \"quoted\"",
        });
        let told = text(&of);
        assert!(told.ends_with("}\n"));
        assert!(
            told.contains("\n  \"share\": 0.3333,\n  \"p\": 0.0000123,\n"),
            "{told}"
        );
        let read: Value = serde_json::from_str(&told).unwrap();
        assert_eq!(told, format!("{read:#}\n"), "as a value is printed");
        assert_eq!(read["lists"], json!([[1, 2.0], {}]));
        assert_eq!(read["text"], of["text"]);
        assert_eq!(text(&[f64::NAN, 0.5]), "[\n  null,\n  0.5\n]\n");
    }
}
