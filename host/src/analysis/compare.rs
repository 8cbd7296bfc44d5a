//! Two days: which curve moved, by how much, and is it more than the uncertainty.
//!
//! The same tip with the same coating in the same condition, once before and once after: the ratio of
//! flow at a pressure that both curves cover, the difference of exponent, the ratio of the pressure held
//! at one flow. Each comes with its interval and the word of an equivalence test ([`Change`]). Where both days used
//! one calibration, its deviation is the same on both and cancels; how far that holds is an
//! argument, never a guess. A change of coating temperature can be taken out. No causes here: the verdict
//! names them. How often the words are wrong is counted in `tests/tests/checks_apply_compare.rs`.

pub mod unit_slip;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::analysis::answer::Change;
use crate::analysis::group::Group;
use crate::analysis::nozzle_curve::NozzleCurve;
use crate::analysis::plan::Supply;
use crate::estimate::bracketed::Bracketed;
use crate::estimate::{Estimate, Interval};
use crate::units::{CubicMetrePerSecond, Pascal};

/// How far the calibration of two days is the same.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Calibration {
    /// One meter and sensor, not calibrated, mended or exchanged in between: common parts cancel.
    Shared,
    /// Other instruments or a new calibration: common parts add.
    Separate,
    /// Partly the same: correlation of the two common parts, 0 to 1.
    Partly(f64),
}

impl Calibration {
    fn correlation(self) -> Result<f64, CompareError> {
        match self {
            Self::Shared => Ok(1.0),
            Self::Separate => Ok(0.0),
            Self::Partly(r) if (0.0..=1.0).contains(&r) => Ok(r),
            Self::Partly(r) => Err(CompareError::BadCorrelation { correlation: r }),
        }
    }
}

/// The least changes that matter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Margins {
    /// Relative change of flow. One size step of a tip is 13 % of flow near 0.015 inch; less than half
    /// of that changes no setting (common practice, no source).
    pub flow_ratio: f64,
    /// Change of exponent: 0.05 changes the flow by 5 % over a pressure ratio of e.
    pub exponent: f64,
    /// Relative change of the pressure held: the step to which a dial is set (common practice, no source).
    pub supply_ratio: f64,
}

impl Default for Margins {
    fn default() -> Self {
        Self {
            flow_ratio: 0.05,
            exponent: 0.05,
            supply_ratio: 0.05,
        }
    }
}

/// Why two days cannot be compared.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CompareError {
    /// The two curves cover no common pressure.
    #[error(
        "the curves cover {:.0} to {:.0} bar and {:.0} to {:.0} bar, nothing in common; record one burst near \
         {:.0} bar",
        bar(before_pa.low), bar(before_pa.high), bar(after_pa.low), bar(after_pa.high), bar(*suggest_pa)
    )]
    NoCommonPressure {
        /// Range of the earlier curve.
        before_pa: Interval,
        /// Range of the later curve.
        after_pa: Interval,
        /// A pressure that would join them.
        suggest_pa: f64,
    },
    /// The two supply curves cover no common flow.
    #[error(
        "no pressure is known for {:.2} L/min on both days; record a burst at full dial with the same tip",
        CubicMetrePerSecond(*flow_m3_per_s).as_l_min()
    )]
    NoCommonFlow {
        /// Flow that was asked for.
        flow_m3_per_s: f64,
    },
    /// The correlation is not between 0 and 1.
    #[error("correlation of the calibrations is {correlation}; it must lie between 0 and 1")]
    BadCorrelation {
        /// As given.
        correlation: f64,
    },
    /// A margin is no usable number.
    #[error("the least change that matters is {margin}; it must be above 0 and below 1")]
    BadMargin {
        /// As given.
        margin: f64,
    },
    /// A curve yields no usable number.
    #[error("one of the curves gives no flow or pressure above zero; fit it again")]
    BadCurve,
}

fn bar(pressure_pa: f64) -> f64 {
    Pascal(pressure_pa).as_bar()
}

/// After over before, with its word.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RatioChange {
    /// After over before.
    pub ratio: Bracketed,
    /// Its logarithm, both parts of the doubt apart.
    pub ln_ratio: Estimate,
    /// The least relative change that matters.
    pub margin_ratio: f64,
    /// The word.
    pub change: Change,
}

impl RatioChange {
    fn of(ln_ratio: Estimate, margin_ratio: f64) -> Result<Self, CompareError> {
        if !(margin_ratio > 0.0 && margin_ratio < 1.0) {
            return Err(CompareError::BadMargin {
                margin: margin_ratio,
            });
        }
        if !(ln_ratio.value.is_finite() && ln_ratio.u_combined().is_finite()) {
            return Err(CompareError::BadCurve);
        }
        Ok(Self {
            ratio: Bracketed::from_ln(&ln_ratio),
            ln_ratio,
            margin_ratio,
            change: Change::of(&ln_ratio, margin_ratio.ln_1p()),
        })
    }

