//! Two batteries on one pump: pressure held, resistance, run time.

use crate::analysis::answer::Change;
use crate::analysis::energy::USABLE_UNKNOWN;
use crate::energy_findings::{
    BatteryFindings, CompareRefusal, Compared, ComparedWhat, SettingEnergy,
};
use crate::estimate::Estimate;
use crate::estimate::bracketed::Bracketed;

/// Least relative change of the pressure held that matters: the step to which a dial is set (common
/// practice, no source).
const PRESSURE_MARGIN: f64 = 0.05;
/// Of a resistance and of a run time: less is not felt in a day's work (common practice, no source).
const ENDURANCE_MARGIN: f64 = 0.15;
/// Half-width of a 95 % interval in standard uncertainties.
const HALF_WIDTH: f64 = 1.96;

/// Holds the other battery against the first.
pub(super) fn compare(
    first: &BatteryFindings,
    other: &BatteryFindings,
) -> Result<(String, String, Vec<Compared>), CompareRefusal> {
    if let (Some(a), Some(b)) = (&first.rig, &other.rig)
        && !a.trim().eq_ignore_ascii_case(b.trim())
    {
        return Err(CompareRefusal::Rigs {
            first: a.clone(),
            other: b.clone(),
        });
    }
    let (i, j) = common_setting(first, other).ok_or(CompareRefusal::NoCommonSetting)?;
    let (a, b) = (&first.energy.settings[i], &other.energy.settings[j]);
    let lines: Vec<Compared> = [
        pressures(a, b),
        resistances(first, other),
        run_times((first, i), (other, j)),
    ]
    .into_iter()
    .flatten()
    .collect();
    if lines.is_empty() {
        return Err(CompareRefusal::NothingInCommon);
    }
    Ok((a.tip.clone(), a.material.clone(), lines))
}

/// A setting at full control that both have; the one with the most bursts of the lesser side.
fn common_setting(first: &BatteryFindings, other: &BatteryFindings) -> Option<(usize, usize)> {
    let settings = first.energy.settings.iter().enumerate();
    settings
        .filter(|(_, a)| a.is_full)
        .filter_map(|(i, a)| {
            let same = |b: &SettingEnergy| b.is_full && b.tip == a.tip && b.material == a.material;
            let j = other.energy.settings.iter().position(same)?;
            Some((a.n_bursts.min(other.energy.settings[j].n_bursts), i, j))
        })
        .max_by_key(|(n, i, _)| (*n, std::cmp::Reverse(*i)))
        .map(|(_, i, j)| (i, j))
}

fn compared(
    what: ComparedWhat,
    (first, other): (Bracketed, Bracketed),
    ln_ratio: Estimate,
    margin_ratio: f64,
) -> Option<Compared> {
    let ratio = Bracketed::from_ln(&ln_ratio);
    let is_usable = ratio.value.is_finite()
        && ratio.interval_95.low.is_finite()
        && ratio.interval_95.high.is_finite();
    is_usable.then(|| Compared {
        what,
        first,
        other,
        ratio,
        change: Change::of(&ln_ratio, margin_ratio.ln_1p()),
        margin_ratio,
    })
}

fn bracketed(e: &Estimate) -> Bracketed {
    Bracketed {
        value: e.value,
        interval_95: e.interval_95(),
    }
}

/// Logarithm of other over first by their independent parts: one sensor on one pump, whose calibration
/// cancels.
fn ln_ratio(first: &Estimate, other: &Estimate) -> Option<Estimate> {
    if !(first.value > 0.0 && other.value > 0.0) {
        return None;
    }
    let u = (first.u_independent / first.value).hypot(other.u_independent / other.value);
    let ln = (other.value / first.value).ln();
    Some(Estimate::new(ln, u, 0.0).with_dof(first.dof.min(other.dof)))
}

fn pressures(a: &SettingEnergy, b: &SettingEnergy) -> Option<Compared> {
    let ln = ln_ratio(&a.pressure_pa, &b.pressure_pa)?;
    let both = (bracketed(&a.pressure_pa), bracketed(&b.pressure_pa));
    compared(ComparedWhat::Pressure, both, ln, PRESSURE_MARGIN)
}

fn resistances(first: &BatteryFindings, other: &BatteryFindings) -> Option<Compared> {
    let (a, b) = (first.energy.resistance_ohm?, other.energy.resistance_ohm?);
    let ln = ln_ratio(&a, &b)?;
    let both = (bracketed(&a), bracketed(&b));
    compared(ComparedWhat::Resistance, both, ln, ENDURANCE_MARGIN)
}

/// Run times with their intervals: what batteries print on themselves is each one's own. The share that can
/// be used is not: the pump decides when it stops, and both drove the same; its doubt cancels.
fn run_times(
    (first, i): (&BatteryFindings, usize),
    (other, j): (&BatteryFindings, usize),
) -> Option<Compared> {
    let time = |b: &BatteryFindings, setting: usize| {
        let found = b.run_times.iter().find(|r| r.setting_index == setting)?;
        let time = found.run_time.as_ref().ok()?.elapsed_s;
        (time.interval_95.low > 0.0).then_some(time)
    };
    let (a, b) = (time(first, i)?, time(other, j)?);
    let u_usable = USABLE_UNKNOWN.u_common / USABLE_UNKNOWN.value;
    let u = |t: &Bracketed| {
        let whole = (t.interval_95.high / t.interval_95.low).ln() / (2.0 * HALF_WIDTH);
        (whole * whole - u_usable * u_usable).max(0.0).sqrt()
    };
    let ln = Estimate::new((b.value / a.value).ln(), 0.0, u(&a).hypot(u(&b)));
    compared(ComparedWhat::RunTime, (a, b), ln, ENDURANCE_MARGIN)
}
