//! The moment and the aim as SVG: a rounded figure without a face, its working arm strong.
//!
//! In: the poses. Out: SVG text with classes only; the page's style gives colour for light and dark.

use crate::body::Side;
use crate::patient::{Drawing, Point, Pose, SeenFrom};
use crate::report::chart::escaped;
use std::fmt::Write;

/// Units of the drawing for one side of the figure's box.
const SCALE: f64 = 1000.0;
/// Half a head against the trunk's length (drawing practice, no source).
const HEAD: f64 = 0.21;
/// Trunk's length where none was seen.
const TRUNK: f64 = 0.25;

/// The person at the moment.
pub(super) fn now(drawing: &Drawing) -> String {
    let mut sheet = Sheet::of(drawing, &drawing.captions.now_name);
    sheet.sector(drawing);
    sheet.body(&drawing.now, drawing.side);
    sheet.arm(&drawing.now, drawing.side, "arm now");
    if let Some(centre) = drawing.ring {
        sheet.ring(centre);
    }
    sheet.done()
}

/// The aim, with a thin line where the arm was and an arrow to where it goes.
pub(super) fn aim(drawing: &Drawing) -> Option<String> {
    let aim = drawing.aim.as_ref()?;
    let mut sheet = Sheet::of(drawing, &drawing.captions.aim_name);
    sheet.sector(drawing);
    sheet.body(aim, drawing.side);
    if drawing.arrow.is_some() {
        sheet.arm(&drawing.now, drawing.side, "was");
    }
    sheet.arm(aim, drawing.side, "arm aim");
    if let Some([from, to]) = drawing.arrow {
        sheet.arrow(from, to);
    }
    Some(sheet.done())
}

fn trunk(pose: &Pose) -> f64 {
    pose.trunk().filter(|long| *long > 0.02).unwrap_or(TRUNK)
}

fn head(pose: &Pose) -> Option<Point> {
    let pairs = ["ear", "eye"].iter().find_map(|name| pose.middle(name));
    let seen = pairs.or_else(|| pose.points.get("nose").copied());
    seen.or_else(|| {
        let shoulders = pose.middle("shoulder")?;
        let (up, long) = (pose.up(), trunk(pose) * 0.45);
        Some([shoulders[0] + up[0] * long, shoulders[1] + up[1] * long])
    })
}

/// A drawing under construction.
struct Sheet {
    out: String,
    /// Length of the trunk in units of the drawing: every stroke is a share of it.
    unit: f64,
    above: bool,
}

impl Sheet {
    fn of(drawing: &Drawing, name: &str) -> Sheet {
        let unit = trunk(&drawing.now) * SCALE;
        let [left, top, width, height] = frame(drawing, unit);
        Sheet {
            out: format!(
                "<svg role=\"img\" aria-label=\"{}\" viewBox=\"{left:.0} {top:.0} {width:.0} {height:.0}\">",
                escaped(name)
            ),
            unit,
            above: drawing.seen_from == SeenFrom::Above,
        }
    }

    fn sector(&mut self, drawing: &Drawing) {
        if !drawing.sector.is_empty() {
            let list: Vec<String> = drawing.sector.iter().map(|point| pair(*point)).collect();
            let _ = write!(
                self.out,
                "<polygon class=\"sector\" points=\"{}\"/>",
                list.join(" ")
            );
        }
    }

    fn line(&mut self, class: &str, points: &[Point], thick: f64) {
        let list: Vec<String> = points.iter().map(|point| pair(*point)).collect();
        let _ = write!(
            self.out,
            "<polyline class=\"{class}\" points=\"{}\" stroke-width=\"{:.0}\"/>",
            list.join(" "),
            thick * self.unit
        );
    }

    /// Trunk, head and the other arm.
    fn body(&mut self, pose: &Pose, side: Side) {
        let other = match side {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        };
        self.arm(pose, other, "body");
        let corners: Vec<Point> = [
            pose.joint("shoulder", side),
            pose.joint("shoulder", other),
            pose.joint("hip", other),
            pose.joint("hip", side),
        ]
        .into_iter()
        .flatten()
        .collect();
        if let Some(first) = corners.first().copied() {
            let closed: Vec<Point> = corners.into_iter().chain([first]).collect();
            let thick = if self.above { 0.3 } else { 0.2 };
            self.line("body trunk", &closed, thick);
        }
        let centre = match self.above {
            true => pose.middle("shoulder"),
            false => head(pose),
        };
        if let Some(centre) = centre {
            if self.above {
                let [x, y] = at(centre);
                let _ = write!(
                    self.out,
                    "<circle class=\"nose\" cx=\"{x:.0}\" cy=\"{:.0}\" r=\"{:.0}\"/>",
                    y - (HEAD + 0.02) * self.unit,
                    0.06 * self.unit
                );
            } else if let Some(neck) = pose.middle("shoulder") {
                self.line("body", &[neck, centre], 0.14);
            }
            let [x, y] = at(centre);
            let radius = HEAD * self.unit;
            let _ = write!(
                self.out,
                "<circle class=\"head\" cx=\"{x:.0}\" cy=\"{y:.0}\" r=\"{radius:.0}\"/>"
            );
        }
    }

