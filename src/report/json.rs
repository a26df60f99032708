//! `review.json` and its JSON Schema.

use crate::session::Session;
use serde_json::Value;

/// The result as JSON text, pretty, ending in a newline.
pub fn review(session: &Session) -> String {
    let mut value = serde_json::to_value(session).unwrap_or(Value::Null);
    round(&mut value);
    let mut text = serde_json::to_string_pretty(&value).unwrap_or_default();
    text.push('\n');
    text
}

/// Rounds every number to four decimals: a ten-thousandth of a degree is far below any error here.
fn round(value: &mut Value) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let rounded = number.as_f64().map(|x| (x * 1e4).round() / 1e4);
            *value = rounded.map_or(Value::Null, Value::from);
        }
        Value::Array(items) => items.iter_mut().for_each(round),
        Value::Object(map) => map.values_mut().for_each(round),
        _ => {}
    }
}

/// JSON Schema of the result (draft 2020-12).
pub fn schema() -> Value {
    let mut schema = schemars::schema_for!(Session).to_value();
    if let Some(map) = schema.as_object_mut() {
        map.insert("$id".into(), crate::session::FORMAT.into());
    }
    schema
}
