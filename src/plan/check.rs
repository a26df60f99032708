//! What a plan may say: every value is possible, every exercise and measure is known.

use super::{FORMAT, Override, Plan, Prescription};
use crate::models::vocabulary::Unit;
use crate::models::{Exercise, Limit, Models};
use crate::note::{Fault, FaultKind, Place};

/// The file and where a key stands in it.
struct Written<'a> {
    name: &'a str,
    text: &'a str,
}

impl Written<'_> {
    /// Place of the `nth` line (from 0) that starts with a key or a table's head.
    fn place(&self, start: &str, nth: usize, field: String) -> Place {
        let mut lines = self.text.lines().zip(1..);
        let found = lines
            .by_ref()
            .filter(|(line, _)| is_key(line, start))
            .nth(nth);
        let place = Place::file(self.name).field(field);
        match found {
            Some((_, number)) => place.line(number),
            None => place,
        }
    }

    /// Place of a key within the `nth` table of that head.
    fn within(&self, head: &str, nth: usize, key: &str, field: String) -> Place {
        let starts: Vec<u64> = self
            .text
            .lines()
            .zip(1..)
            .filter(|(line, _)| line.trim() == head)
            .map(|(_, number)| number)
            .collect();
        let Some(start) = starts.get(nth) else {
            return Place::file(self.name).field(field);
        };
        let found = self
            .text
            .lines()
            .zip(1..)
            .skip(*start as usize)
            .take_while(|(line, _)| !line.trim_start().starts_with("[["))
            .find(|(line, _)| is_key(line, key));
        let line = found.map_or(*start, |(_, number)| number);
        Place::file(self.name).field(field).line(line)
    }
}

fn is_key(line: &str, key: &str) -> bool {
    line.trim_start()
        .strip_prefix(key)
        .is_some_and(|rest| key.starts_with('[') || rest.trim_start().starts_with('='))
}

fn wrong(what: String, place: Place, remedy: impl Into<String>) -> Fault {
    Fault::new(FaultKind::Usage, "plan/bad-value", what, place, remedy)
}

/// A value that lies in a range.
fn within(
    value: f64,
    range: std::ops::RangeInclusive<f64>,
    what: &str,
    place: impl FnOnce() -> Place,
) -> Result<(), Fault> {
    if range.contains(&value) {
        return Ok(());
    }
    let (least, most) = (range.start(), range.end());
    Err(wrong(
        format!("{what} cannot be {value}"),
        place(),
        format!("a number from {least} to {most}"),
    ))
}

pub(super) fn plan(plan: &Plan, name: &str, text: &str, models: &Models) -> Result<(), Fault> {
    let written = Written { name, text };
    let top = |key: &str| written.place(key, 0, key.to_string());
    if plan.format != FORMAT {
        return Err(wrong(
            format!(
                "this program reads plans of the format `{FORMAT}`, this is `{}`",
                plan.format
            ),
            top("format"),
            format!("format = \"{FORMAT}\", or the version of the program that wrote the plan"),
        ));
    }
    let pseudonym = plan.pseudonym.trim();
    if pseudonym.is_empty()
        || pseudonym.chars().count() > 64
        || pseudonym.chars().any(char::is_control)
    {
        return Err(wrong(
            "a pseudonym has 1 to 64 characters on one line".into(),
            top("pseudonym"),
            "a word that is nobody's name, such as \"wren-17\"",
        ));
    }
    if let Some(limit) = plan.pain_limit {
        within(limit, 0.0..=10.0, "the pain limit", || top("pain_limit"))?;
    }
    inclinometer(plan, &written)?;
    for (nth, one) in plan.exercise.iter().enumerate() {
        let twice = plan
            .exercise
            .iter()
            .take(nth)
            .any(|other| other.id == one.id);
        let place = |key: &str| {
            let field = format!("exercise {} {key}", one.id);
            written.within("[[exercise]]", nth, key, field)
        };
        if twice {
            return Err(wrong(
                format!("`{}` is prescribed twice", one.id),
                place("id"),
                "one entry for each exercise",
            ));
        }
        let Some(exercise) = models.exercise(&one.id) else {
            let known: Vec<&str> = models.exercises.keys().collect();
            return Err(wrong(
                format!("no exercise is called `{}`", one.id),
                place("id"),
                format!("one of {}", known.join(", ")),
            ));
        };
        prescription(one, &place)?;
        let before = plan.exercise.iter().take(nth).map(|one| one.limit.len());
        limits(one, exercise, before.sum(), &written)?;
    }
    Ok(())
}

