//! The plan and what the person said, beside what was done: labels and sentences.

use super::words;
use crate::body::Side;
use crate::session::{ChangedLimit, Done, Planned, Prescribed, Reported, Session};

/// One row: a label and what is said.
pub type Row = (String, String);

/// Rows of a session; empty without a plan and without anything said.
pub fn rows(session: &Session) -> Vec<Row> {
    let mut rows = Vec::new();
    if let Some(plan) = &session.plan {
        rows.extend(of_plan(plan, session.side));
    }
    let limit = session.plan.as_ref().and_then(|plan| plan.pain_limit);
    if let Some(reported) = &session.reported {
        rows.extend(of_reported(reported, limit));
    }
    rows
}

fn of_plan(plan: &Planned, side: Side) -> Vec<Row> {
    let mut who = vec![plan.pseudonym.clone()];
    who.extend(
        plan.operation_date
            .iter()
            .map(|day| format!("operation {day}")),
    );
    who.extend(plan.phase.clone());
    let mut rows = vec![row("Plan of", who.join(", "))];
    let other = plan.side.filter(|treated| *treated != side);
    rows.push(match (&plan.prescribed, other) {
        (Some(prescribed), _) => row("Prescribed", prescription(prescribed)),
        (None, Some(treated)) => row(
            "Prescribed",
            format!(
                "the plan is for the {} arm, this is the {} one; default limits were used",
                treated.id(),
                side.id()
            ),
        ),
        (None, None) => row(
            "Prescribed",
            "this exercise is not in the plan; default limits were used".into(),
        ),
    });
    rows.push(row("Done", done(&plan.done)));
    if let Some(prescribed) = &plan.prescribed {
        rows.push(row("Against the plan", against(prescribed, &plan.done)));
    }
    rows.extend(
        plan.changed_limits
            .iter()
            .map(|limit| row("Limit changed", changed(limit))),
    );
    rows
}

/// What is in force in place of what, and which end is no longer judged.
pub fn changed(limit: &ChangedLimit) -> String {
    let shown = |ends| words::limit(ends, &limit.unit);
    let before = match limit.default {
        [None, None] => "where the exercise has no limit".to_string(),
        default => format!("in place of {}", shown(default)),
    };
    let opened = limit.default.iter().zip(&limit.now).zip(["lower", "upper"]);
    let opened: String = opened
        .filter(|((default, now), _)| default.is_some() && now.is_none())
        .map(|(_, end)| format!("; no {end} limit is judged"))
        .collect();
    let (title, now, reason) = (&limit.title, shown(limit.now), &limit.reason);
    format!("{title}: {now} {before}{opened}. {reason}")
}

fn row(label: &str, text: String) -> Row {
    (label.to_string(), text)
}

fn plural(count: u32, one: &str, more: &str) -> String {
    match count {
        1 => format!("1 {one}"),
        count => format!("{count} {more}"),
    }
}

/// Sets, repetitions, load and tempo in words.
pub fn prescription(one: &Prescribed) -> String {
    let mut parts = vec![format!(
        "{} of {}",
        plural(one.sets, "set", "sets"),
        one.repetitions
    )];
    parts.extend(one.load_kg.map(|load| format!("{load} kg")));
    parts.extend(one.resistance.clone());
    parts.extend(tempo(&one.tempo_s, 0));
    parts.join(", ")
}

fn done(done: &Done) -> String {
    let sets = match done.repetitions.as_slice() {
        [] => "no complete repetition".to_string(),
        [only] => format!("1 set of {only}"),
        several => {
            let counts: Vec<String> = several.iter().map(u32::to_string).collect();
            format!("{} sets of {}", several.len(), counts.join(", "))
        }
    };
    let mut parts = vec![sets];
    match tempo(&done.tempo_s, 1) {
        Some(tempo) => parts.push(format!("middle {tempo}")),
        None => parts.push("tempo cannot be told".into()),
    }
    parts.join(", ")
}

