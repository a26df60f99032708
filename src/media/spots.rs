//! Everything in a picture that has a dot's colour, with its centre to a fraction of a pixel.
//!
//! The centre is the balance point of the contrast against the skin around it. Blur by motion leaves that point where
//! the middle of the exposure had the dot; a slope of light is taken off with a plane through the ring around it.

use super::broken;
use super::colour::DotColour;
use crate::geom::median;
use crate::note::Fault;
use nalgebra::{Matrix3, Vector2, Vector3};
use opencv::core::{self, CV_32S, Mat, Rect, Vec3b};
use opencv::imgproc::{self, ConnectedComponentsTypes as Stat};
use opencv::prelude::*;

/// Least share of dot in a pixel of a spot, 0 to 255 (stated choice: under a half, for the chroma of a small dot is
/// blurred by the codec).
const LEAST_SHARE: u8 = 105;
/// Share of dot below which a pixel has no weight in the centre.
const SOME_SHARE: u8 = 16;
/// Fewest pixels of a spot; fewer are noise.
const LEAST_AREA: i32 = 5;
/// Pixels around a spot that its blur may reach, and the width of the ring beyond.
const MARGIN: i32 = 3;
const RING: i32 = 3;
/// Pixels of compressed video do not err independently: how much more a centre errs for it (stated assumption).
const CODEC_FACTOR: f64 = 2.0;

/// Something in a dot's colour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Index of the colour.
    pub colour: usize,
    /// Centre, pixels of the upright picture.
    pub at: Vector2<f64>,
    /// Contrast against the skin, summed over the spot: neither blur nor light change it, only size and hiding.
    pub mass: f64,
    /// Radius of a disc of the same number of pixels.
    pub radius: f64,
    /// Standard deviation of the centre by the noise around it, pixels.
    pub sd: f64,
    /// Share of the ring around it that is even, 0..1.
    pub calm: f64,
    /// Mean colour of its core.
    pub core: [f32; 3],
}

/// The spots of one colour in a part of the picture that hold no more than `most_area` pixels.
pub(super) fn spots(
    picture: &Mat,
    part: Rect,
    colour: &DotColour,
    index: usize,
    most_area: f64,
) -> Result<Vec<Spot>, Fault> {
    let whole = Rect::new(0, 0, picture.cols(), picture.rows());
    let part = part & whole;
    if part.area() == 0 {
        return Ok(Vec::new());
    }
    let mut is_dot = Vec::with_capacity(part.area() as usize);
    for y in part.y..part.y + part.height {
        let row = picture.at_row::<Vec3b>(y).map_err(broken)?;
        let row = row
            .get(part.x as usize..(part.x + part.width) as usize)
            .unwrap_or(&[]);
        is_dot.extend(
            row.iter()
                .map(|pixel| u8::from(colour.share(pixel.0) >= LEAST_SHARE)),
        );
    }
    let mask = Mat::new_rows_cols_with_data(part.height, part.width, &is_dot).map_err(broken)?;
    let (mut labels, mut stats, mut middles) = (Mat::default(), Mat::default(), Mat::default());
    let count = imgproc::connected_components_with_stats(
        &mask,
        &mut labels,
        &mut stats,
        &mut middles,
        8,
        CV_32S,
    )
    .map_err(broken)?;
    let mut found = Vec::new();
    for label in 1..count {
        let stat = |which: Stat| {
            stats
                .at_2d::<i32>(label, which as i32)
                .copied()
                .map_err(broken)
        };
        let area = stat(Stat::CC_STAT_AREA)?;
        if area < LEAST_AREA || f64::from(area) > most_area {
            continue;
        }
        let bounds = Rect::new(
            part.x + stat(Stat::CC_STAT_LEFT)?,
            part.y + stat(Stat::CC_STAT_TOP)?,
            stat(Stat::CC_STAT_WIDTH)?,
            stat(Stat::CC_STAT_HEIGHT)?,
        );
        let radius = (f64::from(area) / std::f64::consts::PI).sqrt();
        found.extend(measured(picture, bounds, colour, index, radius)?);
    }
    Ok(found)
}

/// One pixel of the surroundings.
struct Pixel {
    at: Vector2<f64>,
    colour: Vector3<f64>,
    share: u8,
    on_ring: bool,
}

