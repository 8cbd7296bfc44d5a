//! Curves, supply, thresholds, windows and verdicts of all groups.

mod one_group;
mod supply;

use crate::analysis::align::Alignment;
use crate::analysis::clearing::clearing_posterior;
use crate::analysis::group::Group;
use crate::analysis::health::{Defect, DefectKind};
use crate::analysis::nozzle_curve::CommonUncertainty;
use crate::analysis::steady::Exclusion;
use crate::analysis::supply_curve::SupplyCurve;
use crate::analysis::thresholds::TEMPERATURE_STEP_K;
use crate::analysis::verdict::{Case, Verdict, decide_verdict};
use crate::findings::{BurstFinding, GroupFinding};
use crate::recording::settings::Settings;

/// What concluding needs.
pub(super) struct Inputs<'a> {
    pub(super) settings: &'a Settings,
    pub(super) bursts: &'a [BurstFinding],
    pub(super) groups: Vec<Group>,
    pub(super) defects: &'a [Defect],
    pub(super) alignment: &'a Alignment,
    pub(super) common: &'a CommonUncertainty,
}

/// What it gives.
pub(super) struct Concluded {
    pub(super) groups: Vec<GroupFinding>,
    pub(super) supply: Vec<SupplyCurve>,
    pub(super) verdicts: Vec<Verdict>,
}

pub(super) fn conclude(inputs: Inputs) -> Concluded {
    let supply = supply::supply_curves(inputs.bursts, inputs.common);
    let mut groups: Vec<GroupFinding> = Vec::new();
    for group in &inputs.groups {
        let baseline = groups.iter().rposition(|g| g.group.is_same_setting(group));
        let finding =
            one_group::conclude_group(&inputs, group, &supply, baseline.map(|i| (i, &groups[i])));
        groups.push(finding);
    }
    let verdicts = decide_all(&inputs, &groups, &supply);
    Concluded {
        groups,
        supply,
        verdicts,
    }
}

/// One verdict a setting, about its latest state; the setting with the most bursts first.
fn decide_all(inputs: &Inputs, groups: &[GroupFinding], supply: &[SupplyCurve]) -> Vec<Verdict> {
    let mut settings: Vec<(usize, usize)> = Vec::new(); // latest group, bursts in all states
    for (i, g) in groups.iter().enumerate() {
        let n = g.group.burst_indices.len();
        match settings
            .iter_mut()
            .find(|(j, _)| groups[*j].group.is_same_setting(&g.group))
        {
            Some((latest, count)) => {
                *latest = i;
                *count += n;
            }
            None => settings.push((i, n)),
        }
    }
    // A stable sort: of two settings with as many bursts, the one sprayed first stays first.
    settings.sort_by_key(|(_, n)| std::cmp::Reverse(*n));
    settings
        .iter()
        .map(|(i, _)| decide_one(inputs, groups, supply, *i))
        .collect()
}

fn decide_one(
    inputs: &Inputs,
    groups: &[GroupFinding],
    supply: &[SupplyCurve],
    group_index: usize,
) -> Verdict {
    let g = &groups[group_index];
    let clearing = clearing_posterior(&g.grades);
    let baseline = g.baseline_group.map(|i| &groups[i]);
    let baseline_clearing = baseline.and_then(|b| clearing_posterior(&b.grades));
    let temperature_change_k = baseline
        .and_then(|b| b.group.material_k)
        .zip(g.group.material_k)
        .map(|(before, now)| now - before)
        .filter(|change| change.abs() >= TEMPERATURE_STEP_K);
    let fatal_defects = fatal_for(inputs, &g.group);
    let stalled_full_pa = supply
        .first()
        .map(crate::analysis::supply_curve::stalled_level);
    let case = Case {
        group_index,
        curve: g.curve.as_ref(),
        fatal_defects: &fatal_defects,
        is_alignment_ambiguous: inputs.alignment.is_ambiguous,
        threshold: &g.tail_threshold,
        clearing: clearing.as_ref(),
        window: g.window.as_ref(),
        crossing: g.crossing.as_ref(),
        stalled_full_pa,
        is_full_known: supply::is_full_known(inputs.settings, stalled_full_pa),
        runs: one_group::run_evidence(inputs.bursts, &g.group),
        orifice_ratio: g.orifice_ratio,
        tip_used_s: g.tip.as_ref().and_then(|tip| tip.used_s),
        flow_ratio_to_baseline: g.flow_ratio_to_baseline,
        temperature_change_k,
        baseline_clearing: baseline_clearing.as_ref(),
        supply_change: supply::supply_change(inputs.settings, inputs.bursts, &g.group, supply),
        is_thinner_at_limit: inputs
            .settings
            .materials
            .iter()
            .find(|m| m.name == g.group.material)
            .and_then(|m| m.max_thinner_ratio)
            .is_some_and(|most| g.group.thinner_ratio >= most - 1e-6),
        baseline_temperature_k: baseline.and_then(|b| b.group.material_k),
    };
    decide_verdict(&case)
}

/// Share of a group's bursts that a fatal defect may take before the group cannot be judged.
const MOST_FATAL_RATIO: f64 = 0.3;

/// Fatal defects that take too much of a group, worst first.
fn fatal_for(inputs: &Inputs, group: &Group) -> Vec<DefectKind> {
    #[allow(clippy::cast_precision_loss)]
    let share = group
        .burst_indices
        .iter()
        .filter(|i| {
            matches!(
                inputs.bursts[**i].steady.exclusion,
                Some(Exclusion::Health { .. })
            )
        })
        .count() as f64
        / group.burst_indices.len().max(1) as f64;
    if share < MOST_FATAL_RATIO {
        return Vec::new();
    }
    let mut kinds: Vec<DefectKind> = inputs
        .defects
        .iter()
        .filter(|d| d.is_fatal)
        .map(|d| d.kind)
        .collect();
    // A frozen or clipped reading also looks like a change of scale: the cause comes first.
    kinds.sort_by_key(|k| match k {
        DefectKind::PressureBeyondSensor => 0,
        DefectKind::PressureSaturated => 1,
        DefectKind::PressureStuck => 2,
        DefectKind::PressureScaleChanged => 3,
        _ => 4,
    });
    kinds.dedup();
    kinds
}
