//! Findings to the mirror types of the page. Decides nothing.

use crate::analysis::group::carry_forward;
use crate::analysis::steady::Exclusion;
use crate::findings::{BurstFinding, Findings, GroupFinding};
use crate::live::snapshot::{BurstView, CurveView, SettingView};
use crate::pipeline::setting_cells;
use crate::recording::notes::Note;

/// Points that a curve is drawn with.
const CURVE_POINTS: u32 = 40;

/// What is set after the last note.
pub(super) fn setting(notes: &[Note]) -> SettingView {
    let cells: Vec<_> = notes.iter().map(setting_cells).collect();
    let now = carry_forward(&cells).pop().unwrap_or_default();
    let mut dials_used: Vec<String> = Vec::new();
    for dial in cells.iter().filter_map(|cell| cell.dial.clone()) {
        if !dials_used.contains(&dial) {
            dials_used.push(dial);
        }
    }
    SettingView {
        tip: now.tip,
        material: now.material,
        thinner_ratio: now.thinner_ratio,
        dial: now.dial,
        dials_used,
    }
}

/// Every burst.
pub(super) fn bursts(findings: &Findings) -> Vec<BurstView> {
    findings
        .bursts
        .iter()
        .enumerate()
        .map(|(k, found)| burst(k + 1, found))
        .collect()
}

fn burst(number: usize, found: &BurstFinding) -> BurstView {
    let (pressure, flow) = (found.steady.pressure_pa, found.steady.flow_m3_per_s);
    let u95 = |estimate: crate::estimate::Estimate| {
        let interval = estimate.independent_interval_95();
        0.5 * (interval.high - interval.low)
    };
    BurstView {
        number,
        from_s: found.burst.start_s,
        to_s: found.burst.end_s,
        group: label_of_setting(found),
        pressure_pa: pressure.map(|p| p.value),
        u95_pressure_pa: pressure.map(u95),
        flow_m3_per_s: flow.map(|q| q.value),
        u95_flow_m3_per_s: flow.map(u95),
        sag_ratio: found.steady.sag_ratio,
        tails: found.tails,
        runs: found.runs.unwrap_or(false),
        not_used: found.steady.exclusion.as_ref().map(reason),
    }
}

fn label_of_setting(found: &BurstFinding) -> Option<String> {
    let tip = found.setting.tip.as_ref()?;
    Some(match &found.setting.material {
        Some(material) => format!("{tip}, {material}"),
        None => tip.clone(),
    })
}

/// Why a burst is not in the fit, in a few words.
fn reason(exclusion: &Exclusion) -> String {
    match exclusion {
        Exclusion::TooShort { steady_s, needed_s } => {
            format!("no: steady for {steady_s:.1} s, {needed_s:.1} s are needed")
        }
        Exclusion::NotSteady { .. } => "no: never steady".to_owned(),
        Exclusion::TooFewEdges { n_edges } => format!("no: only {n_edges} pulses"),
        Exclusion::Gap { .. } => "no: samples were lost in it".to_owned(),
        Exclusion::Health { code } => format!("no: {}", code.replace('_', " ")),
        Exclusion::Sync => "no: a pull of the sync mark".to_owned(),
        Exclusion::NoNote => "not yet: no note says what was sprayed".to_owned(),
        Exclusion::AmbiguousNote => "no: its note could belong to another burst".to_owned(),
        Exclusion::NotNoted => "no: not noted".to_owned(),
    }
}

/// Label of a group.
pub(super) fn label(group: &GroupFinding) -> String {
    let group = &group.group;
    let mut label = group.tip.clone();
    if !group.material.is_empty() {
        label.push_str(", ");
        label.push_str(&group.material);
    }
    if group.thinner_ratio > 0.0 {
        label.push_str(&format!(", {:.0} % thinner", group.thinner_ratio * 100.0));
    }
    if group.phase > 0 {
        label.push_str(&format!(" (state {})", group.phase + 1));
    }
    label
}

/// True for the group that is set now.
pub(super) fn is_current(group: &GroupFinding, setting: &SettingView) -> bool {
    let same_material = setting
        .material
        .as_ref()
        .is_none_or(|material| *material == group.group.material);
    setting.tip.as_ref() == Some(&group.group.tip) && same_material
}

/// Every curve inside its measured range.
pub(super) fn curves(findings: &Findings, setting: &SettingView) -> Vec<CurveView> {
    let fitted = findings.groups.iter().filter_map(|group| {
        let curve = group.curve.as_ref().ok()?;
        Some((group, curve))
    });
    fitted
        .map(|(group, curve)| {
            let (low, high) = (curve.range_pa.low, curve.range_pa.high);
            let pressure_pa: Vec<f64> = (0..=CURVE_POINTS)
                .map(|k| low + (high - low) * f64::from(k) / f64::from(CURVE_POINTS))
                .collect();
            CurveView {
                group: label(group),
                is_current: is_current(group, setting),
                flow_m3_per_s: pressure_pa
                    .iter()
                    .map(|p| curve.flow_at(*p).value)
                    .collect(),
                pressure_pa,
            }
        })
        .collect()
}
