//! Values between samples, by time, and never across too long a hole.
//!
//! *In*: times in seconds, samples with holes (`None`), the times wanted. *Out*: a value or `None` for each
//! wanted time, and where it came from. It never extrapolates and never smooths.
//!
//! *Rule*: a wanted time lies between two present samples; if they are more than `max_gap_s` apart, there
//! is no value. This treats a frame that was never recorded like one in which the keypoint was lost.
//! The monotone cubic is put through each stretch without such a hole separately, so that nothing
//! on the far side of a hole bends the curve.
//!
//! *Degenerate case*: no sample present gives no value anywhere; a lone sample gives itself.

use super::error::{DspError, check_finite, check_increasing, check_rate, check_same_length};
use super::pchip::Piece;
use std::cell::OnceCell;

/// How values between two samples are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Straight line.
    Linear,
    /// Monotone cubic ([`super::pchip`]).
    Monotone,
}

/// Where a value came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// A present sample at this very time.
    Sample,
    /// Between two neighbouring samples, both present.
    Between,
    /// Across samples that are missing: an interpolated hole.
    Hole,
    /// No value: outside the samples, or in a hole that is too long.
    Missing,
}

/// Values at the wanted times.
#[derive(Debug, Clone, PartialEq)]
pub struct Interpolated {
    /// One value or hole for each wanted time.
    pub value: Vec<Option<f64>>,
    /// Where each came from.
    pub origin: Vec<Origin>,
}

/// Times this close, in seconds, are one time: well below the resolution of any recorded time stamp.
pub(crate) const SAME_TIME_S: f64 = 1e-9;

/// Most times of one grid: over ten hours at 240 Hz. Own choice.
const MOST_TIMES: usize = 10_000_000;

/// Times from the first to the last of `t`, `1/rate_hz` apart, starting at the first.
///
/// # Errors
/// [`DspError::Empty`], [`DspError::NotFinite`], [`DspError::NotIncreasing`], [`DspError::BadRate`],
/// [`DspError::TooLong`] (more than ten million).
///
/// # Example
/// ```
/// use scaplane::dsp::interpolate::even_grid;
/// assert_eq!(even_grid(&[1.0, 1.3, 2.1], 2.0)?, [1.0, 1.5, 2.0]);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn even_grid(t: &[f64], rate_hz: f64) -> Result<Vec<f64>, DspError> {
    check_rate(rate_hz)?;
    check_increasing(t)?;
    let (Some(first), Some(last)) = (t.first(), t.last()) else {
        return Err(DspError::Empty);
    };
    // A last time that falls on the grid but for rounding belongs to it.
    let steps = ((last - first + SAME_TIME_S) * rate_hz).floor();
    if steps >= MOST_TIMES as f64 {
        return Err(DspError::TooLong {
            have: steps as usize,
            limit: MOST_TIMES,
        });
    }
    Ok((0..=steps as usize)
        .map(|k| first + k as f64 / rate_hz)
        .collect())
}

/// Fills holes in place of their own times by straight lines.
///
/// # Errors
/// As [`resample`].
///
/// # Example
/// The hole from 0 s to 0.2 s is filled; the one from 0.2 s to 0.8 s is longer than 0.3 s.
/// ```
/// use scaplane::dsp::interpolate::{Origin, fill_holes};
/// let t = [0.0, 0.1, 0.2, 0.5, 0.8];
/// let x = [Some(1.0), None, Some(3.0), None, Some(9.0)];
/// let got = fill_holes(&t, &x, 0.3)?;
/// assert_eq!(got.value, [Some(1.0), Some(2.0), Some(3.0), None, Some(9.0)]);
/// assert_eq!(got.origin[1], Origin::Hole);
/// assert_eq!(got.origin[3], Origin::Missing);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn fill_holes(t: &[f64], x: &[Option<f64>], max_gap_s: f64) -> Result<Interpolated, DspError> {
    resample(t, x, t, max_gap_s, Shape::Linear)
}

/// A present sample.
#[derive(Clone, Copy)]
struct Present<const N: usize> {
    index: usize,
    t: f64,
    v: [f64; N],
}

