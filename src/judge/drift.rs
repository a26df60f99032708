//! Drift of a margin over the repetitions of a set: a fact about the set, never a forecast.
//!
//! Theil-Sen slope with its interval, exact Mann-Kendall p (ties handled), Holm's correction over the
//! measures of the set. A trend is claimed only with at least 5 repetitions, a corrected p below 0.05 and a
//! change over the set larger than the error of measurement.

use crate::dsp::holm::holm;
use crate::dsp::mann_kendall::mann_kendall;
use crate::dsp::theil_sen::{TheilSen, theil_sen};
use crate::geom::median;
use crate::reading::Z_95;
use crate::session::{Drift, Margin, Toward};

/// Fewest repetitions for a trend. Source: product definition; with 4 no two-sided p can reach 0.05.
const LEAST_REPS: usize = 5;

/// Level of the corrected p (common practice).
const LEVEL: f64 = 0.05;

/// Margins of one measure over a set.
pub struct Series {
    /// Measure id.
    pub measure: String,
    /// Title for the sentence.
    pub title: String,
    /// Unit of the margin.
    pub unit: String,
    /// Margins in order of repetition.
    pub margins: Vec<Margin>,
    /// Repeatability of each margin, standard deviation.
    pub repeat_sd: Vec<f64>,
    /// First repetition judged outside.
    pub first_outside_rep: Option<u32>,
}

/// Drift of every measure of one set.
pub fn drift(series: Vec<Series>) -> Vec<Drift> {
    let ps: Vec<Option<f64>> = series
        .iter()
        .map(|one| {
            let values: Vec<f64> = one.margins.iter().map(|margin| margin.margin).collect();
            (values.len() >= LEAST_REPS)
                .then(|| mann_kendall(&values).ok().map(|found| found.p))
                .flatten()
        })
        .collect();
    let claimed: Vec<f64> = ps.iter().copied().flatten().collect();
    let mut corrected = holm(&claimed).unwrap_or(claimed).into_iter();
    series
        .into_iter()
        .zip(ps)
        .map(|(one, p)| {
            let adjusted = p.and_then(|_| corrected.next());
            of_one(one, p, adjusted)
        })
        .collect()
}

fn of_one(series: Series, p: Option<f64>, p_adjusted: Option<f64>) -> Drift {
    let xs: Vec<f64> = series
        .margins
        .iter()
        .map(|margin| f64::from(margin.rep))
        .collect();
    let ys: Vec<f64> = series.margins.iter().map(|margin| margin.margin).collect();
    let line = p.and_then(|_| theil_sen(&xs, &ys, 0.95).ok());
    let span = xs
        .last()
        .zip(xs.first())
        .map_or(0.0, |(last, first)| last - first);
    let change = line.map(|line| line.slope * span);
    // Two readings differ by more than this only once in twenty times by error alone.
    let least_change =
        median(series.repeat_sd.iter().copied()).map(|sd| Z_95 * std::f64::consts::SQRT_2 * sd);
    let toward = match (line, p_adjusted, change, least_change) {
        (Some(line), Some(p), Some(change), Some(least)) => {
            if p < LEVEL && change.abs() > least {
                if line.slope < 0.0 {
                    Toward::Outside
                } else {
                    Toward::Inside
                }
            } else {
                Toward::Nowhere
            }
        }
        _ => Toward::NotClaimed,
    };
    let crosses_at_rep = line.filter(|_| toward == Toward::Outside).and_then(|line| {
        let crossing = -line.intercept / line.slope;
        let last = xs.last().copied()?;
        (crossing >= xs.first().copied()? && crossing <= last + span).then_some(crossing)
    });
    let text = sentence(&series, toward, line, crosses_at_rep);
    Drift {
        measure: series.measure,
        reps: ys.len() as u32,
        slope_per_rep: line.map(|line| line.slope),
        low: line.map(|line| line.low),
        high: line.map(|line| line.high),
        unit: series.unit,
        p,
        p_adjusted,
        change,
        least_change,
        toward,
        first_outside_rep: series.first_outside_rep,
        crosses_at_rep,
        intercept: line
            .zip(xs.first())
            .map(|(line, first)| line.intercept + line.slope * first),
        margins: series.margins,
        text,
    }
}

fn sentence(
    series: &Series,
    toward: Toward,
    line: Option<TheilSen>,
    crosses: Option<f64>,
) -> String {
    let (title, unit) = (&series.title, &series.unit);
    match (toward, line) {
        (Toward::Outside, Some(line)) => {
            let crossing = crosses.map_or(String::new(), |rep| {
                format!("; the line reaches the limit at repetition {rep:.0}")
            });
            format!(
                "{title}: the margin shrank by {:.1} ({:.1} to {:.1}) {unit} a repetition over the set{crossing}.",
                -line.slope, -line.high, -line.low
            )
        }
        (Toward::Inside, Some(line)) => {
            format!(
                "{title}: the margin grew by {:.1} ({:.1} to {:.1}) {unit} a repetition over the set.",
                line.slope, line.low, line.high
            )
        }
        (Toward::NotClaimed, _) => format!(
            "{title}: {} repetitions with a value, too few to speak of a trend (5 are needed).",
            series.margins.len()
        ),
        _ => format!("{title}: no trend beyond chance and error of measurement."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(margins: &[f64], sd: f64) -> Series {
        Series {
            measure: "plane-deviation".into(),
            title: "Deviation from the exercise's plane".into(),
            unit: "deg".into(),
            margins: margins
                .iter()
                .zip(1..)
                .map(|(margin, rep)| Margin {
                    rep,
                    margin: *margin,
                    low: margin - 2.0,
                    high: margin + 2.0,
                })
                .collect(),
            repeat_sd: vec![sd; margins.len()],
            first_outside_rep: None,
        }
    }

    #[test]
    fn a_steady_fall_is_drift_and_crosses_where_the_line_does() {
        let falling: Vec<f64> = (0..10).map(|k| 12.0 - 2.0 * f64::from(k)).collect();
        let found = &drift(vec![series(&falling, 1.0)])[0];
        assert_eq!(found.toward, Toward::Outside);
        assert!((found.slope_per_rep.unwrap() + 2.0).abs() < 1e-9);
        assert!((found.crosses_at_rep.unwrap() - 7.0).abs() < 1e-9);
        let shaken: Vec<f64> = (falling.iter().zip([0.4, -0.5, 0.1].iter().cycle()))
            .map(|(margin, error)| margin + error)
            .collect();
        // SciPy 1.17, `theilslopes` of these ten: slope -2.0, 95 % interval -2.12 to -1.85.
        let text = &drift(vec![series(&shaken, 1.0)])[0].text;
        assert!(
            text.contains("shrank by 2.0 (1.9 to 2.1) deg a repetition"),
            "{text}"
        );
    }

    #[test]
    fn four_repetitions_claim_nothing_and_error_claims_nothing() {
        assert_eq!(
            drift(vec![series(&[8.0, 6.0, 4.0, 2.0], 0.1)])[0].toward,
            Toward::NotClaimed
        );
        let falling: Vec<f64> = (0..8).map(|k| 5.0 - 0.2 * f64::from(k)).collect();
        assert_eq!(
            drift(vec![series(&falling, 2.0)])[0].toward,
            Toward::Nowhere
        );
    }
}
