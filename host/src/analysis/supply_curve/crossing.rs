//! Where a nozzle curve meets a supply curve, computed: the pressure that the rig would hold.
//!
//! In: a nozzle curve and the shaped supply curve of one recording. Out: pressure with its interval and what
//! limits the rig there. Each limit alone gives a pressure; the lowest of them is held. Both curves were read from
//! the same instruments, so that an error of the pulse constant moves both along and drops out of the pressure;
//! of the pressure sensor only its own zero and span remain.

use super::{Crossing, SupplyCurve, SupplyForm, SupplyRegime};
use crate::analysis::nozzle_curve::{CommonUncertainty, NozzleCurve};
use crate::estimate::Estimate;

/// The pressure at which a nozzle curve meets a shaped supply curve.
///
/// `None` for a step (it has no form to cross) or where no pressure up to the control's set point solves it.
/// *Kind of uncertainty*: independent from both curves' noise, common from pressure zero and span.
/// *Source*: derived here: `p q(p) = W` gives `d ln p = (d ln W - d ln q) / (1 + n)`; `q(p) = q_max` gives
/// `d ln p = (d ln q_max - d ln q) / n`.
#[must_use]
pub fn cross_curve(
    curve: &NozzleCurve,
    supply: &SupplyCurve,
    common: &CommonUncertainty,
) -> Option<Crossing> {
    let SupplyForm::Shaped {
        p_max_pa,
        power_w,
        q_max_m3_per_s,
        ..
    } = &supply.form
    else {
        return None;
    };
    let by_pressure = Some((noise_of(p_max_pa), SupplyRegime::Pressure));
    let by_power = power_w
        .as_ref()
        .and_then(|w| cross_power(curve, w, p_max_pa.value))
        .map(|p| (p, SupplyRegime::Power));
    let by_stroke = q_max_m3_per_s
        .as_ref()
        .and_then(|q| cross_stroke(curve, q))
        .map(|p| (p, SupplyRegime::Stroke));
    let all = [by_pressure, by_power, by_stroke].into_iter().flatten();
    let (held, regime) = all.min_by(|a, b| a.0.value.total_cmp(&b.0.value))?;
    let u_common = (held.value * common.u_pressure_span_ratio).hypot(common.u_pressure_zero_pa);
    let pressure_pa = Estimate { u_common, ..held };
    Some(Crossing {
        pressure_pa,
        flow_m3_per_s: curve.flow_at(held.value).value,
        regime,
        interval_95_pa: pressure_pa.interval_95(),
        is_measured: false,
    })
    .filter(|c| c.pressure_pa.value > 0.0 && c.pressure_pa.u_combined().is_finite())
}

fn noise_of(estimate: &Estimate) -> Estimate {
    Estimate {
        u_common: 0.0,
        ..*estimate
    }
}

/// `p q(p) = W` by bisection: the left side rises with pressure. `None` when even the control's set point
/// needs less than `W`: power does not limit there.
fn cross_power(curve: &NozzleCurve, power_w: &Estimate, p_max_pa: f64) -> Option<Estimate> {
    let needed = |p: f64| p * curve.flow_at(p).value;
    let is_limit = power_w.value.is_finite() && power_w.value > 0.0;
    if !is_limit || needed(p_max_pa) <= power_w.value {
        return None;
    }
    let (mut low, mut high) = (0.0, p_max_pa);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if needed(middle) < power_w.value {
            low = middle;
        } else {
            high = middle;
        }
    }
    let pressure_pa = 0.5 * (low + high);
    let steep = 1.0 + curve.exponent_at(pressure_pa)?;
    Some(joined(
        pressure_pa,
        steep,
        power_w,
        &curve.flow_at(pressure_pa),
    ))
}

fn cross_stroke(curve: &NozzleCurve, q_max: &Estimate) -> Option<Estimate> {
    let pressure_pa = curve.pressure_for_flow(q_max.value)?.value;
    let steep = curve.exponent_at(pressure_pa)?;
    Some(joined(
        pressure_pa,
        steep,
        q_max,
        &curve.flow_at(pressure_pa),
    ))
}

