//! A recording's findings to a plan for a tip: gathers what [`crate::analysis::plan`] asks for.
//!
//! Measured tips of the coating with their latest curves, the hose where the tap is before it, the supply
//! curve of the control position, the tail-free pressure of the nearest tip and the lowest rating. No
//! arithmetic of its own beyond choosing; no wording.

use crate::analysis::group::Group;
use crate::analysis::plan::crossing::Instruments;
use crate::analysis::plan::hose::Hose;
use crate::analysis::plan::predict::{MeasuredTip, PlannedTip, U_ORIFICE_RATIO, predict_curve};
use crate::analysis::plan::{Need, Plan, PlanError, judge_plan};
use crate::analysis::similarity::SHEAR_INDEX_UNKNOWN;
use crate::analysis::tail_threshold::TailThreshold;
use crate::analysis::temperature::andrade::{U_READING_RATIO, fit_andrade};
use crate::analysis::tip_code::describe_tip;
use crate::estimate::Estimate;
use crate::findings::{Findings, GroupFinding};
use crate::recording::settings::{Material, Tap};
use crate::units::Kelvin;

/// What is asked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Question {
    /// Tip, as stamped or as the settings name it.
    pub tip: String,
    /// Coating; `None` for the one that the recording is mainly about.
    pub material: Option<String>,
    /// Thinner, 0 to 1; `None` for the thinner that this coating was mostly measured with.
    pub thinner_ratio: Option<f64>,
    /// Control position; `None` for the highest one measured.
    pub dial: Option<String>,
}

/// Shares of thinner closer than this are one.
pub(super) const SAME_THINNER: f64 = 0.005;
/// A tail-free pressure is carried from one tip to another with this relative standard uncertainty at
/// least: it falls with the orifice and rises with the fan (common practice, no source).
pub(super) const U_TAIL_FREE_RATIO: f64 = 0.10;

/// Plan a tip from what one recording found.
///
/// A tip that was itself measured is planned from its own curve, without any stamping tolerance.
///
/// *Errors*: [`PlanError`]: no curve in this coating, a tip without a size, no supply curve at this control
/// position, and what the plan itself refuses.
pub fn plan_tip(findings: &Findings, question: &Question) -> Result<Plan, PlanError> {
    let groups = same_coating(findings, question);
    let asked = describe_tip(&question.tip, &findings.settings.tips);
    let own: Vec<&GroupFinding> = groups
        .iter()
        .copied()
        .filter(|g| g.group.tip.trim().eq_ignore_ascii_case(question.tip.trim()))
        .collect();
    let (chosen, u_orifice_ratio) = if own.is_empty() {
        (groups.clone(), U_ORIFICE_RATIO)
    } else {
        (own, 0.0)
    };
    let orifice_m = asked
        .orifice_diameter_m
        .ok_or_else(|| PlanError::NoOrifice {
            tip: question.tip.clone(),
        })?;
    let tips: Vec<MeasuredTip> = chosen
        .iter()
        .filter_map(|g| {
            Some(MeasuredTip {
                curve: g.curve.clone().ok()?,
                orifice_m: g.tip.as_ref()?.orifice_diameter_m?,
                u_orifice_ratio,
            })
        })
        .collect();
    let planned = PlannedTip {
        orifice_m,
        u_orifice_ratio,
    };
    let hose = chosen.first().and_then(|g| hose_of(findings, &g.group));
    let curve = predict_curve(&tips, planned, SHEAR_INDEX_UNKNOWN, hose)?;
    let is_asked = |dial: &str, is_full: bool| match &question.dial {
        Some(asked) => asked.trim().eq_ignore_ascii_case(dial.trim()),
        None => is_full,
    };
    let supply = findings
        .supply
        .iter()
        .find(|s| is_asked(&s.dial, s.is_full))
        .ok_or(PlanError::NoSupply)?;
    let need = Need {
        tail_free_pa: tail_free(&groups, orifice_m),
        rated_pa: rated(findings, groups.first().map(|g| &g.group)),
    };
    judge_plan(&curve, supply, Instruments::Same, &need)
}

