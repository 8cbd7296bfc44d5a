//! Examples H.1 to H.3 of JCGM 100:2008 against the budget, the propagation and the line.
//!
//! Tolerances: half a unit in the last printed digit of the guide, widened to one unit where the
//! guide itself goes on from rounded intermediate values; said beside each.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use tipcurve::analysis::fit::line::{Scatter, fit_line};
use tipcurve::estimate::Estimate;
use tipcurve::estimate::budget::{Budget, BudgetRow, Evaluation, RowCorrelation, coverage_factor};
use tipcurve::estimate::propagate::propagate;
use tipcurve_tests::check_file::CheckFile;

fn row(code: &str, value: f64, u: f64, sensitivity: f64, dof: f64) -> BudgetRow {
    BudgetRow {
        code: code.to_owned(),
        value,
        u,
        unit: String::new(),
        sensitivity,
        evaluation: Evaluation::B,
        dof: dof.is_finite().then_some(dof),
        is_common: false,
    }
}

fn budget(value: f64, rows: Vec<BudgetRow>, correlations: Vec<RowCorrelation>) -> Budget {
    Budget {
        measurand: "example".to_owned(),
        unit: String::new(),
        value,
        rows,
        correlations,
    }
}

#[track_caller]
fn check(found: f64, printed: f64, tolerance: f64) {
    assert!(
        (found - printed).abs() <= tolerance,
        "found {found}, printed {printed}"
    );
}

#[test]
fn h1_end_gauge_has_the_printed_combined_and_expanded_uncertainty() {
    let file = CheckFile::read("gum_h1.csv");
    let rows: Vec<BudgetRow> = file
        .rows_where("kind", "input")
        .map(|r| {
            row(
                r.text("name"),
                r.number("value"),
                r.number("u"),
                r.number("sensitivity"),
                r.number("dof"),
            )
        })
        .collect();
    assert_eq!(rows.len(), 9);
    let length = rows[0].value + rows[1].value;
    let budget = budget(length, rows, vec![]);
    check(length, file.named("length_nm"), 0.5);
    check(budget.u_combined(), file.named("u_nm"), 0.5);
    check(
        budget.effective_dof().floor(),
        file.named("effective_dof"),
        0.0,
    );
    check(
        coverage_factor(0.99, budget.effective_dof().floor()),
        file.named("coverage_factor_99"),
        0.005,
    );
    // The guide multiplies the rounded 32 nm by 2.92; from 31.7 nm the product is 92.5 nm.
    check(budget.expanded(0.99), file.named("expanded_99_nm"), 1.0);
}

/// Means, standard uncertainties of the means, and correlation coefficients of three columns.
fn statistics(columns: &[Vec<f64>; 3]) -> ([f64; 3], [f64; 3], [f64; 3]) {
    let n = columns[0].len() as f64;
    let mean = [0, 1, 2].map(|c| columns[c].iter().sum::<f64>() / n);
    let covariance = |a: usize, b: usize| {
        let pairs = columns[a].iter().zip(&columns[b]);
        pairs
            .map(|(x, y)| (x - mean[a]) * (y - mean[b]))
            .sum::<f64>()
            / (n * (n - 1.0))
    };
    let u = [0, 1, 2].map(|c| covariance(c, c).sqrt());
    let r = [(0, 1), (0, 2), (1, 2)].map(|(a, b)| covariance(a, b) / (u[a] * u[b]));
    (mean, u, r)
}

