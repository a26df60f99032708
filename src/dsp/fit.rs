//! Straight lines through points that are uncertain: in `y` only, or in both coordinates.
//!
//! *In*: points, with a standard deviation for each or a known ratio of the two. *Out*: slope and intercept
//! with standard errors. An ordinary fit of one noisy angle on another understates the slope; these do
//! not. A fit that wild points cannot tilt is [`super::theil_sen`].
//!
//! *Reference*: York, Evensen, Martinez, Delgado 2004, Am J Phys 72:367-375 (from memory, not verified),
//! without correlation between the errors of one point. With weights
//! `W = 1/(sy^2 + b^2 sx^2)`, weighted centroid, `U = x - mx`, `V = y - my` and
//! `beta = W (U sy^2 + b V sx^2)`, the slope satisfies `b = sum W beta V / sum W beta U`. The standard
//! error of the slope is `1/sqrt(sum W u^2)`, `u` the adjusted `mx + beta` less its weighted mean. With equal
//! errors everywhere the slope has a closed form (Deming).
//!
//! *Degenerate case*: fewer than 3 points, no spread in `x`, or a vertical line are refused.

use super::error::{DspError, check_at_least, check_finite, check_same_length};

/// A fitted line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Slope, unit of `y` per unit of `x`.
    pub slope: f64,
    /// Intercept, unit of `y`.
    pub intercept: f64,
    /// Standard error of the slope.
    pub slope_se: f64,
    /// Standard error of the intercept.
    pub intercept_se: f64,
    /// Weighted sum of squared distances over the degrees of freedom, `n - 2`: about 1 when the stated
    /// standard deviations are right. For [`deming`], where only their ratio is stated, it is the
    /// estimated variance of the errors in `x`, in the unit of `x` squared.
    pub reduced_chi2: f64,
    /// Points used.
    pub points: usize,
}

impl Line {
    /// The line with both standard errors widened by `sqrt(reduced_chi2)` when that exceeds 1: for
    /// stated standard deviations that turn out too small. Not meant for a [`deming`] line.
    #[must_use]
    pub fn widened(self) -> Self {
        let factor = self.reduced_chi2.max(1.0).sqrt();
        Self {
            slope_se: self.slope_se * factor,
            intercept_se: self.intercept_se * factor,
            ..self
        }
    }
}

/// One point with its two variances.
#[derive(Clone, Copy)]
struct Point {
    x: f64,
    y: f64,
    vx: f64,
    vy: f64,
}

/// Iterations of York's slope; it settles in a handful.
const MOST_ITERATIONS: usize = 200;

/// Least-squares line with a standard deviation for each `y`; `x` is taken as exact.
///
/// *Units and range*: every `sd_y` above 0, in the unit of `y`.
///
/// # Errors
/// [`DspError::LengthMismatch`], [`DspError::TooShort`] (fewer than 3), [`DspError::NotFinite`],
/// [`DspError::BadParameter`] (a standard deviation), [`DspError::NoSpread`] (all `x` equal).
///
/// # Example
/// ```
/// use scaplane::dsp::fit::weighted_line;
/// let line = weighted_line(&[-1.0, 0.0, 1.0], &[1.0, 3.0, 5.0], &[2.0, 2.0, 2.0])?;
/// assert_eq!((line.slope, line.intercept), (2.0, 3.0));
/// // sd / sqrt(sum of squared x) = 2 / sqrt(2).
/// assert!((line.slope_se - 2.0_f64.sqrt()).abs() < 1e-12);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn weighted_line(x: &[f64], y: &[f64], sd_y: &[f64]) -> Result<Line, DspError> {
    let points = gather(x, y, &vec![0.0; x.len()], sd_y)?;
    // Without error in x the weights do not depend on the slope and one step is exact.
    finish(&points, york_step(&points, 0.0)?)
}

