//! A straight line through points that are uncertain in both coordinates.
//!
//! In: points with standard uncertainties and the correlation of their two errors. Out: intercept and
//! slope with their exact standard uncertainties, covariance and chi-square; or a typed error, never
//! a NaN. Nothing is scaled by the scatter here: that decision is [`super::scatter`]'s.
//!
//! Source: D. York, N. M. Evensen, M. López Martínez, J. De Basabe Delgado, "Unified equations for
//! the slope, intercept, and standard errors of the best straight line", Am. J. Phys. 72 (2004),
//! 367-375. Checked against Pearson's data with York's weights and against an orthogonal distance
//! regression in `tests/reference/`.
//!
//! | symbol | meaning |
//! | --- | --- |
//! | `x, y` | coordinates |
//! | `u_x, u_y` | their standard uncertainties |
//! | `r` | correlation of the two errors of one point |
//! | `w` | weight of a point at the present slope |
//! | `beta` | adjusted `x`, as a distance from the weighted mean |

use thiserror::Error;

/// One point with its standard uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Datum {
    /// Abscissa.
    pub x: f64,
    /// Ordinate.
    pub y: f64,
    /// Standard uncertainty of `x`; zero when it is exact.
    pub u_x: f64,
    /// Standard uncertainty of `y`; zero when it is exact.
    pub u_y: f64,
    /// Correlation of the two errors, -1 to 1.
    pub r: f64,
}

/// The best line `y = intercept + slope * x`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Ordinate at `x = 0`.
    pub intercept: f64,
    /// Slope.
    pub slope: f64,
    /// Standard uncertainty of the intercept, from the stated uncertainties.
    pub u_intercept: f64,
    /// Standard uncertainty of the slope, from the stated uncertainties.
    pub u_slope: f64,
    /// Covariance of intercept and slope, from the stated uncertainties.
    pub cov: f64,
    /// Weighted sum of squared residuals.
    pub chi_square: f64,
    /// Iterations used.
    pub n_iterations: usize,
}

/// Why there is no line.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum YorkError {
    /// Fewer than two points.
    #[error("{n} points, a line needs 2")]
    TooFew {
        /// Points given.
        n: usize,
    },
    /// A coordinate or an uncertainty is NaN or infinite.
    #[error("point {index} is not finite")]
    NotFinite {
        /// Which point.
        index: usize,
    },
    /// A negative uncertainty, both zero, or a correlation outside -1 to 1.
    #[error("point {index} has no usable uncertainty")]
    BadUncertainty {
        /// Which point.
        index: usize,
    },
    /// All points have the same `x`: the slope is not defined.
    #[error("all points have the same abscissa")]
    NoSpread,
    /// The iteration did not settle.
    #[error("the slope did not settle in {n_iterations} iterations")]
    NotConverged {
        /// Iterations used.
        n_iterations: usize,
    },
}

/// Relative change of the slope below which the iteration has settled: a few units in the last place.
const SLOPE_TOLERANCE: f64 = 1e-15;
/// Most iterations; York 2004 reports about ten for hard data.
const MAX_ITERATIONS: usize = 500;

/// The line of greatest likelihood through points uncertain in both coordinates.
///
/// *Shape*: two points or more, any order. *Errors*: see [`YorkError`]. *Source*: York et al. 2004,
/// equations 13a to 13d. *Cost*: linear in the points, times some ten iterations.
pub fn fit_line(data: &[Datum]) -> Result<Line, YorkError> {
    check(data)?;
    let origin = centre(data);
    let mut slope = start_slope(data, origin)?;
    let mut last_change = f64::INFINITY;
    for n_iterations in 1..=MAX_ITERATIONS {
        let next = step(data, origin, slope).slope;
        if !next.is_finite() {
            return Err(YorkError::NotConverged { n_iterations });
        }
        let change = (next - slope).abs();
        slope = next;
        let settled = change <= SLOPE_TOLERANCE * slope.abs();
        // Rounding can keep the last bits moving for ever; once a tiny change stops shrinking, no
        // further digit is to be had.
        let stalled = change <= 1e-10 * slope.abs() && change >= last_change;
        if settled || stalled || change == 0.0 {
            return finish(data, origin, slope, n_iterations);
        }
        last_change = change;
    }
    Err(YorkError::NotConverged {
        n_iterations: MAX_ITERATIONS,
    })
}

fn check(data: &[Datum]) -> Result<(), YorkError> {
    if data.len() < 2 {
        return Err(YorkError::TooFew { n: data.len() });
    }
    for (index, d) in data.iter().enumerate() {
        if ![d.x, d.y, d.u_x, d.u_y, d.r].iter().all(|v| v.is_finite()) {
            return Err(YorkError::NotFinite { index });
        }
        if d.u_x < 0.0 || d.u_y < 0.0 || d.u_x + d.u_y <= 0.0 || d.r.abs() > 1.0 {
            return Err(YorkError::BadUncertainty { index });
        }
    }
    Ok(())
}

