//! `endurance.json`: a cordless check as mirror types with stable keys. Described in `ENDURANCE_JSON.md`.
//!
//! SI values with the unit in the key's name. A number that is not known or not finite is `null`. Decides
//! nothing.

use serde::Serialize;

use super::ENDURANCE_SCHEMA_VERSION;
use crate::analysis::answer::{Answer, Change};
use crate::analysis::energy::battery::ReachesLimit;
use crate::analysis::plan::PlanReason;
use crate::analysis::supply_curve::{SupplyCurve, SupplyForm};
use crate::energy_findings::{
    BatteryFindings, ChargeFinding, CompareRefusal, Compared, ComparedWhat, EnduranceFindings,
    EnergyPoint, Missing, SettingEnergy, TipHeld,
};
use crate::report::json::{MadeBy, Range, Spread, Value, finite, finite_or_none};
use crate::units::UnitChoice;

/// The whole file.
#[derive(Debug, Serialize)]
pub(super) struct Document {
    schema: &'static str,
    schema_version: u32,
    made_by: MadeBy,
    units_shown: UnitChoice,
    spraying_ratio: Option<f64>,
    batteries: Vec<Battery>,
    comparison: Option<Comparison>,
    comparison_refusal: Option<Refusal>,
}

#[derive(Debug, Serialize)]
struct Battery {
    recordings: Vec<String>,
    rig: Option<String>,
    is_simulated: bool,
    is_nominal_meter: bool,
    rated_pa: Option<f64>,
    nominal_v: Option<f64>,
    nominal_a_s: Option<f64>,
    reckoned_v: Option<Value>,
    is_reckoned_v_measured: Option<bool>,
    drawn_a_s: Option<f64>,
    drawn_ratio: Option<f64>,
    unknown_s: Option<f64>,
    stalled_w: Option<Value>,
    resistance_ohm: Option<Value>,
    material: Option<String>,
    main_setting_index: Option<usize>,
    largest_tip_held_index: Option<usize>,
    supply: Option<Supply>,
    tips: Vec<Tip>,
    settings: Vec<Setting>,
    charge: Option<Charge>,
    bursts: Vec<Burst>,
    missing: Vec<&'static str>,
}

#[derive(Debug, Serialize)]
struct Supply {
    dial: String,
    p_max_pa: Option<Value>,
    power_w: Option<Value>,
    q_max_m3_per_s: Option<Value>,
    n_bursts: usize,
}

#[derive(Debug, Serialize)]
struct Tip {
    tip: String,
    orifice_diameter_m: Option<f64>,
    is_measured: bool,
    answer: Option<Answer>,
    reason: Option<PlanReason>,
    held_pa: Option<Spread>,
    flow_m3_per_s: Option<Spread>,
    is_extrapolated: Option<bool>,
    refusal: Option<String>,
}

#[derive(Debug, Serialize)]
struct Setting {
    tip: String,
    material: String,
    dial: String,
    is_full: bool,
    n_bursts: usize,
    pressure_pa: Value,
    electric_w: Value,
    hydraulic_w: Value,
    efficiency_ratio: Option<Value>,
    run_time_s: Option<Spread>,
    spraying_time_s: Option<Spread>,
    refusal: Option<String>,
}