fn inclinometer(plan: &Plan, written: &Written<'_>) -> Result<(), Fault> {
    for (nth, one) in plan.inclinometer.iter().enumerate() {
        let place =
            |key: &str| written.within("[[inclinometer]]", nth, key, format!("inclinometer {key}"));
        within(
            one.elevation_deg,
            0.0..=150.0,
            "the elevation of the arm",
            || place("elevation_deg"),
        )?;
        within(
            one.upward_rotation_deg,
            -30.0..=90.0,
            "the upward rotation",
            || place("upward_rotation_deg"),
        )?;
    }
    let head = || written.place("[[inclinometer]]", 0, "inclinometer".into());
    match plan.inclinometer.as_slice() {
        [] => Ok(()),
        [_, _] => {
            let far = plan
                .calibration()
                .is_some_and(|[low, high]| high.elevation_deg - low.elevation_deg >= 30.0);
            if far {
                Ok(())
            } else {
                Err(wrong(
                    "the two readings of the inclinometer are less than 30 degrees of elevation apart".into(),
                    head(),
                    "one reading with the arm at rest and one raised, best at 90 degrees or more",
                ))
            }
        }
        some => Err(wrong(
            format!("{} readings of the inclinometer", some.len()),
            head(),
            "two: one with the arm at rest and one raised",
        )),
    }
}

fn prescription(one: &Prescription, place: &dyn Fn(&str) -> Place) -> Result<(), Fault> {
    within(
        f64::from(one.sets),
        1.0..=20.0,
        "the number of sets",
        || place("sets"),
    )?;
    within(
        f64::from(one.repetitions),
        1.0..=200.0,
        "the number of repetitions",
        || place("repetitions"),
    )?;
    if let Some(load) = one.load_kg {
        within(load, 0.0..=100.0, "the load in kilograms", || {
            place("load_kg")
        })?;
    }
    let Some(tempo) = one.tempo else {
        return Ok(());
    };
    for seconds in [tempo.out_s, tempo.hold_s, tempo.back_s]
        .into_iter()
        .flatten()
    {
        within(seconds, 0.0..=60.0, "a phase in seconds", || place("tempo"))?;
    }
    Ok(())
}

/// The changed limits of an exercise; as many stand before them in the plan.
fn limits(
    one: &Prescription,
    exercise: &Exercise,
    before: usize,
    written: &Written<'_>,
) -> Result<(), Fault> {
    for (nth, limit) in one.limit.iter().enumerate() {
        let place = |key: &str| {
            let field = format!("exercise {} limit {} {key}", one.id, limit.measure);
            written.within("[[exercise.limit]]", before + nth, key, field)
        };
        let Some(default) = exercise.limit_for_plan(&limit.measure) else {
            let all = exercise.limits.iter().chain(&exercise.settable);
            let judged: Vec<&str> = all.map(|limit| limit.measure.as_str()).collect();
            return Err(wrong(
                format!("`{}` does not judge `{}`", one.id, limit.measure),
                place("measure"),
                format!("one of {}", judged.join(", ")),
            ));
        };
        let twice = |other: &Override| other.measure == limit.measure;
        if one.limit.iter().take(nth).any(twice) {
            return Err(wrong(
                format!("`{}` is limited twice in `{}`", limit.measure, one.id),
                place("measure"),
                "one entry with low, high or both",
            ));
        }
        if limit.reason.trim().is_empty() {
            return Err(wrong(
                "a changed limit needs a reason".into(),
                place("reason"),
                "a sentence that the next reader understands",
            ));
        }
        ends(limit, default, &place)?;
        let unworded = [
            ("low", limit.low, &default.below),
            ("high", limit.high, &default.above),
        ]
        .into_iter()
        .find(|(_, end, words)| end.is_some() && words.is_none());
        if let Some((end, ..)) = unworded {
            return Err(wrong(
                format!(
                    "`{}` can have no `{end}` in `{}`: nobody wrote what is said beyond it",
                    limit.measure, one.id
                ),
                place(end),
                "the other end only, or an exercise file of your own with --models that has words for this one",
            ));
        }
    }
    Ok(())
}

/// Both ends are possible, there is one, and something lies between them.
fn ends(limit: &Override, default: &Limit, place: &dyn Fn(&str) -> Place) -> Result<(), Fault> {
    let most = largest(default.unit);
    for (key, end) in [("low", limit.low), ("high", limit.high)] {
        let Some(end) = end else { continue };
        within(
            end,
            -most..=most,
            &format!("{key} of `{}`", limit.measure),
            || place(key),
        )?;
    }
    match (limit.low, limit.high) {
        (None, None) => Err(wrong(
            format!("the limit of `{}` has no end", limit.measure),
            place("measure"),
            "low, high or both, in the measure's unit; an end that is left out is open",
        )),
        (Some(low), Some(high)) if low >= high => Err(wrong(
            format!("the limits of `{}` leave nothing inside", limit.measure),
            place("low"),
            "low below high, in the measure's unit",
        )),
        _ => Ok(()),
    }
}

/// No reading is larger: half a turn, a minute, and more than any share or time in an arc.
fn largest(unit: Unit) -> f64 {
    match unit {
        Unit::Degrees => 180.0,
        Unit::Seconds => 60.0,
        Unit::DegreeSeconds => 10_000.0,
        Unit::One => 10.0,
    }
}
