//! The frame that every curve shares: axes, colours, marks, and the SVG around them.
//!
//! In: ranges, ticks and a drawing. Out: inline SVG that scales with the page, carries its axes as data
//! attributes so that the page's script can place a cursor, and uses the page's own typeface.

use crate::session::Verdict;
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, ValueFormatter};
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use std::fmt::Write;

/// Text colour.
pub const INK: RGBColor = RGBColor(0x1f, 0x27, 0x2e);
/// Axes and other quiet lines.
pub const QUIET: RGBColor = RGBColor(0x5b, 0x66, 0x70);
/// Grid.
pub const GRID: RGBColor = RGBColor(0xdd, 0xe2, 0xe6);
/// Way out: blue. Okabe and Ito's blue.
pub const OUTWARD: RGBColor = RGBColor(0x00, 0x72, 0xb2);
/// Way back: their reddish purple, darkened so that thin lines keep a contrast of 4.5 on white.
pub const BACK: RGBColor = RGBColor(0xa3, 0x4a, 0x7c);
/// Their vermilion, darkened for the same reason.
pub const OUTSIDE: RGBColor = RGBColor(0xb3, 0x43, 0x00);
/// Their orange, darkened.
pub const NEAR: RGBColor = RGBColor(0x8a, 0x5a, 0x00);
/// Their bluish green, darkened.
pub const WITHIN: RGBColor = RGBColor(0x00, 0x6b, 0x4f);
/// Published or agreed bands.
pub const BAND: RGBColor = RGBColor(0xd5, 0xe9, 0xdf);

/// Drawing units per CSS pixel: the backend draws on whole units, so a curve needs finer ones.
pub const FINE: i32 = 4;

/// What drawing may answer.
pub type Drawn<T = ()> = Result<T, Box<dyn std::error::Error>>;
/// A chart under construction.
pub type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<Scale, Scale>>;

/// The whole drawing of a chart, axes and all.
pub type Whole<'b> = DrawingArea<SVGBackend<'b>, plotters::coord::Shift>;

/// A linear scale with ticks of our choice.
#[derive(Debug, Clone)]
pub struct Scale {
    range: (f64, f64),
    ticks: Vec<f64>,
}

impl Ranged for Scale {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, limit: (i32, i32)) -> i32 {
        let share = (value - self.range.0) / (self.range.1 - self.range.0).max(f64::MIN_POSITIVE);
        limit.0 + (share * f64::from(limit.1 - limit.0)).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, _: Hint) -> Vec<f64> {
        self.ticks.clone()
    }

    fn range(&self) -> std::ops::Range<f64> {
        self.range.0..self.range.1
    }
}

impl ValueFormatter<f64> for Scale {}

/// One axis.
pub struct Axis<'a> {
    /// First and last value.
    pub range: (f64, f64),
    /// Values with a label.
    pub ticks: Vec<f64>,
    /// Label of a value.
    pub label: &'a dyn Fn(f64) -> String,
}

impl Axis<'_> {
    fn scale(&self) -> Scale {
        Scale {
            range: self.range,
            ticks: self.ticks.clone(),
        }
    }
}

/// A frame for one chart.
pub struct Frame<'a> {
    /// Width and height in CSS pixels at which text has its nominal size.
    pub size: (i32, i32),
    /// CSS class of the SVG.
    pub class: &'a str,
    /// What the chart shows, in one sentence, for those who hear the page.
    pub name: &'a str,
    /// `time` for a moving line, else the two signals of a moving dot: `elevation,plane`.
    pub cursor: &'a str,
    /// Across.
    pub x: Axis<'a>,
    /// Up.
    pub y: Axis<'a>,
    /// Title under the horizontal axis.
    pub x_title: &'a str,
    /// Space above the axes in CSS pixels, for marks.
    pub head: i32,
}

/// Nominal size of text, CSS pixels.
const TEXT_PX: i32 = 12;

