//! Weighted straight line with exact abscissae: least squares with stated uncertainties.
//!
//! In go abscissae, ordinates and the standard uncertainty of each ordinate; out come the value
//! at a chosen abscissa, the slope, and their covariance (JCGM 100:2008, H.3, equations H.13). The
//! scatter about the line can replace the stated uncertainties, or widen them when it is larger
//! than they allow. Errors in both coordinates are for `york`. Checked against example H.3 of the
//! guide in `tests/tests/checks_apply_gum.rs`.
//!
//! | symbol | meaning |
//! | --- | --- |
//! | `w` | weight, one over the variance of an ordinate |
//! | `x_0` | abscissa at which the value is stated |
//! | `a`, `b` | value at `x_0`, slope |

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::estimate::Estimate;

/// Where the uncertainty of the parameters comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scatter {
    /// The stated uncertainties are right.
    Stated,
    /// The stated uncertainties give the weights only; the scatter about the line gives the scale
    /// (JCGM 100:2008, H.3).
    FromResiduals,
    /// The larger of the two: the stated ones, widened by the Birge ratio when the scatter exceeds
    /// them. For a stated part that may have forgotten something.
    Larger,
}

/// A fitted straight line `y = a + b (x - x_0)`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Abscissa of `at_x0`.
    pub x0: f64,
    /// Value at `x0`.
    pub at_x0: f64,
    /// Slope.
    pub slope: f64,
    /// Standard uncertainty of `at_x0`.
    pub u_at_x0: f64,
    /// Standard uncertainty of the slope.
    pub u_slope: f64,
    /// Covariance of the two.
    pub covariance: f64,
    /// Weighted residual sum of squares over the degrees of freedom; `None` without freedom.
    pub reduced_chi_square: Option<f64>,
    /// Degrees of freedom of the uncertainties; `None` when they are the stated ones.
    pub dof: Option<f64>,
}

impl Line {
    /// The line's value at an abscissa; all its uncertainty is independent.
    #[must_use]
    pub fn at(&self, x: f64) -> Estimate {
        let dx = x - self.x0;
        let variance =
            self.u_at_x0.powi(2) + (dx * self.u_slope).powi(2) + 2.0 * dx * self.covariance;
        Estimate::new(self.at_x0 + self.slope * dx, variance.max(0.0).sqrt(), 0.0)
            .with_dof(self.dof.unwrap_or(f64::INFINITY))
    }

    /// The slope as an estimate.
    #[must_use]
    pub fn slope(&self) -> Estimate {
        Estimate::new(self.slope, self.u_slope, 0.0).with_dof(self.dof.unwrap_or(f64::INFINITY))
    }
}

/// Why there is no line.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum LineError {
    /// The three slices differ in length.
    #[error("{n_x} abscissae, {n_y} ordinates and {n_u} uncertainties; they must agree in number")]
    Lengths {
        /// Number of abscissae.
        n_x: usize,
        /// Number of ordinates.
        n_y: usize,
        /// Number of uncertainties.
        n_u: usize,
    },
    /// Fewer than two different abscissae.
    #[error("a line needs two different abscissae, there are {n_distinct}")]
    TooFew {
        /// Number of different abscissae.
        n_distinct: usize,
    },
    /// A number is not finite, or an uncertainty is not positive.
    #[error("point {index}: x {x}, y {y}, u {u} cannot be used in a fit")]
    BadPoint {
        /// Position in the slices.
        index: usize,
        /// Abscissa.
        x: f64,
        /// Ordinate.
        y: f64,
        /// Standard uncertainty of the ordinate.
        u: f64,
    },
    /// No freedom is left to find the scatter from the residuals.
    #[error("the scatter about a line needs three points, there are {n_points}")]
    NoFreedom {
        /// Number of points.
        n_points: usize,
    },
}

