//! The cordless check: recordings of one battery, perhaps of another, to what they can do.
//!
//! Supply curve and tips come from the recording with the most bursts at full control; energy from all of
//! them in order, the charge running on from one to the next. Formulas are those of
//! [`crate::analysis::energy`], [`crate::analysis::plan`] and [`crate::analysis::answer`]; no wording.

mod compare;
mod tips;

use super::energy_of::settings_of;
use crate::analysis::answer::Change;
use crate::analysis::energy::battery::{
    AgainstCharge, ChargePoint, ReachesLimit, fit_against_charge,
};
use crate::analysis::energy::{Battery, Duty, USABLE_UNKNOWN, run_time};
use crate::analysis::tail_threshold::TailThreshold;
use crate::energy_findings::{
    BatteryFindings, ChargeFinding, EnduranceFindings, EnergyFinding, EnergyPoint, Missing,
    SettingRunTime,
};
use crate::estimate::Estimate;
use crate::findings::Findings;

/// Relative standard uncertainty of a charge as printed on a battery (common practice, no source).
const U_NOMINAL_CHARGE_RATIO: f64 = 0.05;
/// Of a voltage as printed on it (common practice, no source).
const U_NOMINAL_VOLTAGE_RATIO: f64 = 0.03;
/// Of a mean voltage measured under load over a good part of a charge: the rest of the discharge curve is
/// not seen (common practice, no source).
const U_LOAD_VOLTAGE_RATIO: f64 = 0.02;
/// Share of the charge from which on a measured mean voltage stands for the whole discharge.
const GOOD_PART_RATIO: f64 = 0.3;
/// Share of the charge below which nothing is said of what changes with it.
const LEAST_PART_RATIO: f64 = 0.05;
/// Scatter of one burst's sag (common practice, no source); the fit widens it when the bursts scatter more.
const U_SAG_RATIO: f64 = 0.01;
/// Change of sag over a whole charge that matters: the step to which a dial is set (common practice, no source).
const SAG_MARGIN_RATIO: f64 = 0.05;

/// Judges one battery, and another beside it.
///
/// *Shape*: `first` has one recording or more, in the order they were made, without charging in between;
/// `other` may be empty. `spraying_ratio` above 0 and up to 1.
#[must_use]
pub fn judge_endurance(
    first: &[Findings],
    other: &[Findings],
    spraying_ratio: f64,
) -> EnduranceFindings {
    let first = judge_battery(first, spraying_ratio);
    let other = (!other.is_empty()).then(|| judge_battery(other, spraying_ratio));
    let comparison = other.as_ref().map(|o| compare::compare(&first, o));
    EnduranceFindings {
        spraying_ratio,
        first,
        other,
        comparison,
    }
}

fn judge_battery(recordings: &[Findings], spraying_ratio: f64) -> BatteryFindings {
    let best = recordings.iter().max_by_key(|f| n_full(f));
    let limits = best.map(|f| f.settings.limits).unwrap_or_default();
    let mut energy = joined(recordings);
    let supply = best.and_then(|f| f.supply.first().cloned());
    if supply.is_none() {
        energy.missing.push(Missing::Supply);
    }
    let battery = limits.battery_v.zip(limits.battery_a_s);
    if battery.is_none() {
        energy.missing.push(Missing::Battery);
    }
    if energy.settings.is_empty() && !energy.points.is_empty() {
        energy.missing.push(Missing::Replicates);
    }
    let mean_v = limits
        .battery_v
        .map(|v| mean_voltage(&energy.points, v, limits.battery_a_s));
    let main = main_setting(&energy);
    let charge = main.and_then(|i| {
        let setting = &energy.settings[i];
        let (tip, material) = (setting.tip.clone(), setting.material.clone());
        charge_finding(&energy, best, (tip, material), limits.battery_a_s?)
    });
    if charge.is_none() && battery.is_some() && !energy.points.is_empty() {
        energy.missing.push(Missing::ChargeRange);
    }
    let material = main
        .map(|i| energy.settings[i].material.clone())
        .or_else(|| best.and_then(main_material));
    BatteryFindings {
        recordings: recordings.iter().map(|f| f.name.clone()).collect(),
        rig: best.and_then(|f| f.settings.rig.clone()),
        is_simulated: recordings.iter().any(|f| f.is_simulated),
        is_nominal_meter: best.is_some_and(|f| f.signal.flow_meter.is_nominal),
        rated_pa: limits.working_pressure_pa,
        nominal_v: limits.battery_v,
        nominal_a_s: limits.battery_a_s,
        run_times: run_times(&energy, limits.battery_a_s, mean_v, spraying_ratio),
        mean_v,
        tips: best.map_or_else(Vec::new, |f| tips::tips_of(f, material.as_deref())),
        supply,
        material,
        main,
        charge,
        energy,
    }
}

