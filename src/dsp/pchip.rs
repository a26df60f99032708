//! A smooth curve through points that never overshoots them (PCHIP).
//!
//! *In*: two neighbouring points with increasing `x`, and the next one on each side, of one curve or of several over the
//! same `x`. *Out*: the cubic between the two: farther points have no part in it. No extrapolation; gaps and their limit are [`super::interpolate`]'s.
//!
//! *Reference*: Fritsch and Butland 1984, SIAM J Sci Stat Comput 5:300-304 (from memory, not verified),
//! as `scipy.interpolate.PchipInterpolator`. A cubic between neighbours; the slope at an inner point is 0
//! where the chords change sign, else their weighted harmonic mean; the slope at an end is the
//! three-point estimate, cut back to keep the shape.
//!
//! *Degenerate case*: two points alone give a straight line.

/// A point of `N` curves over the same `x`: `x`, and the value of each.
pub type Point<const N: usize> = (f64, [f64; N]);

/// `N` curves between two neighbouring points: `((c3 s + c2) s + c1) s + c0`, `s` from the first of them. Together they take
/// little longer than one alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece<const N: usize> {
    start: f64,
    c: [[f64; N]; 4],
    /// Slopes at its end, and the chords from there to the point after it.
    end_slope: [f64; N],
    onward: Option<Chords<N>>,
}

/// Width and slopes of the straight lines between two points.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Chords<const N: usize> {
    h: f64,
    m: [f64; N],
}

impl<const N: usize> Chords<N> {
    fn between((x0, y0): Point<N>, (x1, y1): Point<N>) -> Chords<N> {
        let h = x1 - x0;
        Chords {
            h,
            m: each(|lane| (y1[lane] - y0[lane]) / h),
        }
    }
}

impl<const N: usize> Piece<N> {
    /// The curves from `a` to `b`; `before` and `after` are the points next to them, where the curves go on.
    ///
    /// `x` must increase from each to the next, else the values mean nothing.
    ///
    /// # Example
    /// Level, then rising, then level: half way up in the middle, and never outside.
    /// ```
    /// use scaplane::dsp::pchip::Piece;
    /// let [level, top] = [(0.0, [0.0]), (3.0, [4.0])];
    /// let rising = Piece::between(Some(level), (1.0, [0.0]), (2.0, [4.0]), Some(top));
    /// assert_eq!(rising.at(1.5), [2.0]);
    /// let lines = Piece::between(None, (1.0, [2.0, 5.0]), (3.0, [6.0, 1.0]), None);
    /// assert_eq!(lines.at(2.0), [4.0, 3.0]);
    /// ```
    #[must_use]
    pub fn between(
        before: Option<Point<N>>,
        a: Point<N>,
        b: Point<N>,
        after: Option<Point<N>>,
    ) -> Piece<N> {
        let own = Chords::between(a, b);
        let before = before.map(|point| Chords::between(point, a));
        let after = after.map(|point| Chords::between(b, point));
        let d0 = match (before, after) {
            (Some(before), _) => inner_slopes(before, own),
            (None, Some(after)) => end_slopes(own, after),
            (None, None) => own.m,
        };
        let d1 = match (before, after) {
            (_, Some(after)) => inner_slopes(own, after),
            (Some(before), None) => end_slopes(own, before),
            (None, None) => own.m,
        };
        Piece::with_slopes(a, own, [d0, d1], after)
    }

    /// The piece after this one, from `a`, where this one ends; `None` where the curves end there. It is the same as
    /// [`Piece::between`] would make, at half the work.
    #[must_use]
    pub fn followed(&self, a: Point<N>, b: Point<N>, after: Option<Point<N>>) -> Option<Piece<N>> {
        let own = self.onward?;
        let after = Chords::between(b, after?);
        let slopes = [self.end_slope, inner_slopes(own, after)];
        Some(Piece::with_slopes(a, own, slopes, Some(after)))
    }