/// Fit `y = a + b (x - x0)` with weights `1 / u_y^2`.
///
/// *Shape*: three slices of one length, any order; at least two different abscissae, and three
/// points when the scatter is to come from the residuals. With two points and
/// [`Scatter::Larger`] the stated uncertainties stand.
///
/// *Errors*: [`LineError`], each case named there.
///
/// *Source*: JCGM 100:2008, H.3 with weights; Birge ratio as in Birge, Phys. Rev. 40 (1932) 207.
pub fn fit_line(
    x: &[f64],
    y: &[f64],
    u_y: &[f64],
    x0: f64,
    scatter: Scatter,
) -> Result<Line, LineError> {
    check_points(x, y, u_y, x0)?;
    let n_points = x.len();
    let dof = (n_points - 2) as f64;
    if scatter == Scatter::FromResiduals && n_points < 3 {
        return Err(LineError::NoFreedom { n_points });
    }
    // Weights relative to the largest keep the sums near one whatever the unit.
    let u_min = u_y.iter().copied().fold(f64::INFINITY, f64::min);
    let w: Vec<f64> = u_y.iter().map(|u| (u_min / u).powi(2)).collect();
    let sum_w: f64 = w.iter().sum();
    let mean = |v: &[f64]| v.iter().zip(&w).map(|(v, w)| w * v).sum::<f64>() / sum_w;
    let (x_mean, y_mean) = (mean(x), mean(y));
    let sums = x.iter().zip(y).zip(&w).map(|((x, y), w)| {
        let dx = x - x_mean;
        (w * dx * dx, w * dx * (y - y_mean))
    });
    let (s_xx, s_xy) = sums.fold((0.0, 0.0), |acc, s| (acc.0 + s.0, acc.1 + s.1));
    let slope = s_xy / s_xx;
    let chi_square: f64 = x
        .iter()
        .zip(y)
        .zip(u_y)
        .map(|((x, y), u)| ((y - y_mean - slope * (x - x_mean)) / u).powi(2))
        .sum();
    let reduced_chi_square = (dof > 0.0).then(|| chi_square / dof);
    let (scale, dof) = match (scatter, reduced_chi_square) {
        (Scatter::Larger, Some(chi)) if chi > 1.0 => (chi, Some(dof)),
        (Scatter::FromResiduals, Some(chi)) => (chi, Some(dof)),
        _ => (1.0, None),
    };
    let variance_mean = scale * u_min.powi(2) / sum_w;
    let variance_slope = scale * u_min.powi(2) / s_xx;
    let dx0 = x0 - x_mean;
    Ok(Line {
        x0,
        at_x0: y_mean + slope * dx0,
        slope,
        u_at_x0: (variance_mean + dx0 * dx0 * variance_slope).sqrt(),
        u_slope: variance_slope.sqrt(),
        covariance: dx0 * variance_slope,
        reduced_chi_square,
        dof,
    })
}

fn check_points(x: &[f64], y: &[f64], u_y: &[f64], x0: f64) -> Result<(), LineError> {
    if x.len() != y.len() || x.len() != u_y.len() {
        return Err(LineError::Lengths {
            n_x: x.len(),
            n_y: y.len(),
            n_u: u_y.len(),
        });
    }
    for (index, ((&x, &y), &u)) in x.iter().zip(y).zip(u_y).enumerate() {
        if !(x.is_finite() && y.is_finite() && u.is_finite() && u > 0.0 && x0.is_finite()) {
            return Err(LineError::BadPoint { index, x, y, u });
        }
    }
    let mut distinct = x.to_vec();
    distinct.sort_by(f64::total_cmp);
    distinct.dedup();
    if distinct.len() < 2 {
        return Err(LineError::TooFew {
            n_distinct: distinct.len(),
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_on_a_line_are_found_exactly_whatever_the_weights() {
        let x = [1.0, 2.0, 4.0, 8.0];
        let y = x.map(|x| 3.0 - 0.5 * x);
        let line = fit_line(&x, &y, &[0.1, 0.2, 0.3, 0.1], 0.0, Scatter::Larger).unwrap();
        assert!((line.at_x0 - 3.0).abs() < 1e-12 && (line.slope + 0.5).abs() < 1e-12);
        assert!(line.reduced_chi_square.unwrap() < 1e-20 && line.dof.is_none());
    }

    #[test]
    fn scatter_beyond_the_stated_uncertainty_widens_it_and_less_does_not_narrow_it() {
        let x = [0.0, 1.0, 2.0, 3.0];
        let wild = [0.0, 2.0, 1.0, 3.0];
        let stated = fit_line(&x, &wild, &[0.1; 4], 0.0, Scatter::Stated).unwrap();
        let larger = fit_line(&x, &wild, &[0.1; 4], 0.0, Scatter::Larger).unwrap();
        assert!(larger.u_slope > 5.0 * stated.u_slope && larger.dof == Some(2.0));
        let loose = fit_line(&x, &wild, &[9.0; 4], 0.0, Scatter::Larger).unwrap();
        let loose_stated = fit_line(&x, &wild, &[9.0; 4], 0.0, Scatter::Stated).unwrap();
        assert_eq!(loose.u_slope, loose_stated.u_slope);
    }

    #[test]
    fn unusable_points_are_refused_by_name() {
        let fit = |x: &[f64], y: &[f64], u: &[f64]| fit_line(x, y, u, 0.0, Scatter::FromResiduals);
        assert_eq!(
            fit(&[1.0, 1.0], &[1.0, 2.0], &[1.0, 1.0])
                .unwrap_err()
                .to_string(),
            "a line needs two different abscissae, there are 1"
        );
        assert_eq!(
            fit(&[1.0], &[1.0, 2.0], &[1.0]).unwrap_err().to_string(),
            "1 abscissae, 2 ordinates and 1 uncertainties; they must agree in number"
        );
        assert_eq!(
            fit(&[1.0, 2.0], &[1.0, f64::NAN], &[1.0, 0.0])
                .unwrap_err()
                .to_string(),
            "point 1: x 2, y NaN, u 0 cannot be used in a fit"
        );
        assert_eq!(
            fit(&[1.0, 2.0], &[1.0, 2.0], &[1.0, 1.0])
                .unwrap_err()
                .to_string(),
            "the scatter about a line needs three points, there are 2"
        );
    }
}