    /// What is left when a part of the change is explained, for example by temperature
    /// ([`crate::analysis::temperature::explain_by_temperature`], after over before).
    ///
    /// *Errors*: an explanation that is not above zero.
    pub fn without(&self, explained_ratio: Estimate) -> Result<Self, CompareError> {
        let is_usable = explained_ratio.value.is_finite() && explained_ratio.value > 0.0;
        if !is_usable {
            return Err(CompareError::BadCurve);
        }
        let relative = explained_ratio.scaled(1.0 / explained_ratio.value);
        let left = Estimate {
            value: self.ln_ratio.value - explained_ratio.value.ln(),
            u_common: self.ln_ratio.u_common.hypot(relative.u_combined()),
            ..self.ln_ratio
        };
        Self::of(left, self.margin_ratio)
    }
}

/// Two nozzle curves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CurveComparison {
    /// Pressure at which the flows are compared, Pa: where both together are known best.
    pub pressure_pa: f64,
    /// Flow.
    pub flow: RatioChange,
    /// Exponent, after minus before.
    pub exponent_difference: Estimate,
    /// The least change of exponent that matters.
    pub exponent_margin: f64,
    /// The word for the exponent.
    pub exponent_change: Change,
}

/// Compare two nozzle curves of one tip, coating and condition.
///
/// *Errors*: no common pressure; a correlation, margin or curve that is no usable number.
///
/// *Source*: JCGM 100:2008, equation 16, for the difference of logarithms; words as in [`Change`].
pub fn compare_curves(
    before: &NozzleCurve,
    after: &NozzleCurve,
    calibration: Calibration,
    margins: &Margins,
) -> Result<CurveComparison, CompareError> {
    let pressure_pa = common_pressure(before, after)?;
    let (q_before, q_after) = (before.flow_at(pressure_pa), after.flow_at(pressure_pa));
    let flow = RatioChange::of(
        ln_ratio(q_before, q_after, calibration)?,
        margins.flow_ratio,
    )?;
    let (n_before, n_after) = (before.power_law.n, after.power_law.n);
    let exponent_difference = difference(n_before, n_after, calibration)?;
    if !(margins.exponent > 0.0 && margins.exponent < 1.0) {
        return Err(CompareError::BadMargin {
            margin: margins.exponent,
        });
    }
    Ok(CurveComparison {
        pressure_pa,
        flow,
        exponent_difference,
        exponent_margin: margins.exponent,
        exponent_change: Change::of(&exponent_difference, margins.exponent),
    })
}

/// Compare the pressures held at one flow (m3/s) on two days.
///
/// Choose the flow inside both measured ranges ([`common_flow`]).
///
/// *Errors*: a day that gives no pressure at that flow; a correlation or margin that is no usable
/// number.
pub fn compare_supply(
    before: &impl Supply,
    after: &impl Supply,
    flow_m3_per_s: f64,
    calibration: Calibration,
    margins: &Margins,
) -> Result<RatioChange, CompareError> {
    let none = CompareError::NoCommonFlow { flow_m3_per_s };
    let p_before = before.pressure_held_at(flow_m3_per_s).ok_or(none.clone())?;
    let p_after = after.pressure_held_at(flow_m3_per_s).ok_or(none)?;
    RatioChange::of(
        ln_ratio(p_before, p_after, calibration)?,
        margins.supply_ratio,
    )
}

/// A flow inside both measured ranges, their geometric middle; `None` when they have nothing in common.
#[must_use]
pub fn common_flow(before: Interval, after: Interval) -> Option<f64> {
    let (low, high) = (before.low.max(after.low), before.high.min(after.high));
    (low > 0.0 && low <= high).then(|| (low * high).sqrt())
}

/// Which curve moved, from the words for both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WhichMoved {
    /// Both are shown to have stayed.
    Neither,
    /// The nozzle curve; the supply curve is shown to have stayed.
    NozzleCurve,
    /// The supply curve; the nozzle curve is shown to have stayed.
    SupplyCurve,
    /// Both.
    Both,
    /// At least one cannot be told.
    CannotTell,
}

impl WhichMoved {
    /// From the words for nozzle curve and supply curve.
    #[must_use]
    pub const fn of(nozzle: Change, supply: Change) -> Self {
        match (nozzle, supply) {
            (Change::CannotTell, _) | (_, Change::CannotTell) => Self::CannotTell,
            (Change::DidNotMove, Change::DidNotMove) => Self::Neither,
            (_, Change::DidNotMove) => Self::NozzleCurve,
            (Change::DidNotMove, _) => Self::SupplyCurve,
            _ => Self::Both,
        }
    }
}

