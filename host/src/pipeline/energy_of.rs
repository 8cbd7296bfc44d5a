//! Findings to what they say of power and charge. The formulas are [`crate::analysis::energy`]'s.

use crate::analysis::energy::battery::sum_charge;
use crate::analysis::energy::efficiency;
use crate::analysis::signal::{Series, Signal};
use crate::analysis::supply_curve::SupplyCurve;
use crate::energy_findings::{EnergyFinding, EnergyPoint, Missing, SettingEnergy};
use crate::estimate::Estimate;
use crate::findings::BurstFinding;
use crate::recording::notes::{KnownEvent, Note};

/// Relative standard uncertainty of a supply voltage, common (common practice, no source).
const U_VOLTAGE_RATIO: f64 = 0.01;
/// Relative standard uncertainty of a supply current, common (common practice, no source).
const U_CURRENT_RATIO: f64 = 0.02;
/// What a control comes back to from pull to pull, relative (common practice, no source).
const U_CONTROL_RATIO: f64 = 0.01;
/// Rise of current below which a resistance would be mostly noise, A.
const LEAST_RISE_A: f64 = 1.0;
/// After the trigger closes the pump refills the hose: this long is neither spraying nor stalled, s.
const REFILL_S: f64 = 1.5;
/// Time before a burst from which voltage and current at rest are read, s.
const REST_S: f64 = 2.5;
/// A pump that stands below this share of the spraying pressure is off, not stalled.
const STALLED_RATIO: f64 = 0.5;

/// What the energy of a recording is read from.
#[derive(Clone, Copy)]
pub(crate) struct Sources<'a> {
    pub(crate) signal: &'a Signal,
    pub(crate) bursts: &'a [BurstFinding],
    pub(crate) supply: &'a [SupplyCurve],
    pub(crate) notes: &'a [Note],
}

/// Energy of one recording; never fails: what was not logged is named in it.
pub(crate) fn energy_of(sources: Sources) -> EnergyFinding {
    let slow = &sources.signal.slow;
    let mut missing = Vec::new();
    if slow.supply_v.value.is_empty() {
        missing.push(Missing::Voltage);
    }
    if slow.supply_a.value.is_empty() {
        missing.push(Missing::Current);
    }
    let charge = Charge::of(&slow.supply_a, &swaps(sources));
    let points = points_of(sources, charge.as_ref());
    if points.is_empty() && missing.is_empty() {
        missing.push(Missing::Bursts);
    }
    EnergyFinding {
        drawn: charge.as_ref().map(|c| (c.total_a_s, c.unknown_s)),
        stalled_w: stalled_power(sources),
        resistance_ohm: resistance(sources),
        settings: settings_of(&points),
        points,
        missing,
    }
}

/// Logger times at which another battery was put in: begin of the first burst after each note of it.
fn swaps(sources: Sources) -> Vec<f64> {
    let is_swap = |n: &Note| n.known_event() == Some(KnownEvent::BatterySwap);
    let noted = sources.notes.iter().enumerate().filter(|(_, n)| is_swap(n));
    noted
        .filter_map(|(i, _)| {
            let after = |b: &&BurstFinding| b.note_indices.iter().any(|n| *n > i);
            sources.bursts.iter().find(after).map(|b| b.burst.start_s)
        })
        .collect()
}

/// Charge drawn since the battery was put in, against time.
struct Charge {
    t_s: Vec<f64>,
    drawn_a_s: Vec<f64>,
    /// Time and total at which counting begins anew.
    swaps: Vec<(f64, f64)>,
    total_a_s: f64,
    unknown_s: f64,
}

impl Charge {
    fn of(current: &Series, swaps_s: &[f64]) -> Option<Self> {
        let mut t_s: Vec<f64> = Vec::new();
        let mut amps = Vec::new();
        for (t, a) in current.t_s.iter().zip(&current.value) {
            let is_later = t_s.last().is_none_or(|last| t > last);
            if t.is_finite() && a.is_finite() && is_later {
                t_s.push(*t);
                amps.push(*a);
            }
        }
        let used = sum_charge(&t_s, &amps).ok()?;
        let mut charge = Self {
            total_a_s: used.charge_a_s.last().copied()?,
            unknown_s: used.unknown_s,
            t_s,
            drawn_a_s: used.charge_a_s,
            swaps: Vec::new(),
        };
        charge.swaps = swaps_s.iter().map(|s| (*s, charge.summed_at(*s))).collect();
        Some(charge)
    }

    fn summed_at(&self, t_s: f64) -> f64 {
        let after = self.t_s.partition_point(|t| *t < t_s);
        let last = self.drawn_a_s.len().saturating_sub(1);
        self.drawn_a_s
            .get(after.min(last))
            .copied()
            .unwrap_or_default()
    }

    fn at(&self, t_s: f64) -> f64 {
        let before = self.swaps.iter().rev().find(|(s, _)| *s <= t_s);
        self.summed_at(t_s) - before.map_or(0.0, |(_, sum)| *sum)
    }
}

