use super::*;

fn points(n: f64, k: f64, xs: &[f64]) -> Vec<Observation> {
    xs.iter()
        .map(|&x| Observation {
            x,
            y: k * x.powf(n),
            u_x: 0.01 * x,
            u_y: 0.005 * k * x.powf(n),
            dof_x: 8.0,
            dof_y: 8.0,
        })
        .collect()
}

#[test]
fn an_exact_power_law_comes_back() {
    let fit = fit_power_law(
        &points(0.55, 3.0, &[50.0, 80.0, 120.0, 150.0]),
        90.0,
        &CommonParts::default(),
    )
    .unwrap();
    assert!((fit.n - 0.55).abs() < 1e-12);
    assert!((fit.ln_y_ref - (3.0 * 90f64.powf(0.55)).ln()).abs() < 1e-12);
    assert!(fit.scatter.between_variance == 0.0 && fit.scatter.reduced_chi_square < 1e-15);
}

#[test]
fn ratios_move_the_level_only_and_offsets_move_both() {
    let pts = points(0.5, 1.0, &[50.0, 80.0, 120.0, 150.0]);
    let common = |c: CommonParts| fit_power_law(&pts, 90.0, &c).unwrap().common;
    let c = common(CommonParts {
        u_x_ratio: 0.02,
        u_y_ratio: 0.03,
        ..Default::default()
    });
    assert!((c.var_0 - (0.01f64.powi(2) + 0.03f64.powi(2))).abs() < 1e-12);
    assert_eq!((c.var_1, c.cov), (0.0, 0.0));
    let c = common(CommonParts {
        u_x_offset: 1.0,
        ..Default::default()
    });
    assert!(c.var_0 > 0.0 && c.var_1 > 0.0);
    // One source: the two effects are fully correlated.
    assert!((c.cov.powi(2) - c.var_0 * c.var_1).abs() < 1e-12 * c.var_0 * c.var_1);
}

/// Shifting all abscissae by one standard uncertainty moves the fit by just what the common part says.
#[test]
fn the_effect_of_an_offset_is_what_a_shifted_recording_shows() {
    let pts = points(0.55, 1.0, &[50.0, 80.0, 120.0, 150.0]);
    let shifted: Vec<_> = pts
        .iter()
        .map(|p| Observation { x: p.x + 1.0, ..*p })
        .collect();
    let none = CommonParts::default();
    let a = fit_power_law(&pts, 90.0, &none).unwrap();
    let b = fit_power_law(&shifted, 90.0, &none).unwrap();
    let c = fit_power_law(
        &pts,
        90.0,
        &CommonParts {
            u_x_offset: 1.0,
            ..none
        },
    )
    .unwrap();
    assert!((c.common.var_1.sqrt() / (b.n - a.n).abs() - 1.0).abs() < 0.02);
    assert!((c.common.var_0.sqrt() / (b.ln_y_ref - a.ln_y_ref).abs() - 1.0).abs() < 0.02);
}

#[test]
fn an_offset_larger_than_the_points_still_gives_a_finite_effect() {
    let pts = points(0.55, 1.0, &[5.0, 8.0, 12.0]);
    let c = fit_power_law(
        &pts,
        8.0,
        &CommonParts {
            u_x_offset: 50.0,
            ..Default::default()
        },
    )
    .unwrap();
    assert!(c.common.var_1.is_finite() && c.common.var_1 > 0.0);
}

#[test]
fn scatter_beyond_the_stated_widens_and_costs_freedom() {
    let base = points(0.55, 1.0, &[50.0, 80.0, 120.0, 150.0, 180.0]);
    let with = |offsets: [f64; 5]| {
        let moved = base.iter().zip(offsets);
        let moved: Vec<Observation> = moved
            .map(|(p, f)| Observation {
                y: p.y * (1.0 + f),
                ..*p
            })
            .collect();
        fit_power_law(&moved, 90.0, &CommonParts::default()).unwrap()
    };
    let calm = with([0.003, -0.004, 0.005, -0.003, 0.002]);
    let wild = with([0.03, -0.04, 0.05, -0.03, 0.02]);
    assert!(wild.independent.var_1 > 4.0 * calm.independent.var_1);
    assert!(wild.scatter.dof < calm.scatter.dof);
}

#[test]
fn bad_input_is_a_typed_error() {
    let pts = points(0.5, 1.0, &[50.0, 80.0, 120.0]);
    let none = CommonParts::default();
    assert_eq!(
        fit_power_law(&pts[..2], 80.0, &none),
        Err(PowerLawError::TooFew { n: 2 })
    );
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let mut p = pts.clone();
        p[1].x = bad;
        assert_eq!(
            fit_power_law(&p, 80.0, &none),
            Err(PowerLawError::NotPositive { index: 1 })
        );
        let mut p = pts.clone();
        p[1].y = bad;
        assert_eq!(
            fit_power_law(&p, 80.0, &none),
            Err(PowerLawError::NotPositive { index: 1 })
        );
    }
    let same = vec![pts[0]; 4];
    assert_eq!(
        fit_power_law(&same, 80.0, &none),
        Err(YorkError::NoSpread.into())
    );
}