    fn with_slopes(
        (start, value): Point<N>,
        own: Chords<N>,
        [d0, d1]: [[f64; N]; 2],
        onward: Option<Chords<N>>,
    ) -> Piece<N> {
        let bend: [f64; N] = each(|lane| (d0[lane] + d1[lane] - 2.0 * own.m[lane]) / own.h);
        let square = each(|lane| (own.m[lane] - d0[lane]) / own.h - bend[lane]);
        Piece {
            start,
            c: [value, d0, square, each(|lane| bend[lane] / own.h)],
            end_slope: d1,
            onward,
        }
    }

    /// The curves at `x`, which must lie between the two points.
    #[must_use]
    pub fn at(&self, x: f64) -> [f64; N] {
        let s = x - self.start;
        let [c0, c1, c2, c3] = &self.c;
        each(|lane| ((c3[lane] * s + c2[lane]) * s + c1[lane]) * s + c0[lane])
    }
}

/// A number for each curve.
fn each<const N: usize>(of: impl FnMut(usize) -> f64) -> [f64; N] {
    std::array::from_fn(of)
}

/// Slopes at a point between two chords.
fn inner_slopes<const N: usize>(left: Chords<N>, right: Chords<N>) -> [f64; N] {
    let (w0, w1) = (2.0 * right.h + left.h, right.h + 2.0 * left.h);
    each(|lane| {
        let (l, r) = (left.m[lane], right.m[lane]);
        let mean = (w0 + w1) / (w0 / l + w1 / r);
        // Also where one of them is level.
        let turns = sign(l) * sign(r) <= 0;
        if turns { 0.0 } else { mean }
    })
}

/// Slopes at an end of the curves from their chords and the next ones inward.
fn end_slopes<const N: usize>(own: Chords<N>, inward: Chords<N>) -> [f64; N] {
    each(|lane| {
        let (m, next) = (own.m[lane], inward.m[lane]);
        let d = ((2.0 * own.h + inward.h) * m - own.h * next) / (own.h + inward.h);
        if sign(d) != sign(m) {
            0.0
        } else if sign(m) != sign(next) && d.abs() > 3.0 * m.abs() {
            3.0 * m
        } else {
            d
        }
    })
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
        let points = [(0.0, [1.0]), (1.0, [3.0]), (1.5, [3.5]), (3.0, [9.0])];
        let [p0, p1, p2, p3] = points;
        let left = Piece::between(Some(p0), p1, p2, Some(p3));
        let right = Piece::between(Some(p1), p2, p3, None);
        assert_eq!((left.at(1.0), right.at(1.5)), ([3.0], [3.5]));
        assert!((left.at(1.5)[0] - 3.5).abs() < 1e-12 && (right.at(3.0)[0] - 9.0).abs() < 1e-12);
        let step = 1e-6;
        let slopes = [
            left.at(1.5)[0] - left.at(1.5 - step)[0],
            right.at(1.5 + step)[0] - 3.5,
        ];
        assert!((slopes[0] - slopes[1]).abs() < 1e-4 * step.abs());
    }

    proptest! {
        #[test]
        fn never_leaves_the_two_points_it_is_between(
            steps in prop::collection::vec((0.01..2.0_f64, -50.0..50.0_f64, -9..9_i32), 2..30),
            share in 0.0..=1.0_f64,
        ) {
            let mut points = Vec::new();
            let mut at = 0.0;
            for (h, v, w) in &steps {
                at += h;
                points.push((at, [*v, f64::from(*w)]));
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
                let values = piece.at(a.0 + share * (b.0 - a.0));
                for (lane, value) in values.into_iter().enumerate() {
                    let (low, high) = (a.1[lane].min(b.1[lane]), a.1[lane].max(b.1[lane]));
                    prop_assert!((low - 1e-9..=high + 1e-9).contains(&value));
                    // Alone it is the same curve.
                    let one = |point: (f64, [f64; 2])| (point.0, [point.1[lane]]);
                    let after = points.get(k + 1).copied();
                    let alone = Piece::between(before.map(one), one(a), one(b), after.map(one));
                    prop_assert_eq!(alone.at(a.0 + share * (b.0 - a.0)), [value]);
                }
            }
        }
    }
}
