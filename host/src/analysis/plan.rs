//! Will this rig push this coating through this tip? From curves already measured.
//!
//! [`predict`] makes the tip's nozzle curve from measured ones, [`hose`] takes the hose between tap and
//! gun into account, [`crossing`] crosses it with a supply curve, and [`judge_plan`] holds the pressure
//! against what is needed: yes, no or cannot tell, and what would have to change; [`outlook`] also says what is known
//! beyond what was measured, and which limit closes the window. The supply curve comes in
//! as anything that gives the pressure held at a flow. No recordings here, no wording, and no advice
//! above a rating: where the need lies above the lowest rated working pressure the answer is no. Checked in
//! `tests/tests/checks_apply_plan.rs`.

pub mod crossing;
pub mod hose;
pub mod outlook;
pub mod predict;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::analysis::answer::Answer;
use crate::analysis::supply_curve::{SupplyCurve, stalled_level};
use crate::estimate::{Estimate, coverage_factor_95};
use crate::units::{Metre, Pascal};
use crossing::{HeldPoint, Instruments, cross_supply};
use predict::PredictedCurve;

/// The highest pressure that a rig holds against flow, at one control position.
///
/// It does not rise with flow. Any closure from flow (m3/s) to an estimate in Pa is one.
pub trait Supply {
    /// Highest pressure held at a flow, Pa; `None` when the rig cannot deliver that flow at all.
    fn pressure_held_at(&self, flow_m3_per_s: f64) -> Option<Estimate>;
}

impl<F: Fn(f64) -> Option<Estimate>> Supply for F {
    fn pressure_held_at(&self, flow_m3_per_s: f64) -> Option<Estimate> {
        self(flow_m3_per_s)
    }
}

/// A measured supply curve: its own value, its points' scatter about it, their common part.
impl Supply for SupplyCurve {
    fn pressure_held_at(&self, flow_m3_per_s: f64) -> Option<Estimate> {
        let lowest = self
            .points
            .iter()
            .map(|p| p.flow_m3_per_s.value)
            .fold(f64::INFINITY, f64::min);
        let held = self
            .pressure_at(flow_m3_per_s)
            .map(|(pressure, _)| pressure);
        // Below every measured flow the control's own level holds.
        let pressure = held.or_else(|| (flow_m3_per_s < lowest).then(|| stalled_level(self)))?;
        let common = self
            .points
            .iter()
            .map(|p| p.pressure_pa.u_common / p.pressure_pa.value);
        let common = common.filter(|u| u.is_finite()).fold(0.0, f64::max);
        let estimate = Estimate::new(
            pressure,
            self.u_pressure_ratio() * pressure,
            common * pressure,
        );
        (pressure > 0.0 && estimate.u_combined().is_finite()).then_some(estimate)
    }
}

/// The same estimate with an independent part that, as if known, gives the same 95 % interval.
fn as_known(estimate: Estimate) -> Estimate {
    let factor = coverage_factor_95(estimate.dof) / coverage_factor_95(f64::INFINITY);
    Estimate::new(
        estimate.value,
        estimate.u_independent * factor,
        estimate.u_common,
    )
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PlanError {
    /// No nozzle curve in this coating.
    #[error("no tip was measured with this coating; record one tip at three pressures")]
    NoCurve,
    /// A tip's size is not known.
    #[error("tip {tip} has no orifice size in its code or the settings; add it to session.toml")]
    NoOrifice {
        /// The tip's label.
        tip: String,
    },
    /// A diameter or tolerance is no usable number.
    #[error(
        "orifice {:.3} mm with a relative uncertainty of {u_ratio}; the first must be above zero, the second \
         between 0 and 0.5",
        Metre(*orifice_m).as_mm()
    )]
    BadOrifice {
        /// Orifice diameter.
        orifice_m: f64,
        /// Relative standard uncertainty.
        u_ratio: f64,
    },
    /// The shear index is no usable number.
    #[error(
        "shear index {shear_index}; it must lie above 0 and below 1.5, with an uncertainty above zero"
    )]
    BadShearIndex {
        /// As given.
        shear_index: f64,
    },
    /// A number of the hose is not above zero.
    #[error(
        "length, bore, density, viscosity, shear rate and shear index of the hose must all be above zero"
    )]
    BadHose,
    /// The planned orifice is too far from every measured one.
    #[error(
        "orifice {:.3} mm is more than twice or less than half of {:.3} mm, the nearest one measured; record a \
         tip nearer to it",
        Metre(*planned_m).as_mm(), Metre(*nearest_m).as_mm()
    )]
    TooFar {
        /// Planned orifice.
        planned_m: f64,
        /// Nearest measured orifice.
        nearest_m: f64,
    },
    /// The supply curve has no pressure at no flow.
    #[error("the supply curve gives no stalled pressure; record a burst at full dial")]
    NoSupply,
    /// The tip takes more than the rig gives even at the lowest pressure.
    #[error("the rig cannot hold {:.0} bar with this tip", Pascal(*pressure_pa).as_bar())]
    NoCrossing {
        /// Pressure that is not held.
        pressure_pa: f64,
    },
}

/// What a plan is held against.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Need {
    /// Lowest tail-free pressure of this coating with this kind of tip, Pa; `None` when not known.
    pub tail_free_pa: Option<Estimate>,
    /// Lowest rated working pressure of pump, hose, gun and fittings, and of the coating's label, Pa;
    /// `None` when not stated.
    pub rated_pa: Option<f64>,
}

