//! A smooth curve through points that never overshoots them (PCHIP).
//!
//! *In*: two neighbouring points with increasing `x`, and the next one on each side. *Out*: the cubic between the two:
//! farther points have no part in it. No extrapolation; gaps and their limit are [`super::interpolate`]'s.
//!
//! *Reference*: Fritsch and Butland 1984, SIAM J Sci Stat Comput 5:300-304 (from memory, not verified),
//! as `scipy.interpolate.PchipInterpolator`. A cubic between neighbours; the slope at an inner point is 0
//! where the chords change sign, else their weighted harmonic mean; the slope at an end is the
//! three-point estimate, cut back to keep the shape.
//!
//! *Degenerate case*: two points alone give a straight line.

/// A point of the curve: `x` and value.
pub type Point = [f64; 2];

/// The curve between two neighbouring points: `((c3 s + c2) s + c1) s + c0`, `s` from the first of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    start: f64,
    c: [f64; 4],
    /// Slope at its end, and the chord from there to the point after it.
    end_slope: f64,
    onward: Option<Chord>,
}

/// Width and slope of the straight line between two points.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Chord {
    h: f64,
    m: f64,
}

impl Chord {
    fn between([x0, y0]: Point, [x1, y1]: Point) -> Chord {
        let h = x1 - x0;
        Chord {
            h,
            m: (y1 - y0) / h,
        }
    }
}

impl Piece {
    /// The curve from `a` to `b`; `before` and `after` are the points next to them, where the curve goes on.
    ///
    /// `x` must increase from each to the next, else the values mean nothing.
    ///
    /// # Example
    /// Level, then rising, then level: half way up in the middle, and never outside.
    /// ```
    /// use scaplane::dsp::pchip::Piece;
    /// let rising = Piece::between(Some([0.0, 0.0]), [1.0, 0.0], [2.0, 4.0], Some([3.0, 4.0]));
    /// assert_eq!(rising.at(1.5), 2.0);
    /// let line = Piece::between(None, [1.0, 2.0], [3.0, 6.0], None);
    /// assert_eq!(line.at(2.0), 4.0);
    /// ```
    #[must_use]
    pub fn between(before: Option<Point>, a: Point, b: Point, after: Option<Point>) -> Piece {
        let own = Chord::between(a, b);
        let before = before.map(|point| Chord::between(point, a));
        let after = after.map(|point| Chord::between(b, point));
        let d0 = match (before, after) {
            (Some(before), _) => inner_slope(before, own),
            (None, Some(after)) => end_slope(own, after),
            (None, None) => own.m,
        };
        let d1 = match (before, after) {
            (_, Some(after)) => inner_slope(own, after),
            (Some(before), None) => end_slope(own, before),
            (None, None) => own.m,
        };
        Piece::with_slopes(a, own, [d0, d1], after)
    }

    /// The piece after this one, from `a`, where this one ends; `None` where the curve ends there. It is the same as
    /// [`Piece::between`] would make, at half the work.
    #[must_use]
    pub fn followed(&self, a: Point, b: Point, after: Option<Point>) -> Option<Piece> {
        let own = self.onward?;
        let after = Chord::between(b, after?);
        let slopes = [self.end_slope, inner_slope(own, after)];
        Some(Piece::with_slopes(a, own, slopes, Some(after)))
    }

    fn with_slopes(a: Point, own: Chord, [d0, d1]: [f64; 2], onward: Option<Chord>) -> Piece {
        let bend = (d0 + d1 - 2.0 * own.m) / own.h;
        Piece {
            start: a[0],
            c: [a[1], d0, (own.m - d0) / own.h - bend, bend / own.h],
            end_slope: d1,
            onward,
        }
    }

    /// The curve at `x`, which must lie between the two points.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        let s = x - self.start;
        let [c0, c1, c2, c3] = self.c;
        ((c3 * s + c2) * s + c1) * s + c0
    }
}

/// Slope at a point between two chords.
fn inner_slope(left: Chord, right: Chord) -> f64 {
    if sign(left.m) != sign(right.m) || left.m == 0.0 || right.m == 0.0 {
        return 0.0;
    }
    let (w0, w1) = (2.0 * right.h + left.h, right.h + 2.0 * left.h);
    (w0 + w1) / (w0 / left.m + w1 / right.m)
}

/// Slope at an end of the curve from its chord and the next one inward.
fn end_slope(own: Chord, inward: Chord) -> f64 {
    let d = ((2.0 * own.h + inward.h) * own.m - own.h * inward.m) / (own.h + inward.h);
    if sign(d) != sign(own.m) {
        0.0
    } else if sign(own.m) != sign(inward.m) && d.abs() > 3.0 * own.m.abs() {
        3.0 * own.m
    } else {
        d
    }
}

/// -1, 0 or 1 (`f64::signum` gives 1 for 0).
fn sign(v: f64) -> i8 {
    i8::from(v > 0.0) - i8::from(v < 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_curve_goes_through_its_points_without_a_corner() {
        let points = [[0.0, 1.0], [1.0, 3.0], [1.5, 3.5], [3.0, 9.0]];
        let [p0, p1, p2, p3] = points;
        let left = Piece::between(Some(p0), p1, p2, Some(p3));
        let right = Piece::between(Some(p1), p2, p3, None);
        assert_eq!((left.at(1.0), right.at(1.5)), (3.0, 3.5));
        assert!((left.at(1.5) - 3.5).abs() < 1e-12 && (right.at(3.0) - 9.0).abs() < 1e-12);
        let step = 1e-6;
        let slopes = [
            left.at(1.5) - left.at(1.5 - step),
            right.at(1.5 + step) - 3.5,
        ];
        assert!((slopes[0] - slopes[1]).abs() < 1e-4 * step.abs());
    }

    proptest! {
        #[test]
        fn never_leaves_the_two_points_it_is_between(
            steps in prop::collection::vec((0.01..2.0_f64, -50.0..50.0_f64), 2..30),
            share in 0.0..=1.0_f64,
        ) {
            let mut points = Vec::new();
            let mut at = 0.0;
            for (h, v) in &steps {
                at += h;
                points.push([at, *v]);
            }
            for k in 1..points.len() {
                let (a, b) = (points[k - 1], points[k]);
                let before = k.checked_sub(2).map(|k| points[k]);
                let piece = Piece::between(before, a, b, points.get(k + 1).copied());
                if let Some(before) = k.checked_sub(2) {
                    let last = k.checked_sub(3).map(|k| points[k]);
                    let last = Piece::between(last, points[before], a, Some(b));
                    let followed = last.followed(a, b, points.get(k + 1).copied());
                    prop_assert!(followed.is_none_or(|followed| followed == piece));
                }
                let v = piece.at(a[0] + share * (b[0] - a[0]));
                let (low, high) = (a[1].min(b[1]), a[1].max(b[1]));
                prop_assert!(v >= low - 1e-9 && v <= high + 1e-9);
            }
        }
    }
}