fn n_full(f: &Findings) -> usize {
    f.supply.first().map_or(0, |s| s.points.len())
}

fn main_material(f: &Findings) -> Option<String> {
    let index = f.verdicts.first()?.group_index;
    f.groups.get(index).map(|g| g.group.material.clone())
}

/// Energy of several recordings as of one: the charge runs on, settings are formed over all.
fn joined(recordings: &[Findings]) -> EnergyFinding {
    let mut out = EnergyFinding::default();
    let mut offset_a_s = 0.0;
    for (recording_index, f) in recordings.iter().enumerate() {
        let Some(energy) = &f.energy else { continue };
        out.points.extend(energy.points.iter().map(|p| EnergyPoint {
            recording_index,
            drawn_a_s: p.drawn_a_s + offset_a_s,
            ..p.clone()
        }));
        if let Some((drawn, unknown)) = energy.drawn {
            let (sum, lost) = out.drawn.unwrap_or_default();
            out.drawn = Some((sum + drawn, lost + unknown));
            offset_a_s += drawn;
        }
        out.stalled_w = out.stalled_w.or(energy.stalled_w);
        out.resistance_ohm = out.resistance_ohm.or(energy.resistance_ohm);
        for missing in &energy.missing {
            if !out.missing.contains(missing) {
                out.missing.push(*missing);
            }
        }
    }
    if recordings.iter().all(|f| f.energy.is_none()) {
        out.missing.push(Missing::Voltage);
        let has_current = recordings
            .iter()
            .any(|f| !f.signal.slow.supply_a.value.is_empty());
        if !has_current {
            out.missing.push(Missing::Current);
        }
    }
    out.settings = settings_of(&out.points);
    out
}

/// The setting with the most bursts at full control; of equals the first.
fn main_setting(energy: &EnergyFinding) -> Option<usize> {
    let full = energy
        .settings
        .iter()
        .enumerate()
        .filter(|(_, s)| s.is_full);
    full.max_by_key(|(i, s)| (s.n_bursts, std::cmp::Reverse(*i)))
        .map(|(i, _)| i)
}

/// Mean voltage under load where a good part of the charge was seen, else the nominal one.
fn mean_voltage(
    points: &[EnergyPoint],
    nominal_v: f64,
    nominal_a_s: Option<f64>,
) -> (Estimate, bool) {
    let drawn = points.iter().map(|p| p.drawn_a_s).fold(0.0, f64::max);
    let is_good = nominal_a_s.is_some_and(|q| drawn >= GOOD_PART_RATIO * q);
    if !is_good || points.is_empty() {
        let u = U_NOMINAL_VOLTAGE_RATIO * nominal_v;
        return (Estimate::new(nominal_v, 0.0, u), false);
    }
    let mean = points.iter().map(|p| p.supply_v).sum::<f64>() / points.len() as f64;
    (Estimate::new(mean, 0.0, U_LOAD_VOLTAGE_RATIO * mean), true)
}

