//! The physical shape of a supply curve, and the monotone step that stands in for it.

use super::{SupplyCurve, SupplyForm, SupplyPoint, SupplyRegime};
use crate::analysis::fit::monotone::{Direction, fit_monotone};
use crate::analysis::thresholds::SAG_HOLDS_RATIO;
use crate::estimate::Estimate;

/// Two flows differ when they are further apart than this, relative.
const DISTINCT_FLOW_RATIO: f64 = 0.12;

/// The shape where two tips or more show it, a step otherwise.
pub(super) fn fit(points: &[SupplyPoint]) -> SupplyForm {
    let lowest = points
        .iter()
        .map(|p| p.flow_m3_per_s.value)
        .fold(f64::INFINITY, f64::min);
    let highest = points
        .iter()
        .map(|p| p.flow_m3_per_s.value)
        .fold(0.0, f64::max);
    if points.len() < 3 || highest < lowest * (1.0 + DISTINCT_FLOW_RATIO) {
        return step(points);
    }
    let mut stalled: Vec<f64> = points.iter().filter_map(|p| p.stalled_pa).collect();
    stalled.sort_by(f64::total_cmp);
    let Some(p_max) = stalled.get(stalled.len() / 2).copied() else {
        return step(points);
    };
    let sagging: Vec<&SupplyPoint> = points
        .iter()
        .filter(|p| p.pressure_pa.value < (1.0 - SAG_HOLDS_RATIO) * p_max)
        .collect();
    let q_max = stroke_limit(&sagging);
    let power = if q_max.is_some() {
        None
    } else {
        power_limit(&sagging)
    };
    SupplyForm::Shaped {
        p_max_pa: droop_level(points, p_max),
        power_per_v_ratio: power_per_volt(&sagging),
        power_w: power,
        q_max_m3_per_s: q_max,
    }
}

/// Pressure that the control holds while spraying: the mean of the points that do not sag.
fn droop_level(points: &[SupplyPoint], p_max: f64) -> Estimate {
    let held: Vec<f64> = points
        .iter()
        .map(|p| p.pressure_pa.value)
        .filter(|p| *p >= (1.0 - SAG_HOLDS_RATIO) * p_max)
        .collect();
    if held.is_empty() {
        return Estimate::new(p_max, 0.02 * p_max, 0.0);
    }
    mean_with_scatter(&held, 0.01)
}

/// Mean hydraulic power of the sagging points.
fn power_limit(sagging: &[&SupplyPoint]) -> Option<Estimate> {
    let powers: Vec<f64> = sagging
        .iter()
        .map(|p| p.pressure_pa.value * p.flow_m3_per_s.value)
        .collect();
    (!powers.is_empty()).then(|| mean_with_scatter(&powers, 0.02))
}

/// Displacement is used up when sagging points of different pressure have one flow.
fn stroke_limit(sagging: &[&SupplyPoint]) -> Option<Estimate> {
    let flows: Vec<f64> = sagging.iter().map(|p| p.flow_m3_per_s.value).collect();
    let lowest_p = sagging
        .iter()
        .map(|p| p.pressure_pa.value)
        .fold(f64::INFINITY, f64::min);
    let highest_p = sagging
        .iter()
        .map(|p| p.pressure_pa.value)
        .fold(0.0, f64::max);
    if flows.len() < 2 || highest_p < 1.15 * lowest_p {
        return None;
    }
    let q = mean_with_scatter(&flows, 0.01);
    #[allow(clippy::cast_precision_loss)]
    let spread = q.u_independent * (flows.len() as f64).sqrt() / q.value;
    (spread < 0.03).then_some(q)
}

/// Slope of relative power on supply voltage, where both vary.
fn power_per_volt(sagging: &[&SupplyPoint]) -> Option<Estimate> {
    let pairs: Vec<(f64, f64)> = sagging
        .iter()
        .filter_map(|p| {
            p.supply_v
                .map(|v| (v, (p.pressure_pa.value * p.flow_m3_per_s.value).ln()))
        })
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let n = pairs.len() as f64;
    if n < 4.0 {
        return None;
    }
    let (mv, my) = (
        pairs.iter().map(|p| p.0).sum::<f64>() / n,
        pairs.iter().map(|p| p.1).sum::<f64>() / n,
    );
    let sxx: f64 = pairs.iter().map(|p| (p.0 - mv).powi(2)).sum();
    let sxy: f64 = pairs.iter().map(|p| (p.0 - mv) * (p.1 - my)).sum();
    if sxx / n < (0.02 * mv).powi(2) {
        return None;
    }
    let slope = sxy / sxx;
    let rest: f64 = pairs
        .iter()
        .map(|p| (p.1 - my - slope * (p.0 - mv)).powi(2))
        .sum();
    let u = (rest / (n - 2.0) / sxx).sqrt();
    Some(Estimate::new(slope, u, 0.0).with_dof(n - 2.0))
}

fn mean_with_scatter(values: &[f64], floor_ratio: f64) -> Estimate {
    #[allow(clippy::cast_precision_loss)]
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    let s = (squares / (n - 1.0).max(1.0))
        .sqrt()
        .max(floor_ratio * mean.abs());
    Estimate::new(mean, s / n.sqrt(), 0.0).with_dof((n - 1.0).max(1.0))
}

/// A monotone step through the points: pressure held does not rise with flow.
fn step(points: &[SupplyPoint]) -> SupplyForm {
    let mut sorted: Vec<(f64, f64)> = points
        .iter()
        .map(|p| (p.flow_m3_per_s.value, p.pressure_pa.value))
        .collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (flow, pressure): (Vec<f64>, Vec<f64>) = sorted.into_iter().unzip();
    let weights = vec![1.0; pressure.len()];
    let held = fit_monotone(&pressure, &weights, Direction::Decreasing).unwrap_or(pressure);
    SupplyForm::Step {
        flow_m3_per_s: flow,
        pressure_pa: held,
    }
}

pub(super) fn pressure_at(form: &SupplyForm, flow: f64) -> Option<(f64, SupplyRegime)> {
    match form {
        SupplyForm::Shaped {
            p_max_pa,
            power_w,
            q_max_m3_per_s,
            ..
        } => {
            if q_max_m3_per_s.is_some_and(|q| flow > q.value) {
                return None;
            }
            let by_power = power_w.map_or(f64::INFINITY, |w| w.value / flow.max(1e-12));
            Some(if by_power < p_max_pa.value {
                (by_power, SupplyRegime::Power)
            } else {
                (p_max_pa.value, SupplyRegime::Pressure)
            })
        }
        SupplyForm::Step {
            flow_m3_per_s,
            pressure_pa,
        } => {
            // Up to each measured flow the pressure held there is held at least.
            let i = flow_m3_per_s.partition_point(|q| *q < flow);
            pressure_pa.get(i).map(|p| (*p, SupplyRegime::Pressure))
        }
    }
}

pub(super) fn scatter_ratio(curve: &SupplyCurve) -> f64 {
    let rest: Vec<f64> = curve
        .points
        .iter()
        .filter_map(|p| {
            pressure_at(&curve.form, p.flow_m3_per_s.value * 0.999)
                .map(|(held, _)| (p.pressure_pa.value / held).ln())
        })
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let n = rest.len() as f64;
    if n < 2.0 {
        return 0.03;
    }
    (rest.iter().map(|r| r * r).sum::<f64>() / (n - 1.0))
        .sqrt()
        .max(0.01)
}
