//! `x = a y + b y^2` (linear plus quadratic, neither negative) through points uncertain in both
//! coordinates.
//!
//! In: the same points as [`super::power_law`]. Out: `a` and `b` with the covariance of each part. The fit
//! is made on logarithms, as orthogonal distance regression: each point has a latent true ordinate, found
//! by an inner iteration, so that both coordinates' uncertainties count. The sum is written
//! `x / x_ref = e^c ((1 - s) z + s z^2)` with `z = y / y_ref`: `s` is the quadratic share at the
//! reference and stays in 0 to 1, which is the constraint `a, b >= 0`. A fit that ends at either bound
//! says so. Checked against `scipy.odr` in `tests/reference/`.
//!
//! | symbol | meaning |
//! | --- | --- |
//! | `c` | logarithm of the sum at the reference |
//! | `s` | share of the quadratic term at the reference |
//! | `t` | logarithm of a latent `z` |
//! | `slope` | derivative of `ln x` by `ln y` at a point, 1 to 2 |

use super::outliers::Through;
use super::power_law::{
    CommonParts, Covariance2, Observation, PowerLawError, offset_effect, on_logarithms, shift_x,
    shift_y, with_extra,
};
use super::scatter::{Misfit, Scatter, settle};
use super::york::{Datum, YorkError};

/// Which constraint holds the fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// No linear part: `a = 0`.
    NoLinear,
    /// No quadratic part: `b = 0`.
    NoQuadratic,
}

/// A fitted two-term form. First parameter `a`, second `b`, in the units of the points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoTermFit {
    /// Linear coefficient, not negative.
    pub a: f64,
    /// Quadratic coefficient, not negative.
    pub b: f64,
    /// Covariance of `(a, b)` from noise, scaled by the scatter.
    pub independent: Covariance2,
    /// Covariance of `(a, b)` from the common parts.
    pub common: Covariance2,
    /// What the scatter says.
    pub scatter: Scatter,
    /// Set when a coefficient is held at zero.
    pub bound: Option<Bound>,
}

/// Reference of the scaled form.
#[derive(Clone, Copy)]
struct Reference {
    x: f64,
    ln_y: f64,
}

/// Solution on logarithms.
#[derive(Clone, Copy)]
struct Solution {
    c: f64,
    s: f64,
    sums: Sums,
}

/// Most outer iterations.
const MAX_ITERATIONS: usize = 200;

/// A move of the logarithm or of the share below this changes nothing that is left of them.
const SETTLED: f64 = 1e-13;

/// Fit the two-term form.
///
/// *Shape*, *Errors*: those of [`super::power_law::fit_power_law`]. *Cost*: linear in the points.
pub fn fit_two_term(
    points: &[Observation],
    common: &CommonParts,
) -> Result<TwoTermFit, PowerLawError> {
    if points.len() < 3 {
        return Err(PowerLawError::TooFew { n: points.len() });
    }
    let n = points.len() as f64;
    let x_ref = (points.iter().map(|p| p.x.ln()).sum::<f64>() / n).exp();
    let data = on_logarithms(points, x_ref)?;
    let reference = Reference {
        x: x_ref,
        ln_y: data.iter().map(|d| d.y / n).sum(),
    };
    let centred = centre(&data, reference.ln_y);
    // Ends as the solution at the scatter that is settled on.
    let mut best = solve(&centred)?;
    let scatter = settle(n - 2.0, |extra| {
        if extra != 0.0 {
            best = solve(&with_extra(&centred, extra))?;
        }
        Ok::<_, YorkError>(Misfit {
            chi_square: best.sums.chi_square,
            descent: best.sums.descent,
            stated_variance: best.sums.mean_variance - extra,
        })
    })?;
    let weighted = with_extra(&centred, scatter.between_variance);
    let (a, b) = coefficients(best.c, best.s, reference);
    Ok(TwoTermFit {
        a,
        b,
        independent: independent_covariance(&best, reference)?.scaled(scatter.factor),
        common: common_covariance(&weighted, (a, b), reference, common),
        scatter,
        bound: bound_of(best.s),
    })
}

fn centre(data: &[Datum], ln_y: f64) -> Vec<Datum> {
    data.iter()
        .map(|d| Datum {
            y: d.y - ln_y,
            ..*d
        })
        .collect()
}