/// Unweighted centre: sums are taken about it, so that a large offset costs no digits.
fn centre(data: &[Datum]) -> (f64, f64) {
    let n = data.len() as f64;
    let x = data.iter().map(|d| d.x / n).sum();
    let y = data.iter().map(|d| d.y / n).sum();
    (x, y)
}

fn start_slope(data: &[Datum], origin: (f64, f64)) -> Result<f64, YorkError> {
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for d in data {
        let dx = d.x - origin.0;
        sxx += dx * dx;
        sxy += dx * (d.y - origin.1);
    }
    let scale = data.iter().fold(0.0f64, |m, d| m.max(d.x.abs()));
    // Spread below rounding of the coordinates themselves is no spread.
    if sxx.sqrt() <= 4.0 * f64::EPSILON * scale * (data.len() as f64).sqrt() || sxx == 0.0 {
        return Err(YorkError::NoSpread);
    }
    Ok(sxy / sxx)
}

struct Step {
    slope: f64,
    x_mean: f64,
    y_mean: f64,
    sum_w: f64,
}

fn weight(d: &Datum, slope: f64) -> f64 {
    let variance =
        d.u_y * d.u_y + slope * slope * d.u_x * d.u_x - 2.0 * slope * d.r * d.u_x * d.u_y;
    // A point that is exact across the present line would get infinite weight; the floor keeps the
    // sums finite and the point all but fixed.
    let floor = f64::EPSILON * (d.u_y * d.u_y + slope * slope * d.u_x * d.u_x);
    1.0 / variance.max(floor).max(f64::MIN_POSITIVE)
}

fn beta(d: &Datum, slope: f64, w: f64, dx: f64, dy: f64) -> f64 {
    w * (dx * d.u_y * d.u_y + slope * dy * d.u_x * d.u_x - (slope * dx + dy) * d.r * d.u_x * d.u_y)
}

fn weighted_means(data: &[Datum], origin: (f64, f64), slope: f64) -> (f64, f64, f64) {
    let (mut sw, mut sx, mut sy) = (0.0, 0.0, 0.0);
    for d in data {
        let w = weight(d, slope);
        sw += w;
        sx += w * (d.x - origin.0);
        sy += w * (d.y - origin.1);
    }
    (sw, sx / sw, sy / sw)
}

fn step(data: &[Datum], origin: (f64, f64), slope: f64) -> Step {
    let (sum_w, x_mean, y_mean) = weighted_means(data, origin, slope);
    let (mut num, mut den) = (0.0, 0.0);
    for d in data {
        let w = weight(d, slope);
        let dx = d.x - origin.0 - x_mean;
        let dy = d.y - origin.1 - y_mean;
        let b = beta(d, slope, w, dx, dy);
        num += w * b * dy;
        den += w * b * dx;
    }
    Step {
        slope: num / den,
        x_mean,
        y_mean,
        sum_w,
    }
}

fn finish(
    data: &[Datum],
    origin: (f64, f64),
    slope: f64,
    n_iterations: usize,
) -> Result<Line, YorkError> {
    let s = step(data, origin, slope);
    let mut adjusted_mean = 0.0;
    let mut chi_square = 0.0;
    for d in data {
        let w = weight(d, slope);
        let dx = d.x - origin.0 - s.x_mean;
        let dy = d.y - origin.1 - s.y_mean;
        adjusted_mean += w * beta(d, slope, w, dx, dy) / s.sum_w;
        chi_square += w * (dy - slope * dx).powi(2);
    }
    let mut spread = 0.0;
    for d in data {
        let w = weight(d, slope);
        let dx = d.x - origin.0 - s.x_mean;
        let dy = d.y - origin.1 - s.y_mean;
        spread += w * (beta(d, slope, w, dx, dy) - adjusted_mean).powi(2);
    }
    let x_bar = origin.0 + s.x_mean + adjusted_mean;
    let var_slope = 1.0 / spread;
    let line = Line {
        intercept: origin.1 + s.y_mean - slope * (origin.0 + s.x_mean),
        slope,
        u_intercept: (1.0 / s.sum_w + x_bar * x_bar * var_slope).sqrt(),
        u_slope: var_slope.sqrt(),
        cov: -x_bar * var_slope,
        chi_square,
        n_iterations,
    };
    let all = [
        line.intercept,
        line.u_intercept,
        line.u_slope,
        line.chi_square,
    ];
    if all.iter().all(|v| v.is_finite()) {
        Ok(line)
    } else {
        Err(YorkError::NotConverged { n_iterations })
    }
}

#[cfg(test)]
mod tests;
