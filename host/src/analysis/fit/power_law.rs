//! `y = y_ref * (x / x_ref)^n` through points uncertain in both coordinates.
//!
//! In: positive points with the independent part of their uncertainty, and the common parts of the two
//! instruments. Out: `ln y_ref` and `n` with the covariance of each part, kept apart. Fitted as a
//! straight line on logarithms ([`super::york`]); stated variances are drawn together first
//! ([`super::moderate`]) and scaled by the scatter afterwards ([`super::scatter`]).
//!
//! Common parts never enter the weights, since they move all points alike. A ratio (span, pulse
//! constant) moves `y_ref` only; an offset (zero) bends the line on logarithms and so moves both, which
//! is found by fitting again with all points shifted. Checked in `tests/reference/` and, for coverage,
//! in `tests/coverage/`.
//!
//! | symbol | meaning |
//! | --- | --- |
//! | `x, y` | pressure-like and flow-like coordinate, any units |
//! | `n` | exponent |
//! | `u` | standard uncertainty |

use thiserror::Error;

use super::moderate::moderate_variances;
use super::scatter::{Misfit, Scatter, settle};
use super::york::{Datum, Line, YorkError, fit_line};

/// A positive point with the independent part of its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Abscissa, positive.
    pub x: f64,
    /// Ordinate, positive.
    pub y: f64,
    /// Standard uncertainty of `x`.
    pub u_x: f64,
    /// Standard uncertainty of `y`.
    pub u_y: f64,
    /// Degrees of freedom of `u_x`; infinite when known.
    pub dof_x: f64,
    /// Degrees of freedom of `u_y`; infinite when known.
    pub dof_y: f64,
}

/// Standard uncertainties that shift every point alike.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CommonParts {
    /// Offset of `x`, in its unit.
    pub u_x_offset: f64,
    /// Relative error of `x`.
    pub u_x_ratio: f64,
    /// Offset of `y`, in its unit.
    pub u_y_offset: f64,
    /// Relative error of `y`.
    pub u_y_ratio: f64,
}

/// Covariance of two parameters.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Covariance2 {
    /// Variance of the first.
    pub var_0: f64,
    /// Variance of the second.
    pub var_1: f64,
    /// Their covariance.
    pub cov: f64,
}

impl Covariance2 {
    /// Variance of `g0 * first + g1 * second`; never negative.
    #[must_use]
    pub fn variance_along(&self, g0: f64, g1: f64) -> f64 {
        (g0 * g0 * self.var_0 + g1 * g1 * self.var_1 + 2.0 * g0 * g1 * self.cov).max(0.0)
    }

    /// Add one independent source that moves the parameters by `d0` and `d1`.
    #[must_use]
    pub fn plus_source(self, d0: f64, d1: f64) -> Self {
        Self {
            var_0: self.var_0 + d0 * d0,
            var_1: self.var_1 + d1 * d1,
            cov: self.cov + d0 * d1,
        }
    }

    /// All parts times a factor.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            var_0: self.var_0 * factor,
            var_1: self.var_1 * factor,
            cov: self.cov * factor,
        }
    }
}

/// A fitted power law. First parameter `ln y_ref`, second `n`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerFit {
    /// Abscissa at which `y_ref` holds.
    pub x_ref: f64,
    /// Logarithm of the ordinate there.
    pub ln_y_ref: f64,
    /// Exponent.
    pub n: f64,
    /// Covariance of `(ln y_ref, n)` from noise, scaled by the scatter.
    pub independent: Covariance2,
    /// Covariance of `(ln y_ref, n)` from the common parts.
    pub common: Covariance2,
    /// What the scatter says.
    pub scatter: Scatter,
}

/// Why there is no power law.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum PowerLawError {
    /// A coordinate is zero, negative, NaN or infinite.
    #[error("point {index} is not a positive number")]
    NotPositive {
        /// Which point.
        index: usize,
    },
    /// Fewer than three points: no scatter to be seen.
    #[error("{n} points, a power law with its uncertainty needs 3")]
    TooFew {
        /// Points given.
        n: usize,
    },
    /// The line on logarithms failed.
    #[error(transparent)]
    Line(#[from] YorkError),
}

/// Least relative standard uncertainty of a point: no field instrument repeats better, and it keeps a
/// point stated as exact from fixing the curve.
pub const LEAST_RELATIVE_U: f64 = 1e-4;

/// Fit a power law.
///
/// *Shape*: three points or more, any order. *Errors*: see [`PowerLawError`]. *Source*: module
/// documentation. *Cost*: linear in the points, times some hundred passes.
pub fn fit_power_law(
    points: &[Observation],
    x_ref: f64,
    common: &CommonParts,
) -> Result<PowerFit, PowerLawError> {
    if points.len() < 3 {
        return Err(PowerLawError::TooFew { n: points.len() });
    }
    let data = on_logarithms(points, x_ref)?;
    // Ends as the line at the scatter that is settled on.
    let mut weighted = data.clone();
    let mut line = fit_line(&weighted)?;
    let scatter = settle(points.len() as f64 - 2.0, |extra| {
        if extra != 0.0 {
            weighted = with_extra(&data, extra);
            line = fit_line(&weighted)?;
        }
        Ok::<_, YorkError>(misfit(&weighted, &line, extra))
    })?;
    Ok(PowerFit {
        x_ref,
        ln_y_ref: line.intercept,
        n: line.slope,
        independent: Covariance2 {
            var_0: line.u_intercept.powi(2),
            var_1: line.u_slope.powi(2),
            cov: line.cov,
        }
        .scaled(scatter.factor),
        common: common_covariance(&weighted, &line, x_ref, common),
        scatter,
    })
}

