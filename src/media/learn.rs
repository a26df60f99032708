//! The colours of the dots and where each is in one picture: marked by the user, or found by stated colours and the
//! usual arrangement on a back.

use super::colour::{Bgr, Chroma, DotColour, chroma};
use super::dots::Dot;
use super::identity::Cast;
use super::spots::{Spot, spots};
use super::trunk::Trunk;
use super::{broken, fault};
use crate::body::Side;
use crate::geom::median;
use crate::note::{Fault, FaultKind, Place};
use nalgebra::Vector2;
use opencv::core::{Mat, Rect, Vec3b};
use opencv::prelude::*;

/// How far around a mark a dot's pixels are looked for, and where the skin around it lies, lengths of the trunk: a
/// sticker has some 15 mm, a trunk some half a metre.
const NEAR: f64 = 0.03;
const AROUND: (f64, f64) = (0.06, 0.10);
/// Share of the pixels near a mark whose colour is taken as the dot's.
const CLEAREST: f64 = 0.12;
/// How far from its mark a dot may be found, lengths of the trunk.
const FROM_MARK: f64 = 0.05;
/// Largest dot: radius in lengths of the trunk (30 mm across).
const MOST_RADIUS: f64 = 0.04;
/// Strangest place at which a dot of a stated colour is believed, standard deviations in each direction.
const STRANGEST: f64 = 3.5;

/// Width of a sticker of 15 mm on a person of that size, pixels.
pub(super) fn usual_width(trunk: &Trunk) -> f64 {
    NEAR * trunk.length
}

/// Most pixels of a dot's spot on a person of that size.
pub(super) fn most_area(trunk: &Trunk) -> f64 {
    (std::f64::consts::PI * (MOST_RADIUS * trunk.length).powi(2)).max(60.0)
}

/// What is known of the dots after one picture.
#[derive(Debug)]
pub(super) struct Learned {
    /// Colours, each once.
    pub colours: Vec<DotColour>,
    /// The dots and the colour of each.
    pub cast: Cast,
    /// Their spots in the marked picture.
    pub start: Vec<Spot>,
}

/// Learns from a picture in which the places of the dots are known.
pub(super) fn learn(
    picture: &Mat,
    trunk: &Trunk,
    marks: &[(Dot, Vector2<f64>)],
    part: Rect,
) -> Result<Learned, Fault> {
    let mut looked = Vec::new();
    for (dot, at) in marks {
        let seen = around(picture, *at, trunk.length)?;
        let (of_dot, skin) =
            seen.ok_or_else(|| lost(*dot, *at, "the mark is outside the picture"))?;
        looked.push((*dot, *at, of_dot, skin));
    }
    // One skin for all dots: beside a single one there may be hair, cloth or the wall.
    let skin = middle(looked.iter().map(|(_, _, _, skin)| *skin));
    let mut colours: Vec<DotColour> = Vec::new();
    let mut cast = Cast::new();
    for (dot, at, of_dot, _) in &looked {
        let known = colours.iter().position(|colour| colour.is_like(*of_dot));
        let index = match known {
            Some(index) => index,
            None => {
                let colour = DotColour::new(*of_dot, skin).ok_or_else(|| too_alike(*dot, *at))?;
                colours.push(colour);
                colours.len() - 1
            }
        };
        cast.push((*dot, index));
    }
    // Each colour again, by all the dots that have it.
    for (index, colour) in colours.iter_mut().enumerate() {
        let own = looked.iter().zip(&cast).filter(|(_, (_, of))| *of == index);
        let of_dots = middle(own.map(|((_, _, of_dot, _), _)| *of_dot));
        if let Some(better) = DotColour::new(of_dots, skin) {
            *colour = better;
        }
    }
    let mut seen = Vec::new();
    for (index, colour) in colours.iter().enumerate() {
        seen.extend(spots(picture, part, colour, index, most_area(trunk))?);
    }
    let mut start: Vec<Spot> = Vec::new();
    for ((dot, at), (_, index)) in marks.iter().zip(&cast) {
        let near = seen.iter().filter(|spot| spot.colour == *index);
        let nearest = near.min_by(|a, b| (a.at - at).norm().total_cmp(&(b.at - at).norm()));
        let spot =
            nearest.filter(|spot| (spot.at - at).norm() <= (FROM_MARK * trunk.length).max(4.0));
        let spot = spot.ok_or_else(|| lost(*dot, *at, "there is no dot of one colour there"))?;
        if start.iter().any(|other| other.at == spot.at) {
            return Err(lost(*dot, *at, "the same dot is another one's already"));
        }
        start.push(*spot);
    }
    Ok(Learned {
        colours,
        cast,
        start,
    })
}