/// The form through points on logarithms, as [`super::outliers::find_outliers`] wants it.
///
/// *Shape*: three points or more. *Errors*: those of the fit.
pub fn two_term_through(points: &[Datum]) -> Result<Through, YorkError> {
    let n = points.len() as f64;
    let centred = centre(points, points.iter().map(|d| d.y / n).sum());
    let best = solve(&centred)?;
    let [cc, ss, cs] = best.sums.information;
    let determinant = cc * ss - cs * cs;
    let of_point = |d: &Datum| {
        let p = project(d, best.c, best.s);
        let w = 1.0 / p.variance;
        // Held at a bound, the share takes no part in the fit.
        let leverage = if bound_of(best.s).is_some() {
            p.by_c * p.by_c / cc
        } else {
            (ss * p.by_c * p.by_c - 2.0 * cs * p.by_c * p.by_s + cc * p.by_s * p.by_s) / determinant
        };
        (w * p.residual.powi(2), w * leverage)
    };
    Ok(Through {
        chi_square: best.sums.chi_square,
        points: centred.iter().map(of_point).collect(),
    })
}

fn bound_of(s: f64) -> Option<Bound> {
    if s >= 1.0 {
        Some(Bound::NoLinear)
    } else if s <= 0.0 {
        Some(Bound::NoQuadratic)
    } else {
        None
    }
}

/// Log of the sum at `t`, and its derivatives by `t` and by `s`.
fn form(s: f64, t: f64) -> (f64, f64, f64) {
    let z = t.exp();
    let mix = (1.0 - s) + s * z;
    (t + mix.ln(), 1.0 + s * z / mix, (z - 1.0) / mix)
}

/// One point at its latent ordinate.
struct Projected {
    /// Residual carried to the ordinate's scale, so that scatter means the same as for the power law.
    residual: f64,
    variance: f64,
    by_c: f64,
    by_s: f64,
}

fn project(d: &Datum, c: f64, s: f64) -> Projected {
    let (vx, vy) = (d.u_x * d.u_x, d.u_y * d.u_y);
    let mut t = d.y;
    let mut last_move = f64::INFINITY;
    loop {
        let (value, slope, by_s) = form(s, t);
        let residual = (d.x - c - value) / slope - (d.y - t);
        let variance = vy + vx / (slope * slope);
        let next = d.y + vy * residual / variance;
        let now_move = (next - t).abs();
        // Settled, or moving by rounding only; a move that is not a number ends it too.
        let is_moving = now_move > 1e-15 && now_move < last_move;
        if !is_moving {
            return Projected {
                residual,
                variance,
                by_c: 1.0 / slope,
                by_s: by_s / slope,
            };
        }
        last_move = now_move;
        t = next;
    }
}

/// Sums over the points at `(c, s)`.
#[derive(Default, Clone, Copy)]
struct Sums {
    chi_square: f64,
    descent: f64,
    mean_variance: f64,
    gradient: [f64; 2],
    /// `cc`, `ss`, `cs`.
    information: [f64; 3],
}

fn sums(data: &[Datum], c: f64, s: f64) -> Sums {
    let mut out = Sums::default();
    for d in data {
        let p = project(d, c, s);
        let w = 1.0 / p.variance;
        out.chi_square += w * p.residual.powi(2);
        out.descent += (w * p.residual).powi(2);
        out.mean_variance += p.variance / data.len() as f64;
        out.gradient[0] += w * p.by_c * p.residual;
        out.gradient[1] += w * p.by_s * p.residual;
        out.information[0] += w * p.by_c * p.by_c;
        out.information[1] += w * p.by_s * p.by_s;
        out.information[2] += w * p.by_c * p.by_s;
    }
    out
}

/// Gauss-Newton with the share clamped to 0 to 1 and the step halved until chi-square does not grow or
/// nothing moves.
fn solve(data: &[Datum]) -> Result<Solution, YorkError> {
    let is_finite = |d: &Datum| d.x.is_finite() && d.y.is_finite();
    if let Some(index) = data.iter().position(|d| !is_finite(d)) {
        return Err(YorkError::NotFinite { index });
    }
    let mut s = 0.5;
    let n = data.len() as f64;
    let mut c = data.iter().map(|d| (d.x - form(s, d.y).0) / n).sum::<f64>();
    let mut now = sums(data, c, s);
    for _ in 0..MAX_ITERATIONS {
        let (dc, ds) = step(&now, s)?;
        let Some((c_new, s_new, next)) = descend(data, (c, s), (dc, ds), now.chi_square) else {
            return Ok(Solution { c, s, sums: now });
        };
        let moved = (c_new - c).abs().max((s_new - s).abs());
        (c, s, now) = (c_new, s_new, next);
        if moved <= SETTLED {
            return Ok(Solution { c, s, sums: now });
        }
    }
    Err(YorkError::NotConverged {
        n_iterations: MAX_ITERATIONS,
    })
}

