//! The trend of a measure over weeks: a fact about the sessions, never a forecast.
//!
//! *Definition*: one value a day, the mean of its sessions. Theil-Sen slope a week with its interval; exact Mann-Kendall
//! p, corrected over the judged measures, and over the others (Holm). A rise or fall is said only with five days or more, a corrected p below 0.05,
//! and a change over the course larger than two means differ by error alone (1.96 times the square root of two times
//! the middle standard deviation of the means, its systematic part included: where the recording stayed the same that
//! part is shared, so the demand is rather too high).
//!
//! *Not comparable*: where the evidence (direct, calibrated, proxy) or the source of the angles (one picture, world
//! coordinates) changed, the values mean different things and no line is drawn through them.

use super::Series;
use crate::dsp::holm::holm;
use crate::dsp::mann_kendall::mann_kendall;
use crate::dsp::theil_sen::theil_sen;
use crate::geom::median;
use crate::reading::Z_95;
use crate::store::Entry;
use serde::Serialize;

/// Fewest days for a trend: with four no two-sided p can reach 0.05 (Mann-Kendall, exact).
const LEAST_DAYS: usize = 5;

/// Level of the corrected p (common practice).
const LEVEL: f64 = 0.05;

/// What is said of the sessions.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// Larger over the weeks, more than chance and error explain.
    Rises,
    /// Smaller over the weeks.
    Falls,
    /// No trend beyond chance and error.
    None,
    /// Too few days.
    #[default]
    NotClaimed,
    /// The values mean different things.
    NotComparable,
}

/// The trend of one measure.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Trend {
    /// What is said.
    pub direction: Direction,
    /// Days with a value.
    pub days: usize,
    /// Theil-Sen slope a week; null if no line is drawn.
    pub slope_per_week: Option<f64>,
    /// 95 % interval of the slope, lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
    /// The line at the first session of the course.
    pub intercept: Option<f64>,
    /// Two-sided Mann-Kendall p.
    pub p: Option<f64>,
    /// The same, corrected for the number of measures.
    pub p_adjusted: Option<f64>,
    /// Change over the days by the line.
    pub change: Option<f64>,
    /// Smallest change that exceeds error.
    pub least_change: Option<f64>,
    /// One sentence.
    pub text: String,
}

/// The values by day.
struct Days {
    weeks: Vec<f64>,
    values: Vec<f64>,
    sds: Vec<f64>,
}

fn days(series: &Series) -> Days {
    let mut days = Days {
        weeks: Vec::new(),
        values: Vec::new(),
        sds: Vec::new(),
    };
    for day in series.points.chunk_by(|a, b| a.date == b.date) {
        let n = day.len() as f64;
        days.weeks.extend(day.first().map(|point| point.week));
        days.values
            .push(day.iter().map(|point| point.mean.value).sum::<f64>() / n);
        days.sds
            .push(day.iter().map(|point| point.mean.sd()).sum::<f64>() / n);
    }
    days
}

/// Sets the trend of every series.
pub fn claim(series: &mut [Series], entries: &[&Entry]) {
    let mut comparable_ones = Vec::new();
    for one in series.iter_mut() {
        let comparable = comparable(one, entries);
        one.trend = line(&days(one), comparable);
        comparable_ones.push(comparable);
    }
    // What is judged is one family of questions, what is only reported another.
    for judged in [true, false] {
        let family = || move |one: &&mut Series| one.judged == judged && one.trend.p.is_some();
        let ps: Vec<f64> = series
            .iter_mut()
            .filter(family())
            .filter_map(|one| one.trend.p)
            .collect();
        let corrected = holm(&ps).unwrap_or(ps);
        for (one, p) in series.iter_mut().filter(family()).zip(corrected) {
            one.trend.p_adjusted = Some(p);
        }
    }
    for (one, comparable) in series.iter_mut().zip(comparable_ones) {
        one.trend.direction = direction(&one.trend, comparable);
        one.trend.text = sentence(one);
    }
}

fn comparable(series: &Series, entries: &[&Entry]) -> bool {
    let same_basis = series
        .points
        .windows(2)
        .all(|pair| matches!(pair, [a, b] if a.mean.basis == b.mean.basis));
    let mut spaces = series.points.iter().filter_map(|point| {
        let entry = entries.iter().find(|entry| entry.number == point.session)?;
        Some(entry.session.clip.space)
    });
    let first = spaces.next();
    same_basis && spaces.all(|space| Some(space) == first)
}

fn line(days: &Days, comparable: bool) -> Trend {
    let mut trend = Trend {
        days: days.values.len(),
        ..Trend::default()
    };
    if !comparable || trend.days < LEAST_DAYS {
        return trend;
    }
    let (Ok(line), Ok(found)) = (
        theil_sen(&days.weeks, &days.values, 0.95),
        mann_kendall(&days.values),
    ) else {
        return trend;
    };
    let span = match (days.weeks.first(), days.weeks.last()) {
        (Some(first), Some(last)) => last - first,
        _ => 0.0,
    };
    trend.slope_per_week = Some(line.slope);
    trend.low = Some(line.low);
    trend.high = Some(line.high);
    trend.intercept = Some(line.intercept);
    trend.p = Some(found.p);
    trend.change = Some(line.slope * span);
    trend.least_change =
        median(days.sds.iter().copied()).map(|sd| Z_95 * std::f64::consts::SQRT_2 * sd);
    trend
}

fn direction(trend: &Trend, comparable: bool) -> Direction {
    if !comparable {
        return Direction::NotComparable;
    }
    match (
        trend.slope_per_week,
        trend.p_adjusted,
        trend.change,
        trend.least_change,
    ) {
        (Some(slope), Some(p), Some(change), Some(least)) => {
            match p < LEVEL && change.abs() > least {
                true if slope > 0.0 => Direction::Rises,
                true => Direction::Falls,
                false => Direction::None,
            }
        }
        _ => Direction::NotClaimed,
    }
}

fn sentence(series: &Series) -> String {
    let (title, trend) = (&series.title, &series.trend);
    let unit = match series.unit.as_str() {
        "1" => String::new(),
        "deg_s" => " deg s".to_string(),
        unit => format!(" {unit}"),
    };
    let number = |value: f64| match series.unit.as_str() {
        "deg" | "deg_s" => format!("{value:.1}"),
        _ => format!("{value:.2}"),
    };
    match (trend.direction, trend.slope_per_week, trend.low, trend.high) {
        (Direction::Rises | Direction::Falls, Some(slope), Some(low), Some(high)) => {
            // A fall is told by its size, so the ends change places.
            let (word, low, high) = match slope > 0.0 {
                true => ("rose", low, high),
                false => ("fell", -high, -low),
            };
            format!(
                "{title} {word} by {}{unit} a week ({} to {}) over {} days.",
                number(slope.abs()),
                number(low),
                number(high),
                trend.days
            )
        }
        (Direction::NotComparable, ..) => format!(
            "{title}: the evidence changed between the sessions, so they cannot be compared."
        ),
        (Direction::NotClaimed, ..) => format!(
            "{title}: measured on {} {}, too few to speak of a trend ({LEAST_DAYS} are needed).",
            trend.days,
            if trend.days == 1 { "day" } else { "days" }
        ),
        _ => format!("{title}: no trend beyond chance and error of measurement."),
    }
}