fn points_of(sources: Sources, charge: Option<&Charge>) -> Vec<EnergyPoint> {
    let full = sources.supply.iter().find(|s| s.is_full);
    sources
        .bursts
        .iter()
        .enumerate()
        .filter(|(_, b)| b.steady.exclusion.is_none() && !b.steady.flow_is_bound)
        .filter_map(|(burst_index, b)| {
            let s = &b.steady;
            let (supply_v, supply_a) = (s.supply_v?, s.supply_a?);
            let (pressure_pa, flow) = (s.pressure_pa?, s.flow_m3_per_s?);
            let dial = b.setting.dial.clone().unwrap_or_default();
            let point = EnergyPoint {
                recording_index: 0,
                burst_index,
                tip: b.setting.tip.clone()?,
                material: b.setting.material.clone().unwrap_or_default(),
                is_full: full.is_some_and(|f| f.dial == dial),
                dial,
                drawn_a_s: charge?.at(0.5 * (s.from_s + s.to_s)),
                supply_v,
                supply_a,
                electric_w: supply_v * supply_a,
                hydraulic_w: pressure_pa.value * flow.value,
                pressure_pa,
                sag_ratio: s.sag_ratio,
            };
            let is_usable = point.electric_w > 0.0
                && point.hydraulic_w > 0.0
                && point.electric_w.is_finite()
                && point.drawn_a_s.is_finite();
            is_usable.then_some(point)
        })
        .collect()
}

/// Mean of numbers with the standard uncertainty of the mean; `None` below two.
fn mean_of(values: &[f64]) -> Option<Estimate> {
    let n = values.len() as f64;
    if values.len() < 2 {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    let u = (squares / (n - 1.0) / n).sqrt();
    Some(Estimate::new(mean, u, 0.0).with_dof(n - 1.0))
}

/// The same with a relative common part.
fn with_common(e: Estimate, ratio: f64) -> Estimate {
    Estimate {
        u_common: e.value.abs() * ratio,
        ..e
    }
}

/// Mean powers of every setting with two bursts or more.
pub(super) fn settings_of(points: &[EnergyPoint]) -> Vec<SettingEnergy> {
    let mut groups: Vec<Vec<&EnergyPoint>> = Vec::new();
    for p in points {
        let is_same = |g: &&mut Vec<&EnergyPoint>| {
            (&g[0].tip, &g[0].material, &g[0].dial) == (&p.tip, &p.material, &p.dial)
        };
        match groups.iter_mut().find(is_same) {
            Some(group) => group.push(p),
            None => groups.push(vec![p]),
        }
    }
    groups.iter().filter_map(|g| setting_of(g)).collect()
}

fn setting_of(group: &[&EnergyPoint]) -> Option<SettingEnergy> {
    let of = |f: fn(&EnergyPoint) -> f64| -> Vec<f64> { group.iter().map(|p| f(p)).collect() };
    let first = group.first()?;
    let u_power = U_VOLTAGE_RATIO.hypot(U_CURRENT_RATIO);
    let electric_w = with_common(mean_of(&of(|p| p.electric_w))?, u_power);
    let u_pressure = first.pressure_pa.u_common / first.pressure_pa.value;
    let hydraulic_w = with_common(mean_of(&of(|p| p.hydraulic_w))?, u_pressure);
    let pressure_pa = with_common(mean_of(&of(|p| p.pressure_pa.value))?, u_pressure);
    // A control comes back within a percent from pull to pull, whatever so few pulls happen to show.
    let n = group.len() as f64;
    let least_u = U_CONTROL_RATIO * pressure_pa.value / n.sqrt();
    let pressure_pa = Estimate {
        u_independent: pressure_pa.u_independent.max(least_u),
        ..pressure_pa
    };
    Some(SettingEnergy {
        tip: first.tip.clone(),
        material: first.material.clone(),
        dial: first.dial.clone(),
        is_full: first.is_full,
        n_bursts: group.len(),
        efficiency: efficiency(hydraulic_w, electric_w),
        pressure_pa,
        electric_w,
        hydraulic_w,
    })
}

/// Means of voltage and current in a stretch, as a power.
fn power_between(signal: &Signal, from_s: f64, to_s: f64) -> Option<f64> {
    let v = signal.slow.supply_v.mean_between(from_s, to_s)?;
    let a = signal.slow.supply_a.mean_between(from_s, to_s)?;
    Some(v * a)
}

/// Power between bursts while the line is under pressure: one mean a pause.
fn stalled_power(sources: Sources) -> Option<Estimate> {
    let pauses: Vec<f64> = sources
        .bursts
        .windows(2)
        .filter(|w| {
            let spraying = w[1].steady.pressure_pa.map_or(0.0, |p| p.value);
            w[1].steady
                .stalled_pa
                .is_some_and(|p| p > STALLED_RATIO * spraying && p > 0.0)
        })
        .filter_map(|w| {
            let from = w[0].burst.end_s + REFILL_S;
            power_between(sources.signal, from, w[1].burst.start_s - 0.1)
        })
        .filter(|w| w.is_finite() && *w >= 0.0)
        .collect();
    mean_of(&pauses).map(|e| with_common(e, U_VOLTAGE_RATIO.hypot(U_CURRENT_RATIO)))
}

/// Fall of voltage over rise of current from just before each burst into it.
fn resistance(sources: Sources) -> Option<Estimate> {
    let slow = &sources.signal.slow;
    let ratios: Vec<f64> = sources
        .bursts
        .iter()
        .filter_map(|b| {
            let (from, to) = (b.burst.start_s - REST_S, b.burst.start_s - 0.1);
            let rest_v = slow.supply_v.mean_between(from, to)?;
            let rest_a = slow.supply_a.mean_between(from, to)?;
            let rise_a = b.steady.supply_a? - rest_a;
            let fall_v = rest_v - b.steady.supply_v?;
            (rise_a > LEAST_RISE_A).then(|| fall_v / rise_a)
        })
        .filter(|r| r.is_finite())
        .collect();
    let mean = mean_of(&ratios).filter(|r| r.value > 0.0)?;
    // Both ends of the fall come from one voltmeter: only its span and the ammeter's remain.
    Some(with_common(mean, U_VOLTAGE_RATIO.hypot(U_CURRENT_RATIO)))
}
