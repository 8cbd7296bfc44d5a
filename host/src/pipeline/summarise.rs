//! A recording's findings to the few rows that a season needs of it. No formulas of its own.

use crate::analysis::plan::Supply;
use crate::analysis::season::{RowKind, SummaryRow};
use crate::analysis::similarity::SHEAR_INDEX_UNKNOWN;
use crate::analysis::supply_curve::{SupplyCurve, SupplyForm};
use crate::analysis::temperature::andrade::{U_READING_RATIO, fit_andrade};
use crate::analysis::temperature::explain_by_temperature;
use crate::findings::{Findings, GroupFinding};
use crate::units::Kelvin;

/// The rows of one recording: its nozzle curves (the latest state of each setting), its supply curve at the
/// highest position, and what went through each tip; one row of kind nothing where there is none of them.
///
/// `start_unix_s` is when it began, as far as the caller knows.
#[must_use]
pub fn summarise(f: &Findings, start_unix_s: Option<f64>) -> Vec<SummaryRow> {
    let base = SummaryRow {
        recording: f.name.clone(),
        is_simulated: f.is_simulated,
        start_unix_s,
        instruments: instruments(f),
        rig: f.settings.rig.clone(),
        ..SummaryRow::default()
    };
    let mut rows: Vec<SummaryRow> = Vec::new();
    for (i, g) in f.groups.iter().enumerate() {
        let is_latest = !f.groups[i + 1..]
            .iter()
            .any(|later| later.group.is_same_setting(&g.group) && later.curve.is_ok());
        if is_latest {
            rows.extend(nozzle_row(f, g, &base));
        }
    }
    let full = f.supply.iter().find(|s| s.is_full);
    rows.extend(full.and_then(|s| supply_row(s, &base)));
    rows.extend(volume_rows(f, &base));
    if rows.is_empty() {
        rows.push(base);
    }
    rows
}

fn instruments(f: &Findings) -> String {
    let s = &f.settings;
    let text = |x: Option<f64>| x.map_or_else(|| "?".to_owned(), |x| format!("{x}"));
    format!(
        "meter {}/m3 u {}, sensor {} Pa u {}, {:?}",
        text(s.flow_meter.k_factor_per_m3),
        text(s.flow_meter.u_k_factor_ratio),
        text(s.pressure_sensor.full_scale_pa),
        text(s.pressure_sensor.accuracy_ratio_of_full_scale),
        s.tap
    )
}

fn nozzle_row(f: &Findings, g: &GroupFinding, base: &SummaryRow) -> Option<SummaryRow> {
    let curve = g.curve.as_ref().ok()?;
    let law = &curve.power_law;
    let per_k = flow_per_k(f, g);
    Some(SummaryRow {
        kind: RowKind::Nozzle,
        tip: Some(g.group.tip.clone()),
        material: Some(g.group.material.clone()),
        thinner_ratio: Some(g.group.thinner_ratio),
        material_k: g.group.material_k,
        p_ref_pa: Some(law.p_ref_pa),
        q_ref_m3_per_s: Some(law.q_ref_m3_per_s.value),
        u_q_ref_ratio: Some(law.q_ref_m3_per_s.u_independent / law.q_ref_m3_per_s.value),
        n: Some(law.n.value),
        u_n: Some(law.n.u_independent),
        cov_ln_q_ref_n: Some(law.cov_ln_q_ref_n),
        pressure_low_pa: Some(curve.range_pa.low),
        pressure_high_pa: Some(curve.range_pa.high),
        flow_per_k_ratio: per_k.map(|(slope, _)| slope),
        u_flow_per_k_ratio: per_k.map(|(_, u)| u),
        ..base.clone()
    })
}

/// Logarithm of the flow ratio that one kelvin makes, with its standard uncertainty.
fn flow_per_k(f: &Findings, g: &GroupFinding) -> Option<(f64, f64)> {
    let material = f
        .settings
        .materials
        .iter()
        .find(|m| m.name.eq_ignore_ascii_case(&g.group.material))?;
    let line = fit_andrade(&material.viscosity, U_READING_RATIO).ok()?;
    let k = g.group.material_k?;
    let exponent = g.curve.as_ref().ok()?.power_law.n;
    let ratio = explain_by_temperature(
        exponent,
        SHEAR_INDEX_UNKNOWN,
        &line,
        Kelvin(k),
        Kelvin(k + 1.0),
    )
    .ok()?;
    Some((ratio.value.ln(), ratio.u_combined() / ratio.value))
}

fn supply_row(s: &SupplyCurve, base: &SummaryRow) -> Option<SummaryRow> {
    let flows = || s.points.iter().map(|p| p.flow_m3_per_s.value);
    let median = |mut values: Vec<f64>| {
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    };
    let held = median(s.points.iter().map(|p| p.pressure_pa.value).collect())?;
    let (p_max, power, q_max) = match &s.form {
        SupplyForm::Shaped {
            p_max_pa,
            power_w,
            q_max_m3_per_s,
            ..
        } => (
            Some(p_max_pa.value),
            power_w.map(|e| e.value),
            q_max_m3_per_s.map(|e| e.value),
        ),
        SupplyForm::Step { .. } => (None, None, None),
    };
    let low = flows().fold(f64::INFINITY, f64::min);
    Some(SummaryRow {
        kind: RowKind::Supply,
        dial: Some(s.dial.clone()),
        p_max_pa: p_max,
        power_w: power,
        q_max_m3_per_s: q_max,
        held_pa: Some(held),
        u_held_ratio: s
            .pressure_held_at(low)
            .map(|e| e.u_independent / e.value)
            .or(Some(s.u_pressure_ratio())),
        flow_low_m3_per_s: Some(low),
        flow_high_m3_per_s: Some(flows().fold(0.0, f64::max)),
        supply_v: median(s.points.iter().filter_map(|p| p.supply_v).collect()),
        ..base.clone()
    })
}

/// What went through each tip, as far as it was metered.
fn volume_rows(f: &Findings, base: &SummaryRow) -> Vec<SummaryRow> {
    let mut volumes: Vec<(String, f64)> = Vec::new();
    for b in &f.bursts {
        let (Some(tip), Some(flow)) = (&b.setting.tip, b.steady.flow_m3_per_s) else {
            continue;
        };
        let volume = flow.value.max(0.0) * (b.burst.end_s - b.burst.start_s).max(0.0);
        match volumes.iter_mut().find(|(t, _)| t == tip) {
            Some((_, sum)) => *sum += volume,
            None => volumes.push((tip.clone(), volume)),
        }
    }
    volumes
        .into_iter()
        .map(|(tip, volume)| SummaryRow {
            kind: RowKind::Volume,
            tip: Some(tip),
            volume_m3: Some(volume),
            ..base.clone()
        })
        .collect()
}
