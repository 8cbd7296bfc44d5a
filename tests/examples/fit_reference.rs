//! Writes inputs and results of the fitting routines as JSON, for `tests/reference/check_fit.py`.
//!
//! Usage: `cargo run -p tipcurve-tests --example fit_reference -- out.json`

use serde_json::{Value, json};
use tipcurve::analysis::fit::lack_of_fit::{Residual, test_lack_of_fit};
use tipcurve::analysis::fit::logit::{
    Cell, ScaleBelief, estimate_threshold, log_likelihood, penalised_profile,
};
use tipcurve::analysis::fit::moderate::moderate_variances;
use tipcurve::analysis::fit::moments::{lag_1_autocorrelation, mean, standard_deviation};
use tipcurve::analysis::fit::monotone::{Direction, fit_monotone};
use tipcurve::analysis::fit::power_law::{CommonParts, Covariance2, Observation, fit_power_law};
use tipcurve::analysis::fit::scatter::PRIOR_DOF;
use tipcurve::analysis::fit::two_term::fit_two_term;
use tipcurve::analysis::fit::york::{Datum, fit_line};
use tipcurve::estimate::coverage_factor_95;

type Outcome<T> = Result<T, Box<dyn std::error::Error>>;

fn main() -> Outcome<()> {
    let path = std::env::args()
        .nth(1)
        .ok_or("usage: fit_reference OUT.json")?;
    let all = json!({
        "york": york()?,
        "curves": curves()?,
        "moderate": moderate(),
        "logit": logit()?,
        "monotone": monotone()?,
        "lack_of_fit": lack_of_fit(),
        "coverage_factors": coverage_factors(),
        "moments": moments(),
    });
    std::fs::write(path, serde_json::to_string_pretty(&all)?)?;
    Ok(())
}

fn york() -> Outcome<Value> {
    // Pearson (1901) with the weights of York (1966).
    let x = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4];
    let y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5];
    let wx = [
        1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0,
    ];
    let wy = [1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0];
    let mut cases = Vec::new();
    for r in [0.0, 0.6, -0.4] {
        let data: Vec<Datum> = (0..x.len())
            .map(|i| Datum {
                x: x[i],
                y: y[i],
                u_x: f64::powf(wx[i], -0.5),
                u_y: f64::powf(wy[i], -0.5),
                r,
            })
            .collect();
        let line = fit_line(&data)?;
        cases.push(json!({
            "x": x, "y": y, "r": r,
            "u_x": data.iter().map(|d| d.u_x).collect::<Vec<_>>(),
            "u_y": data.iter().map(|d| d.u_y).collect::<Vec<_>>(),
            "intercept": line.intercept, "slope": line.slope, "u_intercept": line.u_intercept,
            "u_slope": line.u_slope, "cov": line.cov, "chi_square": line.chi_square,
        }));
    }
    Ok(json!(cases))
}

/// Invented points about a curve; `noise` times the stated uncertainty.
fn observations(noise: f64) -> Vec<Observation> {
    let x = [51.4, 52.1, 76.7, 76.4, 113.3, 113.7, 139.3, 140.2, 95.0];
    let wobble_x = [0.3, -1.1, 0.8, 0.2, -0.6, 1.3, -0.9, 0.1, 0.5];
    let wobble_y = [-0.7, 0.4, 1.2, -0.3, 0.9, -1.0, 0.2, -0.5, -1.3];
    (0..x.len())
        .map(|i| {
            let share = f64::from(u8::try_from(i).unwrap_or(0)) / 9.0;
            let (ux, uy) = (0.004 + 0.006 * share, 0.009 - 0.005 * share);
            let (x, y) = (
                x[i] * (1.0 + noise * ux * wobble_x[i]),
                0.14 * x[i].powf(0.56),
            );
            let y = y * (1.0 + noise * uy * wobble_y[i]);
            Observation {
                x,
                y,
                u_x: ux * x,
                u_y: uy * y,
                dof_x: f64::INFINITY,
                dof_y: f64::INFINITY,
            }
        })
        .collect()
}

fn covariance(c: &Covariance2) -> Value {
    json!([c.var_0, c.var_1, c.cov])
}

fn curves() -> Outcome<Value> {
    let mut cases = Vec::new();
    for noise in [0.2, 0.5, 1.0, 4.0] {
        let points = observations(noise);
        let parts = CommonParts {
            u_x_offset: 0.8,
            u_x_ratio: 0.01,
            u_y_offset: 0.004,
            u_y_ratio: 0.015,
        };
        let power = fit_power_law(&points, 90.0, &parts)?;
        let two = fit_two_term(&points, &parts)?;
        let column = |f: fn(&Observation) -> f64| points.iter().map(f).collect::<Vec<_>>();
        cases.push(json!({
            "x": column(|p| p.x), "y": column(|p| p.y), "u_x": column(|p| p.u_x),
            "u_y": column(|p| p.u_y), "x_ref": 90.0, "prior_dof": PRIOR_DOF,
            "common": [parts.u_x_offset, parts.u_x_ratio, parts.u_y_offset, parts.u_y_ratio],
            "power": {
                "ln_y_ref": power.ln_y_ref, "n": power.n,
                "independent": covariance(&power.independent),
                "common": covariance(&power.common),
                "between_variance": power.scatter.between_variance,
                "factor": power.scatter.factor, "dof": power.scatter.dof,
                "reduced_chi_square": power.scatter.reduced_chi_square,
            },
            "two": {
                "a": two.a, "b": two.b, "independent": covariance(&two.independent),
                "common": covariance(&two.common),
                "between_variance": two.scatter.between_variance, "factor": two.scatter.factor,
                "reduced_chi_square": two.scatter.reduced_chi_square,
            },
        }));
    }
    Ok(json!(cases))
}

