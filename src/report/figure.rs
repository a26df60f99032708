//! The stick figure as SVG: one frame, drawn so that it reads without a script.
//!
//! In: the figure of the traces. Out: SVG lines with the numbers of their joints, so that the page's script
//! can move them. The head is a plain circle: no face is drawn.

use crate::body::Side;
use crate::session::Figure;
use std::fmt::Write;

/// Side of the drawing in its own units; positions are rounded to whole ones.
pub const BOX: f32 = 1000.0;

/// What the page and the contact sheet draw of a figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Skeleton {
    /// Columns of the figure that are used, in order.
    pub columns: Vec<usize>,
    /// Pairs of positions in `columns` and whether they are the measured arm.
    pub bones: Vec<(usize, usize, bool)>,
    /// Positions in `columns` whose mean is the head's centre.
    pub head: Vec<usize>,
    /// Radius of the head in units of the box.
    pub head_radius: f32,
}

impl Skeleton {
    /// Chooses what is drawn.
    pub fn of(figure: &Figure, side: Side) -> Skeleton {
        let on_arm = |column: usize| {
            figure.joints.get(column).is_some_and(|id| {
                ["shoulder", "elbow", "wrist", "index"]
                    .iter()
                    .any(|joint| *id == format!("{joint}-{side}"))
            })
        };
        let head_ids = [
            &["ear-left", "ear-right"][..],
            &["eye-left", "eye-right"][..],
            &["nose"][..],
        ];
        let at = |id: &str| figure.joints.iter().position(|joint| joint == id);
        let seen = |column: usize| {
            figure
                .frames
                .iter()
                .any(|frame| frame.get(column).copied().flatten().is_some())
        };
        let head_columns: Vec<usize> = head_ids
            .iter()
            .map(|ids| {
                ids.iter()
                    .filter_map(|id| at(id))
                    .filter(|column| seen(*column))
                    .collect::<Vec<_>>()
            })
            .find(|columns| !columns.is_empty())
            .unwrap_or_default();
        let is_face = |column: usize| {
            figure
                .joints
                .get(column)
                .is_some_and(|id| id == "nose" || id.starts_with("eye-") || id.starts_with("ear-"))
        };
        let bones: Vec<[usize; 2]> = figure
            .bones
            .iter()
            .copied()
            .filter(|[a, b]| !is_face(*a) && !is_face(*b))
            .filter(|[a, b]| *a < figure.joints.len() && *b < figure.joints.len())
            .collect();
        let mut columns: Vec<usize> = bones
            .iter()
            .flatten()
            .copied()
            .chain(head_columns.clone())
            .collect();
        columns.sort_unstable();
        columns.dedup();
        let place = |column: usize| columns.iter().position(|c| *c == column);
        Skeleton {
            bones: bones
                .iter()
                .filter_map(|[a, b]| Some((place(*a)?, place(*b)?, on_arm(*a) && on_arm(*b))))
                .collect(),
            head: head_columns.iter().filter_map(|c| place(*c)).collect(),
            head_radius: head_radius(figure),
            columns,
        }
    }

    /// Positions of one frame in units of the box, y down; `None` where missing.
    pub fn positions(&self, figure: &Figure, frame: usize) -> Vec<Option<[f32; 2]>> {
        let points = figure.frames.get(frame);
        self.columns
            .iter()
            .map(|column| {
                let [x, y] = (*points?.get(*column)?)?;
                (x.is_finite() && y.is_finite()).then_some([x * BOX, (1.0 - y) * BOX])
            })
            .collect()
    }

    /// Centre of the head among positions.
    pub fn head_centre(&self, positions: &[Option<[f32; 2]>]) -> Option<[f32; 2]> {
        let seen: Vec<[f32; 2]> = self
            .head
            .iter()
            .filter_map(|place| positions.get(*place).copied().flatten())
            .collect();
        let n = seen.len() as f32;
        (!seen.is_empty()).then(|| {
            let sum = seen
                .iter()
                .fold([0.0, 0.0], |s, p| [s[0] + p[0], s[1] + p[1]]);
            [sum[0] / n, sum[1] / n]
        })
    }

