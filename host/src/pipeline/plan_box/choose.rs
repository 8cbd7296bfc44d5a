//! Which coating, which state of each tip, which supply curve and which tips a plan is about.

use super::{BoxError, BoxQuestion, TipState, described};
use crate::analysis::nozzle_curve::NozzleCurve;
use crate::analysis::supply_curve::SupplyCurve;
use crate::analysis::verdict::VerdictKind;
use crate::findings::{Findings, GroupFinding};
use crate::pipeline::plan_tip::SAME_THINNER;
use crate::recording::settings::{Material, Tip};

/// A measured tip in the state that is planned with.
pub(super) struct Chosen<'a> {
    pub(super) source: usize,
    pub(super) group_index: usize,
    pub(super) group: &'a GroupFinding,
    pub(super) curve: &'a NozzleCurve,
    pub(super) state: TipState,
}

/// Coating and thinner of the plan.
pub(super) fn coating(
    sources: &[&Findings],
    question: &BoxQuestion,
) -> Result<(String, f64), BoxError> {
    let mut known: Vec<&str> = Vec::new();
    for g in sources.iter().flat_map(|f| &f.groups) {
        if !known.contains(&g.group.material.as_str()) {
            known.push(&g.group.material);
        }
    }
    let main = sources.iter().rev().find_map(|f| {
        let by_verdict = f.verdicts.first().and_then(|v| f.groups.get(v.group_index));
        by_verdict.or(f.groups.first())
    });
    let Some(main) = main else {
        let names: Vec<&str> = sources.iter().map(|f| f.name.as_str()).collect();
        return Err(BoxError::NoGroup {
            names: names.join(", "),
        });
    };
    let material = match &question.material {
        None => main.group.material.clone(),
        Some(asked) => known
            .iter()
            .find(|m| m.trim().eq_ignore_ascii_case(asked.trim()))
            .map(|m| (*m).to_owned())
            .ok_or_else(|| BoxError::NoSuchCoating {
                asked: asked.clone(),
                measured: known.join(", "),
            })?,
    };
    Ok((
        material.clone(),
        thinner(sources, question, main, &material)?,
    ))
}

fn thinner(
    sources: &[&Findings],
    question: &BoxQuestion,
    main: &GroupFinding,
    material: &str,
) -> Result<f64, BoxError> {
    let of_material = |g: &&GroupFinding| g.group.material == material;
    let groups = || sources.iter().flat_map(|f| &f.groups).filter(of_material);
    match question.thinner_ratio {
        None if main.group.material == material => Ok(main.group.thinner_ratio),
        None => Ok(groups().next_back().map_or(0.0, |g| g.group.thinner_ratio)),
        Some(asked) => {
            let is_asked = |g: &GroupFinding| (g.group.thinner_ratio - asked).abs() <= SAME_THINNER;
            if groups().any(is_asked) {
                return Ok(asked);
            }
            let percent = |ratio: f64| format!("{}", (1000.0 * ratio).round() / 10.0);
            let mut measured: Vec<String> =
                groups().map(|g| percent(g.group.thinner_ratio)).collect();
            measured.sort();
            measured.dedup();
            Err(BoxError::NoSuchThinner {
                material: material.to_owned(),
                asked_pct: percent(asked),
                measured: measured.join(" %, ") + " %",
            })
        }
    }
}

