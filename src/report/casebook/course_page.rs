//! `course.html`: the course as one page that works offline and prints.

use super::course_text::{NOTHING_DECIDES, sentences, span};
use super::{plot, words as own};
use crate::course::{Course, Series, State, Visit};
use crate::pipeline::CAUTIONS;
use crate::report::chart::Drawn;
use crate::report::words;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value, context};
use serde::Serialize;

const TEMPLATE: &str = include_str!("../page/course.html");
const STYLE: &str = include_str!("../page/page.css");

/// One session.
#[derive(Serialize)]
struct Row {
    date: String,
    session: i64,
    week: Option<String>,
    phase: Option<String>,
    load: Option<String>,
    pain: Option<String>,
    counts: String,
    drift: String,
    remark: Option<String>,
}

/// One measure.
#[derive(Serialize)]
struct Plate {
    title: String,
    limit: Option<String>,
    svg: String,
    text: String,
    latest: String,
    judged: bool,
}

/// One line of the checklist.
#[derive(Serialize)]
struct Line {
    title: String,
    state: &'static str,
    mark: &'static str,
    evidence: String,
    source: String,
    note: String,
}

/// The page.
///
/// # Errors
/// When a drawing or the template fails, which no data should cause.
pub fn course_page(course: &Course) -> Drawn<String> {
    let plates: Vec<Plate> = course
        .series
        .iter()
        .map(plate)
        .collect::<Drawn<Vec<Plate>>>()?;
    let rows: Vec<Row> = course.sessions.iter().map(row).collect();
    let lines: Vec<Line> = course
        .checklist
        .iter()
        .map(|item| Line {
            title: item.title.clone(),
            state: item.state.words(),
            mark: match item.state {
                State::Met => "within",
                State::NotMet => "outside",
                State::CannotTell | State::NotEntered => "cannot-tell",
            },
            evidence: item.evidence.clone(),
            source: item.source.clone(),
            note: item.note.clone(),
        })
        .collect();
    let changes: Vec<String> = course
        .changes
        .iter()
        .map(|change| change.text.clone())
        .collect();
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.add_template("course.html", TEMPLATE)?;
    let page = environment.get_template("course.html")?.render(context! {
        title => format!("{}: {}, {} arm", course.person, course.exercise_title, course.side.id()),
        span => span(course),
        sentences => sentences(course),
        changes => changes,
        rows => Value::from(Serde(&rows)),
        plates => Value::from(Serde(&plates)),
        lines => Value::from(Serde(&lines)),
        nothing_decides => NOTHING_DECIDES,
        style => Value::from_safe_string(STYLE.to_string()),
        cautions => CAUTIONS.to_vec(),
        program => concat!("scaplane ", env!("CARGO_PKG_VERSION")),
    })?;
    Ok(page)
}

fn plate(series: &Series) -> Drawn<Plate> {
    let latest = series.points.last().map_or(String::new(), |point| {
        format!(
            "{} on {}, {}, {}",
            own::mean(&point.mean),
            point.date,
            words::count(point.mean.repetitions, "repetition"),
            words::basis(point.mean.basis)
        )
    });
    Ok(Plate {
        title: series.title.clone(),
        limit: (series.limit != [None, None]).then(|| words::limit(series.limit, &series.unit)),
        svg: plot::plot(series)?.unwrap_or_default(),
        text: series.trend.text.clone(),
        latest,
        judged: series.judged,
    })
}

fn row(visit: &Visit) -> Row {
    Row {
        date: visit.date.clone(),
        session: visit.session,
        week: visit
            .weeks_since_operation
            .map(|week| words::number(week, 1)),
        phase: visit.phase.clone(),
        load: own::load(visit.load_kg, visit.resistance.as_deref()),
        pain: own::pain(&visit.reported).map(|pain| {
            visit
                .pain_limit
                .map_or(pain.clone(), |limit| format!("{pain}, limit {limit}"))
        }),
        counts: own::counts(visit),
        drift: visit.drift_outside.join(", "),
        remark: visit.remark.clone(),
    }
}
