//! What a picture of the clip says at a moment: the angle with its band, the repetition, the verdict in words.
//!
//! In: values of the moment. Out: a strip of pixels to be laid on the picture.

use super::chart::colour;
use super::columns::wrapped;
use super::lettering::{Letters, plain, write};
use crate::session::Verdict;
use image::{Rgb, RgbImage};
use imageproc::drawing::draw_filled_rect_mut;
use imageproc::rect::Rect;

/// The values of a moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Caption {
    /// Elevation, degrees, and half its 95 % interval; `None` where it could not be measured.
    pub elevation_deg: Option<(f64, f64)>,
    /// The band of elevation that is marked on the scale, degrees, with its name.
    pub band_deg: (f64, f64),
    /// Number and verdict of the repetition; `None` between repetitions.
    pub rep: Option<(u32, Verdict)>,
    /// The repetition's worst finding; empty if it has none.
    pub text: String,
}

/// Height of a strip, pixels: two strong lines, the scale, two plain lines.
pub const HEIGHT: u32 = 2 * MARGIN + 2 * 28 + SCALE + 2 * 24;
const MARGIN: u32 = 10;
const SCALE: u32 = 22;
const INK: Rgb<u8> = Rgb([0x1f, 0x27, 0x2e]);
const WASH: Rgb<u8> = Rgb([0xf4, 0xf6, 0xf8]);
const LINE: Rgb<u8> = Rgb([0xcc, 0xd3, 0xd9]);
const BAND: Rgb<u8> = Rgb([0xd5, 0xe9, 0xdf]);
const ARM: Rgb<u8> = Rgb([0x00, 0x72, 0xb2]);
/// End of the scale, degrees.
const FULL_DEG: f64 = 180.0;

/// The strip, so many pixels wide.
pub fn strip(caption: &Caption, width: u32) -> RgbImage {
    let mut strip = RgbImage::from_pixel(width, HEIGHT, WASH);
    let angle = match caption.elevation_deg {
        Some((deg, half)) => {
            let (low, high) = caption.band_deg;
            let inside = if (low..=high).contains(&deg) {
                ", in the arc"
            } else {
                ""
            };
            format!("Elevation {deg:.0} +/- {half:.0} deg{inside}")
        }
        None => "Elevation: cannot tell".to_string(),
    };
    write(&mut strip, (MARGIN, MARGIN), Letters::Strong, INK, &angle);
    scale(&mut strip, caption, MARGIN + 28);
    let top = MARGIN + 28 + SCALE;
    let (words, ink) = match caption.rep {
        Some((number, verdict)) => {
            let shade = colour(verdict);
            (
                format!("Repetition {number}: {}", verdict.words()),
                Rgb([shade.0, shade.1, shade.2]),
            )
        }
        None => ("Between repetitions".to_string(), INK),
    };
    write(&mut strip, (MARGIN, top), Letters::Strong, ink, &words);
    let columns = ((width - 2 * MARGIN) / Letters::Plain.advance()) as usize;
    for (n, line) in wrapped(&plain(&caption.text), columns)
        .iter()
        .take(2)
        .enumerate()
    {
        write(
            &mut strip,
            (MARGIN, top + 28 + 24 * n as u32),
            Letters::Plain,
            INK,
            line,
        );
    }
    strip
}

/// A scale from 0 to 180 degrees with the band and where the arm is.
fn scale(strip: &mut RgbImage, caption: &Caption, top: u32) {
    let length = f64::from(strip.width() - 2 * MARGIN);
    let at = |deg: f64| (f64::from(MARGIN) + (deg.clamp(0.0, FULL_DEG) / FULL_DEG) * length) as i32;
    let (low, high) = caption.band_deg;
    let top = top as i32 + 2;
    let mut bar = |from: i32, to: i32, down: i32, tall: u32, ink: Rgb<u8>| {
        let wide = (to - from).max(1) as u32;
        draw_filled_rect_mut(strip, Rect::at(from, top + down).of_size(wide, tall), ink);
    };
    bar(at(0.0), at(FULL_DEG), 4, 8, LINE);
    bar(at(low), at(high), 0, 16, BAND);
    if let Some((deg, half)) = caption.elevation_deg {
        bar(at(deg - half), at(deg + half), 6, 4, ARM);
        bar(at(deg) - 2, at(deg) + 3, 0, 16, ARM);
    }
}
