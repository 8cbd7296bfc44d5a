//! Certified nonlinear regressions (NIST StRD, nonlinear least squares; `checks/nist_*.csv`).
//!
//! They check the least-squares solver that this workspace relies on (`levenberg-marquardt`) with our
//! models' shapes: `danwood` is a power law, the shape of a nozzle curve. Jacobians are analytic, so that
//! what is lost is the solver's loss. Certified values carry 11 digits; at a minimum a sum of squares is flat
//! to its own rounding, and parameters are then met to about half of the 16 digits plus
//! what the conditioning of the problem leaves: 7 digits of each parameter are asked for, 6 where the
//! standard deviation of a parameter exceeds half its value (`nelson` b2, `mgh09`), and 6 of its standard deviation. Sums of squares keep 10.

// Unwrapping is how a test fails.
#![allow(clippy::unwrap_used)]

mod nist;

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, Owned};
use nist::{DataSet, assert_digits};

/// A model: value and derivatives by its parameters at one row.
type Model = fn(b: &[f64], x: &[f64]) -> (f64, Vec<f64>);

struct Problem<'a> {
    set: &'a DataSet,
    y: DVector<f64>,
    model: Model,
    b: DVector<f64>,
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ParameterStorage = Owned<f64, Dyn>;
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;

    fn set_params(&mut self, b: &DVector<f64>) {
        self.b.copy_from(b);
    }

    fn params(&self) -> DVector<f64> {
        self.b.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let fitted = self
            .set
            .x
            .iter()
            .map(|x| (self.model)(self.b.as_slice(), x).0);
        Some(DVector::from_iterator(self.set.x.len(), fitted) - &self.y)
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let rows = self
            .set
            .x
            .iter()
            .map(|x| (self.model)(self.b.as_slice(), x).1);
        let flat: Vec<f64> = rows.flatten().collect();
        Some(DMatrix::from_row_slice(
            self.set.x.len(),
            self.b.len(),
            &flat,
        ))
    }
}

/// Both published starts, every parameter with its standard deviation, and the residual sum of squares.
#[track_caller]
fn check(name: &str, model: Model, map_y: fn(f64) -> f64, parameter_digits: f64) {
    let set = DataSet::read(name);
    let certified = set.parameters();
    for (which, start) in set.starts.iter().enumerate() {
        let problem = Problem {
            y: DVector::from_iterator(set.y.len(), set.y.iter().map(|y| map_y(*y))),
            model,
            b: DVector::from_column_slice(start),
            set: &set,
        };
        let solver = LevenbergMarquardt::new().with_patience(2000);
        let (solved, report) = solver.minimize(problem);
        let label = |part: &str| format!("{name} start {} {part}", which + 1);
        let residuals = solved.residuals().unwrap();
        let rss = residuals.norm_squared();
        assert_digits(
            &label("sum of squares"),
            rss,
            set.certified["residual_sum_of_squares"],
            10.0,
        );
        let dof = set.certified["degrees_of_freedom"];
        assert_eq!(
            dof,
            (set.y.len() - certified.len()) as f64,
            "{}",
            label("freedom")
        );
        let sd = (rss / dof).sqrt();
        let certified_sd = set.certified["residual_standard_deviation"];
        assert_digits(
            &label("residual standard deviation"),
            sd,
            certified_sd,
            10.0,
        );
        let spread = parameter_sds(&solved.jacobian().unwrap(), sd);
        for (i, (value, value_sd)) in certified.iter().enumerate() {
            let b = format!("b{} ({:?})", i + 1, report.termination);
            assert_digits(&label(&b), solved.b[i], *value, parameter_digits);
            assert_digits(&label(&format!("{b} sd")), spread[i], *value_sd, 6.0);
        }
    }
}

/// From the singular values of the column-scaled Jacobian: forming the normal matrix would halve the digits.
fn parameter_sds(jacobian: &DMatrix<f64>, sd: f64) -> Vec<f64> {
    let scales: Vec<f64> = jacobian.column_iter().map(|c| c.norm()).collect();
    let mut scaled = jacobian.clone();
    for (mut column, scale) in scaled.column_iter_mut().zip(&scales) {
        column /= *scale;
    }
    let svd = scaled.svd(false, true);
    let v_t = svd.v_t.unwrap();
    (0..scales.len())
        .map(|j| {
            let terms = v_t
                .column(j)
                .iter()
                .zip(svd.singular_values.iter())
                .map(|(v, s)| (v / s).powi(2))
                .sum::<f64>();
            sd * terms.sqrt() / scales[j]
        })
        .collect()
}