/// The latest state of every tip measured with the coating and thinner asked for.
fn same_coating<'a>(findings: &'a Findings, question: &Question) -> Vec<&'a GroupFinding> {
    let main = findings
        .verdicts
        .first()
        .and_then(|v| findings.groups.get(v.group_index))
        .or(findings.groups.first());
    let Some(main) = main else {
        return Vec::new();
    };
    let material = question.material.as_deref().unwrap_or(&main.group.material);
    let of_material = |g: &&GroupFinding| g.group.material.eq_ignore_ascii_case(material);
    let thinner = question.thinner_ratio.unwrap_or_else(|| {
        let first = findings.groups.iter().find(of_material);
        let is_main = main.group.material.eq_ignore_ascii_case(material);
        let like = if is_main { Some(main) } else { first };
        like.map_or(0.0, |g| g.group.thinner_ratio)
    });
    let mut latest: Vec<&GroupFinding> = Vec::new();
    let chosen = findings
        .groups
        .iter()
        .filter(of_material)
        .filter(|g| (g.group.thinner_ratio - thinner).abs() <= SAME_THINNER && g.curve.is_ok());
    for group in chosen {
        let same_tip = |g: &&GroupFinding| {
            (&g.group.tip, &g.group.tip_family) == (&group.group.tip, &group.group.tip_family)
        };
        match latest.iter().position(same_tip) {
            Some(i) if latest[i].group.phase <= group.group.phase => latest[i] = group,
            Some(_) => {}
            None => latest.push(group),
        }
    }
    latest
}

/// The hose between tap and gun, where the tap is before it and the coating's viscosity is known.
pub(super) fn hose_of(findings: &Findings, group: &Group) -> Option<Hose> {
    let settings = &findings.settings;
    if settings.tap != Tap::PumpOutlet {
        return None;
    }
    let material = settings
        .materials
        .iter()
        .find(|m| m.name.eq_ignore_ascii_case(&group.material))?;
    let hose = Hose {
        length_m: settings.limits.hose_length_m?,
        bore_m: settings.limits.hose_bore_m?,
        density_kg_per_m3: material.density_kg_per_m3?,
        viscosity_pa_s: viscosity_of(material, group.material_k)?,
        shear_rate_per_s: material
            .viscosity
            .first()?
            .shear_rate_per_s
            .unwrap_or(100.0),
        shear_index: SHEAR_INDEX_UNKNOWN.value,
    };
    hose.is_usable().then_some(hose)
}

/// Viscosity at the group's temperature by the Andrade line, or the only reading there is.
fn viscosity_of(material: &Material, temperature_k: Option<f64>) -> Option<f64> {
    let first = material.viscosity.first()?.dynamic_viscosity_pa_s;
    let by_line = temperature_k.and_then(|t| {
        let line = fit_andrade(&material.viscosity, U_READING_RATIO).ok()?;
        line.viscosity_at(Kelvin(t)).ok()
    });
    Some(by_line.map_or(first, |v| v.value))
}

/// Tail-free pressure of the tip nearest in size, as far as its grades bracket it.
fn tail_free(groups: &[&GroupFinding], orifice_m: f64) -> Option<Estimate> {
    let known = groups.iter().filter_map(|g| {
        let size = g.tip.as_ref()?.orifice_diameter_m?;
        match &g.tail_threshold {
            TailThreshold::Between {
                estimate_pa, u_pa, ..
            } => Some(((size / orifice_m).ln().abs(), *estimate_pa, *u_pa)),
            _ => None,
        }
    });
    let (apart, pressure, u) = known.min_by(|a, b| a.0.total_cmp(&b.0))?;
    // A tip's own grades need no carrying over.
    let carried = if apart < 1e-3 {
        0.0
    } else {
        U_TAIL_FREE_RATIO * pressure
    };
    Some(Estimate::new(pressure, u.hypot(carried), 0.0))
}

/// The lowest of the rig's rating and the coating's own limit.
pub(super) fn rated(findings: &Findings, group: Option<&Group>) -> Option<f64> {
    let settings = &findings.settings;
    let coating = group.and_then(|group| {
        let material = settings
            .materials
            .iter()
            .find(|m| m.name.eq_ignore_ascii_case(&group.material));
        material.and_then(|m| m.max_pressure_pa)
    });
    [settings.limits.working_pressure_pa, coating]
        .into_iter()
        .flatten()
        .min_by(f64::total_cmp)
}
