//! The curves of the page: over time and against elevation.
//!
//! In: traces and repetitions. Out: inline SVG. A curve that has no data is `None`, and the page says so.

use super::chart::{
    Axis, BACK, BAND, Chart, Drawn, FINE, Frame, INK, OUTSIDE, OUTWARD, Whole, lettering, mark,
    runs, step, ticks,
};
use super::context::{BandPoint, Context};
use super::words;
use crate::session::{Rep, Review, Verdict};
use plotters::prelude::*;

/// Most points of one curve: more cannot be told apart at the width it is drawn.
const MOST_POINTS: usize = 900;

/// Shade behind a repetition.
const SHADE: RGBColor = RGBColor(0xee, 0xf1, 0xf4);
/// Shade behind a repetition judged outside, and the region outside a limit.
pub const SHADE_OUTSIDE: RGBColor = RGBColor(0xfb, 0xe6, 0xda);

/// Widths in CSS pixels of the two forms of a curve over time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// For a desk.
    Wide,
    /// For a phone.
    Narrow,
}

impl Form {
    fn width(self) -> i32 {
        match self {
            Form::Wide => 1080,
            Form::Narrow => 360,
        }
    }
    fn class(self) -> &'static str {
        match self {
            Form::Wide => "wide",
            Form::Narrow => "narrow",
        }
    }
}

fn degrees(value: f64) -> String {
    format!("{}°", words::number(value, 0))
}

/// Lowest and highest value of a signal, opened to multiples of 30 degrees.
fn span<'a>(values: impl Iterator<Item = &'a Option<f64>>) -> Option<(f64, f64)> {
    let (low, high) = values
        .flatten()
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(*value), high.max(*value))
        });
    (low <= high).then(|| {
        let low = (low / 30.0).floor() * 30.0;
        (low, ((high / 30.0).ceil() * 30.0).max(low + 30.0))
    })
}

/// A band across a curve over time: lower and upper end, open where `None`.
pub type Limits = [Option<f64>; 2];

/// A signal over time with the repetitions shaded, numbered and marked.
pub fn over_time(
    review: &Review,
    signal: &str,
    name: &str,
    limits: Option<Limits>,
    form: Form,
) -> Drawn<Option<String>> {
    let traces = &review.traces;
    let Some(values) = traces.signals.get(signal) else {
        return Ok(None);
    };
    let (Some(first), Some(last)) = (traces.times_s.first(), traces.times_s.last()) else {
        return Ok(None);
    };
    let ends = limits.unwrap_or_default();
    let Some((low, high)) = span(values.iter().chain(&ends)) else {
        return Ok(None);
    };
    let x = (*first, last.max(first + 0.1));
    let y = (low, high);
    let reps = &review.session.reps;
    let known = review.session.clip.duration_s.is_some();
    let most = match form {
        Form::Wide => 12,
        Form::Narrow => 5,
    };
    let label = |seconds: f64| {
        let whole = seconds.round().max(0.0) as u64;
        format!("{:02}:{:02}", whole / 60, whole % 60)
    };
    let frame = Frame {
        size: (form.width(), 220),
        class: form.class(),
        name,
        cursor: "time",
        x: Axis {
            range: x,
            ticks: ticks(x, step(x.1 - x.0, most).max(1.0)),
            label: &label,
        },
        y: Axis {
            range: y,
            ticks: ticks(y, step(y.1 - y.0, 6).max(10.0)),
            label: &degrees,
        },
        x_title: match known {
            true => "",
            false => "nominal time; the frame rate is unknown",
        },
        head: 34,
    };
    let time = |index: u64| traces.times_s.get(index as usize).copied();
    let stride = values.len().div_ceil(MOST_POINTS).max(1);
    frame
        .draw(
            |chart| {
                for rep in reps {
                    if let (Some(a), Some(b)) = (time(rep.start_frame), time(rep.end_frame)) {
                        let fill = match rep.verdict {
                            Verdict::Outside => SHADE_OUTSIDE,
                            _ => SHADE,
                        };
                        chart.draw_series(std::iter::once(Rectangle::new(
                            [(a, y.0), (b, y.1)],
                            fill.filled(),
                        )))?;
                    }
                }
                Ok(())
            },
            |chart, whole| {
                for end in ends.into_iter().flatten() {
                    dashed(chart, vec![(x.0, end), (x.1, end)], OUTSIDE)?;
                }
                let points = traces
                    .times_s
                    .iter()
                    .zip(values)
                    .step_by(stride)
                    .map(|(t, v)| v.map(|v| (*t, v)));
                for run in runs(points) {
                    chart.draw_series(LineSeries::new(run, OUTWARD.stroke_width(7)))?;
                }
                number_repetitions(chart, whole, reps, &time, y.1)
            },
        )
        .map(Some)
}

