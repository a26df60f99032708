//! Letters on a picture: a small anti-aliased typeface that is part of the program.
//!
//! In: text and a place. Out: pixels. Signs that the typeface lacks are replaced by plain ones.

use image::{Rgb, RgbImage};
use noto_sans_mono_bitmap::{FontWeight, RasterHeight, get_raster, get_raster_width};

/// Sizes of letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Letters {
    /// For sentences.
    Plain,
    /// For the line that is read first.
    Strong,
}

impl Letters {
    fn weight(self) -> FontWeight {
        match self {
            Letters::Plain => FontWeight::Regular,
            Letters::Strong => FontWeight::Bold,
        }
    }
    fn height(self) -> RasterHeight {
        match self {
            Letters::Plain => RasterHeight::Size20,
            Letters::Strong => RasterHeight::Size24,
        }
    }
    /// Pixels from one letter to the next.
    pub fn advance(self) -> u32 {
        get_raster_width(self.weight(), self.height()) as u32
    }
    /// Pixels from one line to the next.
    pub fn line(self) -> u32 {
        self.height().val() as u32 + 4
    }
}

/// Text with plain signs only.
pub fn plain(text: &str) -> String {
    text.replace("° (", " (")
        .replace('\u{2212}', "-")
        .replace(['–', '—'], "-")
        .replace('\u{a0}', " ")
}

/// Writes one line with its top left corner at a place; what lies outside the picture is cut.
pub fn write(picture: &mut RgbImage, at: (u32, u32), letters: Letters, ink: Rgb<u8>, text: &str) {
    let mut left = at.0;
    for letter in text.chars() {
        let raster = get_raster(letter, letters.weight(), letters.height())
            .or_else(|| get_raster('?', letters.weight(), letters.height()));
        let rows = raster.iter().flat_map(|glyph| glyph.rows());
        for (down, row) in rows.enumerate() {
            for (across, strength) in row.iter().enumerate() {
                let place = (left + across as u32, at.1 + down as u32);
                if let Some(pixel) = picture.get_pixel_mut_checked(place.0, place.1) {
                    *pixel = mixed(*pixel, ink, *strength);
                }
            }
        }
        left += letters.advance();
    }
}

fn mixed(below: Rgb<u8>, above: Rgb<u8>, strength: u8) -> Rgb<u8> {
    let share = f32::from(strength) / 255.0;
    let mix = |a: u8, b: u8| (f32::from(a) * (1.0 - share) + f32::from(b) * share).round() as u8;
    let ([r, g, b], [r2, g2, b2]) = (below.0, above.0);
    Rgb([mix(r, r2), mix(g, g2), mix(b, b2)])
}