#[test]
fn h2_correlated_inputs_give_the_printed_resistance_reactance_and_impedance() {
    let file = CheckFile::read("gum_h2.csv");
    let column = |name: &str| {
        file.rows_where("kind", "data")
            .map(|r| r.number(name))
            .collect()
    };
    let columns: [Vec<f64>; 3] = [column("v_v"), column("i_a"), column("phi_rad")];
    let (mean, u, r) = statistics(&columns);
    for (found, name, digit) in [
        (mean[0], "v_v", 5e-5),
        (mean[1], "i_a", 5e-8),
        (mean[2], "phi_rad", 5e-6),
        (u[0], "u_v_v", 5e-5),
        (u[1], "u_i_a", 5e-8),
        (u[2], "u_phi_rad", 5e-6),
        (r[0], "r_v_i", 5e-3),
        (r[1], "r_v_phi", 5e-3),
        (r[2], "r_i_phi", 5e-3),
    ] {
        check(found, file.named(name), digit);
    }
    let correlations: Vec<RowCorrelation> = [(0, 1), (0, 2), (1, 2)]
        .iter()
        .zip(r)
        .map(|(rows, r)| RowCorrelation { rows: *rows, r })
        .collect();
    let [v, i, phi] = mean;
    // Value, its factor on voltage over current, and its sensitivity to the phase angle.
    let cases = [
        (
            "resistance_ohm",
            v / i * phi.cos(),
            phi.cos(),
            -v / i * phi.sin(),
        ),
        (
            "reactance_ohm",
            v / i * phi.sin(),
            phi.sin(),
            v / i * phi.cos(),
        ),
        ("impedance_ohm", v / i, 1.0, 0.0),
    ];
    for (name, value, factor, to_phi) in cases {
        let rows = vec![
            row("voltage", v, u[0], factor / i, 4.0),
            row("current", i, u[1], -v / (i * i) * factor, 4.0),
            row("phase", phi, u[2], to_phi, 4.0),
        ];
        let result = budget(value, rows, correlations.clone());
        check(result.value, file.named(name), 5e-4);
        // The guide goes on from rounded inputs and correlations: one unit of its last digit.
        check(result.u_combined(), file.named(&format!("u_{name}")), 1e-3);
    }
}

/// Without the correlations the guide's approach is a plain propagation: budget and `propagate`
/// must agree with each other to the curvature that finite steps see.
#[test]
fn propagation_agrees_with_the_budget_when_inputs_are_uncorrelated() {
    let inputs = [
        Estimate::new(4.999, 0.0032, 0.0),
        Estimate::new(0.019_661, 9.5e-6, 0.0),
        Estimate::new(1.044_46, 0.000_75, 0.0),
    ];
    let found = propagate(&inputs, |[v, i, phi]| v / i * phi.cos()).unwrap();
    let [v, i, phi] = inputs.map(|e| e.value);
    let rows = vec![
        row("voltage", v, 0.0032, phi.cos() / i, f64::INFINITY),
        row(
            "current",
            i,
            9.5e-6,
            -v / (i * i) * phi.cos(),
            f64::INFINITY,
        ),
        row("phase", phi, 0.000_75, -v / i * phi.sin(), f64::INFINITY),
    ];
    let expected = budget(v / i * phi.cos(), rows, vec![]);
    check(found.value, expected.value, 1e-12);
    check(found.u_independent / expected.u_combined(), 1.0, 1e-6);
}

#[test]
fn h3_thermometer_line_has_the_printed_parameters_and_prediction() {
    let file = CheckFile::read("gum_h3.csv");
    let column = |name: &str| -> Vec<f64> {
        file.rows_where("kind", "data")
            .map(|r| r.number(name))
            .collect()
    };
    let (t, b) = (column("t_c"), column("b_c"));
    assert_eq!(t.len(), 11);
    let unit = vec![1.0; t.len()];
    let line = fit_line(&t, &b, &unit, 20.0, Scatter::FromResiduals).unwrap();
    check(line.at_x0, file.named("at_t0"), 5e-5);
    check(line.u_at_x0, file.named("u_at_t0"), 5e-5);
    check(line.slope, file.named("slope"), 5e-6);
    check(line.u_slope, file.named("u_slope"), 5e-6);
    check(
        line.covariance / (line.u_at_x0 * line.u_slope),
        file.named("r"),
        5e-4,
    );
    check(
        line.reduced_chi_square.unwrap().sqrt(),
        file.named("residual_s"),
        5e-5,
    );
    assert_eq!(line.dof, Some(9.0));
    let at_30 = line.at(30.0);
    check(at_30.value, file.named("b_at_30"), 5e-5);
    check(at_30.u_independent, file.named("u_b_at_30"), 5e-5);
}
