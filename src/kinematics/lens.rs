//! The camera as far as it matters to lengths in a picture.

use super::Spread;
use super::assumptions::Assumptions;
use crate::body::{Joint, Side};
use crate::geom::median;
use crate::note::Note;
use crate::track::{Layer, Track};
use nalgebra::Vector2;

/// How far a phone's optical centre is from the middle of the picture, standard deviation, as a share of its longer
/// side (stated assumption; stabilisation moves the cut of the sensor).
const CENTRE_SD: f64 = 0.02;

/// The camera as far as it matters: picture centre and focal length in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lens {
    /// Picture centre in the track's axes.
    pub centre: Vector2<f64>,
    /// Standard deviation of the centre in each direction, pixels.
    pub centre_sd: f64,
    /// Focal length, pixels.
    pub focal: Spread,
}

impl Lens {
    /// The camera, from the picture's size or from how far phones usually stand.
    pub(super) fn of(
        track: &Track,
        layer: &Layer,
        trunk_px: f64,
        assumptions: &Assumptions,
        notes: &mut Vec<Note>,
    ) -> Lens {
        match track.size {
            Some(size) => {
                let long = size.width.max(size.height);
                Lens {
                    centre: Vector2::zeros(),
                    centre_sd: CENTRE_SD * long,
                    focal: Spread {
                        value: assumptions.focal.value * long,
                        sd: assumptions.focal.sd * long,
                    },
                }
            }
            None => {
                notes.push(Note::new(
                    "lift/size-unknown",
                    format!(
                        "The picture's size is not in the file, so the phone is taken to stand {:.1} m away \
                         and the person to be near the middle of the picture; give --size to narrow the \
                         intervals.",
                        assumptions.distance_m.value
                    ),
                ));
                let px_per_m = trunk_px / assumptions.trunk_m;
                let middle = |joint: Joint, axis: usize| {
                    let column = track.column(joint)?;
                    median(layer.column(column, axis).into_iter().flatten())
                };
                let at = |axis: usize| {
                    let places: Vec<f64> = Side::BOTH
                        .iter()
                        .flat_map(|side| [Joint::Hip(*side), Joint::Shoulder(*side)])
                        .filter_map(|joint| middle(joint, axis))
                        .collect();
                    if places.is_empty() {
                        0.0
                    } else {
                        places.iter().sum::<f64>() / places.len() as f64
                    }
                };
                Lens {
                    centre: Vector2::new(at(0), at(1)),
                    // A person may stand this far from the middle of the picture, metres (stated choice).
                    centre_sd: 0.3 * px_per_m,
                    focal: Spread {
                        value: assumptions.distance_m.value * px_per_m,
                        sd: assumptions.distance_m.sd * px_per_m,
                    },
                }
            }
        }
    }
}