fn middle(seen: impl Iterator<Item = Chroma> + Clone) -> Chroma {
    [0, 1].map(|share| {
        let values = seen.clone().map(|seen: Chroma| f64::from(seen[share]));
        median(values).unwrap_or(0.33) as f32
    })
}

/// Chromaticity of a dot and of the skin around it; `None` outside the picture.
fn around(picture: &Mat, at: Vector2<f64>, length: f64) -> Result<Option<(Chroma, Chroma)>, Fault> {
    let (near, inner, outer) = (
        (NEAR * length).max(3.0),
        AROUND.0 * length,
        (AROUND.1 * length).max(9.0),
    );
    let (mut skin, mut close) = ([Vec::new(), Vec::new()], Vec::new());
    let whole = Rect::new(0, 0, picture.cols(), picture.rows());
    let reach = outer.ceil() as i32;
    let part = Rect::new(
        at.x as i32 - reach,
        at.y as i32 - reach,
        2 * reach + 1,
        2 * reach + 1,
    ) & whole;
    for y in part.y..part.y + part.height {
        let row = picture.at_row::<Vec3b>(y).map_err(broken)?;
        for x in part.x..part.x + part.width {
            let Some(pixel) = row.get(x as usize) else {
                continue;
            };
            let distance = (Vector2::new(f64::from(x) + 0.5, f64::from(y) + 0.5) - at).norm();
            let seen = chroma(pixel.0.map(f32::from));
            if distance <= near {
                close.push(seen);
            } else if (inner..=outer).contains(&distance) {
                skin.iter_mut()
                    .zip(seen)
                    .for_each(|(list, share)| list.push(f64::from(share)));
            }
        }
    }
    let [red, green] = skin.map(median);
    let (Some(red), Some(green)) = (red, green) else {
        return Ok(None);
    };
    let skin = [red as f32, green as f32];
    let off = |seen: &Chroma| (seen[0] - skin[0]).hypot(seen[1] - skin[1]);
    close.sort_by(|a, b| off(b).total_cmp(&off(a)));
    close.truncate(((close.len() as f64 * CLEAREST) as usize).max(4));
    let dot = [0, 1].map(|share| median(close.iter().map(|seen: &Chroma| f64::from(seen[share]))));
    let [Some(red), Some(green)] = dot else {
        return Ok(None);
    };
    Ok(Some(([red as f32, green as f32], skin)))
}

/// How well an arrangement of spots fits the usual one: the less, the better.
pub(super) struct Arrangement {
    /// Half the squared strangeness, by dot.
    pub cost: f64,
    /// Places of the dots.
    pub marks: Vec<(Dot, Vector2<f64>)>,
}

