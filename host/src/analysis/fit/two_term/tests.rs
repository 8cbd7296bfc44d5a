use super::*;
use crate::analysis::fit::power_law::CommonParts;

fn points(a: f64, b: f64, ys: &[f64]) -> Vec<Observation> {
    ys.iter()
        .map(|&y| {
            let x = a * y + b * y * y;
            Observation {
                x,
                y,
                u_x: 0.01 * x,
                u_y: 0.005 * y,
                dof_x: f64::INFINITY,
                dof_y: f64::INFINITY,
            }
        })
        .collect()
}

const YS: [f64; 5] = [0.8, 1.0, 1.3, 1.6, 1.9];

#[test]
fn an_exact_two_term_form_comes_back() {
    let fit = fit_two_term(&points(12.0, 30.0, &YS), &CommonParts::default()).unwrap();
    assert!(
        (fit.a - 12.0).abs() < 1e-9 && (fit.b - 30.0).abs() < 1e-9,
        "{fit:?}"
    );
    assert_eq!(fit.bound, None);
    assert!(
        fit.independent.var_0 > 0.0 && fit.independent.var_1 > 0.0 && fit.independent.cov < 0.0
    );
}

#[test]
fn a_purely_linear_or_quadratic_form_ends_at_its_bound_and_says_so() {
    let none = CommonParts::default();
    let mut steep = points(0.0, 30.0, &YS);
    for p in &mut steep {
        p.x = 30.0 * p.y.powf(2.2);
    }
    let fit = fit_two_term(&steep, &none).unwrap();
    assert_eq!((fit.a, fit.bound), (0.0, Some(Bound::NoLinear)));
    let mut flat = points(30.0, 0.0, &YS);
    for p in &mut flat {
        p.x = 30.0 * p.y.powf(0.9);
    }
    let fit = fit_two_term(&flat, &none).unwrap();
    assert_eq!((fit.b, fit.bound), (0.0, Some(Bound::NoQuadratic)));
    assert!(fit.independent.var_1.is_finite());
}

/// The reported minimum is one: chi-square by brute force over latent points is no lower beside it.
#[test]
fn the_fit_is_the_minimum_over_both_coordinates() {
    let mut pts = points(12.0, 30.0, &YS);
    for (p, (fx, fy)) in pts.iter_mut().zip([
        (1.02, 0.99),
        (0.98, 1.01),
        (1.01, 1.0),
        (1.0, 0.985),
        (0.99, 1.01),
    ]) {
        p.x *= fx;
        p.y *= fy;
    }
    let fit = fit_two_term(&pts, &CommonParts::default()).unwrap();
    let extra = fit.scatter.between_variance;
    let chi = |a: f64, b: f64| -> f64 {
        pts.iter()
            .map(|p| {
                let (ux, uy2) = (p.u_x / p.x, (p.u_y / p.y).powi(2) + extra);
                let cost = |t: f64| {
                    let y = t.exp();
                    ((p.x / (a * y + b * y * y)).ln() / ux).powi(2) + (p.y.ln() - t).powi(2) / uy2
                };
                let (mut lo, mut hi) = (p.y.ln() - 0.2, p.y.ln() + 0.2);
                for _ in 0..200 {
                    let (l, h) = (lo + (hi - lo) * 0.4, lo + (hi - lo) * 0.6);
                    if cost(l) < cost(h) { hi = h } else { lo = l }
                }
                cost(lo)
            })
            .sum()
    };
    let best = chi(fit.a, fit.b);
    for (fa, fb) in [
        (1.001, 1.0),
        (0.999, 1.0),
        (1.0, 1.001),
        (1.0, 0.999),
        (1.002, 0.9992),
    ] {
        assert!(chi(fit.a * fa, fit.b * fb) > best, "{fa} {fb}");
    }
}

#[test]
fn common_parts_follow_a_shifted_recording() {
    let pts = points(12.0, 30.0, &YS);
    let none = CommonParts::default();
    let base = fit_two_term(&pts, &none).unwrap();
    let check = |moved: Vec<Observation>, common: CommonParts| {
        let m = fit_two_term(&moved, &none).unwrap();
        let c = fit_two_term(&pts, &common).unwrap().common;
        assert!(
            (c.var_0.sqrt() / (m.a - base.a).abs() - 1.0).abs() < 0.05,
            "{c:?}"
        );
        assert!(
            (c.var_1.sqrt() / (m.b - base.b).abs() - 1.0).abs() < 0.05,
            "{c:?}"
        );
    };
    let map =
        |f: &dyn Fn(Observation) -> Observation| pts.iter().map(|p| f(*p)).collect::<Vec<_>>();
    check(
        map(&|p| Observation { x: p.x + 0.5, ..p }),
        CommonParts {
            u_x_offset: 0.5,
            ..none
        },
    );
    check(
        map(&|p| Observation {
            x: p.x * 1.01,
            u_x: p.u_x * 1.01,
            ..p
        }),
        CommonParts {
            u_x_ratio: 0.01,
            ..none
        },
    );
    check(
        map(&|p| Observation {
            y: p.y * 1.001,
            u_y: p.u_y * 1.001,
            ..p
        }),
        CommonParts {
            u_y_ratio: 0.001,
            ..none
        },
    );
    check(
        map(&|p| Observation {
            y: p.y + 0.001,
            ..p
        }),
        CommonParts {
            u_y_offset: 0.001,
            ..none
        },
    );
}

#[test]
fn identical_points_and_bad_numbers_are_typed_errors() {
    let none = CommonParts::default();
    let same = vec![points(12.0, 30.0, &YS)[0]; 4];
    assert!(matches!(
        fit_two_term(&same, &none),
        Err(PowerLawError::Line(YorkError::NoSpread))
    ));
    let mut pts = points(12.0, 30.0, &YS);
    pts[3].y = f64::NAN;
    assert!(matches!(
        fit_two_term(&pts, &none),
        Err(PowerLawError::NotPositive { .. })
    ));
    assert!(matches!(
        fit_two_term(&pts[..2], &none),
        Err(PowerLawError::TooFew { n: 2 })
    ));
}

/// Leverages of a least-squares fit sum to the parameters that are free: two, or one where the share is held.
#[test]
fn leverages_sum_to_the_free_parameters() {
    let data = |bend: f64| -> Vec<Datum> {
        let point = |i: u32| {
            let y = 0.15 * f64::from(i) - 0.6;
            let noise = 0.002 * f64::from(i * 7919 % 13) - 0.012;
            Datum {
                x: (1.0 + bend) * y + bend * 0.3 * y * y + noise,
                y,
                u_x: 0.001,
                u_y: 0.004,
                r: 0.0,
            }
        };
        (0..9).map(point).collect()
    };
    for (bend, free) in [(0.5, 2.0), (1.6, 1.0)] {
        let through = two_term_through(&data(bend)).unwrap();
        let leverage: f64 = through.points.iter().map(|(_, leverage)| leverage).sum();
        assert!((leverage - free).abs() < 1e-6, "{bend}: {leverage}");
        let squares: f64 = through.points.iter().map(|(square, _)| square).sum();
        assert!((squares / through.chi_square - 1.0).abs() < 1e-9);
    }
}
