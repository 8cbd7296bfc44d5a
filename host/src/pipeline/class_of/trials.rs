//! One recording as the class sees it: its points of the class's setting, or why it is set aside.

use super::Read;
use crate::analysis::class::{CurveScore, score_curve};
use crate::analysis::compare::Calibration;
use crate::analysis::nozzle_curve::{CurvePoint, NozzleCurve};
use crate::analysis::tail_threshold::TailThreshold;
use crate::class_findings::{Aside, ClassSetting, Trial};
use crate::findings::{Findings, GroupFinding};
use crate::recording::roster::Roster;

/// Shares of thinner closer than this are one.
const SAME_THINNER: f64 = 0.005;

/// The setting that counts: what the roster names, completed by what most recordings hold.
pub(super) fn choose_setting(
    roster: &Roster,
    reads: &[Read],
    reference: Option<&Findings>,
) -> Option<ClassSetting> {
    let is_wanted = |g: &GroupFinding| {
        let fits = |wanted: &Option<String>, found: &str| {
            wanted
                .as_deref()
                .is_none_or(|w| w.trim().eq_ignore_ascii_case(found.trim()))
        };
        fits(&roster.tip, &g.group.tip) && fits(&roster.material, &g.group.material)
    };
    let mut votes: Vec<(ClassSetting, usize, usize)> = Vec::new(); // setting, recordings, bursts
    let students = reads.iter().flatten();
    // The reference speaks last, so that it decides only where no student does.
    for findings in students.chain(reference) {
        for g in findings.groups.iter().filter(|g| is_wanted(g)) {
            let setting = ClassSetting {
                tip: g.group.tip.clone(),
                material: g.group.material.clone(),
                thinner_ratio: g.group.thinner_ratio,
                tap: findings.settings.tap,
            };
            let n = g.group.burst_indices.len();
            match votes
                .iter_mut()
                .find(|(s, _, _)| is_same(s, g) && s.tap == setting.tap)
            {
                Some((_, recordings, bursts)) => {
                    *recordings += 1;
                    *bursts += n;
                }
                None => votes.push((setting, 1, n)),
            }
        }
    }
    // A stable choice: of equals, the one that was seen first.
    let most = votes.iter().map(|(_, r, b)| (*r, *b)).max()?;
    votes
        .into_iter()
        .find(|(_, r, b)| (*r, *b) == most)
        .map(|(s, _, _)| s)
}

fn is_same(setting: &ClassSetting, g: &GroupFinding) -> bool {
    g.group.tip.trim().eq_ignore_ascii_case(setting.tip.trim())
        && g.group
            .material
            .trim()
            .eq_ignore_ascii_case(setting.material.trim())
        && (g.group.thinner_ratio - setting.thinner_ratio).abs() <= SAME_THINNER
}

/// Why a recording is of no use where no setting was found at all.
pub(super) fn without_setting(read: &Read) -> Aside {
    match read {
        Err(message) => Aside::Unreadable {
            message: message.clone(),
        },
        Ok(_) => Aside::NoBursts,
    }
}

/// A recording's points of the class's setting. Of several states of it, the one with the most used bursts.
pub(super) fn trial_of(read: &Read, setting: &ClassSetting) -> Result<Trial, Aside> {
    let findings = read.as_ref().map_err(|message| Aside::Unreadable {
        message: message.clone(),
    })?;
    if findings.groups.is_empty() {
        return Err(Aside::NoBursts);
    }
    let group = findings
        .groups
        .iter()
        .filter(|g| is_same(setting, g))
        .max_by_key(|g| points_of(findings, g).len())
        .ok_or_else(|| Aside::OtherSetting {
            found: found(findings),
        })?;
    if findings.settings.tap != setting.tap {
        return Err(Aside::OtherTap);
    }
    let points = points_of(findings, group);
    if points.is_empty() {
        return Err(Aside::NoneUsable {
            n_bursts: group.group.burst_indices.len(),
        });
    }
    Ok(Trial {
        n_bursts: group.group.burst_indices.len(),
        reference_m3_per_s: Vec::new(),
        curve: group.curve.clone(),
        score: None,
        tail_free_pa: match &group.tail_threshold {
            TailThreshold::Between { estimate_pa, .. } => Some(*estimate_pa),
            _ => None,
        },
        is_nominal_meter: findings.signal.flow_meter.is_nominal,
        points,
    })
}

/// Used bursts of a group; a flow that is a bound only is none.
fn points_of(findings: &Findings, group: &GroupFinding) -> Vec<CurvePoint> {
    group
        .group
        .burst_indices
        .iter()
        .filter_map(|i| {
            let burst = findings.bursts.get(*i)?;
            let is_used = burst.steady.exclusion.is_none() && !burst.steady.flow_is_bound;
            let point = CurvePoint {
                burst_index: *i,
                pressure_pa: burst.steady.pressure_pa?,
                flow_m3_per_s: burst.steady.flow_m3_per_s?,
            };
            let is_positive = point.pressure_pa.value > 0.0 && point.flow_m3_per_s.value > 0.0;
            (is_used && is_positive).then_some(point)
        })
        .collect()
}

/// The settings of a recording, in words of its notes.
fn found(findings: &Findings) -> String {
    let mut names: Vec<String> = Vec::new();
    for g in &findings.groups {
        let name = format!("tip {} with {}", g.group.tip, g.group.material);
        let name = match g.group.thinner_ratio {
            t if t > 0.0 => format!("{name} and {:.0} % thinner", t * 100.0),
            _ => name,
        };
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names.join("; ")
}

/// The whole curve against the reference. Other benches have other instruments: the common parts add.
pub(super) fn score(trial: &Trial, reference: &NozzleCurve) -> Option<CurveScore> {
    let curve = trial.curve.as_ref().ok()?;
    score_curve(curve, reference, Calibration::Separate).ok()
}