/// Looks in one picture for dots of stated colours; else the dots of which no spot is where they may be (none if each has
/// one, but two share it).
pub(super) fn arrange(
    picture: &Mat,
    trunk: &Trunk,
    dots: &[(Dot, Bgr)],
    side: Side,
    part: Rect,
) -> Result<Result<Arrangement, Vec<Dot>>, Fault> {
    let skin = usual_chroma(picture, part)?;
    let mut seen: Vec<(Bgr, Vec<Spot>)> = Vec::new();
    for (_, stated) in dots {
        if seen.iter().any(|(colour, _)| colour == stated) {
            continue;
        }
        let spots = match DotColour::new(chroma(stated.map(f32::from)), skin) {
            Some(colour) => spots(picture, part, &colour, 0, most_area(trunk))?,
            None => Vec::new(),
        };
        seen.push((*stated, spots));
    }
    let fitting: Vec<Vec<(Spot, f64)>> = dots
        .iter()
        .map(|(dot, stated)| {
            let spots = seen
                .iter()
                .filter(|(colour, _)| colour == stated)
                .flat_map(|(_, spots)| spots);
            let placed = spots.map(|spot| (*spot, dot.strangeness(spot.at, trunk, side)));
            placed
                .filter(|(_, strange)| strange.iter().all(|sd| sd.abs() <= STRANGEST))
                .map(|(spot, [across, along])| (spot, (across * across + along * along) / 2.0))
                .collect()
        })
        .collect();
    let mut best = (f64::INFINITY, Vec::new());
    fit(
        &fitting,
        APART * trunk.length,
        &mut Vec::new(),
        0.0,
        &mut best,
    );
    let (cost, spots) = best;
    if !cost.is_finite() {
        let missing = dots
            .iter()
            .zip(&fitting)
            .filter(|(_, spots)| spots.is_empty());
        return Ok(Err(missing.map(|((dot, _), _)| *dot).collect()));
    }
    let cost = (cost + unlike(&spots)) / dots.len() as f64;
    let places = spots.iter().map(|spot| spot.at);
    let marks = dots.iter().map(|(dot, _)| *dot).zip(places).collect();
    Ok(Ok(Arrangement { cost, marks }))
}

/// Least distance of two dots, lengths of the trunk: what is nearer is one dot in two pieces.
const APART: f64 = 0.05;
/// How far the masses of dots of one kind differ, natural logarithm (stated assumption).
const ALIKE_SD: f64 = 0.25;

/// Half the squared departure of the masses from their median: a dot that touches something of its colour, or is partly
/// hidden, is no good beginning.
fn unlike(spots: &[Spot]) -> f64 {
    let usual = median(spots.iter().map(|spot| spot.mass.ln())).unwrap_or(0.0);
    let off = spots.iter().map(|spot| (spot.mass.ln() - usual) / ALIKE_SD);
    off.map(|off| off * off / 2.0).sum()
}

fn fit(
    fitting: &[Vec<(Spot, f64)>],
    apart: f64,
    given: &mut Vec<Spot>,
    cost: f64,
    best: &mut (f64, Vec<Spot>),
) {
    if cost >= best.0 {
        return;
    }
    let Some(spots) = fitting.get(given.len()) else {
        *best = (cost, given.clone());
        return;
    };
    for (spot, own) in spots {
        if given
            .iter()
            .all(|other| (other.at - spot.at).norm() >= apart)
        {
            given.push(*spot);
            fit(fitting, apart, given, cost + own, best);
            given.pop();
        }
    }
}

/// The commonest chromaticity of a part of the picture: bare skin, where dots are on it.
fn usual_chroma(picture: &Mat, part: Rect) -> Result<Chroma, Fault> {
    let part = part & Rect::new(0, 0, picture.cols(), picture.rows());
    let (mut red, mut green) = (Vec::new(), Vec::new());
    for y in (part.y..part.y + part.height).step_by(5) {
        let row = picture.at_row::<Vec3b>(y).map_err(broken)?;
        for x in (part.x..part.x + part.width).step_by(5) {
            if let Some(pixel) = row.get(x as usize) {
                let [r, g] = chroma(pixel.0.map(f32::from));
                red.push(f64::from(r));
                green.push(f64::from(g));
            }
        }
    }
    Ok([
        median(red).unwrap_or(0.33) as f32,
        median(green).unwrap_or(0.33) as f32,
    ])
}

fn lost(dot: Dot, at: Vector2<f64>, why: &str) -> Fault {
    fault(
        FaultKind::Usage,
        "stickers/mark",
        format!("no dot ({dot}) was found at {:.0},{:.0}: {why}", at.x, at.y),
        Place::default().field("--dot"),
        "the dot's place in pixels from the top left of the upright picture at --at; --still FILE writes that picture",
    )
}

fn too_alike(dot: Dot, at: Vector2<f64>) -> Fault {
    fault(
        FaultKind::Unsupported,
        "stickers/colour",
        format!(
            "the dot ({dot}) at {:.0},{:.0} has nearly the colour of what lies around it",
            at.x, at.y
        ),
        Place::default().field("--dot"),
        "marking the middle of the dot; dots of a strong colour, such as green, in even light",
    )
}