#[derive(Debug, Serialize)]
struct Charge {
    tip: String,
    material: String,
    n_bursts: usize,
    used_ratio: Range,
    sag_first_ratio: Value,
    sag_last_ratio: Value,
    sag_over_charge_ratio: Value,
    sag_change: Change,
    tail_free_pa: Option<f64>,
    tail_free_reached: Option<&'static str>,
    tail_free_used_ratio: Option<f64>,
    tail_free_used_low_95_ratio: Option<f64>,
    tail_free_used_high_95_ratio: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Burst {
    recording_index: usize,
    number: usize,
    tip: String,
    material: String,
    dial: String,
    drawn_a_s: Option<f64>,
    supply_v: Option<f64>,
    supply_a: Option<f64>,
    electric_w: Option<f64>,
    hydraulic_w: Option<f64>,
    pressure_pa: Option<f64>,
    sag_ratio: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Comparison {
    tip: String,
    material: String,
    lines: Vec<Line>,
}

#[derive(Debug, Serialize)]
struct Line {
    what: &'static str,
    first: Spread,
    other: Spread,
    ratio: Spread,
    change: Change,
    margin_ratio: Option<f64>,
}

#[derive(Debug, Default, Serialize)]
struct Refusal {
    reason: &'static str,
    first: Option<String>,
    other: Option<String>,
}

impl Document {
    /// Mirrors a check.
    pub(super) fn new(
        found: &EnduranceFindings,
        units: UnitChoice,
        made_at: Option<String>,
    ) -> Self {
        let comparison = found.comparison.as_ref();
        let batteries = std::iter::once(&found.first).chain(&found.other);
        Self {
            schema: "tipcurve-endurance",
            schema_version: ENDURANCE_SCHEMA_VERSION,
            made_by: MadeBy::new(made_at),
            units_shown: units,
            spraying_ratio: finite(found.spraying_ratio),
            batteries: batteries.map(mirror_battery).collect(),
            comparison: comparison
                .and_then(|c| c.as_ref().ok())
                .map(|(tip, material, lines)| Comparison {
                    tip: tip.clone(),
                    material: material.clone(),
                    lines: lines.iter().map(mirror_line).collect(),
                }),
            comparison_refusal: comparison
                .and_then(|c| c.as_ref().err())
                .map(mirror_refusal),
        }
    }

    /// The text of the file, indented, with a final newline.
    pub(super) fn to_text(&self) -> Result<String, serde_json::Error> {
        let mut text = serde_json::to_string_pretty(self)?;
        text.push('\n');
        Ok(text)
    }
}

fn mirror_battery(b: &BatteryFindings) -> Battery {
    Battery {
        recordings: b.recordings.clone(),
        rig: b.rig.clone(),
        is_simulated: b.is_simulated,
        is_nominal_meter: b.is_nominal_meter,
        rated_pa: finite_or_none(b.rated_pa),
        nominal_v: finite_or_none(b.nominal_v),
        nominal_a_s: finite_or_none(b.nominal_a_s),
        reckoned_v: b.mean_v.as_ref().map(|(v, _)| Value::from(v)),
        is_reckoned_v_measured: b.mean_v.map(|(_, is_measured)| is_measured),
        drawn_a_s: finite_or_none(b.energy.drawn.map(|d| d.0)),
        drawn_ratio: finite_or_none(super::words::drawn_ratio(b)),
        unknown_s: finite_or_none(b.energy.drawn.map(|d| d.1)),
        stalled_w: b.energy.stalled_w.as_ref().map(Value::from),
        resistance_ohm: b.energy.resistance_ohm.as_ref().map(Value::from),
        material: b.material.clone(),
        main_setting_index: b.main,
        largest_tip_held_index: super::words::largest_held(b),
        supply: b.supply.as_ref().map(mirror_supply),
        tips: b.tips.iter().map(mirror_tip).collect(),
        settings: (0..b.energy.settings.len())
            .map(|i| mirror_setting(b, i))
            .collect(),
        charge: b.charge.as_ref().map(mirror_charge),
        bursts: b.energy.points.iter().map(mirror_burst).collect(),
        missing: b.energy.missing.iter().map(|m| missing_code(*m)).collect(),
    }
}

const fn missing_code(missing: Missing) -> &'static str {
    match missing {
        Missing::Voltage => "supply_voltage",
        Missing::Current => "supply_current",
        Missing::Bursts => "usable_bursts",
        Missing::Battery => "battery_data",
        Missing::Replicates => "replicates",
        Missing::ChargeRange => "charge_range",
        Missing::Supply => "supply_curve",
    }
}

fn mirror_supply(s: &SupplyCurve) -> Supply {
    let (p_max, power, q_max) = match &s.form {
        SupplyForm::Shaped {
            p_max_pa,
            power_w,
            q_max_m3_per_s,
            ..
        } => (Some(p_max_pa), power_w.as_ref(), q_max_m3_per_s.as_ref()),
        SupplyForm::Step { .. } => (None, None, None),
    };
    Supply {
        dial: s.dial.clone(),
        p_max_pa: p_max.map(Value::from),
        power_w: power.map(Value::from),
        q_max_m3_per_s: q_max.map(Value::from),
        n_bursts: s.points.len(),
    }
}

fn mirror_tip(t: &TipHeld) -> Tip {
    let held = t.held.as_ref().ok();
    Tip {
        tip: t.tip.clone(),
        orifice_diameter_m: finite(t.orifice_m),
        is_measured: t.is_measured,
        answer: held.map(|h| h.answer),
        reason: held.map(|h| h.reason),
        held_pa: held.map(|h| Spread::from(&h.pressure_pa)),
        flow_m3_per_s: held
            .and_then(|h| h.flow_m3_per_s.as_ref())
            .map(Spread::from),
        is_extrapolated: held.map(|h| h.is_extrapolated),
        refusal: t.held.as_ref().err().map(ToString::to_string),
    }
}

fn mirror_setting(b: &BatteryFindings, index: usize) -> Setting {
    let s: &SettingEnergy = &b.energy.settings[index];
    let time = b.run_times.iter().find(|r| r.setting_index == index);
    let run_time = time.and_then(|t| t.run_time.as_ref().ok());
    let refusals = [
        s.efficiency.as_ref().err().map(ToString::to_string),
        time.and_then(|t| t.run_time.as_ref().err())
            .map(ToString::to_string),
    ];
    Setting {
        tip: s.tip.clone(),
        material: s.material.clone(),
        dial: s.dial.clone(),
        is_full: s.is_full,
        n_bursts: s.n_bursts,
        pressure_pa: Value::from(&s.pressure_pa),
        electric_w: Value::from(&s.electric_w),
        hydraulic_w: Value::from(&s.hydraulic_w),
        efficiency_ratio: s.efficiency.as_ref().ok().map(Value::from),
        run_time_s: run_time.map(|t| Spread::from(&t.elapsed_s)),
        spraying_time_s: run_time.map(|t| Spread::from(&t.spraying_s)),
        refusal: refusals.into_iter().flatten().next(),
    }
}

fn mirror_charge(c: &ChargeFinding) -> Charge {
    let limit = c.reaches.map(|(_, limit)| limit);
    let (word, at, interval) = match limit {
        Some(ReachesLimit::At {
            used_ratio,
            interval_95,
        }) => (Some("at"), Some(used_ratio), Some(interval_95)),
        Some(ReachesLimit::NotWithin { used_ratio }) => {
            (Some("not_within"), Some(used_ratio), None)
        }
        Some(ReachesLimit::Already { used_ratio }) => (Some("already"), Some(used_ratio), None),
        Some(ReachesLimit::CannotTell) => (Some("cannot_tell"), None, None),
        None => (None, None, None),
    };
    Charge {
        tip: c.tip.clone(),
        material: c.material.clone(),
        n_bursts: c.n_bursts,
        used_ratio: Range::from(&c.range),
        sag_first_ratio: Value::from(&c.sag.0),
        sag_last_ratio: Value::from(&c.sag.1),
        sag_over_charge_ratio: Value::from(&c.sag_slope),
        sag_change: c.sag_change,
        tail_free_pa: finite_or_none(c.reaches.map(|(pa, _)| pa)),
        tail_free_reached: word,
        tail_free_used_ratio: finite_or_none(at),
        tail_free_used_low_95_ratio: finite_or_none(interval.map(|i| i.low)),
        tail_free_used_high_95_ratio: finite_or_none(interval.map(|i| i.high)),
    }
}

fn mirror_burst(p: &EnergyPoint) -> Burst {
    Burst {
        recording_index: p.recording_index,
        number: p.burst_index + 1,
        tip: p.tip.clone(),
        material: p.material.clone(),
        dial: p.dial.clone(),
        drawn_a_s: finite(p.drawn_a_s),
        supply_v: finite(p.supply_v),
        supply_a: finite(p.supply_a),
        electric_w: finite(p.electric_w),
        hydraulic_w: finite(p.hydraulic_w),
        pressure_pa: finite(p.pressure_pa.value),
        sag_ratio: finite_or_none(p.sag_ratio),
    }
}

fn mirror_line(line: &Compared) -> Line {
    Line {
        what: match line.what {
            ComparedWhat::Pressure => "pressure_pa",
            ComparedWhat::Resistance => "resistance_ohm",
            ComparedWhat::RunTime => "run_time_s",
        },
        first: Spread::from(&line.first),
        other: Spread::from(&line.other),
        ratio: Spread::from(&line.ratio),
        change: line.change,
        margin_ratio: finite(line.margin_ratio),
    }
}

fn mirror_refusal(refusal: &CompareRefusal) -> Refusal {
    match refusal {
        CompareRefusal::Rigs { first, other } => Refusal {
            reason: "different_rigs",
            first: Some(first.clone()),
            other: Some(other.clone()),
        },
        CompareRefusal::NoCommonSetting => Refusal {
            reason: "no_common_setting",
            ..Refusal::default()
        },
        CompareRefusal::NothingInCommon => Refusal {
            reason: "nothing_in_common",
            ..Refusal::default()
        },
    }
}
