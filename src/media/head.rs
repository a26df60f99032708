//! Where the head is in each picture, so that nobody is known by it.
//!
//! From the points of the face and the ears, enlarged to a whole head; over gaps between the nearest times at which it
//! was seen, and larger the longer the gap. Where these points are not to be trusted (never seen, out of sight for long,
//! far from where a head can be), the place above the shoulders is hidden as well.

use super::broken;
use super::register::Register;
use super::trunk::Trunk;
use crate::body::{Joint, Side};
use crate::note::Fault;
use crate::track::Track;
use nalgebra::Vector2;
use opencv::core::{CV_8U, Mat, Point, Rect, Scalar, Size};
use opencv::imgproc;
use opencv::prelude::*;

/// Half a head with hair, enlarged, lengths of the trunk: a head has some 0.23 m, a trunk 0.5 m (from memory).
const RADIUS: f64 = 0.38;
/// Middle of the head above the middle of the shoulders, lengths of the trunk (from memory).
const ABOVE: f64 = 0.5;
/// How much a head may have moved in a second out of sight, lengths of the trunk (stated choice).
const GROWS: f64 = 0.5;
/// Farthest that the points of a face may lie from the place above the shoulders to be believed alone, lengths of the
/// trunk: a head that hangs forward or to the side (stated choice).
const FAR: f64 = 0.6;
/// Longest time out of sight that is bridged by what was seen before and after alone, seconds (stated choice).
const BRIDGED_S: f64 = 0.5;
/// Length of a trunk in widths of the shoulders, so that one that bends toward the phone is not taken for a small person
/// (0.5 m and 0.38 m, from memory).
const LENGTH_IN_WIDTHS: f64 = 1.3;
/// Blocks across a hidden head: too few to know a face by (stated choice).
const BLOCKS: i32 = 5;

/// A part of the picture that is made unrecognisable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Disc {
    pub centre: Vector2<f64>,
    pub radius: f64,
}

/// What is hidden in each picture.
pub(super) struct Heads {
    /// Discs of each picture.
    pub discs: Vec<Vec<Disc>>,
    /// Whether any point of the face or an ear was ever seen.
    pub by_points: bool,
}

/// The head in each picture.
pub(super) fn heads(
    track: &Track,
    register: &Register,
    trunks: &[Trunk],
    times_s: &[f64],
) -> Heads {
    let seen: Vec<Option<Disc>> = trunks
        .iter()
        .enumerate()
        .map(|(picture, trunk)| {
            let frame = register.frame(picture)?;
            by_face(track, register, frame, trunk)
        })
        .collect();
    let known: Vec<(usize, Disc)> = seen
        .iter()
        .enumerate()
        .filter_map(|(picture, disc)| Some((picture, (*disc)?)))
        .collect();
    let time = |picture: usize| times_s.get(picture).copied().unwrap_or(0.0);
    let discs = trunks
        .iter()
        .enumerate()
        .map(|(picture, trunk)| {
            let usual = by_trunk(trunk);
            if let Some(Some(disc)) = seen.get(picture) {
                let far = (disc.centre - usual.centre).norm() > FAR * size(trunk);
                return if far { vec![*disc, usual] } else { vec![*disc] };
            }
            let after = known.partition_point(|(at, _)| *at < picture);
            let before = after.checked_sub(1).and_then(|n| known.get(n));
            let grown = |gap: f64| (1.0 + GROWS * gap / RADIUS).min(2.0);
            match (before, known.get(after)) {
                (Some((from, a)), Some((to, b))) => {
                    let (gap, since) = (time(*to) - time(*from), time(picture) - time(*from));
                    let share = if gap > 0.0 { since / gap } else { 0.0 };
                    let nearest = since.min(gap - since);
                    let held = Disc {
                        centre: a.centre * (1.0 - share) + b.centre * share,
                        radius: a.radius.max(b.radius) * grown(nearest),
                    };
                    match gap > BRIDGED_S {
                        true => vec![held, usual],
                        false => vec![held],
                    }
                }
                (Some((at, disc)), None) | (None, Some((at, disc))) => {
                    let held = Disc {
                        radius: disc.radius * grown((time(picture) - time(*at)).abs()),
                        ..*disc
                    };
                    vec![held, usual]
                }
                (None, None) => vec![usual],
            }
        })
        .collect();
    Heads {
        discs,
        by_points: !known.is_empty(),
    }
}

/// Length of the trunk, also of one that is foreshortened.
fn size(trunk: &Trunk) -> f64 {
    trunk
        .length
        .max(LENGTH_IN_WIDTHS * 2.0 * trunk.half_width() * trunk.length)
}