/// Why the answer is what it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PlanReason {
    /// The pressure held is enough.
    PressureHeld,
    /// The rig does not hold the pressure that the coating needs.
    PressureNotHeld,
    /// The coating needs more than the lowest rating allows.
    AboveRating,
    /// The coating may need more than the lowest rating allows.
    NearRating,
    /// The pump was starved or its battery weak while it was measured: what it does when put right is not known.
    PumpNotSound,
    /// The intervals overlap: one burst with this tip at full dial would settle it.
    Overlap,
    /// No tail-free pressure is known: a tip's tails must be graded first.
    NeedUnknown,
}

/// Something that would turn the answer, in numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "change", rename_all = "snake_case")]
pub enum Change {
    /// Largest orifice whose whole interval is held at the need; the fan the same.
    OrificeAtMost {
        /// Orifice diameter, m.
        orifice_m: f64,
    },
    /// Thinning or warming, within the label, would have to bring the tail-free pressure down to this.
    TailFreeAtMost {
        /// Pressure, Pa.
        pressure_pa: f64,
    },
    /// A pump would have to deliver this hydraulic power: the need times the flow taken there.
    HydraulicPower {
        /// Power, W.
        power_w: f64,
        /// Over what this rig gives at the pressure it holds.
        ratio: f64,
    },
    /// Grade the tails of a tip in this coating.
    GradeTails,
    /// One burst at full dial with this very tip.
    BurstWithThisTip,
}

/// The answer to "will this rig push this coating through this tip?".
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// What the rig does with the tip at the supply curve's control position.
    pub held: HeldPoint,
    /// Whether it holds what is needed.
    pub answer: Answer,
    /// Why.
    pub reason: PlanReason,
    /// What would have to change; empty for a yes.
    pub changes: Vec<Change>,
    /// True when the measured curves had to be carried beyond their ranges.
    pub is_extrapolated: bool,
}

/// Plan a tip: cross its curve with the supply, hold the pressure against the need.
///
/// *Errors*: as [`cross_supply`]; [`PlanError::NoCrossing`] is a plain no for any need.
pub fn judge_plan(
    curve: &PredictedCurve,
    supply: &impl Supply,
    instruments: Instruments,
    need: &Need,
) -> Result<Plan, PlanError> {
    let held = cross_supply(curve, supply, instruments)?;
    let (answer, reason) = answer_need(&held, need);
    let changes = find_changes(&(curve, supply, instruments), &held, need, reason);
    Ok(Plan {
        is_extrapolated: curve.is_extrapolated(held.pressure_pa.value),
        held,
        answer,
        reason,
        changes,
    })
}

fn answer_need(held: &HeldPoint, need: &Need) -> (Answer, PlanReason) {
    let Some(tail_free) = need.tail_free_pa else {
        return (Answer::CannotTell, PlanReason::NeedUnknown);
    };
    if let Some(rated_pa) = need.rated_pa
        && Answer::is_at_least(&tail_free, rated_pa) == Answer::Yes
    {
        return (Answer::No, PlanReason::AboveRating);
    }
    // Both in doubt: compare the difference, each side's own half-width in quadrature.
    let (value, interval) = (held.pressure_pa.value, held.pressure_pa.interval_95);
    let margin = value - tail_free.value;
    let u = tail_free.expanded_95();
    if margin >= (value - interval.low).hypot(u) {
        (Answer::Yes, PlanReason::PressureHeld)
    } else if -margin > (interval.high - value).hypot(u) {
        (Answer::No, PlanReason::PressureNotHeld)
    } else {
        (Answer::CannotTell, PlanReason::Overlap)
    }
}

fn find_changes<S: Supply>(
    parts: &(&PredictedCurve, &S, Instruments),
    held: &HeldPoint,
    need: &Need,
    reason: PlanReason,
) -> Vec<Change> {
    let Some(tail_free) = need.tail_free_pa else {
        return vec![Change::GradeTails];
    };
    let mut changes = Vec::new();
    if reason == PlanReason::Overlap {
        changes.push(Change::BurstWithThisTip);
    }
    if matches!(reason, PlanReason::Overlap | PlanReason::PressureNotHeld) {
        if let Some(orifice_m) = largest_orifice(parts, need) {
            changes.push(Change::OrificeAtMost { orifice_m });
        }
        if let Some(taken) = parts.0.flow_at(tail_free.value) {
            let power_w = tail_free.value * taken.value;
            let given = held.pressure_pa.value * held.flow_m3_per_s.value;
            changes.push(Change::HydraulicPower {
                power_w,
                ratio: power_w / given,
            });
        }
        changes.push(Change::TailFreeAtMost {
            pressure_pa: held.pressure_pa.interval_95.low,
        });
    }
    if let (PlanReason::AboveRating | PlanReason::NearRating, Some(pressure_pa)) =
        (reason, need.rated_pa)
    {
        changes.push(Change::TailFreeAtMost { pressure_pa });
    }
    changes
}

/// Largest orifice below the planned one that gives a plain yes; `None` when half of it does not.
fn largest_orifice<S: Supply>(
    (curve, supply, instruments): &(&PredictedCurve, &S, Instruments),
    need: &Need,
) -> Option<f64> {
    let gives_yes = |orifice_m: f64| {
        cross_supply(&curve.with_orifice(orifice_m), *supply, *instruments)
            .is_ok_and(|held| answer_need(&held, need).0 == Answer::Yes)
    };
    let (mut low, mut high) = (0.5 * curve.orifice_m(), curve.orifice_m());
    if !gives_yes(low) {
        return None;
    }
    // To a ten-thousandth of the orifice: far finer than any tip is made.
    for _ in 0..13 {
        let middle = 0.5 * (low + high);
        if gives_yes(middle) {
            low = middle
        } else {
            high = middle
        }
    }
    Some(low)
}

#[cfg(test)]
mod tests;