/// Centre and properties of the spot within bounds; `None` if there is no contrast or no skin around it.
fn measured(
    picture: &Mat,
    bounds: Rect,
    colour: &DotColour,
    index: usize,
    radius: f64,
) -> Result<Option<Spot>, Fault> {
    let pixels = pixels_around(picture, bounds, colour)?;
    let Some(skin) = Plane::through(&pixels) else {
        return Ok(None);
    };
    let core: Vec<&Pixel> = pixels
        .iter()
        .filter(|p| !p.on_ring && p.share >= LEAST_SHARE)
        .collect();
    if core.is_empty() {
        return Ok(None);
    }
    let mean = core.iter().map(|p| p.colour).sum::<Vector3<f64>>() / core.len() as f64;
    let middle = core.iter().map(|p| p.at).sum::<Vector2<f64>>() / core.len() as f64;
    let contrast = mean - skin.at(middle);
    let strength = contrast.norm();
    if strength < 1.0 {
        return Ok(None);
    }
    let toward = contrast / strength;
    let (mut sum, mut moment, mut lever) = (0.0, Vector2::zeros(), 0.0);
    for pixel in pixels
        .iter()
        .filter(|p| !p.on_ring && p.share >= SOME_SHARE)
    {
        let weight = (pixel.colour - skin.at(pixel.at)).dot(&toward).max(0.0);
        sum += weight;
        moment += weight * (pixel.at - middle);
        lever += (pixel.at - middle).norm_squared();
    }
    if sum <= 0.0 {
        return Ok(None);
    }
    let noise = skin.noise(toward, &pixels);
    Ok(Some(Spot {
        colour: index,
        at: middle + moment / sum,
        mass: sum / skin.at(middle).norm().max(1.0),
        radius,
        sd: CODEC_FACTOR * noise * (lever / 2.0).sqrt() / sum,
        calm: skin.calm,
        core: [mean.x, mean.y, mean.z].map(|channel| channel as f32),
    }))
}

fn pixels_around(picture: &Mat, bounds: Rect, colour: &DotColour) -> Result<Vec<Pixel>, Fault> {
    let grown = |by: i32| {
        Rect::new(
            bounds.x - by,
            bounds.y - by,
            bounds.width + 2 * by,
            bounds.height + 2 * by,
        )
    };
    let inner = grown(MARGIN);
    let outer = grown(MARGIN + RING) & Rect::new(0, 0, picture.cols(), picture.rows());
    let mut pixels = Vec::with_capacity(outer.area().max(0) as usize);
    for y in outer.y..outer.y + outer.height {
        let row = picture.at_row::<Vec3b>(y).map_err(broken)?;
        for x in outer.x..outer.x + outer.width {
            let Some(pixel) = row.get(x as usize) else {
                continue;
            };
            pixels.push(Pixel {
                at: Vector2::new(f64::from(x) + 0.5, f64::from(y) + 0.5),
                colour: Vector3::from(pixel.0.map(f64::from)),
                share: colour.share(pixel.0),
                on_ring: !inner.contains(core::Point::new(x, y)),
            });
        }
    }
    Ok(pixels)
}

/// The skin around a spot: each channel a plane over the picture.
struct Plane {
    centre: Vector2<f64>,
    /// Value at the centre, slope along x, slope along y; a column for each channel.
    channels: Matrix3<f64>,
    /// Share of the ring that the plane fits.
    calm: f64,
}

impl Plane {
    /// By least squares through the pixels of the ring that are near its median colour.
    fn through(pixels: &[Pixel]) -> Option<Plane> {
        let ring: Vec<&Pixel> = pixels.iter().filter(|p| p.on_ring).collect();
        let channel = |c: usize| median(ring.iter().map(|p| p.colour[c]));
        let typical = Vector3::new(channel(0)?, channel(1)?, channel(2)?);
        let off = |p: &Pixel| (p.colour - typical).norm();
        let usual = median(ring.iter().map(|p| off(p)))?;
        // Three times the usual distance, and never less than compression makes of even skin (stated choice).
        let even: Vec<&&Pixel> = ring
            .iter()
            .filter(|p| off(p) <= 3.0 * usual.max(4.0))
            .collect();
        let centre = even.iter().map(|p| p.at).sum::<Vector2<f64>>() / even.len().max(1) as f64;
        let (mut normal, mut right) = (Matrix3::zeros(), Matrix3::zeros());
        for pixel in &even {
            let row = Vector3::new(1.0, pixel.at.x - centre.x, pixel.at.y - centre.y);
            normal += row * row.transpose();
            right += row * pixel.colour.transpose();
        }
        Some(Plane {
            centre,
            channels: normal.try_inverse()? * right,
            calm: even.len() as f64 / ring.len().max(1) as f64,
        })
    }

    fn at(&self, at: Vector2<f64>) -> Vector3<f64> {
        let row = Vector3::new(1.0, at.x - self.centre.x, at.y - self.centre.y);
        self.channels.transpose() * row
    }

    /// Standard deviation of the ring about the plane, along a direction of colour, outliers left out.
    fn noise(&self, toward: Vector3<f64>, pixels: &[Pixel]) -> f64 {
        let off = pixels.iter().filter(|p| p.on_ring);
        let off = off.map(|p| (p.colour - self.at(p.at)).dot(&toward).abs());
        // A half of normal errors is within 0.6745 standard deviations.
        median(off).unwrap_or(0.0).max(0.5) / 0.6745
    }
}