/// Values at other times than the samples'.
///
/// *Units and range*: `t` and `at` in seconds on one clock, `t` strictly increasing, `at` in any order;
/// `max_gap_s` above 0 (infinity: no limit).
///
/// # Errors
/// [`DspError::LengthMismatch`], [`DspError::NotFinite`], [`DspError::NotIncreasing`],
/// [`DspError::BadParameter`] (`max_gap_s`).
///
/// # Example
/// ```
/// use scaplane::dsp::interpolate::{Origin, Shape, resample};
/// let x = [Some(0.0), Some(10.0), Some(20.0)];
/// let got = resample(&[0.0, 0.1, 0.3], &x, &[0.05, 0.1, 0.2, 0.4], 0.25, Shape::Linear)?;
/// assert_eq!(got.value[0], Some(5.0));
/// assert_eq!(got.value[3], None);
/// assert_eq!(got.origin, [Origin::Between, Origin::Sample, Origin::Between, Origin::Missing]);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn resample(
    t: &[f64],
    x: &[Option<f64>],
    at: &[f64],
    max_gap_s: f64,
    shape: Shape,
) -> Result<Interpolated, DspError> {
    check_same_length(t, x)?;
    let mut out = Interpolated {
        value: Vec::with_capacity(at.len()),
        origin: Vec::with_capacity(at.len()),
    };
    let sample = |index: usize| x.get(index).copied().flatten().map(|v| [v]);
    let put = |_, value: Option<[f64; 1]>, origin| {
        out.value.push(value.map(|[v]| v));
        out.origin.push(origin);
    };
    resample_points(t, sample, at, max_gap_s, shape, put)?;
    Ok(out)
}

