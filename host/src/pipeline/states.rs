//! Groups and their states: a setting whose nozzle curve stepped is two groups.

use crate::analysis::change::find_level_step;
use crate::analysis::group::{Group, GroupMember, form_groups, number_phases};
use crate::analysis::health::{Defect, DefectKind};
use crate::analysis::nozzle_curve::CommonUncertainty;
use crate::analysis::steady::Exclusion;
use crate::analysis::thresholds::UNIT_CHANGE_FACTOR;
use crate::estimate::Estimate;
use crate::findings::BurstFinding;

/// Probability by chance below which a step of the curve parts a group.
const STEP_P_VALUE: f64 = 0.005;
/// A step of flow smaller than this is left to the scatter, relative.
const LEAST_STEP_RATIO: f64 = 0.045;
/// What bursts of one setting repeat within, beside their own uncertainty, relative.
const U_REPEAT_RATIO: f64 = 0.01;
/// Exponents that a nozzle can have.
const SLOPE_RANGE: (f64, f64) = (0.45, 1.1);

/// Forms groups, parts those whose curve stepped, and tells each burst its group.
pub(super) fn form_states(found: &mut [BurstFinding], _common: &CommonUncertainty) -> Vec<Group> {
    let members: Vec<GroupMember> = found
        .iter()
        .enumerate()
        .filter(|(_, b)| {
            b.setting.tip.is_some()
                && !matches!(
                    b.steady.exclusion,
                    Some(Exclusion::Sync | Exclusion::NoNote | Exclusion::NotNoted)
                )
        })
        .map(|(burst_index, b)| GroupMember {
            burst_index,
            setting: b.setting.clone(),
            material_k: b.steady.material_k,
        })
        .collect();
    let mut groups: Vec<Group> = form_groups(&members)
        .into_iter()
        .flat_map(|group| split_at_step(group, found))
        .collect();
    groups.sort_by_key(|g| g.burst_indices.first().copied().unwrap_or(usize::MAX));
    number_phases(&mut groups);
    for (i, group) in groups.iter().enumerate() {
        for burst in &group.burst_indices {
            found[*burst].group_index = Some(i);
        }
    }
    groups
}

/// Usable points of a group in order of time: burst index, ln p, ln q, weight.
fn usable(indices: &[usize], found: &[BurstFinding]) -> Vec<(usize, f64, f64, f64)> {
    indices
        .iter()
        .filter_map(|i| {
            let steady = &found[*i].steady;
            let (p, q) = (steady.pressure_pa?, steady.flow_m3_per_s?);
            if steady.exclusion.is_some() || p.value <= 0.0 || q.value <= 0.0 {
                return None;
            }
            let u_q = (q.u_independent / q.value).hypot(U_REPEAT_RATIO);
            let u = u_q.hypot(0.6 * p.u_independent / p.value);
            Some((*i, p.value.ln(), q.value.ln(), 1.0 / (u * u)))
        })
        .collect()
}

fn split_at_step(group: Group, found: &[BurstFinding]) -> Vec<Group> {
    let points = usable(&group.burst_indices, found);
    let column = |f: fn(&(usize, f64, f64, f64)) -> f64| points.iter().map(f).collect::<Vec<_>>();
    let step = find_level_step(
        &column(|p| p.1),
        &column(|p| p.2),
        &column(|p| p.3),
        2,
        SLOPE_RANGE,
    );
    let Some(step) = step.filter(|s| {
        s.p_value < STEP_P_VALUE && s.size.abs() > LEAST_STEP_RATIO && s.size.abs() > 4.0 * s.u_size
    }) else {
        return vec![group];
    };
    let first_behind = points[step.at].0;
    let (before, behind): (Vec<usize>, Vec<usize>) =
        group.burst_indices.iter().partition(|i| **i < first_behind);
    let part = |burst_indices, flow_step_ratio| Group {
        burst_indices,
        flow_step_ratio,
        ..group.clone()
    };
    let ratio = step.size.exp();
    #[allow(clippy::cast_precision_loss)]
    let dof = points.len() as f64 - 3.0;
    let ratio = Estimate::new(ratio, ratio * step.u_size, 0.0).with_dof(dof);
    // A flow below what the meter can count is a bound: enough to part two states, not to say by how much.
    let is_number = points.iter().all(|p| !found[p.0].steady.flow_is_bound);
    vec![part(before, None), part(behind, is_number.then_some(ratio))]
}

/// Finds a change of the pressure scale: readings several times higher at the same flow.
///
/// Between two bursts of one setting flow rises at least with the root of pressure. Where pressure
/// differs by more than [`UNIT_CHANGE_FACTOR`] while flow differs by less than its fourth root
/// would, the readings are not in one unit.
pub(super) fn find_scale_change(found: &[BurstFinding]) -> Option<Defect> {
    let points: Vec<(f64, f64, f64, String)> = found
        .iter()
        .filter_map(|b| {
            let (p, q) = (b.steady.pressure_pa?.value, b.steady.flow_m3_per_s?.value);
            (p > 0.0 && q > 0.0 && b.setting.tip.is_some())
                .then(|| (b.burst.start_s, p.ln(), q.ln(), b.setting.group_key()))
        })
        .collect();
    let mut jumps = Vec::new();
    for (i, a) in points.iter().enumerate() {
        for b in &points[i + 1..] {
            let (dp, dq) = (b.1 - a.1, b.2 - a.2);
            let is_jump = dp.abs() > UNIT_CHANGE_FACTOR.ln()
                && dq.signum() * dp.signum() * dq.abs() < 0.25 * dp.abs();
            if a.3 == b.3 && is_jump {
                jumps.push((a.0, b.0, dp));
            }
        }
    }
    if jumps.len() < 2 {
        return None;
    }
    let first = points.first().map_or(0.0, |p| p.0);
    let last = found.last().map_or(first, |b| b.burst.end_s);
    Some(Defect {
        kind: DefectKind::PressureScaleChanged,
        from_s: first,
        to_s: last,
        magnitude: Some(jumps[0].2.abs().exp()),
        is_fatal: true,
        consequence:
            "the same flow is read at pressures several times apart: the readings changed \
                      their unit or scale within the recording, no pressure of it can be used"
                .to_owned(),
    })
}
