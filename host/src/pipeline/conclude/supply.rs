//! Supply points from bursts, and how the supply changed within a recording.

use crate::analysis::change::find_step;
use crate::analysis::group::Group;
use crate::analysis::nozzle_curve::CommonUncertainty;
use crate::analysis::steady::Exclusion;
use crate::analysis::supply_curve::{SupplyCurve, SupplyPoint, fit_supply_curves};
use crate::analysis::verdict::SupplyChange;
use crate::estimate::Estimate;
use crate::findings::BurstFinding;
use crate::recording::settings::Settings;
use statrs::distribution::{ContinuousCDF, Normal};

/// What a control comes back to from pull to pull, relative (common practice, no source).
const U_CONTROL_RATIO: f64 = 0.015;
/// A highest position that stalls below this share of the rated pressure is not the full one.
const FULL_RATIO: f64 = 0.8;

/// Supply curves of all positions, the full one first.
pub(super) fn supply_curves(
    bursts: &[BurstFinding],
    _common: &CommonUncertainty,
) -> Vec<SupplyCurve> {
    let points: Vec<(String, SupplyPoint)> = bursts
        .iter()
        .enumerate()
        .filter(|(_, b)| b.steady.exclusion.is_none())
        .filter_map(|(i, b)| supply_point(i, b))
        .collect();
    fit_supply_curves(&points)
}

fn supply_point(burst_index: usize, b: &BurstFinding) -> Option<(String, SupplyPoint)> {
    let dial = b.setting.dial.clone()?;
    Some((
        dial,
        SupplyPoint {
            burst_index,
            tip: b.setting.tip.clone()?,
            flow_m3_per_s: b.steady.flow_m3_per_s?,
            pressure_pa: b.steady.pressure_pa?,
            stalled_pa: b.steady.stalled_pa,
            supply_v: b.steady.supply_v,
            t_s: 0.5 * (b.steady.from_s + b.steady.to_s),
        },
    ))
}

/// True unless the rating says that a higher position must exist.
pub(super) fn is_full_known(settings: &Settings, stalled_full_pa: Option<f64>) -> bool {
    match (settings.limits.working_pressure_pa, stalled_full_pa) {
        (Some(rated), Some(stalled)) => stalled >= FULL_RATIO * rated,
        _ => true,
    }
}

/// Bursts of a group's setting at full position, in order of time, drifting ones included: a
/// battery that gives out makes a burst drift.
fn full_bursts<'a>(
    bursts: &'a [BurstFinding],
    group: &Group,
    supply: &[SupplyCurve],
) -> Vec<&'a BurstFinding> {
    let Some(full) = supply.first() else {
        return Vec::new();
    };
    bursts
        .iter()
        .filter(|b| b.setting.dial.as_deref() == Some(full.dial.as_str()))
        .filter(|b| {
            b.setting.tip.as_deref().unwrap_or_default() == group.tip
                && b.setting.material.as_deref().unwrap_or_default() == group.material
        })
        .filter(|b| matches!(b.steady.exclusion, None | Some(Exclusion::NotSteady { .. })))
        .filter(|b| b.steady.pressure_pa.is_some_and(|p| p.value > 0.0))
        .collect()
}

/// How the pressure held at full position by this setting fell: its last burst against its best.
///
/// A battery gives out gradually and an inlet clogs at once; the last against the best catches
/// both. Its scatter is not taken from the bursts, which a gradual fall would inflate, but from what
/// a control repeats within.
pub(super) fn supply_change(
    settings: &Settings,
    bursts: &[BurstFinding],
    group: &Group,
    supply: &[SupplyCurve],
) -> Option<SupplyChange> {
    let list = full_bursts(bursts, group, supply);
    let (last, earlier) = list.split_last()?;
    let best = earlier
        .iter()
        .max_by(|a, b| held_pa(a).total_cmp(&held_pa(b)))?;
    let ratio = held_pa(last) / held_pa(best);
    let u_ratio = std::f64::consts::SQRT_2 * U_CONTROL_RATIO;
    let z = ratio.ln().abs() / u_ratio;
    #[allow(clippy::cast_precision_loss)]
    let places = earlier.len() as f64;
    let tail = Normal::new(0.0, 1.0).map_or(1.0, |n| 2.0 * (1.0 - n.cdf(z)));
    let voltage_ratio = best
        .steady
        .supply_v
        .zip(last.steady.supply_v)
        .filter(|(before, _)| *before > 0.0)
        .map(|(before, behind)| behind / before);
    Some(SupplyChange {
        held_ratio: Estimate::new(ratio, ratio * u_ratio, 0.0),
        p_value: (tail * places).min(1.0),
        voltage_ratio,
        has_battery: settings.limits.battery_v.is_some(),
    })
}

fn held_pa(b: &BurstFinding) -> f64 {
    b.steady.pressure_pa.map_or(f64::NAN, |p| p.value)
}

/// Points of a group at full position in the latest state of the supply.
pub(super) fn latest_full_points<'a>(
    group: &Group,
    supply: &'a [SupplyCurve],
) -> Vec<&'a SupplyPoint> {
    let Some(full) = supply.first() else {
        return Vec::new();
    };
    let points: Vec<&SupplyPoint> = full
        .points
        .iter()
        .filter(|p| group.burst_indices.contains(&p.burst_index))
        .collect();
    let ln_p: Vec<f64> = points
        .iter()
        .map(|p| p.pressure_pa.value.max(1.0).ln())
        .collect();
    match find_step(&ln_p, 1, U_CONTROL_RATIO) {
        Some(step) if step.p_value < 0.02 && step.size.abs() > 0.05 => points[step.at..].to_vec(),
        _ => points,
    }
}
