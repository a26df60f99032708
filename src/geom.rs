//! Angles and vectors: the few definitions every stage shares.
//!
//! No body part and no unit but degrees is known here.

use nalgebra::{Matrix3, Vector3};
use std::cmp::Ordering;

/// An angle brought into (-180, 180] degrees.
///
/// ```
/// assert_eq!(scaplane::geom::wrap_180(190.0), -170.0);
/// assert_eq!(scaplane::geom::wrap_180(-180.0), 180.0);
/// ```
pub fn wrap_180(deg: f64) -> f64 {
    let turned = (deg + 180.0).rem_euclid(360.0) - 180.0;
    if turned == -180.0 { 180.0 } else { turned }
}

/// Angle between two vectors, 0..180 degrees; `None` if either has no length.
///
/// Uses atan2 of cross and dot products, exact near 0 and 180 where acos is not.
///
/// ```
/// use nalgebra::Vector3;
/// let right_angle = scaplane::geom::included_deg(Vector3::x(), Vector3::y()).unwrap();
/// assert!((right_angle - 90.0).abs() < 1e-12);
/// ```
pub fn included_deg(a: Vector3<f64>, b: Vector3<f64>) -> Option<f64> {
    let (cross, dot) = (a.cross(&b).norm(), a.dot(&b));
    (cross != 0.0 || dot != 0.0).then(|| cross.atan2(dot).to_degrees())
}

/// A unit vector, or `None` if there is (almost) no length to divide by.
pub fn direction(v: Vector3<f64>) -> Option<Vector3<f64>> {
    v.try_normalize(1e-12)
}

/// Right-handed axes from a first axis kept as it is and a second made perpendicular to it.
/// Returns `(first, second)`; `None` if they are parallel.
pub fn perpendicular_pair(
    first: Vector3<f64>,
    second: Vector3<f64>,
) -> Option<(Vector3<f64>, Vector3<f64>)> {
    let first = direction(first)?;
    let second = direction(second - first * second.dot(&first))?;
    Some((first, second))
}

/// Median of the finite values; `None` if there is none.
pub fn median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    quantile(values, 0.5)
}

/// On which side of a bound the median of many values lies, without keeping them.
#[derive(Debug, Clone, Copy)]
pub struct Sides {
    bound: f64,
    below: usize,
    above: usize,
    /// The highest that is not above, and the lowest that is.
    nearest: [f64; 2],
}

impl Sides {
    /// No value yet.
    pub fn of(bound: f64) -> Sides {
        Sides {
            bound,
            below: 0,
            above: 0,
            nearest: [f64::NEG_INFINITY, f64::INFINITY],
        }
    }

    /// One more value; what is not finite does not count.
    pub fn add(&mut self, value: f64) {
        let [low, high] = &mut self.nearest;
        match value.is_finite() {
            true if value <= self.bound => {
                self.below += 1;
                *low = low.max(value);
            }
            true => {
                self.above += 1;
                *high = high.min(value);
            }
            false => {}
        }
    }

    /// Whether the [`median`] is at most the bound; `None` without a value.
    pub fn median_is_at_most(&self) -> Option<bool> {
        match (self.below + self.above, self.below.cmp(&self.above)) {
            (0, _) => None,
            // The two in the middle are the nearest ones.
            (_, Ordering::Equal) => Some(self.nearest.iter().sum::<f64>() / 2.0 <= self.bound),
            (_, order) => Some(order == Ordering::Greater),
        }
    }
}

/// Quantile (linear interpolation between order statistics, as NumPy's default) of the finite values.
pub fn quantile(values: impl IntoIterator<Item = f64>, q: f64) -> Option<f64> {
    let [quantile] = quantiles(values, [q])?;
    Some(quantile)
}

/// Several quantiles of the same values, as [`quantile`] tells each.
pub fn quantiles<const N: usize>(
    values: impl IntoIterator<Item = f64>,
    q: [f64; N],
) -> Option<[f64; N]> {
    let mut values: Vec<f64> = values
        .into_iter()
        .filter(|value| value.is_finite())
        .collect();
    let mut found = [f64::NAN; N];
    for (found, q) in found.iter_mut().zip(q) {
        let (below, share) = place_of(q, values.len())?;
        let (_, a, above) = values.select_nth_unstable_by(below, f64::total_cmp);
        let a = *a;
        let b = above.iter().copied().min_by(f64::total_cmp).unwrap_or(a);
        *found = a + (b - a) * share;
    }
    Some(found)
}

