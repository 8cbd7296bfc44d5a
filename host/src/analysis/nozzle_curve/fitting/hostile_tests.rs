//! Whatever goes in, a curve of finite numbers or a refusal comes out.

use proptest::prelude::*;

use super::*;
use crate::analysis::nozzle_curve::NozzleCurve;

/// Numbers as they come from a broken instrument: sound, tiny, huge, zero, negative, not finite.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        20 => 1.0..100.0f64,
        2 => -300.0..300.0f64,
        1 => prop::num::f64::ANY,
        1 => Just(0.0),
        1 => Just(f64::MIN_POSITIVE),
        1 => Just(1e300),
    ]
}

fn estimate(value: f64, u: f64, dof: f64) -> Estimate {
    Estimate::new(value, u, 0.0).with_dof(dof)
}

fn point() -> impl Strategy<Value = CurvePoint> {
    (number(), number(), number(), number(), number()).prop_map(|(p, q, up, uq, dof)| CurvePoint {
        burst_index: 0,
        pressure_pa: estimate(p, up, dof),
        flow_m3_per_s: estimate(q, uq, dof),
    })
}

/// Sound coordinates with any uncertainties: most of these reach the fit.
fn nearly_sound_point() -> impl Strategy<Value = CurvePoint> {
    (
        50e5..150e5f64,
        -0.3..0.3f64,
        0.0..0.2f64,
        0.0..0.2f64,
        0.5..50.0f64,
    )
        .prop_map(|(p, off, up, uq, dof)| {
            let q = 2e-5 * (p / 1e7).sqrt() * (1.0 + off);
            CurvePoint {
                burst_index: 0,
                pressure_pa: estimate(p, up.powi(3) * p, dof),
                flow_m3_per_s: estimate(q, uq.powi(3) * q, dof),
            }
        })
}

fn is_sound(e: &Estimate) -> bool {
    let all = [e.value, e.u_independent, e.u_common];
    all.iter().all(|v| v.is_finite()) && e.u_independent >= 0.0 && e.dof > 0.0
}

fn check(curve: &NozzleCurve) {
    let law = &curve.power_law;
    let mut estimates = vec![law.q_ref_m3_per_s, law.n];
    if let Some(two) = &curve.two_term {
        estimates.extend([two.a_pa_s_per_m3, two.b_pa_s2_per_m6]);
        assert!(two.cov_a_b.is_finite() && two.cov_a_b_common.is_finite());
        assert!(two.a_pa_s_per_m3.value >= 0.0 && two.b_pa_s2_per_m6.value >= 0.0);
    }
    for pressure_pa in [
        1.0,
        curve.range_pa.low,
        law.p_ref_pa,
        3.0 * curve.range_pa.high,
    ] {
        estimates.extend([curve.flow_at(pressure_pa), curve.burst_flow_at(pressure_pa)]);
        estimates.extend(curve.pressure_for_flow(curve.flow_at(pressure_pa).value));
    }
    assert!(estimates.iter().all(is_sound), "{curve:?}");
    let rest = [
        law.p_ref_pa,
        law.cov_ln_q_ref_n,
        law.cov_ln_q_ref_n_common,
        law.burst_scatter_ratio,
        law.reduced_chi_square,
        curve.delta_aicc.unwrap_or(0.0),
        curve.residual_lag_1.unwrap_or(0.0),
    ];
    assert!(rest.iter().all(|v| v.is_finite()), "{curve:?}");
    if let Some(test) = curve.lack_of_fit {
        assert!(
            test.f.is_finite() && (0.0..=1.0).contains(&test.p_value),
            "{test:?}"
        );
    }
}

fn run(points: &[CurvePoint], common: &CommonUncertainty) {
    if let Ok(curve) = fit_nozzle_curve(points, common, &CurveConditions::default()) {
        check(&curve);
    }
}

proptest! {
    #[test]
    fn any_numbers_give_a_finite_curve_or_a_refusal(
        points in prop::collection::vec(point(), 0..14),
        common in (number(), number(), number(), number()),
    ) {
        let (zero, span, meter, slip) = common;
        run(&points, &CommonUncertainty {
            u_pressure_zero_pa: zero,
            u_pressure_span_ratio: span,
            u_flow_ratio: meter,
            u_flow_offset_m3_per_s: slip,
        });
    }

    #[test]
    fn sound_points_with_any_uncertainty_give_a_finite_curve_or_a_refusal(
        points in prop::collection::vec(nearly_sound_point(), 3..20),
        zero_bar in 0.0..60.0f64,
        slip in 0.0..1e-5f64,
    ) {
        run(&points, &CommonUncertainty {
            u_pressure_zero_pa: zero_bar * 1e5,
            u_flow_offset_m3_per_s: slip,
            ..CommonUncertainty::default()
        });
    }

    /// Units and order carry no meaning: bar or pascal, forwards or backwards, the exponent is the same. (Points that
    /// tie to the last digit at a limit may fall on either side of it, so only curves are compared.)
    #[test]
    fn units_and_order_do_not_matter(
        points in prop::collection::vec(nearly_sound_point(), 4..12),
        scale in 1e-6..1e3f64,
    ) {
        let conditions = CurveConditions::default();
        let common = CommonUncertainty::default();
        let scaled: Vec<CurvePoint> = points
            .iter()
            .rev()
            .map(|p| CurvePoint { pressure_pa: p.pressure_pa.scaled(scale), ..*p })
            .collect();
        let a = fit_nozzle_curve(&points, &common, &conditions);
        let b = fit_nozzle_curve(&scaled, &common, &conditions);
        if let (Ok(a), Ok(b)) = (a, b) {
            let (a, b) = (a.power_law, b.power_law);
            prop_assert!((a.n.value - b.n.value).abs() < 1e-6);
            prop_assert!((b.p_ref_pa / a.p_ref_pa / scale - 1.0).abs() < 1e-9);
            prop_assert!((a.n.u_independent / b.n.u_independent - 1.0).abs() < 1e-4);
        }
    }
}

/// Scatter hundreds of times the stated uncertainties, one point far from the others: several points seem to make all
/// of the misfit, and which of them goes must not hang on their order.
#[test]
fn order_does_not_choose_the_outlier() {
    let list = [
        (97.98242, 2.1678237, 0.0, 0.0, 0.5),
        (50.0, std::f64::consts::SQRT_2, 0.0, 0.0, 47.5),
        (131.7121, 2.85763975, 0.0, 0.0, 0.5),
        (96.881111, 2.23942572, 0.099, 0.008, 0.5),
        (125.40697, 2.75726589, 0.0, 0.0, 9.4),
    ];
    let points = list.map(|(bar, q, u_bar, u_q, dof)| CurvePoint {
        burst_index: 0,
        pressure_pa: estimate(bar * 1e5, u_bar * 1e5, dof),
        flow_m3_per_s: estimate(q * 1e-5, u_q * 1e-5, dof),
    });
    let fitted = |order: [usize; 5]| {
        let points = order.map(|i| points[i]);
        fit_nozzle_curve(
            &points,
            &CommonUncertainty::default(),
            &CurveConditions::default(),
        )
    };
    let first = fitted([0, 1, 2, 3, 4]);
    for order in [[4, 3, 2, 1, 0], [1, 4, 0, 3, 2], [3, 0, 4, 2, 1]] {
        let (Ok(a), Ok(b)) = (&first, fitted(order)) else {
            assert_eq!(first.is_ok(), fitted(order).is_ok());
            continue;
        };
        assert!((a.power_law.n.value - b.power_law.n.value).abs() < 1e-9);
        assert_eq!(a.outliers, b.outliers);
    }
}
