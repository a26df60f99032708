//! The course on the terminal: 80 columns.

use super::words as own;
use crate::course::{Course, Direction, Series, State, Visit};
use crate::pipeline::CAUTIONS;
use crate::report::text::{Colour, Page};
use crate::report::words;

/// The whole text.
pub fn course_text(course: &Course, colour: Colour) -> String {
    let mut page = Page {
        out: String::new(),
        colour,
    };
    page.wrap(
        0,
        &format!(
            "{}: {}, {} arm",
            course.person,
            course.exercise_title,
            course.side.id()
        ),
    );
    page.wrap(0, &span(course));
    page.blank();
    for sentence in sentences(course) {
        page.wrap(0, &sentence);
    }
    if !course.changes.is_empty() {
        page.heading(
            "Recording or plan changed, so numbers and verdicts may mean different things",
        );
        for change in &course.changes {
            page.hang("-", 2, &change.text);
        }
    }
    page.heading("Sessions");
    for visit in &course.sessions {
        page.hang(&visit.date, 12, &row(visit).join("; "));
    }
    for series in course.series.iter().filter(|series| series.judged) {
        measure(&mut page, series);
    }
    let others: Vec<&str> = course
        .series
        .iter()
        .filter(|series| !series.judged)
        .map(|series| series.title.as_str())
        .collect();
    if !others.is_empty() {
        page.blank();
        page.wrap(
            0,
            &format!(
                "Not judged, in course.html and --json: {}.",
                others.join(", ")
            ),
        );
    }
    page.heading("Checklist for the clinician's decision");
    page.wrap(0, NOTHING_DECIDES);
    for item in &course.checklist {
        page.hang(
            mark(item.state),
            4,
            &format!("{}: {}.", item.title, item.state.words()),
        );
        page.hang("", 4, &format!("{} Source: {}", item.evidence, item.source));
    }
    page.hang("[ ]", 4, "Decision, name and day:");
    page.blank();
    for caution in CAUTIONS.iter().take(2) {
        page.wrap(0, caution);
    }
    page.out
}

/// Stands over every checklist.
pub const NOTHING_DECIDES: &str = "Nothing here decides by itself. The surgeon's and the therapist's protocol comes first; the clinician \
     weighs these lines with what only a person in the room can see.";

fn mark(state: State) -> &'static str {
    match state {
        State::Met => "ok",
        State::NotMet => "!!",
        State::CannotTell => "?",
        State::NotEntered => "--",
    }
}

/// Days and weeks that the course spans.
pub fn span(course: &Course) -> String {
    let mut text = words::count(course.sessions.len(), "session");
    if let (Some(first), Some(last)) = (course.sessions.first(), course.sessions.last()) {
        text += &match first.date == last.date {
            true => format!(", {}", first.date),
            false => format!(", {} to {}", first.date, last.date),
        };
        if let (Some(a), Some(b)) = (first.weeks_since_operation, last.weeks_since_operation) {
            let weeks = [a, b].map(|weeks| words::number(weeks, 1));
            text += &match first.date == last.date {
                true => format!("; {} weeks after the operation", weeks[0]),
                false => format!("; {} weeks after the operation", weeks.join(" to ")),
            };
        }
    }
    text
}

/// What is said first: the trends that are claimed, judged measures before the others; else that there is none.
pub fn sentences(course: &Course) -> Vec<String> {
    let claimed =
        |series: &&Series| matches!(series.trend.direction, Direction::Rises | Direction::Falls);
    let mut said: Vec<String> = course
        .series
        .iter()
        .filter(claimed)
        .map(|series| series.trend.text.clone())
        .collect();
    if said.is_empty() {
        let most = course.series.iter().map(|series| series.trend.days).max();
        said.push(match most {
            Some(days) if days >= 5 => {
                "No measure rose or fell more than chance and error explain.".to_string()
            }
            _ => "No trend is claimed: five days with a value are needed.".to_string(),
        });
    }
    said
}

/// What is known of a session, in short.
pub fn row(visit: &Visit) -> Vec<String> {
    let mut parts = vec![format!("no. {}", visit.session)];
    parts.extend(
        visit
            .weeks_since_operation
            .map(|weeks| format!("week {}", words::number(weeks, 1))),
    );
    parts.extend(visit.phase.clone());
    parts.extend(own::load(visit.load_kg, visit.resistance.as_deref()));
    parts.extend(own::pain(&visit.reported).map(|pain| format!("pain before/during/after {pain}")));
    parts.push(own::counts(visit));
    if !visit.drift_outside.is_empty() {
        parts.push(format!(
            "drift toward outside: {}",
            visit.drift_outside.join(", ")
        ));
    }
    parts
}

fn measure(page: &mut Page, series: &Series) {
    page.heading(&series.title);
    if series.limit != [None, None] {
        page.wrap(
            0,
            &format!("Limit: {}", words::limit(series.limit, &series.unit)),
        );
    }
    for point in &series.points {
        let text = format!(
            "{}; {}, {}",
            own::mean(&point.mean),
            words::count(point.mean.repetitions, "repetition"),
            words::basis(point.mean.basis)
        );
        page.hang(&point.date, 12, &text);
    }
    page.wrap(0, &series.trend.text);
}