/// Numbers and marks above the axes; where repetitions are crowded only some are numbered.
fn number_repetitions(
    chart: &Chart<'_, '_>,
    whole: &Whole<'_>,
    reps: &[Rep],
    time: &dyn Fn(u64) -> Option<f64>,
    top: f64,
) -> Drawn {
    let mut last_number = i32::MIN / 2;
    for rep in reps {
        let (Some(a), Some(b)) = (time(rep.start_frame), time(rep.end_frame)) else {
            continue;
        };
        let (x, y) = chart.backend_coord(&((a + b) / 2.0, top));
        mark(whole, (x, y - 9 * FINE), rep.verdict, 5)?;
        if x - last_number >= 16 * FINE {
            let number = rep.number.to_string();
            whole.draw(&Text::new(number, (x, y - 24 * FINE), lettering(12, INK)))?;
            last_number = x;
        }
    }
    Ok(())
}

/// A dashed line.
pub fn dashed(chart: &mut Chart<'_, '_>, points: Vec<(f64, f64)>, colour: RGBColor) -> Drawn {
    chart.draw_series(DashedLineSeries::new(
        points,
        6 * FINE as u32,
        4 * FINE as u32,
        colour.stroke_width(6),
    ))?;
    Ok(())
}

/// Size in CSS pixels of a curve against elevation: it fits a phone as it is.
const SQUARE: (i32, i32) = (400, 290);

/// A signal against elevation, one line a repetition, the way out and the way back apart.
struct Against<'a> {
    signal: &'a str,
    name: &'a str,
    /// Elevations at which the signal has a meaning.
    from_to: (f64, f64),
    /// Extra values that the vertical axis must hold.
    hold: Vec<f64>,
    band: Vec<BandPoint>,
    cursor: &'a str,
    height_step: f64,
}

impl Against<'_> {
    fn draw(&self, review: &Review) -> Drawn<Option<String>> {
        let traces = &review.traces;
        let (Some(elevation), Some(values)) = (
            traces.signals.get("elevation"),
            traces.signals.get(self.signal),
        ) else {
            return Ok(None);
        };
        let stride = elevation.len().div_ceil(4 * MOST_POINTS).max(1);
        let part = |from: u64, to: u64| {
            let (from, to) = (from as usize, to as usize);
            let points = (from..=to).step_by(stride).map(|frame| {
                let e = (*elevation.get(frame)?)?;
                let v = (*values.get(frame)?)?;
                (self.from_to.0 <= e && e <= self.from_to.1).then_some((e, v))
            });
            runs(points)
        };
        let reps: Vec<&Rep> = review.session.reps.iter().filter(|r| r.complete).collect();
        let out: Vec<_> = reps
            .iter()
            .flat_map(|r| part(r.start_frame, r.peak_frame))
            .collect();
        let back: Vec<_> = reps
            .iter()
            .flat_map(|r| part(r.peak_frame, r.end_frame))
            .collect();
        let shown: Vec<Option<f64>> = out
            .iter()
            .chain(&back)
            .flatten()
            .map(|(_, v)| Some(*v))
            .collect();
        if shown.is_empty() {
            return Ok(None);
        }
        let (low, high) = shown
            .iter()
            .flatten()
            .chain(&self.hold)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| {
                (a.min(*v), b.max(*v))
            });
        let open = self.height_step;
        let y = (
            (low / open).floor() * open,
            ((high / open).ceil() * open).max((low / open).floor() * open + open),
        );
        let x = (0.0, 180.0);
        let frame = Frame {
            size: SQUARE,
            class: "square",
            name: self.name,
            cursor: self.cursor,
            x: Axis {
                range: x,
                ticks: ticks(x, 30.0),
                label: &degrees,
            },
            y: Axis {
                range: y,
                ticks: ticks(y, step(y.1 - y.0, 7)),
                label: &degrees,
            },
            x_title: "elevation of the arm",
            head: 8,
        };
        frame
            .draw(
                |chart| {
                    if self.band.len() > 1 {
                        let lower = self.band.iter().map(|p| (p.elevation_deg, p.low_deg));
                        let upper = self
                            .band
                            .iter()
                            .rev()
                            .map(|p| (p.elevation_deg, p.high_deg));
                        chart.draw_series(std::iter::once(Polygon::new(
                            lower.chain(upper).collect::<Vec<_>>(),
                            BAND.filled(),
                        )))?;
                    }
                    Ok(())
                },
                |chart, _| {
                    for run in back {
                        dashed_thin(chart, run)?;
                    }
                    for run in out {
                        chart.draw_series(LineSeries::new(run, OUTWARD.stroke_width(6)))?;
                    }
                    Ok(())
                },
            )
            .map(Some)
    }
}

