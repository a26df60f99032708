//! A smooth curve through points that never overshoots them (PCHIP).
//!
//! *In*: points with increasing `x`. *Out*: the curve's value anywhere between the first and the last. No
//! extrapolation; gaps and their limit are [`super::interpolate`]'s.
//!
//! *Reference*: Fritsch and Butland 1984, SIAM J Sci Stat Comput 5:300-304 (from memory, not verified),
//! as `scipy.interpolate.PchipInterpolator`. A cubic between neighbours; the slope at an inner point is 0
//! where the chords change sign, else their weighted harmonic mean; the slope at an end is the
//! three-point estimate, cut back to keep the shape.
//!
//! *Degenerate case*: two points give a straight line; fewer are refused.

use super::error::{DspError, check_at_least, check_finite, check_increasing, check_same_length};

/// One cubic piece: `((c3 s + c2) s + c1) s + c0`, `s` from its start.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Piece {
    start: f64,
    end: f64,
    c: [f64; 4],
}

/// A monotone cubic curve through points.
#[derive(Debug, Clone, PartialEq)]
pub struct Pchip {
    pieces: Vec<Piece>,
}

impl Pchip {
    /// Puts the curve through the points.
    ///
    /// # Errors
    /// [`DspError::LengthMismatch`], [`DspError::TooShort`] (fewer than 2), [`DspError::NotFinite`],
    /// [`DspError::NotIncreasing`].
    ///
    /// # Example
    /// Level, then rising, then level: half way up in the middle, and never outside.
    /// ```
    /// use scaplane::dsp::pchip::Pchip;
    /// let curve = Pchip::through(&[0.0, 1.0, 2.0, 3.0], &[0.0, 0.0, 4.0, 4.0])?;
    /// assert_eq!(curve.at(1.5), Some(2.0));
    /// assert_eq!(curve.at(0.5), Some(0.0));
    /// assert_eq!(curve.at(3.5), None);
    /// # Ok::<(), scaplane::dsp::DspError>(())
    /// ```
    pub fn through(x: &[f64], y: &[f64]) -> Result<Self, DspError> {
        check_same_length(x, y)?;
        check_at_least(x.len(), 2)?;
        check_increasing(x)?;
        check_finite(y)?;
        let width: Vec<f64> = x.iter().zip(x.iter().skip(1)).map(|(a, b)| b - a).collect();
        let chord: Vec<f64> = y
            .iter()
            .zip(y.iter().skip(1))
            .zip(&width)
            .map(|((a, b), h)| (b - a) / h)
            .collect();
        check_finite(&chord)?;
        let slopes = slopes(&width, &chord);
        let pieces: Vec<Piece> = x
            .iter()
            .zip(x.iter().skip(1))
            .zip(y)
            .zip(slopes.iter().zip(slopes.iter().skip(1)))
            .zip(width.iter().zip(&chord))
            .map(|((((start, end), y0), (d0, d1)), (h, m))| {
                let bend = (d0 + d1 - 2.0 * m) / h;
                Piece {
                    start: *start,
                    end: *end,
                    c: [*y0, *d0, (m - d0) / h - bend, bend / h],
                }
            })
            .collect();
        // Chords of huge steps can leave the range of numbers.
        for piece in &pieces {
            check_finite(&piece.c)?;
        }
        Ok(Self { pieces })
    }

    /// The first point's `x`.
    #[must_use]
    pub fn starts_at(&self) -> f64 {
        self.pieces.first().map_or(f64::NAN, |piece| piece.start)
    }

    /// The curve at `x`; `None` before the first point, after the last, and for NaN.
    #[must_use]
    pub fn at(&self, x: f64) -> Option<f64> {
        let after = self.pieces.partition_point(|p| p.start <= x);
        let piece = self.pieces.get(after.checked_sub(1)?)?;
        if x > piece.end {
            return None;
        }
        let s = x - piece.start;
        let [c0, c1, c2, c3] = piece.c;
        Some(((c3 * s + c2) * s + c1) * s + c0)
    }
}

/// Slope at each point from the widths and the chords between them.
fn slopes(width: &[f64], chord: &[f64]) -> Vec<f64> {
    let (&[first_h, .., last_h], &[first_m, .., last_m]) = (width, chord) else {
        // One piece: both ends take its chord.
        let m = chord.first().copied().unwrap_or(0.0);
        return vec![m; 2];
    };
    let pairs = || {
        width
            .iter()
            .zip(width.iter().skip(1))
            .zip(chord.iter().zip(chord.iter().skip(1)))
    };
    let end = |h0: f64, h1: f64, m0: f64, m1: f64| {
        let d = ((2.0 * h0 + h1) * m0 - h0 * m1) / (h0 + h1);
        if sign(d) != sign(m0) {
            0.0
        } else if sign(m0) != sign(m1) && d.abs() > 3.0 * m0.abs() {
            3.0 * m0
        } else {
            d
        }
    };
    let second = pairs()
        .next()
        .map_or((first_h, first_m), |((_, h), (_, m))| (*h, *m));
    let before_last = pairs()
        .next_back()
        .map_or((last_h, last_m), |((h, _), (m, _))| (*h, *m));

    let mut out = Vec::with_capacity(chord.len() + 1);
    out.push(end(first_h, second.0, first_m, second.1));
    out.extend(pairs().map(|((h0, h1), (m0, m1))| {
        if sign(*m0) != sign(*m1) || *m0 == 0.0 || *m1 == 0.0 {
            return 0.0;
        }
        let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
        (w0 + w1) / (w0 / m0 + w1 / m1)
    }));
    out.push(end(last_h, before_last.0, last_m, before_last.1));
    out
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
    fn two_points_give_a_line_and_fewer_none() {
        let line = Pchip::through(&[1.0, 3.0], &[2.0, 6.0]).unwrap();
        assert_eq!(line.at(2.0), Some(4.0));
        assert_eq!((line.at(1.0), line.at(3.0)), (Some(2.0), Some(6.0)));
        assert_eq!(line.at(f64::NAN), None);
        assert!(Pchip::through(&[1.0], &[2.0]).is_err());
        assert!(Pchip::through(&[1.0, 1.0], &[2.0, 3.0]).is_err());
        assert!(Pchip::through(&[1.0, 2.0], &[f64::NAN, 3.0]).is_err());
    }

    proptest! {
        #[test]
        fn never_leaves_the_two_points_it_is_between(
            steps in prop::collection::vec((0.01..2.0_f64, -50.0..50.0_f64), 2..30),
            share in 0.0..=1.0_f64,
        ) {
            let mut x = Vec::new();
            let mut at = 0.0;
            for (h, _) in &steps {
                at += h;
                x.push(at);
            }
            let y: Vec<f64> = steps.iter().map(|(_, v)| *v).collect();
            let curve = Pchip::through(&x, &y).unwrap();
            for k in 1..x.len() {
                let v = curve.at(x[k - 1] + share * (x[k] - x[k - 1]).max(0.0)).unwrap_or(y[k]);
                let (low, high) = (y[k - 1].min(y[k]), y[k - 1].max(y[k]));
                prop_assert!(v >= low - 1e-9 && v <= high + 1e-9);
            }
        }
    }
}
