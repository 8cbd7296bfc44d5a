//! Where a predicted curve meets a supply curve, with the interval of both numbers.
//!
//! The rig holds the pressure at which the supply curve gives the flow that the tip takes. Each source
//! of doubt is carried through the crossing itself, a standard factor up and down, so that a kink or a
//! vertical stretch of the supply curve makes the interval lopsided and not wrong. When both curves
//! were measured with one meter and one sensor, their calibration shifts both alike: the crossing does not
//! move in indicated units, and only the units are in doubt.

use serde::{Deserialize, Serialize};

use super::predict::PredictedCurve;
use super::{PlanError, Supply, as_known};
use crate::estimate::bracketed::Bracketed;
use crate::estimate::{Estimate, Interval, coverage_factor_95};

/// Lowest pressure that is searched, Pa: below a bar no tip sprays.
const LOWEST_PA: f64 = 1.0e5;

/// Whether two curves share their calibration.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Instruments {
    /// The same flow meter and pressure sensor under the same calibration.
    Same,
    /// Different ones, or the same newly calibrated.
    Different,
}

/// What the rig does with a tip at one control position.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct HeldPoint {
    /// Highest pressure held at the tap, Pa.
    pub pressure_pa: Bracketed,
    /// Flow there, m3/s.
    pub flow_m3_per_s: Bracketed,
}

/// Cross a predicted curve with a supply curve.
///
/// *Errors*: [`PlanError::NoSupply`] when the supply curve gives no pressure at no flow,
/// [`PlanError::NoCrossing`] when it stays below one bar at the flow that the tip takes there.
///
/// *Source*: JCGM 100:2008, note 2 to 5.1.3, each side apart. *Cost*: nine searches.
pub fn cross_supply(
    curve: &PredictedCurve,
    supply: &impl Supply,
    instruments: Instruments,
) -> Result<HeldPoint, PlanError> {
    let search = Search {
        curve,
        supply,
        instruments,
    };
    let best = search.cross(0.0, 0.0)?;
    // (pressure, flow) below and above the best values, squared and summed.
    let mut below = (0.0f64, 0.0f64);
    let mut above = (0.0f64, 0.0f64);
    let k = coverage_factor_95(f64::INFINITY);
    for (flow_factor, pressure_factor) in [(k, 0.0), (-k, 0.0), (0.0, k), (0.0, -k)] {
        let moved = search.cross(flow_factor, pressure_factor)?;
        let (dp, dq) = (moved.0 - best.0, moved.1 - best.1);
        below.0 += dp.min(0.0).powi(2);
        above.0 += dp.max(0.0).powi(2);
        below.1 += dq.min(0.0).powi(2);
        above.1 += dq.max(0.0).powi(2);
    }
    let common = search.common_at(best);
    let bracket = |value: f64, below: f64, above: f64, u_common: f64| Bracketed {
        value,
        interval_95: Interval {
            low: value - below.sqrt().hypot(k * u_common),
            high: value + above.sqrt().hypot(k * u_common),
        },
    };
    Ok(HeldPoint {
        pressure_pa: bracket(best.0, below.0, above.0, common.0),
        flow_m3_per_s: bracket(best.1, below.1, above.1, common.1),
    })
}

struct Search<'a, S> {
    curve: &'a PredictedCurve,
    supply: &'a S,
    instruments: Instruments,
}

impl<S: Supply> Search<'_, S> {
    /// The part of an estimate's doubt that can move the curves against each other.
    fn u(&self, estimate: &Estimate) -> f64 {
        match self.instruments {
            Instruments::Same => estimate.u_independent,
            Instruments::Different => estimate.u_combined(),
        }
    }

    fn flow(&self, pressure: f64, factor: f64) -> Option<f64> {
        let flow = self.curve.flow_at(pressure)?;
        // On the logarithm, so that no doubt makes a flow negative.
        Some(flow.value * (factor * self.u(&flow) / flow.value).exp())
    }

    fn held(&self, flow: f64, factor: f64) -> Option<f64> {
        let held = as_known(self.supply.pressure_held_at(flow)?);
        let pressure = held.value + factor * self.u(&held);
        pressure.is_finite().then_some(pressure)
    }

    /// Pressure and flow of the crossing with both curves moved by so many standard uncertainties.
    fn cross(&self, flow_factor: f64, pressure_factor: f64) -> Result<(f64, f64), PlanError> {
        let mut high = self.held(0.0, pressure_factor).ok_or(PlanError::NoSupply)?;
        // The rig holds a pressure when its supply curve lies above it at the flow taken there; a flow
        // that it cannot deliver at all it does not hold.
        let is_held = |p: f64| {
            let flow = self.flow(p, flow_factor);
            flow.and_then(|q| self.held(q, pressure_factor))
                .is_some_and(|held| held >= p)
        };
        let mut low = LOWEST_PA;
        if high <= low || !is_held(low) {
            return Err(PlanError::NoCrossing { pressure_pa: low });
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if is_held(middle) {
                low = middle
            } else {
                high = middle
            }
        }
        let flow = self.flow(low, flow_factor).ok_or(PlanError::NoSupply)?;
        Ok((low, flow))
    }

    /// Common parts of pressure and flow at the crossing.
    fn common_at(&self, (pressure, flow): (f64, f64)) -> (f64, f64) {
        match self.instruments {
            Instruments::Different => (0.0, 0.0),
            Instruments::Same => (
                self.supply
                    .pressure_held_at(flow)
                    .map_or(0.0, |e| e.u_common),
                self.curve.flow_at(pressure).map_or(0.0, |e| e.u_common),
            ),
        }
    }
}
