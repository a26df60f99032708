//! A plan from its file: syntax and keys here, values in `check`.

use super::{Date, Plan, check};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use serde::de::{self, Deserialize, Deserializer};
use std::path::Path;
use std::str::FromStr;

/// Greatest size of a plan, bytes: a page of text is a hundredth of it.
const LARGEST: u64 = 1 << 20;

/// Reads a plan.
///
/// # Errors
/// The file cannot be read, is no plan, or says something impossible; with its line.
pub fn read(path: &Path, models: &Models) -> Result<Plan, Fault> {
    let name = path.display().to_string();
    let unread = |what: String| {
        Fault::new(
            FaultKind::Io,
            "plan/io",
            format!("the plan could not be read: {what}"),
            Place::file(name.clone()),
            "checking the path, or `scaplane plan new` for a new one",
        )
    };
    let size = std::fs::metadata(path).map_err(|error| unread(error.to_string()))?;
    if !size.is_file() || size.len() > LARGEST {
        return Err(unread("it is no file of at most a megabyte".into()));
    }
    let text = std::fs::read_to_string(path).map_err(|error| unread(error.to_string()))?;
    parse(&name, &text, models)
}

/// A plan from text.
///
/// # Errors
/// The text is no plan, or says something impossible; with its line.
pub fn parse(name: &str, text: &str, models: &Models) -> Result<Plan, Fault> {
    let plan: Plan = toml::from_str(text).map_err(|error| {
        let place = match error.span().and_then(|span| text.get(..span.start)) {
            Some(before) => Place::file(name).line(before.matches('\n').count() as u64 + 1),
            None => Place::file(name),
        };
        Fault::new(
            FaultKind::Usage,
            "plan/malformed",
            error.message().trim().replace('\n', "; "),
            place,
            "mending that line; `scaplane plan new` shows every key",
        )
    })?;
    check::plan(&plan, name, text, models)?;
    Ok(plan)
}

impl<'de> Deserialize<'de> for Date {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Date, D::Error> {
        let stamp = toml::value::Datetime::deserialize(deserializer)?;
        day(&stamp).ok_or_else(|| {
            de::Error::custom(
                "a day is written without quotes and without a time, such as 2026-03-14",
            )
        })
    }
}

/// A day as it is written in a plan: `2026-03-14`.
impl FromStr for Date {
    type Err = String;

    fn from_str(text: &str) -> Result<Date, String> {
        let stamp = text.trim().parse::<toml::value::Datetime>().ok();
        let date = stamp.as_ref().and_then(day);
        date.ok_or_else(|| format!("`{text}` is no day, such as 2026-03-14"))
    }
}

/// A stamp that is a day and nothing else.
fn day(stamp: &toml::value::Datetime) -> Option<Date> {
    match (stamp.date, stamp.time, stamp.offset) {
        (Some(date), None, None) => Some(Date {
            year: date.year,
            month: date.month,
            day: date.day,
        }),
        _ => None,
    }
}