fn same(y: f64) -> f64 {
    y
}

/// NIST StRD `DanWood`: `y = b1 x^b2`. Daniel and Wood (1980).
#[test]
fn danwood_a_power_law() {
    check(
        "danwood",
        |b, x| {
            let p = x[0].powf(b[1]);
            (b[0] * p, vec![p, b[0] * p * x[0].ln()])
        },
        same,
        7.0,
    );
}

/// NIST StRD `Misra1a`: `y = b1 (1 - exp(-b2 x))`.
#[test]
fn misra1a_an_exponential_rise() {
    check(
        "misra1a",
        |b, x| {
            let e = (-b[1] * x[0]).exp();
            (b[0] * (1.0 - e), vec![1.0 - e, b[0] * x[0] * e])
        },
        same,
        7.0,
    );
}

/// NIST StRD `Misra1c`: `y = b1 (1 - (1 + 2 b2 x)^-1/2)`.
#[test]
fn misra1c_an_inverse_root() {
    check(
        "misra1c",
        |b, x| {
            let u = 1.0 + 2.0 * b[1] * x[0];
            let r = u.powf(-0.5);
            (b[0] * (1.0 - r), vec![1.0 - r, b[0] * x[0] * r / u])
        },
        same,
        7.0,
    );
}

/// NIST StRD `Chwirut2`: `y = exp(-b1 x) / (b2 + b3 x)`.
#[test]
fn chwirut2_a_decay_over_a_line() {
    check(
        "chwirut2",
        |b, x| {
            let (e, d) = ((-b[0] * x[0]).exp(), b[1] + b[2] * x[0]);
            let f = e / d;
            (f, vec![-x[0] * f, -f / d, -x[0] * f / d])
        },
        same,
        7.0,
    );
}

fn rational(b: &[f64], x: f64, n_up: usize) -> (f64, Vec<f64>) {
    let powers: Vec<f64> = std::iter::successors(Some(1.0), |p| Some(p * x))
        .take(b.len())
        .collect();
    let sum = |b: &[f64], p: &[f64]| b.iter().zip(p).map(|(b, p)| b * p).sum::<f64>();
    let down = 1.0 + sum(&b[n_up..], &powers[1..]);
    let f = sum(&b[..n_up], &powers) / down;
    let by_up = powers[..n_up].iter().map(|p| p / down);
    let by_down = powers[1..=b.len() - n_up].iter().map(|p| -f * p / down);
    (f, by_up.chain(by_down).collect())
}

/// NIST StRD `Hahn1`: cubic over cubic.
#[test]
fn hahn1_a_cubic_over_a_cubic() {
    check("hahn1", |b, x| rational(b, x[0], 4), same, 7.0);
}

/// NIST StRD `Kirby2`: quadratic over quadratic.
#[test]
fn kirby2_a_quadratic_over_a_quadratic() {
    check("kirby2", |b, x| rational(b, x[0], 3), same, 7.0);
}

/// NIST StRD `Nelson`: `ln y = b1 - b2 x1 exp(-b3 x2)`.
#[test]
fn nelson_an_arrhenius_ageing() {
    check(
        "nelson",
        |b, x| {
            let e = (-b[2] * x[1]).exp();
            (
                b[0] - b[1] * x[0] * e,
                vec![1.0, -x[0] * e, b[1] * x[0] * x[1] * e],
            )
        },
        f64::ln,
        6.0,
    );
}

/// NIST StRD `MGH09`: `y = b1 (x^2 + b2 x) / (x^2 + b3 x + b4)`.
#[test]
fn mgh09_a_flat_valley() {
    check(
        "mgh09",
        |b, x| {
            let x = x[0];
            let (up, down) = (x * x + b[1] * x, x * x + b[2] * x + b[3]);
            let f = b[0] * up / down;
            (
                f,
                vec![up / down, b[0] * x / down, -f * x / down, -f / down],
            )
        },
        same,
        6.0,
    );
}