/// A style of text of the page's typeface.
pub fn lettering(px: i32, colour: RGBColor) -> TextStyle<'static> {
    let style = TextStyle::from(("sans-serif", px * FINE).into_font());
    TextStyle {
        color: colour.to_backend_color(),
        ..style
    }
    .pos(Pos::new(HPos::Center, VPos::Center))
}

impl Frame<'_> {
    /// Draws the axes, then what `draw` adds, and returns the SVG.
    ///
    /// `beneath` is drawn first (bands, shading), then the grid, then `draw`. The latter also gets the whole
    /// drawing: what lies outside the axes can only be drawn there, the chart would pull it to its border.
    pub fn draw(
        &self,
        beneath: impl FnOnce(&mut Chart<'_, '_>) -> Drawn,
        draw: impl FnOnce(&mut Chart<'_, '_>, &Whole<'_>) -> Drawn,
    ) -> Drawn<String> {
        let (width, height) = (self.size.0 * FINE, self.size.1 * FINE);
        let mut svg = String::new();
        let area;
        {
            let root = SVGBackend::with_string(&mut svg, (width as u32, height as u32))
                .into_drawing_area();
            let below = if self.x_title.is_empty() { 24 } else { 40 };
            let mut chart = ChartBuilder::on(&root)
                .margin_top(self.head * FINE)
                .margin_right(16 * FINE)
                .set_label_area_size(LabelAreaPosition::Left, 42 * FINE)
                .set_label_area_size(LabelAreaPosition::Bottom, below * FINE)
                .build_cartesian_2d(self.x.scale(), self.y.scale())?;
            beneath(&mut chart)?;
            chart
                .configure_mesh()
                .axis_style(QUIET.stroke_width(FINE as u32))
                .bold_line_style(GRID.stroke_width(FINE as u32))
                .light_line_style(TRANSPARENT)
                .label_style(
                    TextStyle::from(("sans-serif", TEXT_PX * FINE).into_font()).color(&INK),
                )
                .axis_desc_style(
                    TextStyle::from(("sans-serif", TEXT_PX * FINE).into_font()).color(&INK),
                )
                .set_all_tick_mark_size(4 * FINE)
                .x_label_formatter(&|value| (self.x.label)(*value))
                .y_label_formatter(&|value| (self.y.label)(*value))
                .x_desc(self.x_title)
                .draw()?;
            draw(&mut chart, &root)?;
            area = chart.plotting_area().get_pixel_range();
            root.present()?;
        }
        Ok(self.finished(&svg, &area))
    }

    /// The SVG with a root element of our own: no fixed size, a name, the axes as data, and the cursor.
    fn finished(&self, svg: &str, area: &(std::ops::Range<i32>, std::ops::Range<i32>)) -> String {
        let body = svg
            .split_once("<svg")
            .and_then(|(_, rest)| rest.split_once('>'))
            .map_or("", |(_, body)| body);
        let body = body.rsplit_once("</svg>").map_or(body, |(body, _)| body);
        let body = body.replace("font-family=\"sans-serif\" ", "");
        let (across, down) = area;
        let mut out = String::with_capacity(body.len() + 600);
        let _ = write!(
            out,
            "<svg class=\"chart {}\" role=\"img\" aria-label=\"{}\" viewBox=\"0 0 {} {}\" \
             data-cursor=\"{}\" data-px=\"{} {} {} {}\" data-at=\"{} {} {} {}\">",
            self.class,
            escaped(self.name),
            self.size.0 * FINE,
            self.size.1 * FINE,
            self.cursor,
            across.start,
            across.end,
            down.start,
            down.end,
            self.x.range.0,
            self.x.range.1,
            self.y.range.0,
            self.y.range.1,
        );
        out.push_str(body.trim());
        if self.cursor == "time" {
            let _ = write!(
                out,
                "<line class=\"cursor\" visibility=\"hidden\" x1=\"0\" x2=\"0\" y1=\"{}\" y2=\"{}\"/>",
                down.start, down.end
            );
        } else if !self.cursor.is_empty() {
            let _ = write!(
                out,
                "<circle class=\"cursor\" visibility=\"hidden\" r=\"{}\"/>",
                5 * FINE
            );
        }
        out.push_str("</svg>");
        out
    }
}