/// The Gauss-Newton step, held inside the constraint.
fn step(at: &Sums, s: f64) -> Result<(f64, f64), YorkError> {
    let [cc, ss, cs] = at.information;
    let [gc, gs] = at.gradient;
    let determinant = cc * ss - cs * cs;
    if !determinant.is_finite() || determinant <= 1e-14 * cc * ss {
        return Err(YorkError::NoSpread);
    }
    let free = (cc * gs - cs * gc) / determinant;
    let ds = (s + free).clamp(0.0, 1.0) - s;
    let dc = (gc - cs * ds) / cc;
    if !dc.is_finite() {
        return Err(YorkError::NoSpread);
    }
    Ok((dc, ds))
}

fn descend(
    data: &[Datum],
    (c, s): (f64, f64),
    (dc, ds): (f64, f64),
    chi_square: f64,
) -> Option<(f64, f64, Sums)> {
    let mut fraction = 1.0;
    // At the minimum, rounding alone makes the sum grow: halving on would find nothing, slowly.
    while fraction == 1.0 || fraction * dc.abs().max(ds.abs()) > SETTLED {
        let (c_new, s_new) = (c + fraction * dc, (s + fraction * ds).clamp(0.0, 1.0));
        let next = sums(data, c_new, s_new);
        if next.chi_square <= chi_square {
            return Some((c_new, s_new, next));
        }
        fraction *= 0.5;
    }
    None
}

fn coefficients(c: f64, s: f64, reference: Reference) -> (f64, f64) {
    let sum = reference.x * c.exp();
    let y = reference.ln_y.exp();
    ((1.0 - s) * sum / y, s * sum / (y * y))
}

/// Covariance of `(c, s)` carried to `(a, b)`. At a bound the curvature there stands in for the missing
/// normal shape.
fn independent_covariance(best: &Solution, reference: Reference) -> Result<Covariance2, YorkError> {
    let [cc, ss, cs] = best.sums.information;
    let determinant = cc * ss - cs * cs;
    if determinant <= 0.0 {
        return Err(YorkError::NoSpread);
    }
    let (var_c, var_s, cov) = (ss / determinant, cc / determinant, -cs / determinant);
    let (a, b) = coefficients(best.c, best.s, reference);
    // a and b by c are a and b themselves; by s they are the plain sums, one negative.
    let (all_a, _) = coefficients(best.c, 0.0, reference);
    let (_, all_b) = coefficients(best.c, 1.0, reference);
    let of = |g: [f64; 2], h: [f64; 2]| {
        g[0] * h[0] * var_c + g[1] * h[1] * var_s + (g[0] * h[1] + g[1] * h[0]) * cov
    };
    let (ga, gb) = ([a, -all_a], [b, all_b]);
    Ok(Covariance2 {
        var_0: of(ga, ga),
        var_1: of(gb, gb),
        cov: of(ga, gb),
    })
}

/// A ratio scales both coefficients; an offset is followed by fitting again with all points shifted.
fn common_covariance(
    data: &[Datum],
    (a, b): (f64, f64),
    reference: Reference,
    common: &CommonParts,
) -> Covariance2 {
    let y_ref = reference.ln_y.exp();
    let effect = |u: f64, moved: &dyn Fn(&Datum, f64) -> Datum| {
        offset_effect(data, u, moved, |d| {
            solve(d).map(|best| coefficients(best.c, best.s, reference))
        })
    };
    let (x0, x1) = effect(common.u_x_offset / reference.x, &shift_x);
    let (y0, y1) = effect(common.u_y_offset / y_ref, &shift_y);
    Covariance2::default()
        .plus_source(a * common.u_x_ratio, b * common.u_x_ratio)
        .plus_source(a * common.u_y_ratio, 2.0 * b * common.u_y_ratio)
        .plus_source(x0, x1)
        .plus_source(y0, y1)
}

#[cfg(test)]
mod tests;