/// Line through points uncertain in both coordinates, a standard deviation for each.
///
/// *Units and range*: every standard deviation 0 or more, at least one of the two of a point above 0.
///
/// # Errors
/// As [`weighted_line`]; [`DspError::NoConvergence`] when the slope does not settle (a line that is
/// vertical within its errors).
///
/// # Example
/// ```
/// use scaplane::dsp::fit::york;
/// let (x, y) = ([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 5.0, 7.0]);
/// let line = york(&x, &y, &[0.1; 4], &[0.2, 0.1, 0.3, 0.2])?;
/// assert!((line.slope - 2.0).abs() < 1e-12 && (line.intercept - 1.0).abs() < 1e-12);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn york(x: &[f64], y: &[f64], sd_x: &[f64], sd_y: &[f64]) -> Result<Line, DspError> {
    let points = gather(x, y, sd_x, sd_y)?;
    // Starts from the line of least squares, whichever way round is flatter in its own axes.
    let mut slope = start_slope(&points)?;
    for _ in 0..MOST_ITERATIONS {
        let next = york_step(&points, slope)?;
        let done = (next - slope).abs() <= 1e-15 + 1e-14 * next.abs();
        slope = next;
        if done {
            return finish(&points, slope);
        }
    }
    Err(DspError::NoConvergence)
}

/// Line through points uncertain in both coordinates, alike everywhere, their ratio known.
///
/// *Definition*: with `q = syy - r^2 sxx`, slope `(q + sqrt(q^2 + 4 r^2 sxy^2))/(2 sxy)`, `r = sd_ratio`.
/// The size of the errors is estimated from the distances.
///
/// *Units and range*: `sd_ratio` = standard deviation of `y` errors over that of `x` errors, above 0.
///
/// # Errors
/// As [`weighted_line`]; [`DspError::NoSpread`] also when the best line is vertical.
///
/// # Example
/// Four corners of a square pushed along the diagonal: the slope is 1, where an ordinary fit gives 0.6.
/// ```
/// use scaplane::dsp::fit::deming;
/// let line = deming(&[1.0, 0.0, 3.0, 2.0], &[0.0, 1.0, 2.0, 3.0], 1.0)?;
/// assert!((line.slope - 1.0).abs() < 1e-12 && line.intercept.abs() < 1e-12);
/// # Ok::<(), scaplane::dsp::DspError>(())
/// ```
pub fn deming(x: &[f64], y: &[f64], sd_ratio: f64) -> Result<Line, DspError> {
    if !(sd_ratio.is_finite() && sd_ratio > 0.0) {
        return Err(DspError::BadParameter {
            name: "sd_ratio",
            value: sd_ratio,
        });
    }
    let points = gather(x, y, &vec![1.0; x.len()], &vec![sd_ratio; x.len()])?;
    let Sums { sxx, sxy, syy } = sums(&points);
    let r2 = sd_ratio * sd_ratio;
    let q = syy - r2 * sxx;
    let root = q.hypot(2.0 * sd_ratio * sxy);
    // Two forms of one root; each keeps its digits where the other loses them.
    let slope = if q < 0.0 {
        2.0 * r2 * sxy / (root - q)
    } else if sxy != 0.0 {
        (q + root) / (2.0 * sxy)
    } else {
        return Err(DspError::NoSpread);
    };
    let line = finish(&points, slope)?;
    let size = line.reduced_chi2.sqrt();
    Ok(Line {
        slope_se: line.slope_se * size,
        intercept_se: line.intercept_se * size,
        ..line
    })
}

fn gather(x: &[f64], y: &[f64], sd_x: &[f64], sd_y: &[f64]) -> Result<Vec<Point>, DspError> {
    for other in [y, sd_x, sd_y] {
        check_same_length(x, other)?;
    }
    check_at_least(x.len(), 3)?;
    check_finite(x)?;
    check_finite(y)?;
    let mut points = Vec::with_capacity(x.len());
    for ((x, y), (sx, sy)) in x.iter().zip(y).zip(sd_x.iter().zip(sd_y)) {
        for (name, sd) in [("sd_x", *sx), ("sd_y", *sy)] {
            if !(sd.is_finite() && sd >= 0.0) {
                return Err(DspError::BadParameter { name, value: sd });
            }
        }
        if sx + sy == 0.0 {
            return Err(DspError::BadParameter {
                name: "sd_y",
                value: 0.0,
            });
        }
        points.push(Point {
            x: *x,
            y: *y,
            vx: sx * sx,
            vy: sy * sy,
        });
    }
    Ok(points)
}

struct Sums {
    sxx: f64,
    sxy: f64,
    syy: f64,
}

/// Sums of squares and products about the plain mean.
fn sums(points: &[Point]) -> Sums {
    let n = points.len() as f64;
    let mx = points.iter().map(|p| p.x / n).sum::<f64>();
    let my = points.iter().map(|p| p.y / n).sum::<f64>();
    points.iter().fold(
        Sums {
            sxx: 0.0,
            sxy: 0.0,
            syy: 0.0,
        },
        |s, p| {
            let (u, v) = (p.x - mx, p.y - my);
            Sums {
                sxx: s.sxx + u * u,
                sxy: s.sxy + u * v,
                syy: s.syy + v * v,
            }
        },
    )
}

