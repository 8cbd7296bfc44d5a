//! Points that do not belong to a fitted form, named by a stated rule.
//!
//! The rule is the generalised extreme studentised deviate procedure (B. Rosner, Technometrics 25
//! (1983), 165-172), with externally studentised residuals of the weighted fit as its statistic: take the worst
//! point out, fit again, up to the most that may go; then the last removal that was significant decides
//! how many go. Taking all candidates out before deciding is what keeps two outliers from hiding each other.
//! Limits are two-sided Student quantiles at [`SIGNIFICANCE`], divided by the number of points
//! (Bonferroni). The scale is that of the other points, held up by the stated uncertainties as far as these are
//! believed: points that agree a little better than stated make no outlier.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::scatter::{LEAST_FACTOR, believed_dof};
use super::york::{Datum, YorkError, fit_line};

/// Probability of naming an outlier in a group that has none.
///
/// At 0.01 one sound group in a hundred loses a point; a point off by five standard deviations among ten is
/// found nine times in ten.
pub const SIGNIFICANCE: f64 = 0.01;

/// One point in so many may go.
pub const ONE_IN: usize = 5;

/// Never take out more than this, whatever the number of points: past that it is no longer a matter of
/// single points, and each removal costs one more fit.
pub const MOST: usize = 10;

/// How a form of two parameters lies through some points.
#[derive(Debug, Clone, PartialEq)]
pub struct Through {
    /// Weighted sum of squared residuals.
    pub chi_square: f64,
    /// Weighted squared residual and leverage (0 to 1) of each point.
    pub points: Vec<(f64, f64)>,
}

/// Indices of outliers, worst first.
///
/// `fit` puts the form through some of the points. `may_remove` is asked with all indices that would be gone, and can
/// forbid a removal (a pressure would be lost). *Errors*: those of the fit. *Cost*: linear in the points, times at
/// most [`MOST`].
pub fn find_outliers(
    data: &[Datum],
    fit: impl Fn(&[Datum]) -> Result<Through, YorkError>,
    may_remove: impl Fn(&[usize]) -> bool,
) -> Result<Vec<usize>, YorkError> {
    let most = (data.len() / ONE_IN).min(MOST);
    let mut removed: Vec<usize> = Vec::new();
    let mut n_significant = 0;
    let mut kept: Vec<usize> = (0..data.len()).collect();
    while removed.len() < most {
        let points: Vec<Datum> = kept.iter().map(|&i| data[i]).collect();
        let Some((position, t)) = worst(&points, &fit)? else {
            break;
        };
        let limit = limit(kept.len());
        removed.push(kept.remove(position));
        if !may_remove(&removed) {
            break;
        }
        if t > limit {
            n_significant = removed.len();
        }
    }
    removed.truncate(n_significant);
    Ok(removed)
}

/// A straight line through points, as [`find_outliers`] wants it.
///
/// *Shape*: three points or more. *Errors*: those of the line.
pub fn line_through(points: &[Datum]) -> Result<Through, YorkError> {
    let line = fit_line(points)?;
    let weight = |d: &Datum| 1.0 / (d.u_y.powi(2) + (line.slope * d.u_x).powi(2));
    let sum_w: f64 = points.iter().map(weight).sum();
    let mean = points.iter().map(|d| weight(d) * d.x).sum::<f64>() / sum_w;
    let spread: f64 = points
        .iter()
        .map(|d| weight(d) * (d.x - mean).powi(2))
        .sum();
    let of_point = |d: &Datum| {
        let w = weight(d);
        let square = w * (d.y - line.intercept - line.slope * d.x).powi(2);
        (square, w * (1.0 / sum_w + (d.x - mean).powi(2) / spread))
    };
    Ok(Through {
        chi_square: line.chi_square,
        points: points.iter().map(of_point).collect(),
    })
}

/// Bonferroni limit for the worst of `n` externally studentised residuals.
fn limit(n: usize) -> f64 {
    let dof = n as f64 - 3.0;
    let tail = 1.0 - SIGNIFICANCE / (2.0 * n as f64);
    StudentsT::new(0.0, 1.0, dof).map_or(f64::INFINITY, |t| t.inverse_cdf(tail))
}

/// The point with the greatest externally studentised residual, as its position.
fn worst(
    points: &[Datum],
    fit: &impl Fn(&[Datum]) -> Result<Through, YorkError>,
) -> Result<Option<(usize, f64)>, YorkError> {
    let dof = points.len() as f64 - 3.0;
    if dof < 1.0 {
        return Ok(None);
    }
    let through = fit(points)?;
    let mut worst = None;
    for (position, (square, leverage)) in through.points.iter().enumerate() {
        let mut own = square / (1.0 - leverage).max(1e-12);
        if own > MOST_OF_ALL * through.chi_square {
            let mut rest = points.to_vec();
            rest.remove(position);
            own = through.chi_square - fit(&rest)?.chi_square;
        }
        let others = (through.chi_square - own).max(0.0);
        let believed = believed_dof(others, dof);
        let held_up = (believed + others) / (believed + dof);
        let scale = held_up.max(others / dof).max(LEAST_FACTOR);
        let t = (own.max(0.0) / scale).sqrt();
        if worst.is_none_or(|(_, most)| t > most) {
            worst = Some((position, t));
        }
    }
    Ok(worst)
}

/// Where one point makes more than this share of the sum of squares, the rest is fitted for itself: weights depend
/// on the slope, the short cut through the leverage then overshoots, and several points would tie at "all of it".
/// At 0.8 at most one point a call is fitted again as long as the short cut holds.
const MOST_OF_ALL: f64 = 0.8;

#[cfg(test)]
mod tests;