/// The way back. The dash is drawn by the page's style: a dash per segment would multiply the file.
fn dashed_thin(chart: &mut Chart<'_, '_>, run: Vec<(f64, f64)>) -> Drawn {
    chart.draw_series(LineSeries::new(run, BACK.stroke_width(6)))?;
    Ok(())
}

/// Signal behind the rhythm: the shoulder blade's upward rotation, else the shoulder point's rise.
pub fn rhythm_signal(review: &Review) -> Option<&'static str> {
    ["upward-rotation", "girdle-elevation"]
        .into_iter()
        .find(|signal| {
            review
                .traces
                .signals
                .get(*signal)
                .is_some_and(|values| values.iter().any(Option::is_some))
        })
}

/// Upward rotation, or the girdle's rise, against elevation; the published band stands behind the former
/// only, because it is not a norm of the latter.
pub fn rhythm(review: &Review, context: &Context) -> Drawn<Option<String>> {
    let Some(signal) = rhythm_signal(review) else {
        return Ok(None);
    };
    let blade = signal == "upward-rotation";
    let band = match blade {
        true => context.rotation_band.clone(),
        false => Vec::new(),
    };
    Against {
        signal,
        name: match blade {
            true => "Upward rotation of the shoulder blade against elevation of the arm",
            false => "Rise of the shoulder point, a proxy, against elevation of the arm",
        },
        from_to: (0.0, 180.0),
        hold: band.iter().flat_map(|p| [p.low_deg, p.high_deg]).collect(),
        band,
        cursor: match blade {
            true => "elevation,upward-rotation",
            false => "elevation,girdle-elevation",
        },
        height_step: 5.0,
    }
    .draw(review)
}

/// Plane of elevation against elevation with the agreed band.
///
/// Below 20 and above 160 degrees of elevation a plane has no meaning (see the table of signals), so nothing
/// is drawn there.
pub fn plane(review: &Review, context: &Context) -> Drawn<Option<String>> {
    let limits = context.plane_limits_deg();
    let band = limits.map_or_else(Vec::new, |(low_deg, high_deg)| {
        [20.0, 160.0]
            .into_iter()
            .map(|elevation_deg| BandPoint {
                elevation_deg,
                low_deg,
                high_deg,
            })
            .collect()
    });
    Against {
        signal: "plane",
        name: "Plane of elevation against elevation of the arm",
        from_to: (20.0, 160.0),
        hold: limits.map_or_else(Vec::new, |(low, high)| vec![low - 10.0, high + 10.0]),
        band,
        cursor: "elevation,plane",
        height_step: 15.0,
    }
    .draw(review)
}