/// Slope of the ordinary fit; refuses points with one `x`.
fn start_slope(points: &[Point]) -> Result<f64, DspError> {
    let s = sums(points);
    if s.sxx > 0.0 {
        Ok(s.sxy / s.sxx)
    } else {
        Err(DspError::NoSpread)
    }
}

/// Weight of a point for a slope, its offset from the weighted centroid, and its adjusted offset.
struct Weighed {
    w: f64,
    u: f64,
    v: f64,
    beta: f64,
}

/// The points weighed for a slope, and their weighted centroid.
fn weigh(points: &[Point], slope: f64) -> Result<(Vec<Weighed>, f64, f64), DspError> {
    let weight = |p: &Point| 1.0 / (p.vy + slope * slope * p.vx);
    // A point without error in y on a level line would weigh infinitely.
    if points.iter().any(|p| !weight(p).is_finite()) {
        return Err(DspError::NoConvergence);
    }
    let total: f64 = points.iter().map(weight).sum();
    let mx = points.iter().map(|p| weight(p) / total * p.x).sum::<f64>();
    let my = points.iter().map(|p| weight(p) / total * p.y).sum::<f64>();
    let weighed = points
        .iter()
        .map(|p| {
            let (w, u, v) = (weight(p), p.x - mx, p.y - my);
            Weighed {
                w,
                u,
                v,
                beta: w * (u * p.vy + slope * v * p.vx),
            }
        })
        .collect();
    Ok((weighed, mx, my))
}

fn york_step(points: &[Point], slope: f64) -> Result<f64, DspError> {
    let (weighed, _, _) = weigh(points, slope)?;
    let over: f64 = weighed.iter().map(|p| p.w * p.beta * p.v).sum();
    let under: f64 = weighed.iter().map(|p| p.w * p.beta * p.u).sum();
    let next = over / under;
    if under == 0.0 || !next.is_finite() {
        Err(DspError::NoSpread)
    } else {
        Ok(next)
    }
}