/// Relative noise of limit and curve over the steepness, degrees of freedom by Welch and Satterthwaite
/// (JCGM 100:2008, G.2b).
fn joined(pressure_pa: f64, steep: f64, limit: &Estimate, flow: &Estimate) -> Estimate {
    let parts = [limit, flow].map(|e| ((e.u_independent / e.value / steep).powi(2), e.dof));
    let variance: f64 = parts.iter().map(|(v, _)| v).sum();
    let spent: f64 = parts.iter().map(|(v, dof)| v * v / dof).sum();
    let dof = if spent > 0.0 {
        variance * variance / spent
    } else {
        f64::INFINITY
    };
    Estimate::new(pressure_pa, pressure_pa * variance.sqrt(), 0.0).with_dof(dof)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::nozzle_curve::{CurveConditions, CurvePoint, fit_nozzle_curve};

    fn curve() -> NozzleCurve {
        let points: Vec<CurvePoint> = [50.0, 80.0, 120.0, 140.0f64]
            .iter()
            .enumerate()
            .map(|(burst_index, bar)| {
                let off = [1.003, 0.996, 1.004, 0.997][burst_index];
                let q = 2e-5 * off * (bar / 100.0).sqrt();
                CurvePoint {
                    burst_index,
                    pressure_pa: Estimate::new(bar * 1e5, bar * 500.0, 0.0),
                    flow_m3_per_s: Estimate::new(q, 0.005 * q, 0.0),
                }
            })
            .collect();
        fit_nozzle_curve(
            &points,
            &CommonUncertainty::default(),
            &CurveConditions::default(),
        )
        .unwrap()
    }

    fn supply(power_w: Option<f64>, q_max: Option<f64>) -> SupplyCurve {
        let estimate = |v: f64| Estimate::new(v, 0.02 * v, 0.0).with_dof(5.0);
        SupplyCurve {
            dial: "10".into(),
            is_full: true,
            points: Vec::new(),
            form: SupplyForm::Shaped {
                p_max_pa: estimate(150e5),
                power_w: power_w.map(estimate),
                q_max_m3_per_s: q_max.map(estimate),
                power_per_v_ratio: None,
            },
        }
    }

    fn cross(power_w: Option<f64>, q_max: Option<f64>) -> Crossing {
        cross_curve(
            &curve(),
            &supply(power_w, q_max),
            &CommonUncertainty::default(),
        )
        .unwrap()
    }

    #[test]
    fn the_lowest_limit_is_held_and_named() {
        let c = cross(None, None);
        assert_eq!(
            (c.pressure_pa.value, c.regime),
            (150e5, SupplyRegime::Pressure)
        );
        let q_at = |bar: f64| curve().flow_at(bar * 1e5).value;
        let c = cross(Some(100e5 * q_at(100.0)), None);
        assert!((c.pressure_pa.value / 100e5 - 1.0).abs() < 1e-9);
        assert_eq!((c.regime, c.is_measured), (SupplyRegime::Power, false));
        let c = cross(Some(200.0), Some(q_at(64.0)));
        assert!((c.pressure_pa.value / 64e5 - 1.0).abs() < 1e-9);
        assert_eq!(c.regime, SupplyRegime::Stroke);
        assert_eq!(cross(Some(5000.0), None).regime, SupplyRegime::Pressure);
    }

    #[test]
    fn noise_of_both_curves_is_divided_by_the_steepness() {
        let c = cross(Some(200.0), None).pressure_pa;
        let flow = curve().flow_at(100e5);
        let steep = 1.0 + curve().exponent_at(100e5).unwrap();
        let expected = 0.02f64.hypot(flow.u_independent / flow.value) / steep;
        assert!((c.u_independent / c.value / expected - 1.0).abs() < 1e-3);
        assert!(c.dof > 5.0 && c.dof < 20.0);
    }

    #[test]
    fn zero_and_span_are_the_only_common_parts() {
        let common = CommonUncertainty {
            u_pressure_zero_pa: 0.6e5,
            u_pressure_span_ratio: 0.008,
            u_flow_ratio: 0.05,
            ..CommonUncertainty::default()
        };
        let c = cross_curve(&curve(), &supply(Some(200.0), None), &common).unwrap();
        let expected = 0.6e5f64.hypot(0.008 * c.pressure_pa.value);
        assert!((c.pressure_pa.u_common - expected).abs() < 1.0);
    }

    #[test]
    fn a_step_and_senseless_limits_have_no_computed_crossing() {
        let step = SupplyCurve {
            form: SupplyForm::Step {
                flow_m3_per_s: vec![1e-5],
                pressure_pa: vec![100e5],
            },
            ..supply(None, None)
        };
        assert!(cross_curve(&curve(), &step, &CommonUncertainty::default()).is_none());
        assert_eq!(
            cross(Some(f64::NAN), Some(-1.0)).regime,
            SupplyRegime::Pressure
        );
    }
}