/// The state of each measured tip that is planned with: the latest one with a curve, and where that one was
/// found blocked, the one before.
pub(super) fn states_of<'a>(
    sources: &[&'a Findings],
    material: &str,
    thinner_ratio: f64,
) -> Vec<Chosen<'a>> {
    let mut out: Vec<Chosen> = Vec::new();
    for (source, f) in sources.iter().enumerate() {
        for (group_index, group) in f.groups.iter().enumerate() {
            let is_asked = group.group.material == material
                && (group.group.thinner_ratio - thinner_ratio).abs() <= SAME_THINNER;
            let Ok(curve) = &group.curve else { continue };
            if !is_asked {
                continue;
            }
            let found = Chosen {
                source,
                group_index,
                group,
                curve,
                state: state_of(f, group_index),
            };
            let same = |c: &Chosen| {
                (&c.group.group.tip, &c.group.group.tip_family)
                    == (&group.group.tip, &group.group.tip_family)
            };
            match out.iter_mut().find(|c| same(c)) {
                Some(earlier) if found.state == TipState::Blocked => {
                    if earlier.state == TipState::Sound {
                        earlier.state = TipState::BlockedLater;
                    }
                }
                Some(earlier) => *earlier = found,
                None => out.push(found),
            }
        }
    }
    out
}

fn state_of(f: &Findings, group_index: usize) -> TipState {
    let verdict = f.verdicts.iter().find(|v| v.group_index == group_index);
    match verdict.map(|v| v.kind) {
        Some(VerdictKind::RestrictionTip) => TipState::Blocked,
        Some(VerdictKind::WornTip) => TipState::Worn,
        _ => TipState::Sound,
    }
}

/// The latest supply curve at the control position asked for; without one asked for, at the highest.
pub(super) fn supply<'a>(
    sources: &[&'a Findings],
    dial: Option<&str>,
) -> Result<Option<(usize, &'a SupplyCurve)>, BoxError> {
    let is_asked = |s: &&SupplyCurve| match dial {
        Some(asked) => asked.trim().eq_ignore_ascii_case(s.dial.trim()),
        None => s.is_full,
    };
    let latest = sources
        .iter()
        .enumerate()
        .rev()
        .find_map(|(i, f)| Some((i, f.supply.iter().find(is_asked)?)));
    match (latest, dial) {
        (None, Some(asked)) => {
            let mut known: Vec<&str> = Vec::new();
            for s in sources.iter().flat_map(|f| &f.supply) {
                if !known.contains(&s.dial.as_str()) {
                    known.push(&s.dial);
                }
            }
            Err(BoxError::NoSuchDial {
                asked: asked.to_owned(),
                known: if known.is_empty() {
                    "none".to_owned()
                } else {
                    known.join(", ")
                },
            })
        }
        (found, _) => Ok(found),
    }
}

/// What a recording found wrong with the pump's side, where it did.
pub(super) fn trouble(f: &Findings) -> Option<VerdictKind> {
    let kinds = f.verdicts.iter().map(|v| v.kind);
    kinds
        .into_iter()
        .find(|k| matches!(k, VerdictKind::RestrictionInlet | VerdictKind::WeakBattery))
}

/// The coating as the latest session file that knows it describes it.
pub(super) fn material_of<'a>(sources: &[&'a Findings], name: &str) -> Option<&'a Material> {
    let materials = sources.iter().rev().flat_map(|f| &f.settings.materials);
    materials
        .into_iter()
        .find(|m| m.name.eq_ignore_ascii_case(name))
}

/// The tips to plan, smallest orifice first; those of unknown size last.
pub(super) fn box_of(sources: &[&Findings], question: &BoxQuestion) -> Vec<Tip> {
    let named = question.tips.iter().map(String::as_str);
    let in_files = sources.iter().flat_map(|f| {
        let listed = f.settings.tips.iter().map(|t| t.code.as_str());
        listed.chain(f.groups.iter().map(|g| g.group.tip.as_str()))
    });
    let labels: Vec<&str> = if question.only_named {
        named.collect()
    } else {
        in_files.chain(named).collect()
    };
    let mut tips: Vec<Tip> = Vec::new();
    for label in labels {
        let is_known = |t: &Tip| t.code.trim().eq_ignore_ascii_case(label.trim());
        if !label.trim().is_empty() && !tips.iter().any(is_known) {
            tips.push(described(sources, label));
        }
    }
    let size = |t: &Tip| t.orifice_diameter_m.unwrap_or(f64::INFINITY);
    tips.sort_by(|a, b| size(a).total_cmp(&size(b)));
    tips
}
