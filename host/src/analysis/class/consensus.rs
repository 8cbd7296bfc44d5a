//! A reference curve from the class itself, where no recording is named as the truth.
//!
//! Each student's curve gives its flow at one common pressure and its exponent; the robust means of both
//! (see [`super::robust`]) make a power law. Its uncertainty is that of the robust means. The class's own
//! bias, one meter wrong for all, cannot be seen in it.

use super::robust::{Robust, algorithm_a};
use crate::analysis::nozzle_curve::{CurveForm, NozzleCurve, PowerLaw};
use crate::estimate::{Estimate, Interval};

/// Fewest curves of which a consensus is made: with two, each is as far from the mean as the other.
pub const LEAST_CURVES: usize = 3;

/// A consensus curve and the scatter that it was found among.
#[derive(Debug, Clone, PartialEq)]
pub struct Consensus {
    /// The curve: a power law without points of its own.
    pub curve: NozzleCurve,
    /// Robust mean and scale of `ln q` at the curve's reference pressure.
    pub ln_flow: Robust,
}

/// Consensus of curves of one tip, coating and condition.
///
/// *Shape*: [`LEAST_CURVES`] or more, any order.
///
/// *Errors*: `None` below that number, or when a curve gives no positive flow.
///
/// *Source*: ISO 13528:2022, 7.7 and annex C, on the logarithm of flow and on the exponent.
#[must_use]
pub fn find_consensus(curves: &[&NozzleCurve]) -> Option<Consensus> {
    if curves.len() < LEAST_CURVES {
        return None;
    }
    let n = curves.len() as f64;
    let ln_p = curves.iter().map(|c| c.power_law.p_ref_pa.ln());
    let p_ref_pa = (ln_p.sum::<f64>() / n).exp();
    let ln_flows: Vec<f64> = curves
        .iter()
        .map(|c| c.flow_at(p_ref_pa).value.ln())
        .collect();
    let exponents: Vec<f64> = curves.iter().map(|c| c.power_law.n.value).collect();
    let (ln_flow, exponent) = (algorithm_a(&ln_flows)?, algorithm_a(&exponents)?);
    let flow = ln_flow.mean.exp();
    let scatters = curves.iter().map(|c| c.power_law.burst_scatter_ratio);
    let low = curves
        .iter()
        .map(|c| c.range_pa.low)
        .fold(f64::INFINITY, f64::min);
    let high = curves.iter().map(|c| c.range_pa.high).fold(0.0, f64::max);
    let power_law = PowerLaw {
        p_ref_pa,
        q_ref_m3_per_s: Estimate::new(flow, flow * ln_flow.u_mean(), 0.0).with_dof(n - 1.0),
        n: Estimate::new(exponent.mean, exponent.u_mean(), 0.0).with_dof(n - 1.0),
        cov_ln_q_ref_n: 0.0,
        cov_ln_q_ref_n_common: 0.0,
        burst_scatter_ratio: scatters.sum::<f64>() / n,
        reduced_chi_square: 1.0,
    };
    let is_usable = flow.is_finite() && flow > 0.0 && p_ref_pa.is_finite();
    is_usable.then_some(Consensus {
        curve: NozzleCurve {
            points: Vec::new(),
            outliers: Vec::new(),
            power_law,
            two_term: None,
            preferred: CurveForm::PowerLaw,
            delta_aicc: None,
            forms_disagree: false,
            lack_of_fit: None,
            residual_lag_1: None,
            range_pa: Interval { low, high },
            distinct_pa: Vec::new(),
        },
        ln_flow,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::nozzle_curve::{
        CommonUncertainty, CurveConditions, CurvePoint, fit_nozzle_curve,
    };

    fn curve(factor: f64, n: f64) -> NozzleCurve {
        let points: Vec<CurvePoint> = [40.0e5, 70.0e5, 110.0e5, 160.0e5]
            .iter()
            .enumerate()
            .map(|(burst_index, p): (usize, &f64)| CurvePoint {
                burst_index,
                pressure_pa: Estimate::new(*p, 2e-3 * p, 0.0),
                flow_m3_per_s: Estimate::new(factor * 1e-5 * (p / 1e7).powf(n), factor * 2e-8, 0.0),
            })
            .collect();
        fit_nozzle_curve(
            &points,
            &CommonUncertainty::default(),
            &CurveConditions::default(),
        )
        .unwrap()
    }

    #[test]
    fn a_worn_tip_in_the_class_hardly_moves_the_consensus() {
        let list = [
            curve(1.00, 0.55),
            curve(1.01, 0.56),
            curve(0.99, 0.55),
            curve(1.005, 0.54),
            curve(1.25, 0.55),
        ];
        let all: Vec<&NozzleCurve> = list.iter().collect();
        let found = find_consensus(&all).unwrap();
        let q = found.curve.flow_at(1e7);
        assert!((q.value / 1e-5 - 1.0).abs() < 0.015, "{q:?}");
        assert!((found.curve.power_law.n.value - 0.55).abs() < 0.01);
        assert!(q.u_combined() > 0.0 && found.ln_flow.sd < 0.03);
    }

    #[test]
    fn two_curves_are_no_consensus() {
        let list = [curve(1.0, 0.5), curve(1.1, 0.5)];
        assert_eq!(find_consensus(&[&list[0], &list[1]]), None);
    }
}