fn by_trunk(trunk: &Trunk) -> Disc {
    Disc {
        centre: trunk.top + trunk.up * (ABOVE * size(trunk)),
        radius: 1.25 * RADIUS * size(trunk),
    }
}

fn by_face(track: &Track, register: &Register, frame: usize, trunk: &Trunk) -> Option<Disc> {
    let sides = Side::BOTH.into_iter();
    let joints = sides
        .flat_map(|side| [Joint::Eye(side), Joint::Ear(side)])
        .chain([Joint::Nose]);
    let points: Vec<Vector2<f64>> = joints
        .filter_map(|joint| register.seen(track, frame, joint))
        .collect();
    let count = points.len();
    let centre = points.iter().sum::<Vector2<f64>>() / count.max(1) as f64;
    let spread = points
        .iter()
        .map(|point| (point - centre).norm())
        .fold(0.0, f64::max);
    // Crown and hair lie above the face.
    let centre = centre + trunk.up * (0.08 * trunk.length);
    (count > 0).then(|| Disc {
        centre,
        radius: (RADIUS * size(trunk)).max(2.2 * spread),
    })
}

/// Makes a disc of the picture unrecognisable.
pub(super) fn hide(picture: &mut Mat, disc: Disc) -> Result<(), Fault> {
    let whole = Rect::new(0, 0, picture.cols(), picture.rows());
    let reach = disc.radius.ceil() as i32;
    let (x, y) = (disc.centre.x as i32, disc.centre.y as i32);
    let part = Rect::new(x - reach, y - reach, 2 * reach, 2 * reach) & whole;
    if part.width < 2 || part.height < 2 {
        return Ok(());
    }
    let mut head = Mat::roi_mut(picture, part).map_err(broken)?;
    let (mut few, mut blurred) = (Mat::default(), Mat::default());
    imgproc::resize(
        &head,
        &mut few,
        Size::new(BLOCKS, BLOCKS),
        0.0,
        0.0,
        imgproc::INTER_AREA,
    )
    .map_err(broken)?;
    imgproc::resize(
        &few,
        &mut blurred,
        part.size(),
        0.0,
        0.0,
        imgproc::INTER_LINEAR,
    )
    .map_err(broken)?;
    let mut mask = Mat::zeros(part.height, part.width, CV_8U)
        .and_then(|mask| mask.to_mat())
        .map_err(broken)?;
    let centre = Point::new(x - part.x, y - part.y);
    imgproc::circle(
        &mut mask,
        centre,
        reach,
        Scalar::all(255.0),
        -1,
        imgproc::LINE_8,
        0,
    )
    .map_err(broken)?;
    blurred.copy_to_masked(&mut head, &mask).map_err(broken)
}

/// Makes the whole picture unrecognisable: nobody knows where the head is.
pub(super) fn hide_all(picture: &mut Mat) -> Result<(), Fault> {
    let size = picture.size().map_err(broken)?;
    let mut few = Mat::default();
    imgproc::resize(
        picture,
        &mut few,
        Size::new(16, 16),
        0.0,
        0.0,
        imgproc::INTER_AREA,
    )
    .map_err(broken)?;
    imgproc::resize(&few, picture, size, 0.0, 0.0, imgproc::INTER_LINEAR).map_err(broken)
}

#[cfg(test)]
mod tests {
    use super::*;
    use opencv::core::Vec3b;

    #[test]
    fn nothing_fine_is_left_of_a_head() {
        let pixels: Vec<Vec3b> = (0..200 * 200)
            .map(|n| {
                Vec3b::all(if (n % 200 / 4 + n / 800) % 2 == 0 {
                    20
                } else {
                    220
                })
            })
            .collect();
        let flat = Mat::new_rows_cols_with_data(200, 200, &pixels).expect("a picture");
        let mut picture = flat.try_clone().expect("a copy");
        let centre = Vector2::new(100.0, 90.0);
        hide(
            &mut picture,
            Disc {
                centre,
                radius: 50.0,
            },
        )
        .expect("hidden");
        let at = |x: i32, y: i32| i32::from(picture.at_2d::<Vec3b>(y, x).expect("a pixel")[0]);
        for y in 60..120 {
            for x in 70..130 {
                assert!((at(x, y) - at(x + 1, y)).abs() < 15, "{x} {y}");
            }
        }
        assert_eq!(
            at(10, 10),
            i32::from(pixels[10 * 200 + 10][0]),
            "the rest is as it was"
        );
        // A head that is partly or wholly out of the picture is no fault.
        for centre in [Vector2::new(-20.0, 5.0), Vector2::new(900.0, 900.0)] {
            hide(
                &mut picture,
                Disc {
                    centre,
                    radius: 50.0,
                },
            )
            .expect("hidden");
        }
    }
}