    /// The part of the box that head, trunk and arms fill in some frames, with a border: x, y, width,
    /// height. Legs are left to run out of it: they say nothing about a shoulder.
    pub fn close_box(&self, figure: &Figure, frames: &[usize]) -> [f32; 4] {
        let upper = |place: usize| {
            self.columns
                .get(place)
                .and_then(|column| figure.joints.get(*column))
                .is_some_and(|id| {
                    [
                        "shoulder", "elbow", "wrist", "index", "hip", "ear", "eye", "nose",
                    ]
                    .iter()
                    .any(|joint| id.starts_with(joint))
                })
        };
        let border = self.head_radius * 1.2;
        let mut bounds: Option<[f32; 4]> = None;
        for frame in frames {
            let positions = self.positions(figure, *frame);
            let shown = positions.iter().enumerate().filter(|(at, _)| upper(*at));
            for [x, y] in shown.filter_map(|(_, p)| *p) {
                let [left, top, right, bottom] = bounds.unwrap_or([x, y, x, y]);
                bounds = Some([left.min(x), top.min(y), right.max(x), bottom.max(y)]);
            }
        }
        match bounds {
            Some([left, top, right, bottom]) => [
                left - border,
                top - border,
                right - left + 2.0 * border,
                bottom - top + 2.0 * border,
            ],
            None => self.view_box(figure),
        }
    }

    /// The part of the box that the figure ever fills, with a border: x, y, width, height.
    pub fn view_box(&self, figure: &Figure) -> [f32; 4] {
        let mut bounds = [
            f32::INFINITY,
            f32::INFINITY,
            f32::NEG_INFINITY,
            f32::NEG_INFINITY,
        ];
        for frame in 0..figure.frames.len() {
            for [x, y] in self.positions(figure, frame).into_iter().flatten() {
                bounds = [
                    bounds[0].min(x),
                    bounds[1].min(y),
                    bounds[2].max(x),
                    bounds[3].max(y),
                ];
            }
        }
        if bounds[0] > bounds[2] {
            return [0.0, 0.0, BOX, BOX];
        }
        let border = self.head_radius + 20.0;
        let (left, top) = (
            (bounds[0] - border).max(-BOX),
            (bounds[1] - border).max(-BOX),
        );
        let (right, bottom) = (
            (bounds[2] + border).min(2.0 * BOX),
            (bounds[3] + border).min(2.0 * BOX),
        );
        [left, top, right - left, bottom - top]
    }
}

/// Half a head against the figure's height: heads are about an eighth of the body's height (drawing
/// practice, no source); the box is at least as high as the body.
fn head_radius(figure: &Figure) -> f32 {
    let column = |id: &str| figure.joints.iter().position(|joint| joint == id);
    let trunk = figure.frames.iter().find_map(|frame| {
        let y = |id: &str| -> Option<f32> { Some((*frame.get(column(id)?)?)?[1]) };
        let shoulder = y("shoulder-left").or(y("shoulder-right"))?;
        let hip = y("hip-left").or(y("hip-right"))?;
        Some((shoulder - hip).abs() * BOX)
    });
    // The trunk is a good quarter of the height, so half a head is about a fifth of the trunk.
    (trunk.unwrap_or(250.0) * 0.2).clamp(10.0, 120.0)
}

/// One frame as SVG.
pub fn svg(figure: &Figure, skeleton: &Skeleton, frame: usize, name: &str) -> String {
    let positions = skeleton.positions(figure, frame);
    let [x, y, width, height] = skeleton.view_box(figure);
    let mut out = format!(
        "<svg id=\"figure\" role=\"img\" aria-label=\"{}\" viewBox=\"{x:.0} {y:.0} {width:.0} {height:.0}\">",
        super::chart::escaped(name)
    );
    // The measured arm last, so that it lies over the trunk.
    let ordered = skeleton
        .bones
        .iter()
        .filter(|bone| !bone.2)
        .chain(skeleton.bones.iter().filter(|bone| bone.2));
    for (a, b, arm) in ordered {
        let class = if *arm { "arm" } else { "bone" };
        let ends = (
            positions.get(*a).copied().flatten(),
            positions.get(*b).copied().flatten(),
        );
        let (place, hidden) = match ends {
            (Some(p), Some(q)) => (
                format!(
                    "x1=\"{:.0}\" y1=\"{:.0}\" x2=\"{:.0}\" y2=\"{:.0}\"",
                    p[0], p[1], q[0], q[1]
                ),
                "",
            ),
            _ => (String::new(), " visibility=\"hidden\""),
        };
        let _ = write!(
            out,
            "<line class=\"{class}\" data-a=\"{a}\" data-b=\"{b}\" {place}{hidden}/>"
        );
    }
    if !skeleton.head.is_empty() {
        let (place, hidden) = match skeleton.head_centre(&positions) {
            Some([x, y]) => (format!("cx=\"{x:.0}\" cy=\"{y:.0}\""), ""),
            None => (String::new(), " visibility=\"hidden\""),
        };
        let _ = write!(
            out,
            "<circle class=\"head\" r=\"{:.0}\" {place}{hidden}/>",
            skeleton.head_radius
        );
    }
    out.push_str("</svg>");
    out
}
