//! `review.json`: the whole result, for other programs.
//!
//! In: a session. Out: pretty JSON, keys in the order of the types, no NaN, floats rounded to what they are
//! worth. What it may contain is described by the schema beside it.

use super::finite::finite;
use crate::compare::Comparison;
use crate::session::Session;
use serde_json::Value;

pub use super::schema::{comparison_schema, schema};

/// The result as JSON text, pretty, ending in a newline.
pub fn review(session: &Session) -> String {
    let mut text = serde_json::to_string_pretty(&value(session)).unwrap_or_default();
    text.push('\n');
    text
}

/// The result as a JSON value with rounded numbers.
pub fn value(session: &Session) -> Value {
    let mut value = serde_json::to_value(finite(session)).unwrap_or(Value::Null);
    round(&mut value);
    value
}

/// A comparison as JSON text, pretty, ending in a newline.
pub fn comparison(comparison: &Comparison) -> String {
    let mut value = serde_json::to_value(comparison).unwrap_or(Value::Null);
    round(&mut value);
    format!("{value:#}\n")
}

/// Rounds every float to four decimals (a ten-thousandth of a degree is far below any error here), and a
/// small one, such as p, to three figures, so that it does not become zero.
pub(super) fn round(value: &mut Value) {
    match value {
        Value::Number(number) if number.is_f64() => {
            *value = number
                .as_f64()
                .map(rounded)
                .map_or(Value::Null, Value::from);
        }
        Value::Array(items) => items.iter_mut().for_each(round),
        Value::Object(map) => map.values_mut().for_each(round),
        _ => {}
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
    use super::rounded;

    #[test]
    fn a_small_p_does_not_become_zero() {
        assert_eq!(rounded(0.000_012_345), 0.000_012_3);
        assert_eq!(rounded(12.345_678), 12.345_7);
        assert_eq!(rounded(0.0), 0.0);
    }
}
