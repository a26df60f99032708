//! A new plan, with every key and what it means.

use super::FORMAT;
use crate::body::Side;
use crate::models::Exercise;

/// Text of a new plan for an exercise.
pub fn template(pseudonym: &str, side: Side, exercise: &Exercise) -> String {
    let quoted = |text: &str| toml::Value::String(text.to_string()).to_string();
    let limits: String = exercise
        .limits
        .iter()
        .map(|limit| {
            let end = |name: &str, value: Option<f64>| match value {
                Some(value) => format!("# {name} = {value}\n"),
                None => String::new(),
            };
            format!(
                "#\n# [[exercise.limit]]  # default, {}\n# measure = {}\n{}{}# reason = \"\"\n",
                limit.unit.symbol(),
                quoted(&limit.measure),
                end("low", limit.low),
                end("high", limit.high),
            )
        })
        .collect();
    format!(
        "# A plan of the treating clinician. The surgeon's and the therapist's protocol comes first.\n\
         # A pseudonym, never a name. Lines that start with # are examples: take the mark away to use one.\n\
         format = {format}\n\
         pseudonym = {pseudonym}\n\
         side = \"{side}\"\n\
         # operation_date = 2026-01-31\n\
         # phase = \"strengthening\"      # in the clinic's own words\n\
         # pain_limit = 3               # 0 to 10: at this the person stops\n\
         \n\
         # Two inclinometer readings of upward rotation of the blade scale the rhythm of this person.\n\
         # [[inclinometer]]\n\
         # elevation_deg = 0\n\
         # upward_rotation_deg = 2\n\
         # [[inclinometer]]\n\
         # elevation_deg = 90\n\
         # upward_rotation_deg = 30\n\
         \n\
         [[exercise]]\n\
         id = {id}\n\
         sets = 3\n\
         repetitions = 10\n\
         # load_kg = 1.0\n\
         # resistance = \"light band\"\n\
         # tempo = {{ out_s = 2, hold_s = 1, back_s = 3 }}\n\
         #\n\
         # Limits are defaults. One that you change needs a reason, and an end that you leave out is open.\n\
         {open}\
         {limits}",
        format = quoted(FORMAT),
        pseudonym = quoted(pseudonym),
        side = side.id(),
        id = quoted(&exercise.id),
        open = open_ends(exercise),
    )
}

/// Ends without a default that a plan may set, in words.
fn open_ends(exercise: &Exercise) -> String {
    let mut lines = String::new();
    for limit in exercise.limits.iter().chain(&exercise.settable) {
        let ends = [
            ("low", limit.low, &limit.below),
            ("high", limit.high, &limit.above),
        ];
        for (end, _, _) in ends
            .into_iter()
            .filter(|(_, default, words)| default.is_none() && words.is_some())
        {
            let (measure, unit) = (&limit.measure, limit.unit.symbol());
            lines.push_str(&format!(
                "# Another may be set, without a default: {end} of {measure}, {unit}.\n"
            ));
        }
    }
    lines
}
