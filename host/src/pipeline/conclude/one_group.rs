//! One group: its curve, grades, threshold, crossing, window and orifice.

use super::Inputs;
use super::supply::latest_full_points;
use crate::analysis::clearing::clearing_posterior;
use crate::analysis::group::Group;
use crate::analysis::nozzle_curve::{CurveConditions, CurvePoint, NozzleCurve, fit_nozzle_curve};
use crate::analysis::similarity::SHEAR_INDEX_UNKNOWN;
use crate::analysis::steady::Exclusion;
use crate::analysis::supply_curve::{Crossing, SupplyCurve, cross_curve, measured_crossing};
use crate::analysis::tail_threshold::{Grade, find_tail_threshold};
use crate::analysis::temperature::andrade::{U_READING_RATIO, fit_andrade};
use crate::analysis::temperature::explain_by_temperature;
use crate::analysis::thresholds::{
    DISCHARGE_COEFFICIENT, SUPPLY_SCATTER_RATIO, TEMPERATURE_STEP_K, U_DISCHARGE_COEFFICIENT_RATIO,
};
use crate::analysis::tip_code::describe_tip;
use crate::analysis::verdict::RunEvidence;
use crate::analysis::window::{UpperBounds, find_window};
use crate::estimate::{Estimate, Interval};
use crate::findings::{BurstFinding, GroupFinding};
use crate::recording::settings::Material;
use crate::units::Kelvin;

/// Density of a coating of which nothing is known, kg/m3, and its relative standard uncertainty.
const UNKNOWN_DENSITY: (f64, f64) = (1200.0, 0.12);
/// Relative standard deviation of stamped against true orifice (common practice, no source).
const U_STAMPED_RATIO: f64 = 0.02;

pub(super) fn conclude_group(
    inputs: &Inputs,
    group: &Group,
    supply: &[SupplyCurve],
    baseline: Option<(usize, &GroupFinding)>,
) -> GroupFinding {
    let members: Vec<(usize, &BurstFinding)> = group
        .burst_indices
        .iter()
        .map(|i| (*i, &inputs.bursts[*i]))
        .collect();
    let curve = fit_nozzle_curve(
        &curve_points(&members),
        inputs.common,
        &conditions(&members),
    );
    let grades = grades_of(&members);
    let tail_threshold = find_tail_threshold(&grades);
    let tip = describe_tip(&group.tip, &inputs.settings.tips);
    let u_common_ratio = inputs.common.u_pressure_span_ratio;
    let crossing = measured_crossing(&latest_full_points(group, supply), u_common_ratio)
        .or_else(|| computed_crossing(curve.as_ref().ok()?, supply.first()?, inputs));
    let material = inputs
        .settings
        .materials
        .iter()
        .find(|m| m.name == group.material);
    let bounds = UpperBounds {
        working_pressure_pa: inputs.settings.limits.working_pressure_pa,
        coating_limit_pa: material.and_then(|m| m.max_pressure_pa),
        lowest_run_pa: lowest_run(&members),
        highest_tried_pa: grades.iter().map(|g| g.pressure_pa).reduce(f64::max),
    };
    let clearing = clearing_posterior(&grades);
    let window = find_window(
        &tail_threshold,
        clearing.as_ref(),
        crossing.as_ref(),
        &bounds,
    );
    let density = material
        .and_then(|m| m.density_kg_per_m3)
        .map_or(UNKNOWN_DENSITY, |rho| (rho, 0.01));
    let equivalent_orifice_m = curve.as_ref().ok().map(|c| equivalent_orifice(c, density));
    let orifice_ratio = equivalent_orifice_m
        .zip(tip.orifice_diameter_m)
        .filter(|(_, nominal)| *nominal > 0.0)
        .map(|(d, nominal)| {
            let ratio = d.scaled(1.0 / nominal);
            Estimate {
                u_common: ratio.u_common.hypot(U_STAMPED_RATIO * ratio.value),
                ..ratio
            }
        });
    GroupFinding {
        group: group.clone(),
        tip: Some(tip),
        flow_ratio_to_baseline: baseline
            .and_then(|(_, b)| flow_ratio(&b.curve, &curve).or_else(|| flow_step(&b.group, group))),
        flow_ratio_by_temperature: baseline
            .and_then(|(_, b)| by_temperature(b, group, curve.as_ref().ok()?, material?)),
        baseline_group: baseline.map(|(i, _)| i),
        curve,
        grades,
        tail_threshold,
        crossing,
        window,
        equivalent_orifice_m,
        orifice_ratio,
    }
}

/// What the rig would hold with a tip that was not sprayed at full position, from the tips that were.
///
/// `None` where the points at full position do not agree on one curve: the supply moved meanwhile, and
/// the crossing would belong to no state of the rig.
fn computed_crossing(curve: &NozzleCurve, full: &SupplyCurve, inputs: &Inputs) -> Option<Crossing> {
    (full.u_pressure_ratio() < SUPPLY_SCATTER_RATIO)
        .then(|| cross_curve(curve, full, inputs.common))
        .flatten()
}

fn curve_points(members: &[(usize, &BurstFinding)]) -> Vec<CurvePoint> {
    members
        .iter()
        .filter(|(_, b)| b.steady.exclusion.is_none() && !b.steady.flow_is_bound)
        .filter_map(|(burst_index, b)| {
            Some(CurvePoint {
                burst_index: *burst_index,
                pressure_pa: b.steady.pressure_pa?,
                flow_m3_per_s: b.steady.flow_m3_per_s?,
            })
        })
        .collect()
}

