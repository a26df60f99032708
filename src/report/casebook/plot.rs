//! A measure over the weeks: means with intervals, the limit, the line of the trend.
//!
//! In: a series. Out: inline SVG. A full dot is a direct value, a ring one by proxy or calibration.

use crate::course::{Direction, Series};
use crate::reading::Basis;
use crate::report::chart::{Axis, Drawn, FINE, Frame, OUTSIDE, OUTWARD, QUIET, step, ticks};
use crate::report::curves::dashed;
use crate::report::words;
use plotters::prelude::*;

/// The plot; `None` without a point.
pub fn plot(series: &Series) -> Drawn<Option<String>> {
    let (Some(first), Some(last)) = (series.points.first(), series.points.last()) else {
        return Ok(None);
    };
    let span = (last.week - first.week).max(1.0);
    let x = (first.week - 0.06 * span, last.week + 0.06 * span);
    let ends = series.limit.iter().flatten().copied();
    let means = || series.points.iter().map(|point| &point.mean);
    let low = means()
        .map(|mean| mean.low)
        .chain(ends.clone())
        .fold(f64::INFINITY, f64::min);
    let high = means()
        .map(|mean| mean.high)
        .chain(ends)
        .fold(f64::NEG_INFINITY, f64::max);
    let pad = ((high - low) * 0.08).max(1e-6);
    let y = (low - pad, high + pad);
    let unit = words::unit(&series.unit);
    let places = match y.1 - y.0 {
        span if span < 0.5 => 2,
        span if span < 5.0 => 1,
        _ => 0,
    };
    let value = |value: f64| format!("{}{unit}", words::number(value, places));
    let week = |week: f64| words::number(week, if span < 3.0 { 1 } else { 0 });
    let name = format!(
        "{}: mean of each session with its 95 % interval over {} weeks. {}",
        series.title,
        words::number(last.week - first.week, 1),
        series.trend.text
    );
    let frame = Frame {
        size: (400, 210),
        class: "square",
        name: &name,
        cursor: "",
        x: Axis {
            range: x,
            ticks: ticks(x, step(x.1 - x.0, 8)),
            label: &week,
        },
        y: Axis {
            range: y,
            ticks: ticks(y, step(y.1 - y.0, 6)),
            label: &value,
        },
        x_title: "weeks since the first session",
        head: 8,
    };
    let drawn = frame.draw(
        |_| Ok(()),
        |chart, _| {
            for end in series.limit.iter().flatten() {
                dashed(chart, vec![(x.0, *end), (x.1, *end)], OUTSIDE)?;
            }
            let trend = &series.trend;
            if let (Direction::Rises | Direction::Falls, Some(start), Some(slope)) =
                (trend.direction, trend.intercept, trend.slope_per_week)
            {
                let at = |week: f64| (week, start + slope * week);
                chart.draw_series(LineSeries::new(
                    [at(first.week), at(last.week)],
                    QUIET.stroke_width(6),
                ))?;
            }
            for point in &series.points {
                chart.draw_series(LineSeries::new(
                    [(point.week, point.mean.low), (point.week, point.mean.high)],
                    OUTWARD.stroke_width(7),
                ))?;
            }
            for point in &series.points {
                let at = (point.week, point.mean.value);
                chart.draw_series(std::iter::once(Circle::new(at, 5 * FINE, OUTWARD.filled())))?;
                if point.mean.basis != Basis::Direct {
                    chart.draw_series(std::iter::once(Circle::new(
                        at,
                        3 * FINE,
                        WHITE.filled(),
                    )))?;
                }
            }
            Ok(())
        },
    )?;
    Ok(Some(drawn))
}
