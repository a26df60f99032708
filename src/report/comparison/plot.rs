//! Both intervals under each other, and the difference before the error of the measure.
//!
//! In: a row. Out: inline SVG with its words for those who hear the page, or `None` without a value. Judgements are
//! in words beside it.

use super::super::chart::{
    Axis, BAND, Chart, Drawn, FINE, Frame, INK, OUTWARD, QUIET, step, ticks,
};
use super::super::words;
use crate::compare::{Difference, Mean, Row};
use plotters::prelude::*;

/// An interval and the height at which it is drawn.
struct Bar {
    value: f64,
    low: f64,
    high: f64,
    at: f64,
}

impl Bar {
    fn of(mean: &Mean, at: f64) -> Option<Bar> {
        Some(Bar {
            value: mean.value?,
            low: mean.low?,
            high: mean.high?,
            at,
        })
    }
}

/// Means of A and B with their intervals.
pub fn values(row: &Row, name: &str) -> Drawn<Option<String>> {
    let bars = [Bar::of(&row.a, 2.0), Bar::of(&row.b, 1.0)];
    let bars: Vec<Bar> = bars.into_iter().flatten().collect();
    if bars.is_empty() {
        return Ok(None);
    }
    let letter = |at: f64| if at > 1.5 { "A" } else { "B" }.to_string();
    let axis = Axis {
        range: (0.4, 2.6),
        ticks: vec![1.0, 2.0],
        label: &letter,
    };
    let range = range(bars.iter().flat_map(|bar| [bar.low, bar.high]));
    draw(row, name, &bars, range, axis, "mean and 95 % interval", &[])
}

/// The difference with its interval, before the band of the error.
pub fn difference(row: &Row, minus: &str, name: &str) -> Drawn<Option<String>> {
    let Some(Difference { value, low, high }) = row.difference else {
        return Ok(None);
    };
    let bars = [Bar {
        value,
        low,
        high,
        at: 1.0,
    }];
    let band: Vec<f64> = row.floor.value.into_iter().flat_map(|f| [-f, f]).collect();
    let range = range([low, high, 0.0].into_iter().chain(band.iter().copied()));
    let none = |_: f64| String::new();
    let axis = Axis {
        range: (0.4, 1.6),
        ticks: Vec::new(),
        label: &none,
    };
    draw(row, name, &bars, range, axis, minus, &[0.0])
}

fn range(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let low = values.clone().fold(f64::INFINITY, f64::min);
    let high = values.fold(f64::NEG_INFINITY, f64::max);
    let pad = ((high - low) * 0.08).max(1e-3);
    (low - pad, high + pad)
}

fn draw(
    row: &Row,
    name: &str,
    bars: &[Bar],
    x: (f64, f64),
    y: Axis<'_>,
    x_title: &str,
    lines: &[f64],
) -> Drawn<Option<String>> {
    let unit = words::unit(&row.unit);
    let each = step(x.1 - x.0, 6);
    let places = if each < 1.0 { 1 } else { 0 };
    let label = |value: f64| format!("{}{unit}", words::number(value, places));
    let bottom_top = y.range;
    let frame = Frame {
        size: (400, 40 + 34 * bars.len() as i32),
        class: "square",
        name,
        cursor: "",
        x: Axis {
            range: x,
            ticks: ticks(x, each),
            label: &label,
        },
        y,
        x_title,
        head: 4,
    };
    let floor = row.floor.value.filter(|_| !lines.is_empty());
    frame
        .draw(
            |chart| {
                if let Some(floor) = floor {
                    let corners = [(-floor, bottom_top.0), (floor, bottom_top.1)];
                    chart.draw_series(std::iter::once(Rectangle::new(corners, BAND.filled())))?;
                }
                Ok(())
            },
            |chart, _| {
                for at in lines {
                    let ends = [(*at, bottom_top.0), (*at, bottom_top.1)];
                    chart.draw_series(LineSeries::new(ends, QUIET.stroke_width(FINE as u32)))?;
                }
                bars.iter().try_for_each(|bar| interval(chart, bar))
            },
        )
        .map(Some)
}

/// A line from end to end with caps, and a dot at the value.
fn interval(chart: &mut Chart<'_, '_>, bar: &Bar) -> Drawn {
    let ink = OUTWARD.stroke_width(9);
    chart.draw_series(LineSeries::new(
        [(bar.low, bar.at), (bar.high, bar.at)],
        ink,
    ))?;
    for end in [bar.low, bar.high] {
        let cap = [(end, bar.at - 0.18), (end, bar.at + 0.18)];
        chart.draw_series(LineSeries::new(cap, ink))?;
    }
    let area = chart.plotting_area().strip_coord_spec();
    let origin = chart.plotting_area().get_base_pixel();
    let (x, y) = chart.backend_coord(&(bar.value, bar.at));
    let at = (x - origin.0, y - origin.1);
    area.draw(&Circle::new(at, 5 * FINE, INK.filled()))?;
    Ok(())
}
