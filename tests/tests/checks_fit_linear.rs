//! Certified linear regressions (NIST StRD, linear least squares; `checks/nist_*.csv`).
//!
//! `norris` goes through our own line with no uncertainty in the abscissa; the others check the orthogonal
//! factorisation that weighted fits here rely on (`nalgebra`). Digits asked for: the 16 of a double, less
//! those of the condition number of the column-scaled design, less about one in hand: 13 through the origin,
//! 11 for a line, 10 for a quadratic, 10 for `longley` (nearly collinear), 9 for the exact and 7.5 for the noisy
//! fifth-degree polynomials of `wampler`, whose coefficients are small against their noise.

// Unwrapping is how a test fails.
#![allow(clippy::unwrap_used)]

mod nist;

use nalgebra::{DMatrix, DVector};
use nist::{DataSet, assert_digits};
use tipcurve::analysis::fit::york::{Datum, fit_line};

struct Solution {
    b: Vec<f64>,
    sd: Vec<f64>,
    rss: f64,
    residual_sd: f64,
}

/// Least squares by QR of the column-scaled design, once refined.
fn solve(design: &[Vec<f64>], y: &[f64]) -> Solution {
    let (n, k) = (design.len(), design[0].len());
    let a = DMatrix::from_fn(n, k, |i, j| design[i][j]);
    let y = DVector::from_column_slice(y);
    let scales: Vec<f64> = a.column_iter().map(|c| c.norm()).collect();
    let scaled = DMatrix::from_fn(n, k, |i, j| a[(i, j)] / scales[j]);
    let qr = scaled.clone().qr();
    let (q, r) = (qr.q(), qr.r());
    let project = |v: &DVector<f64>| r.solve_upper_triangular(&(q.transpose() * v)).unwrap();
    let mut c = project(&y);
    c += project(&(&y - &scaled * &c));
    let residual = &y - &scaled * &c;
    let rss = residual.norm_squared();
    let residual_sd = (rss / (n - k) as f64).sqrt();
    let inverse = r.solve_upper_triangular(&DMatrix::identity(k, k)).unwrap();
    Solution {
        b: (0..k).map(|j| c[j] / scales[j]).collect(),
        sd: (0..k)
            .map(|j| residual_sd * inverse.row(j).norm() / scales[j])
            .collect(),
        rss,
        residual_sd,
    }
}

#[track_caller]
fn check(name: &str, row: fn(&[f64]) -> Vec<f64>, needed: f64) {
    let set = DataSet::read(name);
    let design: Vec<Vec<f64>> = set.x.iter().map(|x| row(x)).collect();
    let found = solve(&design, &set.y);
    let certified = set.parameters();
    assert_eq!(certified.len(), found.b.len(), "{name}");
    for (j, (b, sd)) in certified.iter().enumerate() {
        assert_digits(&format!("{name} b{j}"), found.b[j], *b, needed);
        assert_digits(&format!("{name} b{j} sd"), found.sd[j], *sd, needed);
    }
    assert_digits(
        name,
        found.rss,
        set.certified["residual_sum_of_squares"],
        needed,
    );
    let residual_sd = set.certified["residual_standard_deviation"];
    assert_digits(name, found.residual_sd, residual_sd, needed);
    // Not certified for a fit through the origin.
    if let Some(certified) = set.certified.get("r_squared") {
        assert_digits(name, r_squared(&set.y, found.rss), *certified, needed);
    }
}

/// Share of the variance about the mean that the fit explains.
fn r_squared(y: &[f64], rss: f64) -> f64 {
    let mean = y.iter().sum::<f64>() / y.len() as f64;
    1.0 - rss / y.iter().map(|y| (y - mean).powi(2)).sum::<f64>()
}

fn polynomial(degree: i32, x: f64) -> Vec<f64> {
    (0..=degree).map(|i| x.powi(i)).collect()
}

/// NIST StRD `Norris`, a calibration of ozone monitors, through [`fit_line`].
#[test]
fn norris_through_our_own_line() {
    let set = DataSet::read("norris");
    let data: Vec<Datum> = set
        .y
        .iter()
        .zip(&set.x)
        .map(|(&y, x)| Datum {
            x: x[0],
            y,
            u_x: 0.0,
            u_y: 1.0,
            r: 0.0,
        })
        .collect();
    let line = fit_line(&data).unwrap();
    let sd = (line.chi_square / set.certified["degrees_of_freedom"]).sqrt();
    let [(b0, sd0), (b1, sd1)] = set.parameters()[..] else {
        panic!("two parameters are certified");
    };
    assert_digits("b0", line.intercept, b0, 11.0);
    assert_digits("b1", line.slope, b1, 12.0);
    assert_digits("sd b0", line.u_intercept * sd, sd0, 11.0);
    assert_digits("sd b1", line.u_slope * sd, sd1, 11.0);
    assert_digits("sd", sd, set.certified["residual_standard_deviation"], 11.0);
    assert_digits(
        "r squared",
        r_squared(&set.y, line.chi_square),
        set.certified["r_squared"],
        12.0,
    );
}

/// NIST StRD `Norris`, by the factorisation.
#[test]
fn norris_a_line() {
    check("norris", |x| polynomial(1, x[0]), 11.0);
}

/// NIST StRD `Pontius`, load cell calibration: a quadratic.
#[test]
fn pontius_a_quadratic() {
    check("pontius", |x| polynomial(2, x[0]), 10.0);
}

/// NIST StRD `NoInt1`: a line through the origin.
#[test]
fn noint1_through_the_origin() {
    check("noint1", |x| vec![x[0]], 13.0);
}

/// NIST StRD `Longley`: six nearly collinear columns.
#[test]
fn longley_nearly_collinear() {
    check(
        "longley",
        |x| std::iter::once(1.0).chain(x.iter().copied()).collect(),
        10.0,
    );
}

/// NIST StRD `Wampler1`: an exact fifth-degree polynomial.
#[test]
fn wampler1_an_exact_polynomial() {
    check_wampler("wampler1");
}

/// NIST StRD `Wampler2`: as `Wampler1` with falling coefficients.
#[test]
fn wampler2_an_exact_polynomial_with_small_coefficients() {
    check_wampler("wampler2");
}

/// NIST StRD `Wampler4`: the polynomial of `Wampler1` under heavy noise.
#[test]
fn wampler4_a_noisy_polynomial() {
    check("wampler4", |x| polynomial(5, x[0]), 7.5);
}

/// Exact data: deviations are certified as zero, and what is left must be rounding of the ordinates alone.
#[track_caller]
fn check_wampler(name: &str) {
    let set = DataSet::read(name);
    let design: Vec<Vec<f64>> = set.x.iter().map(|x| polynomial(5, x[0])).collect();
    let found = solve(&design, &set.y);
    for (j, (b, _)) in set.parameters().iter().enumerate() {
        assert_digits(&format!("{name} b{j}"), found.b[j], *b, 9.0);
    }
    let largest = set.y.iter().fold(0.0f64, |m, y| m.max(y.abs()));
    assert!(
        found.residual_sd < 1e-14 * largest,
        "{name}: {}",
        found.residual_sd
    );
}