fn moderate() -> Value {
    let cases = [
        (vec![1.0, 1.3, 0.7, 1.1, 0.9], vec![8.0; 5]),
        (
            vec![1.0, 12.0, 0.1, 3.0, 0.4, 7.0],
            vec![4.0, 9.0, 6.0, 18.0, 5.0, 7.0],
        ),
    ];
    let run = |(variances, dofs): &(Vec<f64>, Vec<f64>)| {
        json!({
            "variances": variances, "dofs": dofs,
            "moderated": moderate_variances(variances, dofs),
        })
    };
    json!(cases.iter().map(run).collect::<Vec<_>>())
}

fn logit() -> Outcome<Value> {
    let belief = ScaleBelief {
        median: 0.0276,
        sd_ln: 0.405,
    };
    let sets: [&[(f64, usize)]; 4] = [
        // Perfectly separated, two categories.
        &[(0.0, 1), (0.1, 1), (0.3, 0), (0.42, 0)],
        // Overlap.
        &[(0.0, 1), (0.1, 1), (0.16, 0), (0.2, 1), (0.3, 0), (0.31, 0)],
        // One contradiction far off.
        &[(0.0, 1), (0.1, 1), (0.2, 0), (0.3, 0), (0.4, 0), (0.35, 1)],
        // Four categories.
        &[
            (0.0, 3),
            (0.05, 3),
            (0.1, 2),
            (0.12, 3),
            (0.2, 1),
            (0.25, 2),
            (0.3, 1),
            (0.36, 0),
            (0.33, 0),
            (0.45, 0),
            (0.28, 0),
        ],
    ];
    let mut cases = Vec::new();
    for set in sets {
        let make = |&(x, category): &(f64, usize)| Cell {
            x,
            category,
            count: 1.0,
        };
        let cells: Vec<Cell> = set.iter().map(make).collect();
        let mut at = Vec::new();
        for theta in [0.05, 0.14, 0.22, 0.31] {
            for s in [0.015, 0.03, 0.08] {
                at.push(json!([theta, s, log_likelihood(&cells, theta, s)?]));
            }
        }
        let mut profile = Vec::new();
        for theta in [0.05, 0.14, 0.22, 0.31] {
            profile.push(json!([theta, penalised_profile(&cells, belief, theta)?]));
        }
        let t = estimate_threshold(&cells, belief)?;
        cases.push(json!({
            "x": set.iter().map(|c| c.0).collect::<Vec<_>>(),
            "category": set.iter().map(|c| c.1).collect::<Vec<_>>(),
            "belief": [belief.median, belief.sd_ln],
            "log_likelihood": at, "profile": profile,
            "median": t.median, "sd": t.sd, "low": t.low, "high": t.high,
        }));
    }
    Ok(json!(cases))
}

fn monotone() -> Outcome<Value> {
    let y = [5.0, 3.0, 4.0, 4.5, 4.4, 6.0, 5.5, 7.0, 6.9, 6.8, 9.0];
    let w = [1.0, 2.0, 0.5, 1.0, 3.0, 1.0, 0.2, 1.0, 1.0, 4.0, 1.0];
    Ok(json!({
        "y": y, "w": w,
        "increasing": fit_monotone(&y, &w, Direction::Increasing)?,
        "decreasing": fit_monotone(&y, &w, Direction::Decreasing)?,
    }))
}

fn lack_of_fit() -> Value {
    let values = [
        (0, 0.1),
        (0, -0.2),
        (1, 0.4),
        (1, 0.3),
        (2, -0.3),
        (2, -0.1),
        (3, 0.2),
        (4, -0.2),
    ];
    let residuals: Vec<Residual> = values
        .iter()
        .map(|&(cluster, value)| Residual {
            cluster,
            value,
            weight: 1.0 + 0.5 * value,
        })
        .collect();
    let test = test_lack_of_fit(&residuals, 2);
    json!({
        "cluster": values.iter().map(|v| v.0).collect::<Vec<_>>(),
        "value": values.iter().map(|v| v.1).collect::<Vec<_>>(),
        "f": test.map(|t| t.f), "p": test.map(|t| t.p_value),
        "dof": test.map(|t| [t.dof_lack, t.dof_pure]),
    })
}

fn coverage_factors() -> Value {
    let dofs = [1.0, 1.7, 2.0, 3.5, 6.0, 11.0, 40.0, 1e4];
    json!(
        dofs.iter()
            .map(|d| json!([d, coverage_factor_95(*d)]))
            .collect::<Vec<_>>()
    )
}

fn moments() -> Value {
    let v = [100.2, 100.4, 99.7, 101.3, 98.8, 100.1, 100.0, 102.2];
    json!({
        "values": v, "mean": mean(&v), "sd": standard_deviation(&v),
        "lag_1": lag_1_autocorrelation(&v),
    })
}
