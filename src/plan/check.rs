//! What a plan may say: every value is possible, every exercise and measure is known.

use super::{FORMAT, Override, Plan, Prescription};
use crate::models::{Exercise, Models};
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
            let known: Vec<&str> = models.exercises.keys().map(String::as_str).collect();
            return Err(wrong(
                format!("no exercise is called `{}`", one.id),
                place("id"),
                format!("one of {}", known.join(", ")),
            ));
        };
        prescription(one, &place)?;
        limits(one, exercise, &written)?;
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

fn limits(one: &Prescription, exercise: &Exercise, written: &Written<'_>) -> Result<(), Fault> {
    for limit in &one.limit {
        let place = |key: &str| limit_place(limit, key, written, &one.id);
        let Some(default) = exercise.limit(&limit.measure) else {
            let judged: Vec<&str> = exercise.limits.iter().map(|l| l.measure.as_str()).collect();
            return Err(wrong(
                format!("`{}` does not judge `{}`", one.id, limit.measure),
                place("measure"),
                format!("one of {}", judged.join(", ")),
            ));
        };
        if limit.reason.trim().is_empty() {
            return Err(wrong(
                "a changed limit needs a reason".into(),
                place("reason"),
                "a sentence that the next reader understands",
            ));
        }
        let ends = [limit.low, limit.high];
        let possible = ends
            .iter()
            .flatten()
            .all(|end| end.is_finite() && end.abs() <= 400.0);
        let ordered = !matches!(ends, [Some(low), Some(high)] if low >= high);
        if ends == [None, None] || !possible || !ordered {
            return Err(wrong(
                format!(
                    "the limits of `{}` leave nothing inside, or everything",
                    limit.measure
                ),
                place("low"),
                "low, high or both, low below high, in the measure's unit",
            ));
        }
        let unworded = (limit.low.is_some() && default.below.is_none())
            || (limit.high.is_some() && default.above.is_none());
        if unworded {
            return Err(wrong(
                format!(
                    "`{}` has no limit at that end in `{}`",
                    limit.measure, one.id
                ),
                place(if limit.low.is_some() && default.below.is_none() {
                    "low"
                } else {
                    "high"
                }),
                "the end that the exercise file has, or an exercise file of your own with --models",
            ));
        }
    }
    Ok(())
}

/// Place of a key of a changed limit: the table whose `measure` is that one.
fn limit_place(limit: &Override, key: &str, written: &Written<'_>, exercise: &str) -> Place {
    let field = format!("exercise {exercise} limit {} {key}", limit.measure);
    let quoted = format!("\"{}\"", limit.measure);
    let heads = written.text.matches("[[exercise.limit]]").count();
    (0..heads)
        .find(|nth| {
            let place = written.within("[[exercise.limit]]", *nth, "measure", String::new());
            place.line.is_some_and(|line| {
                let found = written.text.lines().nth(line as usize - 1);
                found.is_some_and(|found| found.contains(&quoted))
            })
        })
        .map_or_else(
            || Place::file(written.name).field(field.clone()),
            |nth| written.within("[[exercise.limit]]", nth, key, field.clone()),
        )
}
