//! `summary.html`: the page of a whole batch, one file that works offline.
//!
//! In: rows ready to draw. Out: one HTML text. It asks for nothing over the network, which its own content policy
//! enforces; links lead to the review of each clip beside it.

use super::words;
use crate::pipeline::CAUTIONS;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value, context};
use serde::Serialize;

const TEMPLATE: &str = include_str!("page/summary.html");
const STYLE: &str = include_str!("page/page.css");

/// One result.
#[derive(Debug, Clone, Serialize)]
pub struct Row {
    /// Number of the clip in the list.
    pub number: u64,
    /// Path as listed.
    pub clip: String,
    /// Pseudonym of the patient.
    pub person: Option<String>,
    /// Day of the session.
    pub date: Option<String>,
    /// Video, from the manifest.
    pub video: Option<String>,
    /// Note, from the manifest.
    pub note: Option<String>,
    /// Title of the exercise.
    pub exercise: String,
    /// `left` or `right`.
    pub side: &'static str,
    /// Where its review is, from this page.
    pub link: String,
    /// Repetitions.
    pub reps: usize,
    /// With a verdict other than *cannot tell*.
    pub measurable: usize,
    /// Outside.
    pub outside: usize,
    /// Near.
    pub near: usize,
    /// Within.
    pub within: usize,
    /// The range in words.
    pub range: Option<String>,
    /// Claimed drifts toward outside, a sentence each.
    pub drift: Vec<String>,
    /// The commonest finding outside.
    pub worst: Option<String>,
}

/// One day of a person and exercise: the results of the left and of the right arm.
#[derive(Debug, Clone, Serialize)]
pub struct Day {
    /// The day; none where the manifest has none.
    pub date: Option<String>,
    /// Left, right.
    pub arms: Vec<Vec<Row>>,
}

/// Results that belong together.
#[derive(Debug, Clone, Serialize)]
pub struct Together {
    /// Pseudonym of the patient.
    pub person: String,
    /// Title of the exercise.
    pub exercise: String,
    /// Days in order.
    pub days: Vec<Day>,
}

/// One clip that could not be done.
#[derive(Debug, Clone, Serialize)]
pub struct Failure {
    /// Path as listed.
    pub clip: String,
    /// Code.
    pub code: &'static str,
    /// What is wrong.
    pub what: String,
    /// Where.
    pub place: String,
    /// What to do.
    pub remedy: String,
}

/// Everything on the page.
#[derive(Debug, Serialize)]
pub struct Page {
    /// Name of the folder or manifest.
    pub source: String,
    /// Clips that were to be done.
    pub clips: usize,
    /// Results.
    pub results: u64,
    /// Repetitions.
    pub reps: u64,
    /// Measurable repetitions.
    pub measurable: u64,
    /// Repetitions outside.
    pub outside: u64,
    /// `share 2 of 8`, if it is not the whole list.
    pub share: Option<String>,
    /// Rows, what needs eyes first.
    pub rows: Vec<Row>,
    /// Rows that the page has no room for.
    pub rows_left_out: usize,
    /// What belongs together.
    pub together: Vec<Together>,
    /// What could not be done.
    pub failures: Vec<Failure>,
    /// Failures that the page has no room for.
    pub failures_left_out: usize,
    /// Whether each clip has a review page to link to.
    pub review: bool,
}

/// The range in words: `peak elevation 132 to 148° in 10 repetitions`.
pub fn range(measure: &str, low: f64, high: f64, reps: usize) -> String {
    let title = words::lower(&words::title_of_id(measure));
    format!(
        "{title} {} to {}° in {}",
        words::number(low, 0),
        words::number(high, 0),
        words::count(reps, "complete repetition"),
    )
}

/// The page as text.
///
/// # Errors
/// When the template fails, which no data should cause.
pub fn page(page: &Page) -> Result<String, minijinja::Error> {
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.add_template("summary.html", TEMPLATE)?;
    environment.get_template("summary.html")?.render(context! {
        page => Value::from(Serde(page)),
        style => Value::from_safe_string(STYLE.to_string()),
        cautions => CAUTIONS.to_vec(),
        program => concat!("scaplane ", env!("CARGO_PKG_VERSION")),
    })
}