/// Something in which two groups differ, so that their curves should not be compared as they are.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "differs", rename_all = "snake_case")]
pub enum Difference {
    /// Another tip.
    Tip,
    /// Another family of tip.
    TipFamily,
    /// Another coating.
    Coating,
    /// Another share of thinner.
    Thinner,
    /// Another coating temperature, after minus before; it can be taken out with
    /// [`RatioChange::without`].
    Temperature {
        /// Difference, K.
        by_k: f64,
    },
    /// The coating temperature of one of the two is not known.
    TemperatureUnknown,
}

/// Shares of thinner closer than this are one: a measuring jug's half percent.
const SAME_THINNER: f64 = 0.005;
/// Temperatures closer than this are one, K: viscosity then differs by less than a tenth.
const SAME_TEMPERATURE_K: f64 = 2.0;

/// In what two groups differ; empty when they are the same tip, coating and condition.
#[must_use]
pub fn find_differences(before: &Group, after: &Group) -> Vec<Difference> {
    let mut found = Vec::new();
    if before.tip != after.tip {
        found.push(Difference::Tip);
    }
    if before.tip_family != after.tip_family {
        found.push(Difference::TipFamily);
    }
    if before.material != after.material {
        found.push(Difference::Coating);
    }
    if (before.thinner_ratio - after.thinner_ratio).abs() > SAME_THINNER {
        found.push(Difference::Thinner);
    }
    match (before.material_k, after.material_k) {
        (Some(a), Some(b)) if (b - a).abs() > SAME_TEMPERATURE_K => {
            found.push(Difference::Temperature { by_k: b - a });
        }
        (Some(_), Some(_)) => {}
        _ => found.push(Difference::TemperatureUnknown),
    }
    found
}

/// The pressure inside both ranges at which the two flows together are known best.
fn common_pressure(before: &NozzleCurve, after: &NozzleCurve) -> Result<f64, CompareError> {
    let (a, b) = (before.range_pa, after.range_pa);
    let (low, high) = (a.low.max(b.low), a.high.min(b.high));
    let is_range = low > 0.0 && low <= high && high.is_finite();
    if !is_range {
        let (lower, upper) = if a.high < b.low { (a, b) } else { (b, a) };
        return Err(CompareError::NoCommonPressure {
            before_pa: a,
            after_pa: b,
            suggest_pa: 0.5 * (lower.high + upper.low),
        });
    }
    let doubt = |pressure: f64| {
        let relative = |curve: &NozzleCurve| {
            let flow = curve.flow_at(pressure);
            flow.u_independent / flow.value
        };
        relative(before).hypot(relative(after))
    };
    let steps: u16 = 40;
    let candidates = (0..=steps).map(|i| low * (high / low).powf(f64::from(i) / f64::from(steps)));
    candidates
        .min_by(|a, b| doubt(*a).total_cmp(&doubt(*b)))
        .ok_or(CompareError::BadCurve)
}

/// Logarithm of after over before.
fn ln_ratio(
    before: Estimate,
    after: Estimate,
    calibration: Calibration,
) -> Result<Estimate, CompareError> {
    let is_usable = |e: &Estimate| e.value.is_finite() && e.value > 0.0;
    if !(is_usable(&before) && is_usable(&after)) {
        return Err(CompareError::BadCurve);
    }
    let relative = |e: &Estimate| Estimate {
        value: e.value.ln(),
        u_independent: e.u_independent / e.value,
        u_common: e.u_common / e.value,
        dof: e.dof,
    };
    difference(relative(&before), relative(&after), calibration)
}

/// After minus before: independent parts add, common parts by their correlation.
fn difference(
    before: Estimate,
    after: Estimate,
    calibration: Calibration,
) -> Result<Estimate, CompareError> {
    let r = calibration.correlation()?;
    let (a, b) = (before.u_common, after.u_common);
    let common = (a * a + b * b - 2.0 * r * a * b).max(0.0).sqrt();
    let (va, vb) = (before.u_independent.powi(2), after.u_independent.powi(2));
    // Welch-Satterthwaite (JCGM 100:2008, G.2b).
    let freedom = [(va, before.dof), (vb, after.dof)]
        .iter()
        .filter(|(_, dof)| dof.is_finite() && *dof > 0.0)
        .map(|(v, dof)| v * v / dof)
        .sum::<f64>();
    let dof = if freedom > 0.0 {
        (va + vb).powi(2) / freedom
    } else {
        f64::INFINITY
    };
    Ok(Estimate::new(after.value - before.value, (va + vb).sqrt(), common).with_dof(dof))
}

#[cfg(test)]
mod tests;