fn finish(points: &[Point], slope: f64) -> Result<Line, DspError> {
    let (weighed, mx, my) = weigh(points, slope)?;
    let total: f64 = weighed.iter().map(|p| p.w).sum();
    let shift = weighed.iter().map(|p| p.w * p.beta).sum::<f64>() / total;
    let spread: f64 = weighed.iter().map(|p| p.w * (p.beta - shift).powi(2)).sum();
    let chi2: f64 = weighed
        .iter()
        .map(|p| p.w * (p.v - slope * p.u).powi(2))
        .sum();
    if spread.is_nan() || spread <= 0.0 {
        return Err(DspError::NoSpread);
    }
    let slope_variance = 1.0 / spread;
    let adjusted_mean = mx + shift;
    let line = Line {
        slope,
        intercept: my - slope * mx,
        slope_se: slope_variance.sqrt(),
        intercept_se: (1.0 / total + adjusted_mean * adjusted_mean * slope_variance).sqrt(),
        reduced_chi2: chi2 / (points.len() - 2) as f64,
        points: points.len(),
    };
    // Squares of huge coordinates can leave the range of numbers.
    check_finite(&[
        spread,
        line.slope,
        line.intercept,
        line.slope_se,
        line.intercept_se,
        line.reduced_chi2,
    ])?;
    Ok(line)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dsp::noise::tests::ar1_noise;
    use proptest::prelude::*;

    /// Pearson's points with York's weights, the usual trial of such fits (from memory, not verified;
    /// the expected values are those of York 2004, to the digits remembered).
    #[test]
    fn pearson_points_with_york_weights() {
        let x = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4];
        let y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5];
        let wx = [
            1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0,
        ];
        let wy = [1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0];
        let sd = |w: [f64; 10]| w.map(|w: f64| 1.0 / w.sqrt());
        let line = york(&x, &y, &sd(wx), &sd(wy)).unwrap();
        assert!((line.slope + 0.480_533_407).abs() < 1e-8, "{line:?}");
        assert!((line.intercept - 5.479_910_22).abs() < 1e-7, "{line:?}");
        assert!((line.slope_se - 0.058).abs() < 1e-3, "{line:?}");
        assert!((line.intercept_se - 0.295).abs() < 1e-3, "{line:?}");
    }

    #[test]
    fn york_with_equal_errors_is_deming() {
        let x = [0.0, 1.1, 1.9, 3.2, 4.0, 5.3];
        let y = [0.2, 0.9, 2.3, 2.8, 4.4, 4.9];
        let d = deming(&x, &y, 0.5).unwrap();
        let size = d.reduced_chi2.sqrt();
        let w = york(&x, &y, &[size; 6], &[0.5 * size; 6]).unwrap();
        assert!((d.slope - w.slope).abs() < 1e-12);
        assert!((d.slope_se - w.slope_se).abs() < 1e-10);
        assert!((w.reduced_chi2 - 1.0).abs() < 1e-9);
    }

    /// With noise in both, Deming finds the slope, the ordinary fit does not, and about 95 % of the
    /// intervals cover it.
    #[test]
    fn slope_without_dilution_and_honest_errors() {
        let truth: Vec<f64> = (0..40).map(|k| 30.0 + 2.25 * f64::from(k)).collect();
        let (mut deming_sum, mut plain_sum, mut covered) = (0.0, 0.0, 0);
        let runs = 400;
        for seed in 0..runs {
            let ex = ar1_noise(40, 12.0, 0.0, seed);
            let ey = ar1_noise(40, 4.0, 0.0, 10_000 + seed);
            let x: Vec<f64> = truth.iter().zip(&ex).map(|(t, e)| t + e).collect();
            let y: Vec<f64> = truth.iter().zip(&ey).map(|(t, e)| t / 3.0 + e).collect();
            let line = deming(&x, &y, 1.0 / 3.0).unwrap();
            deming_sum += line.slope;
            plain_sum += weighted_line(&x, &y, &[4.0; 40]).unwrap().slope;
            // 2.02: 97.5 % point of Student's t with 38 degrees of freedom.
            covered += usize::from((line.slope - 1.0 / 3.0).abs() < 2.02 * line.slope_se);
        }
        let (deming_mean, plain_mean) = (deming_sum / runs as f64, plain_sum / runs as f64);
        assert!((deming_mean - 1.0 / 3.0).abs() < 0.01, "{deming_mean}");
        assert!(plain_mean < 0.31, "{plain_mean}");
        let share = covered as f64 / runs as f64;
        assert!((0.92..=0.98).contains(&share), "{share}");
    }

    #[test]
    fn refuses_what_has_no_line() {
        let x = [1.0, 1.0, 1.0];
        let y = [0.0, 1.0, 2.0];
        assert_eq!(deming(&x, &y, 1.0), Err(DspError::NoSpread));
        assert_eq!(york(&x, &y, &[0.1; 3], &[0.1; 3]), Err(DspError::NoSpread));
        assert_eq!(weighted_line(&x, &y, &[0.1; 3]), Err(DspError::NoSpread));
        assert_eq!(deming(&x, &x, 1.0), Err(DspError::NoSpread));
        assert!(deming(&y[..2], &y[..2], 1.0).is_err());
        assert!(deming(&y, &y, 0.0).is_err());
        assert!(york(&y, &y, &[0.0; 3], &[0.0; 3]).is_err());
        assert!(york(&y, &y, &[-1.0; 3], &[1.0; 3]).is_err());
        assert!(weighted_line(&y, &[f64::NAN, 0.0, 1.0], &[1.0; 3]).is_err());
        let level = deming(&y, &[4.0; 3], 1.0).unwrap();
        assert_eq!((level.slope, level.intercept), (0.0, 4.0));
    }

    proptest! {
        #[test]
        fn swapping_the_axes_turns_the_slope_over(
            e in prop::collection::vec((-0.3..0.3_f64, -0.3..0.3_f64), 5..30),
            ratio in 0.2..5.0_f64,
            slope in 0.2..4.0_f64,
        ) {
            let x: Vec<f64> = e.iter().enumerate().map(|(k, (a, _))| k as f64 + a).collect();
            let y: Vec<f64> = e.iter().enumerate().map(|(k, (_, b))| slope * k as f64 + b).collect();
            let there = deming(&x, &y, ratio).unwrap();
            let back = deming(&y, &x, 1.0 / ratio).unwrap();
            prop_assert!((there.slope * back.slope - 1.0).abs() < 1e-9);
        }
    }
}