fn conditions(members: &[(usize, &BurstFinding)]) -> CurveConditions {
    let temperatures = || members.iter().filter_map(|(_, b)| b.steady.material_k);
    CurveConditions {
        material_k: temperatures()
            .reduce(f64::min)
            .zip(temperatures().reduce(f64::max))
            .map(|(low, high)| Interval { low, high }),
    }
}

/// A grade counts wherever its pressure is known, also where the flow is not.
fn grades_of(members: &[(usize, &BurstFinding)]) -> Vec<Grade> {
    members
        .iter()
        .filter(|(_, b)| {
            !matches!(
                b.steady.exclusion,
                Some(Exclusion::Health { .. } | Exclusion::AmbiguousNote)
            )
        })
        .filter_map(|(burst_index, b)| {
            Some(Grade {
                burst_index: *burst_index,
                pressure_pa: b.steady.pressure_pa.filter(|p| p.value > 0.0)?.value,
                tails: b.tails?,
            })
        })
        .collect()
}

/// Lowest pressure from which on tail-free bursts ran, where some did not below it.
fn lowest_run(members: &[(usize, &BurstFinding)]) -> Option<f64> {
    let tail_free: Vec<(f64, bool)> = members
        .iter()
        .filter(|(_, b)| b.tails == Some(0))
        .filter_map(|(_, b)| Some((b.steady.pressure_pa?.value, b.runs?)))
        .collect();
    let ran = tail_free.iter().filter(|(_, ran)| *ran);
    (ran.clone().count() >= 2)
        .then(|| ran.map(|(p, _)| *p).reduce(f64::min))
        .flatten()
}

/// Runs among the lower half of the tail-free bursts: the ones that a recommendation would use.
pub(super) fn run_evidence(bursts: &[BurstFinding], group: &Group) -> RunEvidence {
    let mut tail_free: Vec<(f64, bool)> = group
        .burst_indices
        .iter()
        .map(|i| &bursts[*i])
        .filter(|b| b.tails == Some(0))
        .filter_map(|b| Some((b.steady.pressure_pa?.value, b.runs?)))
        .collect();
    tail_free.sort_by(|a, b| a.0.total_cmp(&b.0));
    tail_free.truncate(tail_free.len().div_ceil(2).max(3));
    RunEvidence {
        n_tail_free: tail_free.len(),
        n_ran: tail_free.iter().filter(|(_, ran)| *ran).count(),
    }
}

/// Flow at one pressure, now over then; the common parts (one meter, one sensor) cancel.
fn flow_ratio<E>(then: &Result<NozzleCurve, E>, now: &Result<NozzleCurve, E>) -> Option<Estimate> {
    let (then, now) = (then.as_ref().ok()?, now.as_ref().ok()?);
    let p = (then.power_law.p_ref_pa * now.power_law.p_ref_pa).sqrt();
    let (a, b) = (then.flow_at(p), now.flow_at(p));
    let ratio = b.value / a.value;
    let u = (a.u_independent / a.value).hypot(b.u_independent / b.value);
    Some(Estimate::new(ratio, ratio * u, 0.0).with_dof(a.dof.min(b.dof)))
}

/// The step of the curve between two states, where it is these two that it parts.
fn flow_step(then: &Group, now: &Group) -> Option<Estimate> {
    now.flow_step_ratio
        .filter(|_| then.material_k == now.material_k)
}

/// What the change of coating temperature since the baseline makes of the flow at one pressure.
///
/// `None` below [`TEMPERATURE_STEP_K`], and without viscosity readings at two temperatures.
fn by_temperature(
    baseline: &GroupFinding,
    group: &Group,
    curve: &NozzleCurve,
    material: &Material,
) -> Option<Estimate> {
    let (before_k, after_k) = baseline.group.material_k.zip(group.material_k)?;
    if (after_k - before_k).abs() < TEMPERATURE_STEP_K {
        return None;
    }
    let andrade = fit_andrade(&material.viscosity, U_READING_RATIO).ok()?;
    explain_by_temperature(
        curve.power_law.n,
        SHEAR_INDEX_UNKNOWN,
        &andrade,
        Kelvin(before_k),
        Kelvin(after_k),
    )
    .ok()
}

/// Equivalent orifice: the sharp-edged hole that lets the same flow through by its inertial part.
///
/// In `p = a q + b q^2` the local exponent is `n = 1 / (1 + phi)` with `phi` the quadratic share of
/// the pressure, so that `phi = 1 / n - 1`, and the quadratic term alone has the turbulent
/// discharge coefficient: `q = Cd A sqrt(2 phi p / rho)`. Derived here; the coefficient is stated
/// in `thresholds`.
fn equivalent_orifice(curve: &NozzleCurve, density: (f64, f64)) -> Estimate {
    let law = &curve.power_law;
    let n = law.n.value.clamp(0.5, 0.77);
    let phi = 1.0 / n - 1.0;
    let speed = (2.0 * phi * law.p_ref_pa / density.0).sqrt();
    let q = law.q_ref_m3_per_s;
    let area = q.value / (DISCHARGE_COEFFICIENT * speed);
    let d = (4.0 * area / std::f64::consts::PI).sqrt();
    // d goes with the root of the area; the area with the inverse root of phi.
    let u_phi = law.n.u_combined() / (n * n) / phi;
    let independent = 0.5 * (q.u_independent / q.value).hypot(0.5 * u_phi);
    let common = 0.5
        * (q.u_common / q.value)
            .hypot(U_DISCHARGE_COEFFICIENT_RATIO)
            .hypot(0.5 * density.1);
    Estimate::new(d, d * independent, d * common)
}