/// The same for points, all of whose coordinates are there or none, in less time than one after another and without lists
/// of them: `x` gives the sample of an index of `t`, `put` takes what is found for an index of `at`.
///
/// # Errors
/// As [`resample`]; what `put` took is void then.
///
/// # Example
/// ```
/// use scaplane::dsp::interpolate::{Shape, resample_points};
/// let x = [Some([0.0, 1.0]), Some([10.0, 3.0])];
/// let mut got = Vec::new();
/// let put = |_, value, _| got.push(value);
/// resample_points(&[0.0, 0.1], |index| x[index], &[0.05, 0.2], 0.25, Shape::Monotone, put)?;
/// assert_eq!(got, [Some([5.0, 2.0]), None]);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn resample_points<const N: usize>(
    t: &[f64],
    x: impl Fn(usize) -> Option<[f64; N]>,
    at: &[f64],
    max_gap_s: f64,
    shape: Shape,
    mut put: impl FnMut(usize, Option<[f64; N]>, Origin),
) -> Result<(), DspError> {
    check_increasing(t)?;
    check_finite(at)?;
    let wild = |v: [f64; N]| v.iter().any(|v| !v.is_finite());
    if let Some(index) = (0..t.len()).find(|index| x(*index).is_some_and(wild)) {
        return Err(DspError::NotFinite { index });
    }
    if max_gap_s.is_nan() || max_gap_s <= 0.0 {
        return Err(DspError::BadParameter {
            name: "max_gap_s",
            value: max_gap_s,
        });
    }
    let found = OnceCell::new();
    let find = || -> Vec<usize> { (0..t.len()).filter(|index| x(*index).is_some()).collect() };
    let too_far = |a: &Present<N>, b: &Present<N>| b.t - a.t > max_gap_s + SAME_TIME_S;
    // Wanted times rise as a rule, so the search goes on from the last one.
    let mut after = 0;
    let mut last: Option<(usize, Piece<N>)> = None;
    for (place, &time) in at.iter().enumerate() {
        // As a rule times are wanted at which there are samples.
        let same = t
            .get(place)
            .is_some_and(|t| (t - time).abs() <= SAME_TIME_S);
        if same && let Some(value) = x(place) {
            put(place, Some(value), Origin::Sample);
            continue;
        }
        let present: &Vec<usize> = found.get_or_init(find);
        let sample = |k: usize| {
            let index = *present.get(k)?;
            let (t, v) = (*t.get(index)?, x(index)?);
            Some(Present { index, t, v })
        };
        let time_of = |index: usize| t.get(index).copied().unwrap_or(f64::INFINITY);
        if after > 0 && (present.get(after - 1)).is_some_and(|index| time_of(*index) > time) {
            after = present.partition_point(|index| time_of(*index) <= time);
        }
        while (present.get(after)).is_some_and(|index| time_of(*index) <= time) {
            after += 1;
        }
        let left = after.checked_sub(1).and_then(sample);
        let right = sample(after);
        let on = [left, right]
            .into_iter()
            .flatten()
            .find(|p| (p.t - time).abs() <= SAME_TIME_S);
        let (value, origin) = match (on, left, right) {
            (Some(p), _, _) => (Some(p.v), Origin::Sample),
            (None, Some(a), Some(b)) if !too_far(&a, &b) => {
                let value = match shape {
                    Shape::Linear => {
                        let share = (time - a.t) / (b.t - a.t);
                        std::array::from_fn(|lane| a.v[lane] + (b.v[lane] - a.v[lane]) * share)
                    }
                    Shape::Monotone => {
                        let piece = match &last {
                            Some((at, piece)) if *at == after => *piece,
                            followed => {
                                let before = after.checked_sub(2).and_then(sample);
                                let before = before.filter(|p| !too_far(p, &a));
                                let beyond = sample(after + 1).filter(|p| !too_far(&b, p));
                                let point = |p: Present<N>| (p.t, p.v);
                                let (before, beyond) = (before.map(point), beyond.map(point));
                                let (a, b) = (point(a), point(b));
                                let followed = match followed {
                                    Some((at, piece)) if at + 1 == after && before.is_some() => {
                                        piece.followed(a, b, beyond)
                                    }
                                    _ => None,
                                };
                                followed.unwrap_or_else(|| Piece::between(before, a, b, beyond))
                            }
                        };
                        last = Some((after, piece));
                        piece.at(time)
                    }
                };
                let origin = if b.index == a.index + 1 {
                    Origin::Between
                } else {
                    Origin::Hole
                };
                (Some(value), origin)
            }
            _ => (None, Origin::Missing),
        };
        check_finite(value.as_ref().map_or(&[], |value| value.as_slice()))?;
        put(place, value, origin);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ends_are_never_extrapolated() {
        let t = [0.0, 1.0, 2.0, 3.0];
        let got = fill_holes(&t, &[None, Some(1.0), Some(2.0), None], 9.0).unwrap();
        assert_eq!(got.value, [None, Some(1.0), Some(2.0), None]);
        let lone = fill_holes(&t, &[None, Some(1.0), None, None], 9.0).unwrap();
        assert_eq!(lone.value, [None, Some(1.0), None, None]);
        let none = fill_holes(&t, &[None; 4], 9.0).unwrap();
        assert_eq!(none.origin, [Origin::Missing; 4]);
    }

    #[test]
    fn a_hole_exactly_as_long_as_allowed_is_filled() {
        let t = [0.0, 0.1, 0.2, 0.3];
        let x = [Some(0.0), None, None, Some(3.0)];
        assert_eq!(fill_holes(&t, &x, 0.3).unwrap().origin[1], Origin::Hole);
        assert_eq!(fill_holes(&t, &x, 0.29).unwrap().origin[1], Origin::Missing);
    }

    #[test]
    fn a_dropped_frame_is_a_hole_too() {
        // Nothing is marked missing, but half a second was never recorded.
        let t = [0.0, 0.1, 0.6, 0.7];
        let x = [1.0, 2.0, 3.0, 4.0].map(Some);
        for shape in [Shape::Linear, Shape::Monotone] {
            let got = resample(&t, &x, &[0.05, 0.3, 0.65], 0.2, shape).unwrap();
            assert_eq!(
                got.origin,
                [Origin::Between, Origin::Missing, Origin::Between]
            );
        }
    }

    #[test]
    fn nothing_beyond_a_long_hole_bends_the_curve() {
        let t = [0.0, 0.1, 0.2, 2.0, 2.1];
        let value = |far: f64| {
            let x = [0.0, 1.0, 5.0, far, far + 1.0].map(Some);
            resample(&t, &x, &[0.15], 0.5, Shape::Monotone)
                .unwrap()
                .value
        };
        assert_eq!(value(6.0), value(-900.0));
    }

    #[test]
    fn the_grid_ends_with_the_samples() {
        let t: Vec<f64> = (0..=300).map(|k| f64::from(k) / 30.0).collect();
        assert_eq!(even_grid(&t, 30.0).unwrap().len(), 301);
        assert_eq!(even_grid(&[4.0], 30.0).unwrap(), [4.0]);
        assert_eq!(even_grid(&[], 30.0), Err(DspError::Empty));
        assert!(even_grid(&[0.0, 0.0], 30.0).is_err());
        assert!(even_grid(&[0.0, 1e12], 30.0).is_err());
        assert!(even_grid(&t, 0.0).is_err());
    }

    #[test]
    fn refuses_bad_input() {
        let x = [Some(1.0), Some(2.0)];
        assert!(resample(&[0.0], &x, &[0.0], 1.0, Shape::Linear).is_err());
        assert!(resample(&[1.0, 0.0], &x, &[0.0], 1.0, Shape::Linear).is_err());
        assert!(resample(&[0.0, 1.0], &x, &[f64::NAN], 1.0, Shape::Linear).is_err());
        assert!(
            resample(
                &[0.0, 1.0],
                &[Some(f64::NAN), None],
                &[0.0],
                1.0,
                Shape::Linear
            )
            .is_err()
        );
        for gap in [0.0, -1.0, f64::NAN] {
            assert!(resample(&[0.0, 1.0], &x, &[0.5], gap, Shape::Linear).is_err());
        }
    }

    proptest! {
        #[test]
        fn coordinates_of_a_point_are_what_each_is_alone(
            steps in prop::collection::vec(
                (0.01..0.09_f64, prop::option::weighted(0.8, (-50.0..50.0_f64, -9..9_i32))),
                2..40,
            ),
            shift in -0.02..0.02_f64,
        ) {
            let mut at = 0.0;
            let mut t = Vec::new();
            for (h, _) in &steps {
                at += h;
                t.push(at);
            }
            let points: Vec<Option<[f64; 2]>> =
                steps.iter().map(|(_, point)| point.map(|(a, b)| [a, f64::from(b)])).collect();
            // Also backward, and some at the very times of samples.
            let mut wanted = even_grid(&t, 30.0).unwrap();
            wanted.iter_mut().skip(3).for_each(|time| *time += shift);
            wanted.extend(t.iter().rev());
            for shape in [Shape::Linear, Shape::Monotone] {
                let mut together = Vec::new();
                let put = |place, value, origin| together.push((place, value, origin));
                resample_points(&t, |index| points[index], &wanted, 0.15, shape, put).unwrap();
                for lane in 0..2 {
                    let x: Vec<Option<f64>> =
                        points.iter().map(|point| point.map(|point| point[lane])).collect();
                    let alone = resample(&t, &x, &wanted, 0.15, shape).unwrap();
                    prop_assert_eq!(together.len(), alone.value.len());
                    for (place, value, origin) in &together {
                        prop_assert_eq!(value.map(|value: [f64; 2]| value[lane]), alone.value[*place]);
                        prop_assert_eq!(*origin, alone.origin[*place]);
                    }
                }
            }
        }

        #[test]
        fn a_straight_line_survives_uneven_times_and_holes(
            steps in prop::collection::vec((0.01..0.09_f64, any::<bool>()), 2..60),
            slope in -90.0..90.0_f64,
        ) {
            let mut at = 0.0;
            let mut t = Vec::new();
            for (h, _) in &steps {
                at += h;
                t.push(at);
            }
            let x: Vec<Option<f64>> =
                t.iter().zip(&steps).map(|(t, (_, seen))| seen.then_some(slope * t)).collect();
            let grid = even_grid(&t, 30.0).unwrap();
            for shape in [Shape::Linear, Shape::Monotone] {
                let got = resample(&t, &x, &grid, 0.2, shape).unwrap();
                for ((g, v), o) in grid.iter().zip(&got.value).zip(&got.origin) {
                    prop_assert_eq!(v.is_none(), *o == Origin::Missing);
                    if let Some(v) = v {
                        prop_assert!((v - slope * g).abs() < 1e-6);
                    }
                }
            }
        }
    }
}
