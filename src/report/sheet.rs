//! One panel of the contact sheet: the figure at a moment and the words about it.
//!
//! In: joint positions and text lines. Out: pixels in a cell of the sheet. The head is a plain circle.

use super::chart::{OUTWARD, QUIET, colour};
use super::columns::wrapped;
use super::figure::Skeleton;
use super::lettering::{Letters, plain, write};
use crate::session::{Figure, Verdict};
use image::{Rgb, RgbImage};
use imageproc::drawing::{draw_filled_circle_mut, draw_hollow_rect_mut, draw_polygon_mut};
use imageproc::point::Point;
use imageproc::rect::Rect;

/// Width of a panel, pixels.
pub const PANEL_WIDTH: u32 = 480;
/// Height of a panel, pixels.
pub const PANEL_HEIGHT: u32 = 640;
/// Space around things, pixels.
pub const MARGIN: u32 = 20;
/// Height kept for words at the foot of a panel: six lines.
const WORDS: u32 = 6 * 24 + 8;
/// Height of the heading of a panel.
const HEAD: u32 = 36;

const INK: Rgb<u8> = Rgb([0x1f, 0x27, 0x2e]);
const WASH: Rgb<u8> = Rgb([0xf4, 0xf6, 0xf8]);
const LINE: Rgb<u8> = Rgb([0xcc, 0xd3, 0xd9]);
const BONE: Rgb<u8> = Rgb([0x6b, 0x76, 0x80]);

/// What a panel says.
pub struct Words {
    /// Verdict of the finding.
    pub verdict: Verdict,
    /// `Rep. 12  00:36.4  outside`.
    pub heading: String,
    /// Sentences under the figure, in order.
    pub lines: Vec<String>,
}

/// Colour of the charts as a pixel.
fn pixel(colour: plotters::style::RGBColor) -> Rgb<u8> {
    Rgb([colour.0, colour.1, colour.2])
}

/// What is drawn in a panel.
pub struct Scene<'a> {
    /// Figure of the clip.
    pub figure: &'a Figure,
    /// What is drawn of it.
    pub skeleton: &'a Skeleton,
    /// Part of the figure's box that fills the panel, the same for every panel of a sheet so that they
    /// compare: x, y, width, height.
    pub part: [f32; 4],
}

/// Draws a panel with its top left corner at a place.
pub fn panel(sheet: &mut RgbImage, at: (u32, u32), scene: &Scene, frame: usize, words: &Words) {
    let inner = PANEL_WIDTH - MARGIN;
    mark(sheet, (at.0 + 12, at.1 + 14), words.verdict);
    write(
        sheet,
        (at.0 + 32, at.1),
        Letters::Strong,
        INK,
        &plain(&words.heading),
    );
    let tall = PANEL_HEIGHT - HEAD - WORDS - MARGIN;
    let top = at.1 + HEAD;
    // On a picture of its own, so that what runs out of the part shown is cut at the border.
    let mut stage = RgbImage::from_pixel(inner, tall, WASH);
    body(&mut stage, scene, frame);
    draw_hollow_rect_mut(&mut stage, Rect::at(0, 0).of_size(inner, tall), LINE);
    image::imageops::replace(sheet, &stage, i64::from(at.0), i64::from(top));
    let columns = (inner / Letters::Plain.advance()) as usize;
    let mut top = top + tall + 8;
    let last = at.1 + PANEL_HEIGHT - MARGIN;
    for text in words
        .lines
        .iter()
        .flat_map(|line| wrapped(&plain(line), columns))
    {
        if top + Letters::Plain.line() > last + MARGIN {
            break;
        }
        write(sheet, (at.0, top), Letters::Plain, INK, &text);
        top += Letters::Plain.line();
    }
}

fn body(stage: &mut RgbImage, scene: &Scene, frame: usize) {
    let Scene {
        figure,
        skeleton,
        part: [left, top, width, height],
    } = scene;
    let (wide, tall) = (stage.width() as f32, stage.height() as f32);
    let scale = (wide / width.max(1.0)).min(tall / height.max(1.0));
    let shift = ((wide - width * scale) / 2.0, (tall - height * scale) / 2.0);
    let place = |p: [f32; 2]| {
        (
            shift.0 + (p[0] - left) * scale,
            shift.1 + (p[1] - top) * scale,
        )
    };
    let positions = skeleton.positions(figure, frame);
    let at = |index: usize| positions.get(index).copied().flatten().map(place);
    // Lines in proportion to the head, whatever share of the picture the person fills.
    let unit = skeleton.head_radius * scale;
    for arm in [false, true] {
        let (ink, thick) = match arm {
            false => (BONE, 0.22 * unit),
            true => (pixel(OUTWARD), 0.38 * unit),
        };
        for (a, b, _) in skeleton.bones.iter().filter(|bone| bone.2 == arm) {
            if let (Some(p), Some(q)) = (at(*a), at(*b)) {
                bone(stage, p, q, thick.max(3.0), ink);
            }
        }
    }
    if let Some(centre) = skeleton.head_centre(&positions).map(place) {
        let centre = (centre.0 as i32, centre.1 as i32);
        draw_filled_circle_mut(stage, centre, unit as i32, BONE);
        draw_filled_circle_mut(stage, centre, (unit * 0.8) as i32, WASH);
    }
}

/// A thick line with round ends.
fn bone(sheet: &mut RgbImage, p: (f32, f32), q: (f32, f32), thick: f32, ink: Rgb<u8>) {
    let (dx, dy) = (q.0 - p.0, q.1 - p.1);
    let length = dx.hypot(dy);
    let half = thick / 2.0;
    let round = |v: f32| v.round() as i32;
    draw_filled_circle_mut(sheet, (round(p.0), round(p.1)), round(half), ink);
    draw_filled_circle_mut(sheet, (round(q.0), round(q.1)), round(half), ink);
    if length < 1.0 {
        return;
    }
    let (nx, ny) = (-dy / length * half, dx / length * half);
    let corners: Vec<Point<i32>> = [
        (p.0 + nx, p.1 + ny),
        (q.0 + nx, q.1 + ny),
        (q.0 - nx, q.1 - ny),
        (p.0 - nx, p.1 - ny),
    ]
    .into_iter()
    .map(|(x, y)| Point::new(round(x), round(y)))
    .collect();
    // The polygon drawer refuses one whose ends coincide, which rounding can bring about.
    if corners.first() != corners.last() {
        draw_polygon_mut(sheet, &corners, ink);
    }
}

/// The same marks as on the page.
fn mark(sheet: &mut RgbImage, at: (u32, u32), verdict: Verdict) {
    let (x, y) = (at.0 as i32, at.1 as i32);
    let ink = pixel(colour(verdict));
    let r = 9;
    match verdict {
        Verdict::Outside => draw_polygon_mut(
            sheet,
            &[
                Point::new(x, y - r),
                Point::new(x + r, y),
                Point::new(x, y + r),
                Point::new(x - r, y),
            ],
            ink,
        ),
        Verdict::Near => draw_polygon_mut(
            sheet,
            &[
                Point::new(x, y - r),
                Point::new(x + r, y + r),
                Point::new(x - r, y + r),
            ],
            ink,
        ),
        Verdict::Within => {
            draw_filled_circle_mut(sheet, (x, y), r - 1, ink);
            draw_filled_circle_mut(sheet, (x, y), r - 4, Rgb([255, 255, 255]));
        }
        Verdict::CannotTell => write(
            sheet,
            (at.0.saturating_sub(6), at.1.saturating_sub(14)),
            Letters::Strong,
            pixel(QUIET),
            "?",
        ),
    }
}