/// Text safe inside an attribute or an element.
pub fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// Colour of a verdict; its mark and word say the same.
pub fn colour(verdict: Verdict) -> RGBColor {
    match verdict {
        Verdict::Outside => OUTSIDE,
        Verdict::Near => NEAR,
        Verdict::Within => WITHIN,
        Verdict::CannotTell => QUIET,
    }
}

/// Draws the mark of a verdict about a point of the drawing: a filled diamond outside, a triangle near, an
/// open circle within, a question mark where nothing can be told.
pub fn mark(area: &Whole<'_>, at: (i32, i32), verdict: Verdict, radius_px: i32) -> Drawn {
    let r = radius_px * FINE;
    let (x, y) = at;
    let ink = colour(verdict);
    match verdict {
        Verdict::Outside => area.draw(&Polygon::new(
            vec![(x, y - r), (x + r, y), (x, y + r), (x - r, y)],
            ink.filled(),
        ))?,
        Verdict::Near => area.draw(&Polygon::new(
            vec![(x, y - r), (x + r, y + r), (x - r, y + r)],
            ink.filled(),
        ))?,
        Verdict::Within => area.draw(&Circle::new(
            (x, y),
            r * 4 / 5,
            ink.stroke_width(2 * FINE as u32 - 2),
        ))?,
        Verdict::CannotTell => area.draw(&Text::new("?", (x, y), lettering(13, ink)))?,
    }
    Ok(())
}

/// Ticks at multiples of a step inside a range.
pub fn ticks(range: (f64, f64), step: f64) -> Vec<f64> {
    let first = (range.0 / step).ceil() as i64;
    let last = (range.1 / step).floor() as i64;
    (first..=last).map(|n| n as f64 * step).collect()
}

/// The step of 1, 2, 5, 10, 15, 30, 60 … that gives at most `most` ticks over a span.
pub fn step(span: f64, most: usize) -> f64 {
    [
        0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0,
    ]
    .into_iter()
    .find(|step| span / step <= most as f64)
    .unwrap_or(span.max(1e-6))
}

/// Runs of present points: a gap in the data is a gap in the curve.
pub fn runs(points: impl Iterator<Item = Option<(f64, f64)>>) -> Vec<Vec<(f64, f64)>> {
    let mut runs = vec![Vec::new()];
    for point in points {
        match (point, runs.last_mut()) {
            (Some((x, y)), Some(run)) if x.is_finite() && y.is_finite() => run.push((x, y)),
            (_, Some(run)) if !run.is_empty() => runs.push(Vec::new()),
            _ => {}
        }
    }
    runs.retain(|run| run.len() > 1);
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_lie_on_multiples_and_are_not_too_many() {
        assert_eq!(ticks((0.0, 180.0), 60.0), [0.0, 60.0, 120.0, 180.0]);
        assert_eq!(ticks((-12.0, 11.0), 10.0), [-10.0, 0.0, 10.0]);
        assert_eq!(step(40.0, 10), 5.0);
        assert_eq!(step(180.0, 6), 30.0);
    }

    #[test]
    fn a_gap_in_the_data_is_a_gap_in_the_curve() {
        let points = [
            Some((0.0, 1.0)),
            Some((1.0, 1.0)),
            None,
            Some((3.0, 1.0)),
            Some((4.0, 2.0)),
        ];
        assert_eq!(runs(points.into_iter()).len(), 2);
        assert!(runs([None, Some((1.0, f64::NAN))].into_iter()).is_empty());
    }
}