/// The points on logarithms, centred on `x_ref`, with moderated relative uncertainties.
///
/// *Errors*: a coordinate that is not positive and finite, named by its index.
pub fn on_logarithms(points: &[Observation], x_ref: f64) -> Result<Vec<Datum>, PowerLawError> {
    let positive = |v: f64| v.is_finite() && v > 0.0;
    if !positive(x_ref) {
        return Err(PowerLawError::NotPositive { index: 0 });
    }
    if let Some(index) = points.iter().position(|p| !positive(p.x) || !positive(p.y)) {
        return Err(PowerLawError::NotPositive { index });
    }
    let column = |f: &dyn Fn(&Observation) -> f64| points.iter().map(f).collect::<Vec<f64>>();
    let floor = LEAST_RELATIVE_U.powi(2);
    let vx = moderate_variances(
        &column(&|p| (p.u_x / p.x).powi(2).max(floor)),
        &column(&|p| p.dof_x),
    );
    let vy = moderate_variances(
        &column(&|p| (p.u_y / p.y).powi(2).max(floor)),
        &column(&|p| p.dof_y),
    );
    let data = points
        .iter()
        .zip(vx.iter().zip(&vy))
        .map(|(p, (vx, vy))| Datum {
            x: (p.x / x_ref).ln(),
            y: p.y.ln(),
            u_x: vx.sqrt(),
            u_y: vy.sqrt(),
            r: 0.0,
        });
    Ok(data.collect())
}

/// The points with an extra variance of the ordinate.
#[must_use]
pub fn with_extra(data: &[Datum], extra: f64) -> Vec<Datum> {
    data.iter()
        .map(|d| Datum {
            u_y: (d.u_y * d.u_y + extra).sqrt(),
            ..*d
        })
        .collect()
}

fn misfit(weighted: &[Datum], line: &Line, extra: f64) -> Misfit {
    let n = weighted.len() as f64;
    let mut out = Misfit {
        chi_square: line.chi_square,
        descent: 0.0,
        stated_variance: 0.0,
    };
    for d in weighted {
        let variance = d.u_y.powi(2) + (line.slope * d.u_x).powi(2);
        let residual = d.y - line.intercept - line.slope * d.x;
        out.descent += (residual / variance).powi(2);
        out.stated_variance += (variance - extra) / n;
    }
    out
}

fn common_covariance(data: &[Datum], line: &Line, x_ref: f64, common: &CommonParts) -> Covariance2 {
    let fit = |d: &[Datum]| fit_line(d).map(|line| (line.intercept, line.slope));
    let (x0, x1) = offset_effect(data, common.u_x_offset / x_ref, &shift_x, fit);
    let (y0, y1) = offset_effect(data, common.u_y_offset, &shift_y, fit);
    Covariance2::default()
        .plus_source(common.u_y_ratio, 0.0)
        .plus_source(line.slope * common.u_x_ratio, 0.0)
        .plus_source(x0, x1)
        .plus_source(y0, y1)
}

/// A logarithmic abscissa after an offset of the abscissa itself.
pub(super) fn shift_x(d: &Datum, offset: f64) -> Datum {
    Datum {
        x: (d.x.exp() + offset).ln(),
        ..*d
    }
}

/// A logarithmic ordinate after an offset of the ordinate itself.
pub(super) fn shift_y(d: &Datum, offset: f64) -> Datum {
    Datum {
        y: (d.y.exp() + offset).ln(),
        ..*d
    }
}

/// Half the difference of two fits, with all points moved up and down by one standard uncertainty `u`.
///
/// An offset as large as a point itself has no logarithm: the move is then made smaller and its effect
/// enlarged in proportion.
pub(super) fn offset_effect(
    data: &[Datum],
    u: f64,
    shift: &dyn Fn(&Datum, f64) -> Datum,
    fit: impl Fn(&[Datum]) -> Result<(f64, f64), YorkError>,
) -> (f64, f64) {
    if u == 0.0 || !u.is_finite() {
        return (0.0, 0.0);
    }
    let mut part = 1.0;
    while part > 1e-9 {
        let side = |sign: f64| {
            let shifted: Vec<Datum> = data.iter().map(|d| shift(d, sign * u * part)).collect();
            fit(&shifted)
        };
        if let (Ok(up), Ok(down)) = (side(1.0), side(-1.0)) {
            let half = 0.5 / part;
            return ((up.0 - down.0) * half, (up.1 - down.1) * half);
        }
        part *= 0.1;
    }
    (0.0, 0.0)
}

#[cfg(test)]
mod tests;
