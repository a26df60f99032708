//! JSON Schema of the result (draft 2020-12).
//!
//! Derived from the types of `session`, then tightened by what types cannot say: the format's name, and that
//! a reading is either a value with its interval or an absence with its reason, never a third thing.

use crate::compare::{self, Comparison};
use crate::session::{FORMAT, Session};
use serde_json::{Value, json};

/// The schema; its `$id` is the format's name.
pub fn schema() -> Value {
    let mut schema = schemars::schema_for!(Session).to_value();
    if let Some(map) = schema.as_object_mut() {
        map.insert("$id".into(), FORMAT.into());
    }
    let insert = |value: &mut Value, at: &str, key: &str, what: Value| {
        if let Some(map) = value.pointer_mut(at).and_then(Value::as_object_mut) {
            map.insert(key.into(), what);
        }
    };
    insert(&mut schema, "/properties/format", "const", FORMAT.into());
    let row = either_value_or_reason();
    insert(&mut schema, "/$defs/ReadingRow", "oneOf", row);
    schema
}

/// The schema of `compare.json`; its `$id` is the format's name.
pub fn comparison_schema() -> Value {
    let mut schema = schemars::schema_for!(Comparison).to_value();
    if let Some(map) = schema.as_object_mut() {
        map.insert("$id".into(), compare::FORMAT.into());
    }
    let insert = |value: &mut Value, at: &str, key: &str, what: Value| {
        if let Some(map) = value.pointer_mut(at).and_then(Value::as_object_mut) {
            map.insert(key.into(), what);
        }
    };
    insert(
        &mut schema,
        "/properties/format",
        "const",
        compare::FORMAT.into(),
    );
    let mean = json!([
        {
            "title": "measured",
            "properties": { "value": { "type": "number" } },
            "required": ["value", "low", "high", "random", "basis"],
            "not": { "required": ["why"] }
        },
        {
            "title": "not measurable",
            "properties": { "value": { "type": "null" } },
            "required": ["value", "why"],
            "not": { "anyOf": [{ "required": ["low"] }, { "required": ["high"] }] }
        }
    ]);
    insert(&mut schema, "/$defs/Mean", "oneOf", mean);
    let row = json!([
        {
            "title": "judged",
            "properties": {
                "verdict": { "enum": ["different", "not-distinguishable"] },
                "difference": { "type": "object" },
                "floor": { "properties": { "value": { "type": "number" } } }
            },
            "not": { "required": ["why"] }
        },
        {
            "title": "not judged",
            "properties": { "verdict": { "const": "cannot-tell" } },
            "required": ["why"]
        }
    ]);
    insert(&mut schema, "/$defs/Row", "oneOf", row);
    schema
}

fn either_value_or_reason() -> Value {
    json!([
        {
            "title": "measured",
            "properties": { "value": { "type": "number" } },
            "required": ["value", "low", "high", "basis", "observed"],
            "not": { "required": ["why"] }
        },
        {
            "title": "not measurable",
            "properties": { "value": { "type": "null" } },
            "required": ["value", "why"],
            "not": { "anyOf": [{ "required": ["low"] }, { "required": ["high"] }] }
        }
    ])
}