    fn arm(&mut self, pose: &Pose, side: Side, class: &str) {
        let points: Vec<Point> = ["shoulder", "elbow", "wrist"]
            .iter()
            .map_while(|name| pose.joint(name, side))
            .collect();
        let thick = match class {
            "was" => 0.035,
            "body" => 0.13,
            _ => 0.16,
        };
        if points.len() > 1 {
            self.line(class, &points, thick);
        }
    }

    fn ring(&mut self, centre: Point) {
        let [x, y] = at(centre);
        let _ = write!(
            self.out,
            "<circle class=\"ring\" cx=\"{x:.0}\" cy=\"{y:.0}\" r=\"{:.0}\" stroke-width=\"{:.0}\"/>",
            0.3 * self.unit,
            0.05 * self.unit
        );
    }

    /// A bowed arrow, so that it does not lie on the arm.
    fn arrow(&mut self, from: Point, to: Point) {
        let (from, to) = (at(from), at(to));
        let way = [to[0] - from[0], to[1] - from[1]];
        let long = way[0].hypot(way[1]).max(1e-6);
        let bow = [way[1] * 0.2, -way[0] * 0.2];
        let middle = [
            (from[0] + to[0]) / 2.0 + bow[0],
            (from[1] + to[1]) / 2.0 + bow[1],
        ];
        let last = [to[0] - middle[0], to[1] - middle[1]];
        let size = (0.16 * self.unit).min(0.45 * long);
        let reach = last[0].hypot(last[1]).max(1e-6);
        let [x, y] = [last[0] / reach * size, last[1] / reach * size];
        let foot = [to[0] - x, to[1] - y];
        let _ = write!(
            self.out,
            "<path class=\"arrow\" d=\"M{:.0} {:.0}Q{:.0} {:.0} {:.0} {:.0}\" stroke-width=\"{:.0}\"/>\
             <path class=\"tip\" d=\"M{:.0} {:.0}L{:.0} {:.0}L{:.0} {:.0}z\"/>",
            from[0],
            from[1],
            middle[0],
            middle[1],
            foot[0],
            foot[1],
            0.045 * self.unit,
            to[0],
            to[1],
            foot[0] - y * 0.6,
            foot[1] + x * 0.6,
            foot[0] + y * 0.6,
            foot[1] - x * 0.6,
        );
    }

    fn done(mut self) -> String {
        self.out.push_str("</svg>");
        self.out
    }
}

fn pair(point: Point) -> String {
    let [x, y] = at(point);
    format!("{x:.0},{y:.0}")
}

/// A position in units of the drawing, y down.
fn at([x, y]: Point) -> Point {
    [x * SCALE, (1.0 - y) * SCALE]
}

/// The part of the box that head, trunk and arms of both poses fill, the same for both pictures.
fn frame(drawing: &Drawing, unit: f64) -> [f64; 4] {
    let shown = ["shoulder-", "elbow-", "wrist-", "hip-"];
    let poses = [Some(&drawing.now), drawing.aim.as_ref()];
    let mut points: Vec<Point> = drawing.sector.iter().map(|point| at(*point)).collect();
    for pose in poses.into_iter().flatten() {
        let joints = pose.points.iter();
        points.extend(
            joints
                .filter(|(id, _)| shown.iter().any(|name| id.starts_with(name)))
                .map(|(_, point)| at(*point)),
        );
        let centre = match drawing.seen_from {
            SeenFrom::Above => pose.middle("shoulder"),
            SeenFrom::Phone | SeenFrom::Beside => head(pose),
        };
        if let Some([x, y]) = centre.map(at) {
            let radius = HEAD * unit;
            points.extend([[x - radius, y - radius], [x + radius, y]]);
        }
    }
    let border = 0.18 * unit;
    let low = |axis: usize| points.iter().map(|p| p[axis]).fold(f64::INFINITY, f64::min);
    let high = |axis: usize| {
        points
            .iter()
            .map(|p| p[axis])
            .fold(f64::NEG_INFINITY, f64::max)
    };
    let (left, top) = (low(0) - border, low(1) - border);
    let (width, height) = (high(0) - left + border, high(1) - top + border);
    // Square, so that two pictures side by side are as large as they can be.
    let size = width.max(height);
    [
        left - (size - width) / 2.0,
        top - (size - height) / 2.0,
        size,
        size,
    ]
}