fn run_times(
    energy: &EnergyFinding,
    nominal_a_s: Option<f64>,
    mean_v: Option<(Estimate, bool)>,
    spraying_ratio: f64,
) -> Vec<SettingRunTime> {
    let Some((charge, (mean_v, _))) = nominal_a_s.zip(mean_v) else {
        return Vec::new();
    };
    let battery = Battery {
        charge_a_s: Estimate::new(charge, 0.0, U_NOMINAL_CHARGE_RATIO * charge),
        mean_v,
        usable_ratio: USABLE_UNKNOWN,
    };
    energy
        .settings
        .iter()
        .enumerate()
        .map(|(setting_index, s)| {
            let duty = match energy.stalled_w {
                Some(stalled_w) => Duty {
                    spraying_w: s.electric_w,
                    stalled_w,
                    spraying_ratio,
                },
                // Nothing is known of the pauses: the time with the trigger open alone.
                None => Duty {
                    spraying_w: s.electric_w,
                    stalled_w: Estimate::exact(0.0),
                    spraying_ratio: 1.0,
                },
            };
            SettingRunTime {
                setting_index,
                run_time: run_time(&battery, &duty),
            }
        })
        .collect()
}

/// Sag, and the pressure held against the lowest tail-free one, over the charge.
fn charge_finding(
    energy: &EnergyFinding,
    best: Option<&Findings>,
    (tip, material): (String, String),
    nominal_a_s: f64,
) -> Option<ChargeFinding> {
    let of_setting = |p: &&EnergyPoint| p.is_full && p.tip == tip && p.material == material;
    let points: Vec<&EnergyPoint> = energy.points.iter().filter(of_setting).collect();
    let share = |p: &EnergyPoint| (p.drawn_a_s / nominal_a_s).clamp(0.0, 1.0);
    let sags: Vec<ChargePoint> = points
        .iter()
        .filter_map(|p| {
            Some(ChargePoint {
                used_ratio: share(p),
                value: Estimate::new(p.sag_ratio?, U_SAG_RATIO, 0.0),
            })
        })
        .collect();
    let line = fit_against_charge(&sags).ok()?;
    if line.range.high - line.range.low < LEAST_PART_RATIO {
        return None;
    }
    let pressures: Vec<ChargePoint> = points
        .iter()
        .map(|p| ChargePoint {
            used_ratio: share(p),
            value: Estimate::new(p.pressure_pa.value, U_SAG_RATIO * p.pressure_pa.value, 0.0),
        })
        .collect();
    let tail_free = best.and_then(|f| tail_free_pa(f, &tip, &material));
    let reaches = tail_free.and_then(|pa| {
        let held = fit_against_charge(&pressures).ok()?;
        Some((pa, falls_to(&held, pa)?))
    });
    let slope = line.slope();
    Some(ChargeFinding {
        n_bursts: sags.len(),
        sag: (line.at(line.range.low)?, line.at(line.range.high)?),
        sag_change: Change::of(&slope, SAG_MARGIN_RATIO),
        sag_slope: slope,
        range: line.range,
        reaches,
        tip,
        material,
    })
}

/// Where the pressure held falls to the one that is needed. [`AgainstCharge::reaches`] answers for a line of
/// either slope; here only falling counts, and a pressure above the need has not reached it.
fn falls_to(held: &AgainstCharge, needed_pa: f64) -> Option<ReachesLimit> {
    let first = held.at(held.range.low)?;
    Some(match held.reaches(needed_pa) {
        ReachesLimit::CannotTell => ReachesLimit::CannotTell,
        at @ ReachesLimit::At { .. } if held.slope().value < 0.0 => at,
        ReachesLimit::At { .. } => ReachesLimit::CannotTell,
        _ if first.value >= needed_pa => ReachesLimit::NotWithin {
            used_ratio: held.range.high,
        },
        _ => ReachesLimit::Already {
            used_ratio: held.range.low,
        },
    })
}

fn tail_free_pa(f: &Findings, tip: &str, material: &str) -> Option<f64> {
    f.groups
        .iter()
        .filter(|g| g.group.tip == tip && g.group.material == material)
        .find_map(|g| match g.tail_threshold {
            TailThreshold::Between { estimate_pa, .. } => Some(estimate_pa),
            _ => None,
        })
}

#[cfg(test)]
pub(crate) mod tests;
