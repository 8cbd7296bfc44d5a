//! The highest pressure that the rig holds against flow, and where a nozzle curve crosses it.
//!
//! Goes in: steady points with the control position they were made at. Comes out: one curve a
//! position, highest first. The shape is the physical one (control, then power, then displacement);
//! with one tip only there is one point, and the curve is a step through it. No tails here.

mod crossing;
mod shape;

pub use crossing::cross_curve;

use serde::{Deserialize, Serialize};

use crate::estimate::{Estimate, Interval, coverage_factor_95};

/// One steady point at a named control position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SupplyPoint {
    /// Index of the burst.
    pub burst_index: usize,
    /// Tip of the burst.
    pub tip: String,
    /// Volume flow, m3/s.
    pub flow_m3_per_s: Estimate,
    /// Spraying pressure, Pa.
    pub pressure_pa: Estimate,
    /// Pressure just before the trigger opened, Pa; `None` where it was not seen.
    pub stalled_pa: Option<f64>,
    /// Supply voltage during the burst, V.
    pub supply_v: Option<f64>,
    /// Middle of the steady window, logger time.
    pub t_s: f64,
}

/// What limits the pressure at a point of the supply curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SupplyRegime {
    /// The control holds its set point.
    Pressure,
    /// Hydraulic power is constant.
    Power,
    /// The pump's displacement is used up: flow cannot rise.
    Stroke,
}

/// How the supply curve was found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "form", rename_all = "snake_case")]
pub enum SupplyForm {
    /// Pressure-limited, then power-limited, then stroke-limited.
    Shaped {
        /// Stalled pressure at this control position, Pa.
        p_max_pa: Estimate,
        /// Hydraulic power limit, W; `None` while no point shows it.
        power_w: Option<Estimate>,
        /// Stroke limit, m3/s; `None` while no point shows it.
        q_max_m3_per_s: Option<Estimate>,
        /// Change of the power limit per volt of supply, relative, 1/V.
        power_per_v_ratio: Option<Estimate>,
    },
    /// Too few points for a shape: a monotone step through them.
    Step {
        /// Flows, ascending, m3/s.
        flow_m3_per_s: Vec<f64>,
        /// Highest pressure held at each, not increasing, Pa.
        pressure_pa: Vec<f64>,
    },
}

/// The supply curve at one control position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SupplyCurve {
    /// Control position as the notes name it.
    pub dial: String,
    /// True when this is the highest position used.
    pub is_full: bool,
    /// The points.
    pub points: Vec<SupplyPoint>,
    /// The curve.
    pub form: SupplyForm,
}

/// Where a nozzle curve meets the supply curve: the highest pressure that the rig holds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Crossing {
    /// Pressure, Pa.
    pub pressure_pa: Estimate,
    /// Flow, m3/s.
    pub flow_m3_per_s: f64,
    /// What limits the rig there.
    pub regime: SupplyRegime,
    /// 95 % interval of the pressure, Pa.
    pub interval_95_pa: Interval,
    /// True when measured with this very tip at this control position, not only computed.
    pub is_measured: bool,
}

impl SupplyCurve {
    /// Highest pressure held at a flow, Pa, and what limits it; `None` beyond the stroke limit and
    /// beyond the measured flows of a step.
    #[must_use]
    pub fn pressure_at(&self, flow_m3_per_s: f64) -> Option<(f64, SupplyRegime)> {
        shape::pressure_at(&self.form, flow_m3_per_s)
    }

    /// Relative standard uncertainty of the pressure held, from the points' scatter about the curve.
    #[must_use]
    pub fn u_pressure_ratio(&self) -> f64 {
        shape::scatter_ratio(self)
    }
}

/// Makes the supply curves of all control positions, the highest first.
///
/// The full position is the one whose stalled pressures are highest: names may be numbers or words.
/// *Shape*: any number of points; a position without a point has no curve.
#[must_use]
pub fn fit_supply_curves(points: &[(String, SupplyPoint)]) -> Vec<SupplyCurve> {
    let mut dials: Vec<(String, Vec<SupplyPoint>)> = Vec::new();
    for (dial, point) in points {
        match dials.iter_mut().find(|(d, _)| d == dial) {
            Some((_, list)) => list.push(point.clone()),
            None => dials.push((dial.clone(), vec![point.clone()])),
        }
    }
    let mut curves: Vec<SupplyCurve> = dials
        .into_iter()
        .map(|(dial, points)| SupplyCurve {
            form: shape::fit(&points),
            dial,
            is_full: false,
            points,
        })
        .collect();
    curves.sort_by(|a, b| stalled_level(b).total_cmp(&stalled_level(a)));
    if let Some(first) = curves.first_mut() {
        first.is_full = true;
    }
    curves
}

/// Median pressure that a position stalls at, Pa; the highest spraying pressure where none was seen.
#[must_use]
pub fn stalled_level(curve: &SupplyCurve) -> f64 {
    let mut stalled: Vec<f64> = curve.points.iter().filter_map(|p| p.stalled_pa).collect();
    stalled.sort_by(f64::total_cmp);
    let spraying = curve
        .points
        .iter()
        .map(|p| p.pressure_pa.value)
        .fold(0.0, f64::max);
    stalled
        .get(stalled.len() / 2)
        .copied()
        .unwrap_or(0.0)
        .max(spraying)
}

/// The highest pressure held with one tip, from its own bursts at one position.
///
/// Weighted by nothing but the bursts themselves: their scatter from pull to pull is larger than each
/// one's own uncertainty. *Shape*: `points` all of one tip and one position. `None` when empty.
#[must_use]
pub fn measured_crossing(points: &[&SupplyPoint], u_common_ratio: f64) -> Option<Crossing> {
    /// What a control comes back to from pull to pull, relative (common practice, no source).
    const U_CONTROL_RATIO: f64 = 0.01;
    if points.is_empty() {
        return None;
    }
    #[allow(clippy::cast_precision_loss)]
    let n = points.len() as f64;
    let mean = |f: fn(&SupplyPoint) -> f64| points.iter().map(|p| f(p)).sum::<f64>() / n;
    let pressure = mean(|p| p.pressure_pa.value);
    let flow = mean(|p| p.flow_m3_per_s.value);
    let spread = points
        .iter()
        .map(|p| (p.pressure_pa.value - pressure).powi(2))
        .sum::<f64>();
    let dof = (n - 1.0).max(1.0);
    let scatter = (spread / dof).sqrt().max(U_CONTROL_RATIO * pressure);
    let u = scatter / n.sqrt();
    let pressure_pa = Estimate::new(pressure, u, u_common_ratio * pressure);
    let half = coverage_factor_95(f64::INFINITY) * pressure_pa.u_combined();
    let sags: Vec<f64> = points
        .iter()
        .filter_map(|p| p.stalled_pa.map(|s| 1.0 - p.pressure_pa.value / s))
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let sag = sags.iter().sum::<f64>() / (sags.len() as f64).max(1.0);
    Some(Crossing {
        pressure_pa,
        flow_m3_per_s: flow,
        regime: if sag < super::thresholds::SAG_HOLDS_RATIO {
            SupplyRegime::Pressure
        } else {
            SupplyRegime::Power
        },
        interval_95_pa: Interval {
            low: pressure - half,
            high: pressure + half,
        },
        is_measured: true,
    })
}

#[cfg(test)]
mod tests;
