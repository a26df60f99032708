//! How far the centre of a spot is to be believed.
//!
//! A confidence is 1 / (1 + e²) with e the centre's expected error in pixels: 0.5 stands for one pixel. The error comes
//! from noise, from the part of the dot that is hidden (its mass against what it is around that time), and from what
//! else lies in the ring around it. Below 0.5 a dot counts as not seen. A spot of a single picture, with the dot out of
//! sight before and after, is confirmed by nothing: things of a dot's colour show so at the edge of an arm.

use super::spots::Spot;
use crate::geom::quantile;

/// Least confidence of a dot that counts as seen.
pub const LEAST_CONFIDENCE: f64 = 0.5;

/// Half a window in which a dot's whole mass is seen, seconds: the blade turns within it, but not out of sight (stated
/// choice).
const WINDOW_S: f64 = 1.0;
/// Quantile of the masses that stands for the whole dot.
const WHOLE: f64 = 0.7;
/// Mass that comes and goes by noise, as a share (stated choice: from rendered clips).
const BY_NOISE: f64 = 0.06;
/// Mass against that of the whole clip below which a dot is partly hidden however long it lasts: no dot that faces the
/// phone is foreshortened so much (stated choice, 55 degrees).
const LASTING: f64 = 0.57;
/// Part of the radius by which an uneven ring may shift a centre (stated assumption).
const BY_RING: f64 = 0.25;

/// Most confidence in a spot of a single picture (stated choice: under the least that counts).
const UNCONFIRMED: f64 = 0.25;

/// Confidence of each spot of one dot, by picture; `None` where it was not seen.
pub(super) fn confidences(spots: &[Option<Spot>], times_s: &[f64]) -> Vec<Option<f64>> {
    let masses: Vec<(f64, f64)> = spots
        .iter()
        .zip(times_s)
        .filter_map(|(spot, time)| Some((*time, spot.as_ref()?.mass)))
        .collect();
    let clip = quantile(masses.iter().map(|(_, mass)| *mass), WHOLE).unwrap_or(1.0);
    let around = |time: f64| {
        let from = masses.partition_point(|(at, _)| *at < time - WINDOW_S);
        let to = masses.partition_point(|(at, _)| *at <= time + WINDOW_S);
        let near = masses.get(from..to).unwrap_or(&[]);
        quantile(near.iter().map(|(_, mass)| *mass), WHOLE).unwrap_or(clip)
    };
    let seen = |picture: Option<usize>| {
        picture.is_some_and(|picture| matches!(spots.get(picture), Some(Some(_))))
    };
    spots
        .iter()
        .zip(times_s)
        .enumerate()
        .map(|(picture, (spot, time))| {
            let spot = spot.as_ref()?;
            let by_now = (spot.mass / around(*time) - 1.0).abs() - BY_NOISE;
            let lasting = 1.0 - spot.mass / (LASTING * clip);
            let hidden = by_now.max(lasting).max(0.0);
            let error = spot
                .sd
                .hypot(spot.radius * hidden)
                .hypot(BY_RING * spot.radius * (1.0 - spot.calm));
            let confidence = 1.0 / (1.0 + error * error);
            let confirmed = seen(picture.checked_sub(1)) || seen(Some(picture + 1));
            Some(match confirmed {
                true => confidence,
                false => confidence.min(UNCONFIRMED),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Vector2;

    fn spot(mass: f64) -> Spot {
        Spot {
            colour: 0,
            at: Vector2::zeros(),
            mass,
            radius: 5.0,
            sd: 0.1,
            calm: 1.0,
            core: [0.0; 3],
        }
    }

    #[test]
    fn a_spot_of_a_single_picture_is_not_believed() {
        let times: Vec<f64> = (0..90).map(|n| f64::from(n) / 30.0).collect();
        let mut spots = vec![Some(spot(60.0)); 90];
        for gone in [38, 39, 41, 42, 88] {
            spots[gone] = None;
        }
        let told = confidences(&spots, &times);
        assert!(told[40] < Some(LEAST_CONFIDENCE) && told[89] < Some(LEAST_CONFIDENCE));
        assert!(told[37] > Some(0.9) && told[43] > Some(0.9) && told[0] > Some(0.9));
    }

    #[test]
    fn a_dot_that_an_arm_half_covers_is_not_believed() {
        let times: Vec<f64> = (0..90).map(|n| f64::from(n) / 30.0).collect();
        let mut spots = vec![Some(spot(60.0)); 90];
        spots[40] = Some(spot(30.0));
        spots[41] = None;
        spots[42] = Some(spot(57.0));
        let told = confidences(&spots, &times);
        assert!(told[39] > Some(0.9) && told[42] > Some(0.9));
        assert!(told[40] < Some(LEAST_CONFIDENCE));
        assert_eq!(told[41], None);
    }
}
