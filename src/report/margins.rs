//! The margin over the repetitions of a set: how far each was from its limit, and the line of the trend.
//!
//! In: a drift as judged. Out: inline SVG, or `None` without a margin. The line is drawn where one was
//! fitted; whether it means anything is said in words beside it.

use super::chart::{Axis, Chart, Drawn, FINE, Frame, OUTSIDE, OUTWARD, QUIET, mark, step, ticks};
use super::curves::{SHADE_OUTSIDE, dashed};
use super::words;
use crate::session::{Drift, Verdict};
use plotters::prelude::*;

/// Margin over the repetitions of a set with intervals and the line of the trend.
pub fn margins(drift: &Drift, name: &str) -> Drawn<Option<String>> {
    let (Some(first), Some(last)) = (drift.margins.first(), drift.margins.last()) else {
        return Ok(None);
    };
    let x = (f64::from(first.rep) - 0.6, f64::from(last.rep) + 0.6);
    let low = drift.margins.iter().map(|m| m.low).fold(0.0, f64::min);
    let high = drift.margins.iter().map(|m| m.high).fold(0.0, f64::max);
    let pad = ((high - low) * 0.06).max(1e-6);
    let y = (low - pad, high + pad);
    let whole = |value: f64| words::number(value, 0);
    let unit = words::unit(&drift.unit);
    let places = if y.1 - y.0 < 5.0 { 1 } else { 0 };
    let margin = |value: f64| format!("{}{unit}", words::number(value, places));
    let frame = Frame {
        size: (400, 210),
        class: "square",
        name,
        cursor: "",
        x: Axis {
            range: x,
            ticks: ticks(x, step(x.1 - x.0, 15).max(1.0)),
            label: &whole,
        },
        y: Axis {
            range: y,
            ticks: ticks(y, step(y.1 - y.0, 6)),
            label: &margin,
        },
        x_title: "repetition",
        head: 8,
    };
    frame
        .draw(
            |chart| {
                chart.draw_series(std::iter::once(Rectangle::new(
                    [(x.0, y.0), (x.1, 0.0)],
                    SHADE_OUTSIDE.filled(),
                )))?;
                Ok(())
            },
            |chart, _| {
                chart.draw_series(LineSeries::new(
                    [(x.0, 0.0), (x.1, 0.0)],
                    OUTSIDE.stroke_width(6),
                ))?;
                if let (Some(start), Some(slope)) = (drift.intercept, drift.slope_per_rep) {
                    let at = |rep: u32| start + slope * (f64::from(rep) - f64::from(first.rep));
                    let ends = vec![
                        (f64::from(first.rep), at(first.rep)),
                        (f64::from(last.rep), at(last.rep)),
                    ];
                    dashed(chart, ends, QUIET)?;
                }
                points(chart, drift)
            },
        )
        .map(Some)
}

fn points(chart: &mut Chart<'_, '_>, drift: &Drift) -> Drawn {
    for m in &drift.margins {
        let rep = f64::from(m.rep);
        chart.draw_series(LineSeries::new(
            [(rep, m.low), (rep, m.high)],
            OUTWARD.stroke_width(7),
        ))?;
    }
    let area = chart.plotting_area().strip_coord_spec();
    let origin = chart.plotting_area().get_base_pixel();
    for m in &drift.margins {
        let (x, y) = chart.backend_coord(&(f64::from(m.rep), m.margin));
        let at = (x - origin.0, y - origin.1);
        if m.high < 0.0 {
            mark(&area, at, Verdict::Outside, 6)?;
        } else {
            area.draw(&Circle::new(at, 4 * FINE, OUTWARD.filled()))?;
        }
    }
    Ok(())
}