fn tempo(seconds: &[Option<f64>; 3], decimals: usize) -> Option<String> {
    let phases: Vec<String> = seconds
        .iter()
        .zip(["out", "hold", "back"])
        .filter_map(|(seconds, phase)| Some(format!("{:.decimals$} s {phase}", (*seconds)?)))
        .collect();
    (!phases.is_empty()).then(|| phases.join(", "))
}

fn against(prescribed: &Prescribed, done: &Done) -> String {
    let wanted = prescribed.sets * prescribed.repetitions;
    let seen: u32 = done.repetitions.iter().sum();
    let mut parts = vec![format!("{seen} of {wanted} repetitions are in this clip")];
    for ((wanted, seen), phase) in prescribed
        .tempo_s
        .iter()
        .zip(&done.tempo_s)
        .zip(["way out", "hold", "way back"])
    {
        if let (Some(wanted), Some(seen)) = (wanted, seen) {
            let away = seen - wanted;
            let than = if away > 0.0 { "longer" } else { "shorter" };
            parts.push(format!("{phase} {:.1} s {than}", away.abs()));
        }
    }
    parts.join("; ")
}

fn of_reported(reported: &Reported, limit: Option<f64>) -> Vec<Row> {
    let mut rows = Vec::new();
    let pain: Vec<String> = [
        ("before", reported.pain_before),
        ("during", reported.pain_during),
        ("after", reported.pain_after),
    ]
    .iter()
    .filter_map(|(when, pain)| Some(format!("{when} {}", (*pain)?)))
    .collect();
    if !pain.is_empty() {
        let worst = [
            reported.pain_before,
            reported.pain_during,
            reported.pain_after,
        ]
        .into_iter()
        .flatten()
        .fold(0.0, f64::max);
        let stop = match limit {
            Some(limit) if worst >= limit => format!("; the plan stops at {limit}: reached"),
            Some(limit) => format!("; the plan stops at {limit}"),
            None => String::new(),
        };
        rows.push(row(
            "Pain as entered (0 to 10)",
            format!("{}{stop}", pain.join(", ")),
        ));
    }
    if let Some(effort) = reported.effort {
        rows.push(row("Effort as entered (0 to 10)", effort.to_string()));
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_done_stands_beside_what_was_prescribed() {
        let prescribed = Prescribed {
            sets: 3,
            repetitions: 10,
            load_kg: Some(1.5),
            resistance: None,
            tempo_s: [Some(2.0), None, Some(3.0)],
        };
        let shown = Done {
            repetitions: vec![10, 9],
            tempo_s: [Some(1.5), Some(0.4), Some(3.2)],
        };
        assert_eq!(
            prescription(&prescribed),
            "3 sets of 10, 1.5 kg, 2 s out, 3 s back"
        );
        assert_eq!(
            done(&shown),
            "2 sets of 10, 9, middle 1.5 s out, 0.4 s hold, 3.2 s back"
        );
        assert_eq!(
            against(&prescribed, &shown),
            "19 of 30 repetitions are in this clip; way out 0.5 s shorter; way back 0.2 s longer"
        );
    }

    #[test]
    fn a_lowered_ceiling_says_that_the_default_floor_is_not_judged() {
        let mut limit = ChangedLimit {
            measure: "peak-elevation".into(),
            title: "Highest elevation".into(),
            unit: "deg".into(),
            default: [Some(120.0), None],
            now: [None, Some(90.0)],
            reason: "Week five.".into(),
        };
        assert_eq!(
            changed(&limit),
            "Highest elevation: at most 90° in place of at least 120°; no lower limit is judged. Week five."
        );
        limit.default = [None, None];
        assert_eq!(
            changed(&limit),
            "Highest elevation: at most 90° where the exercise has no limit. Week five."
        );
    }

    #[test]
    fn pain_at_the_limit_is_said() {
        let reported = Reported {
            pain_during: Some(4.0),
            effort: Some(6.5),
            ..Reported::default()
        };
        let rows = of_reported(&reported, Some(4.0));
        assert_eq!(rows[0].1, "during 4; the plan stops at 4: reached");
        assert_eq!(rows[1].1, "6.5");
        assert!(!of_reported(&reported, Some(5.0))[0].1.contains("reached"));
        assert!(of_reported(&Reported::default(), None).is_empty());
    }
}