/// [`quantile`] of finite values that are in ascending order.
pub fn quantile_of_sorted(sorted: &[f64], q: f64) -> Option<f64> {
    let (below, share) = place_of(q, sorted.len())?;
    let a = *sorted.get(below)?;
    let b = sorted.get(below + 1).copied().unwrap_or(a);
    Some(a + (b - a) * share)
}

/// The order statistic below a quantile, and how far the quantile lies toward the next one.
fn place_of(q: f64, count: usize) -> Option<(usize, f64)> {
    let place = q.clamp(0.0, 1.0) * count.checked_sub(1)? as f64;
    Some((place.floor() as usize, place.fract()))
}

/// Y-X'-Y'' angles (degrees) of a rotation: plane of elevation, elevation (positive), axial rotation.
///
/// `R = Ry(plane) Rx(-elevation) Ry(axial)`; source: Wu et al. 2005, J Biomech 38:981-992 (the ISB second
/// angle is the negative of the elevation given here). At elevation 0 or 180 only a sum or difference of
/// the other two is defined; the plane is then returned as 0.
pub fn y_x_y_deg(r: &Matrix3<f64>) -> [f64; 3] {
    // R[1][1] = cos e; column 1 = Ry(p) (0, cos e, -sin e)... with e -> -e.
    let sin = r[(0, 1)].hypot(r[(2, 1)]);
    let elevation = sin.atan2(r[(1, 1)]);
    if sin < 1e-12 {
        let axial = r[(0, 2)].atan2(r[(0, 0)]);
        return [0.0, elevation.to_degrees(), axial.to_degrees()];
    }
    let plane = (-r[(0, 1)]).atan2(-r[(2, 1)]);
    let axial = (-r[(1, 0)]).atan2(r[(1, 2)]);
    [
        plane.to_degrees(),
        elevation.to_degrees(),
        axial.to_degrees(),
    ]
}

/// Y-X'-Z'' angles (degrees) of a rotation: protraction, upward rotation (positive), posterior tilt.
///
/// `R = Ry(protraction) Rx(-upward) Rz(tilt)`; source: Wu et al. 2005 (the ISB second angle is the
/// negative of the upward rotation given here). Singular at 90 degrees of upward rotation.
pub fn y_x_z_deg(r: &Matrix3<f64>) -> [f64; 3] {
    let cos = r[(0, 2)].hypot(r[(2, 2)]);
    let upward = r[(1, 2)].atan2(cos);
    let protraction = r[(0, 2)].atan2(r[(2, 2)]);
    let tilt = r[(1, 0)].atan2(r[(1, 1)]);
    [
        protraction.to_degrees(),
        upward.to_degrees(),
        tilt.to_degrees(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `numpy.quantile(x, [0.9, 0.1, 0.5, 0.002, 1.0])` of NumPy 2.4.6.
    #[test]
    fn quantiles_are_those_of_numpy_and_do_not_see_what_is_not_finite() {
        let x = [3.5, -2.0, 8.25, 0.0, 11.0, -7.5, 4.0];
        let wanted = [9.35, -4.2, 3.5, -7.434, 11.0];
        let shares = [0.9, 0.1, 0.5, 0.002, 1.0];
        let beside = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY];
        let got = quantiles(x.into_iter().chain(beside), shares).expect("values");
        for ((got, wanted), share) in got.into_iter().zip(wanted).zip(shares) {
            assert!((got - wanted).abs() < 1e-12, "{share}: {got}");
            // The order that others left the values in does not matter.
            assert_eq!(quantile(x, share), Some(got));
        }
        let mut sorted = x;
        sorted.sort_by(f64::total_cmp);
        assert_eq!(quantile_of_sorted(&sorted, 0.9), quantile(x, 0.9));
        assert_eq!(quantiles(beside, [0.5]), None);
    }
}
