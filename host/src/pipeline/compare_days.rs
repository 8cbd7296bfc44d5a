//! Two recordings to what moved between them: matches settings, then asks [`crate::analysis::compare`].
//!
//! Each setting of the later recording is held against the same tip, coating and thinner of the earlier one, in
//! the state nearest in temperature; the supply curves at the same control position. What cannot be
//! compared says why. No arithmetic of its own beyond choosing; no wording but the refusals'.

mod supply;

use thiserror::Error;

use crate::analysis::answer::Change;
use crate::analysis::compare::unit_slip::{Mixed, mixed_flow, mixed_pressure};
use crate::analysis::compare::{
    Calibration, CompareError, CurveComparison, Difference, Margins, RatioChange, WhichMoved,
    compare_curves, find_differences,
};
use crate::analysis::nozzle_curve::NozzleCurve;
use crate::analysis::similarity::SHEAR_INDEX_UNKNOWN;
use crate::analysis::temperature::andrade::{U_READING_RATIO, fit_andrade};
use crate::analysis::temperature::explain_by_temperature;
use crate::estimate::Estimate;
use crate::findings::{Findings, GroupFinding};
use crate::units::Kelvin;

use super::plan_box::instruments_differ;
pub use supply::{SupplyMove, SupplyRefusal};

/// Why two recordings are not compared at all.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum DaysError {
    /// Measured and made up.
    #[error(
        "{simulated} was made by the simulated rig and {measured} is a measurement: they say nothing about each \
         other; nothing was compared"
    )]
    SimulatedAndMeasured {
        /// The simulated one.
        simulated: String,
        /// The measured one.
        measured: String,
    },
    /// A unit was mixed up.
    #[error(
        "{after} shows {factor:.3} times the {what} of {before} with the same setting: one of them seems to have been \
         read in another unit ({units}); put the unit right and import it again; nothing was compared"
    )]
    OtherUnit {
        /// Earlier recording.
        before: String,
        /// Later recording.
        after: String,
        /// Pressure or flow.
        what: &'static str,
        /// After over before.
        factor: f64,
        /// Which units.
        units: &'static str,
    },
    /// Neither a setting nor a control position in common.
    #[error(
        "{before} and {after} have nothing in common to compare.\n  {before}: {in_before}\n  {after}: {in_after}\nA \
         baseline is missing: record the same tip with the same coating and thinner on both days"
    )]
    NothingInCommon {
        /// Earlier recording.
        before: String,
        /// Later recording.
        after: String,
        /// Its settings.
        in_before: String,
        /// Its settings.
        in_after: String,
    },
}

/// In what two recordings differ as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DaysDifference {
    /// Another rig: the supply curves say nothing about each other.
    Rig,
    /// The pressure was taken at another place: nothing can be compared but by the hose between.
    Tap,
    /// Another meter constant or its uncertainty.
    FlowMeter,
    /// Another pressure sensor.
    PressureSensor,
    /// Neither start nor date says which is the earlier: as given.
    OrderUnknown,
}

/// Why one setting has no comparison.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NozzleRefusal {
    /// No curve before.
    #[error("no nozzle curve in {name}: its report says which burst is missing")]
    NoCurve {
        /// The recording.
        name: String,
    },
    /// Other taps.
    #[error("the pressure was taken at another place, and the hose lies between")]
    OtherTap,
    /// As the analysis says.
    #[error(transparent)]
    Compare(#[from] CompareError),
}

/// One setting on both days.
#[derive(Debug, Clone, PartialEq)]
pub struct NozzleMove {
    /// Group in the earlier recording.
    pub before_group: usize,
    /// Group in the later recording.
    pub after_group: usize,
    /// Coating temperature after minus before, K, where it matters.
    pub by_k: Option<f64>,
    /// True when a temperature is not known.
    pub temperature_unknown: bool,
    /// The comparison.
    pub result: Result<NozzlePair, NozzleRefusal>,
}

/// Two curves held against each other.
#[derive(Debug, Clone, PartialEq)]
pub struct NozzlePair {
    /// As measured.
    pub measured: CurveComparison,
    /// Flow ratio that the change of temperature explains; `None` where there is none or it cannot be told.
    pub explained: Option<Estimate>,
    /// What is left of the change without it.
    pub left: Option<RatioChange>,
    /// The word: of what is left, where temperature was taken out; cannot tell where it should be and
    /// could not.
    pub change: Change,
    /// Which curve moved, with the supply curves' word.
    pub which: WhichMoved,
}

/// One recording against an earlier one.
#[derive(Debug, Clone, PartialEq)]
pub struct DaysMove {
    /// In what they differ as a whole.
    pub differences: Vec<DaysDifference>,
    /// How far their calibrations are one.
    pub calibration: Calibration,
    /// Settings that both have, the later recording's main subject first.
    pub nozzles: Vec<NozzleMove>,
    /// Groups of the later recording without a baseline.
    pub only_after: Vec<usize>,
    /// Groups of the earlier recording that the later one does not have.
    pub only_before: Vec<usize>,
    /// The supply curves.
    pub supply: Result<SupplyMove, SupplyRefusal>,
}

/// Compare a recording with an earlier one.
///
/// `has_order` tells whether it is known which is the earlier.
///
/// *Errors*: [`DaysError`]; a single setting that cannot be compared says so in its own place.
pub fn compare_days(
    before: &Findings,
    after: &Findings,
    has_order: bool,
) -> Result<DaysMove, DaysError> {
    if before.is_simulated != after.is_simulated {
        let (s, m) = if before.is_simulated {
            (before, after)
        } else {
            (after, before)
        };
        return Err(DaysError::SimulatedAndMeasured {
            simulated: s.name.clone(),
            measured: m.name.clone(),
        });
    }
    let differences = differences_of(before, after, has_order);
    let is_other_rig = differences.contains(&DaysDifference::Rig);
    let calibration = if instruments_differ(before, after) || is_other_rig {
        Calibration::Separate
    } else {
        Calibration::Shared
    };
    let pairs = pair_settings(before, after);
    check_units(before, after, &pairs, is_other_rig)?;
    let has_other_tap = differences.contains(&DaysDifference::Tap);
    let supply = supply::compare(before, after, calibration, is_other_rig, has_other_tap);
    let supply_change = supply
        .as_ref()
        .map_or(Change::CannotTell, |s| s.ratio.change);
    let nozzles: Vec<NozzleMove> = pairs
        .iter()
        .map(|(b, a)| {
            let (gb, ga) = (&before.groups[*b], &after.groups[*a]);
            let found = find_differences(&gb.group, &ga.group);
            let by_k = found.iter().find_map(|d| match d {
                Difference::Temperature { by_k } => Some(*by_k),
                _ => None,
            });
            let result = if has_other_tap {
                Err(NozzleRefusal::OtherTap)
            } else {
                compare_pair((before, gb), (after, ga), calibration, by_k, supply_change)
            };
            NozzleMove {
                before_group: *b,
                after_group: *a,
                by_k,
                temperature_unknown: found.contains(&Difference::TemperatureUnknown),
                result,
            }
        })
        .collect();
    let unpaired = |f: &Findings, paired: &dyn Fn(&GroupFinding) -> bool| -> Vec<usize> {
        latest_states(f)
            .into_iter()
            .filter(|i| !paired(&f.groups[*i]))
            .collect()
    };
    let only_after = unpaired(after, &|g| {
        pairs.iter().any(|(_, a)| is_same(&after.groups[*a], g))
    });
    let only_before = unpaired(before, &|g| {
        pairs.iter().any(|(b, _)| is_same(&before.groups[*b], g))
    });
    if nozzles.is_empty() && supply.is_err() {
        return Err(DaysError::NothingInCommon {
            before: before.name.clone(),
            after: after.name.clone(),
            in_before: settings_of(before),
            in_after: settings_of(after),
        });
    }
    Ok(DaysMove {
        differences,
        calibration,
        nozzles,
        only_after,
        only_before,
        supply,
    })
}

fn differences_of(before: &Findings, after: &Findings, has_order: bool) -> Vec<DaysDifference> {
    let (a, b) = (&before.settings, &after.settings);
    let mut out = Vec::new();
    let is_other_rig = a
        .rig
        .as_ref()
        .zip(b.rig.as_ref())
        .is_some_and(|(x, y)| !x.trim().eq_ignore_ascii_case(y.trim()));
    if is_other_rig {
        out.push(DaysDifference::Rig);
    }
    if a.tap != b.tap {
        out.push(DaysDifference::Tap);
    }
    if a.flow_meter != b.flow_meter {
        out.push(DaysDifference::FlowMeter);
    }
    if a.pressure_sensor != b.pressure_sensor {
        out.push(DaysDifference::PressureSensor);
    }
    if !has_order {
        out.push(DaysDifference::OrderUnknown);
    }
    out
}

/// True for the same tip, coating and thinner; the family word of the notes is the user's own and may be
/// missing on one day.
fn is_same(a: &GroupFinding, b: &GroupFinding) -> bool {
    let text = |x: &str, y: &str| x.trim().eq_ignore_ascii_case(y.trim());
    let family = match (&a.group.tip_family, &b.group.tip_family) {
        (Some(x), Some(y)) => text(x, y),
        _ => true,
    };
    text(&a.group.tip, &b.group.tip)
        && family
        && text(&a.group.material, &b.group.material)
        && (a.group.thinner_ratio - b.group.thinner_ratio).abs() < 0.005
}

/// The latest state of each setting, the main subject first.
fn latest_states(f: &Findings) -> Vec<usize> {
    let mut out: Vec<usize> = f.verdicts.iter().map(|v| v.group_index).collect();
    for (i, g) in f.groups.iter().enumerate() {
        if !out
            .iter()
            .any(|j| f.groups[*j].group.is_same_setting(&g.group))
        {
            out.push(i);
        }
    }
    out.retain(|i| *i < f.groups.len());
    out
}

/// Pairs (earlier group, later group): each latest state of the later recording with the state of the earlier
/// one that is nearest in temperature, the latest among those alike.
fn pair_settings(before: &Findings, after: &Findings) -> Vec<(usize, usize)> {
    /// Temperatures closer than this are alike, K: the step that parts two groups within a recording.
    const ALIKE_K: f64 = 2.0;
    let apart = |g: &GroupFinding, k: Option<f64>| match (g.group.material_k, k) {
        (Some(a), Some(b)) => ((a - b).abs() / ALIKE_K).floor(),
        _ => 0.0,
    };
    latest_states(after)
        .into_iter()
        .filter_map(|a| {
            let group = &after.groups[a];
            let candidates = before
                .groups
                .iter()
                .enumerate()
                .filter(|(_, g)| is_same(g, group));
            let best = candidates.min_by(|x, y| {
                let by_curve = x.1.curve.is_err().cmp(&y.1.curve.is_err());
                let k = group.group.material_k;
                let by_k = apart(x.1, k).total_cmp(&apart(y.1, k));
                // Later first.
                by_curve.then(by_k).then(y.0.cmp(&x.0))
            });
            best.map(|(b, _)| (b, a))
        })
        .collect()
}

fn compare_pair(
    (before, gb): (&Findings, &GroupFinding),
    (after, ga): (&Findings, &GroupFinding),
    calibration: Calibration,
    by_k: Option<f64>,
    supply: Change,
) -> Result<NozzlePair, NozzleRefusal> {
    let curve = |f: &Findings, g: &GroupFinding| -> Result<NozzleCurve, NozzleRefusal> {
        g.curve.clone().map_err(|_| NozzleRefusal::NoCurve {
            name: f.name.clone(),
        })
    };
    let (cb, ca) = (curve(before, gb)?, curve(after, ga)?);
    let measured = compare_curves(&cb, &ca, calibration, &Margins::default())?;
    let explained = by_k.and_then(|_| explained(after, gb, ga, &cb, &ca));
    let left = match explained {
        Some(ratio) => Some(measured.flow.without(ratio)?),
        None => None,
    };
    let change = match (by_k, &left) {
        (_, Some(left)) => left.change,
        // The weather may be the whole of it.
        (Some(_), None) => Change::CannotTell,
        (None, None) => measured.flow.change,
    };
    Ok(NozzlePair {
        measured,
        explained,
        left,
        change,
        which: WhichMoved::of(change, supply),
    })
}

/// Flow after over before that the coating's temperature alone should make.
fn explained(
    after: &Findings,
    gb: &GroupFinding,
    ga: &GroupFinding,
    cb: &NozzleCurve,
    ca: &NozzleCurve,
) -> Option<Estimate> {
    let material = after
        .settings
        .materials
        .iter()
        .find(|m| m.name.eq_ignore_ascii_case(&ga.group.material))?;
    let line = fit_andrade(&material.viscosity, U_READING_RATIO).ok()?;
    let (n0, n1) = (cb.power_law.n, ca.power_law.n);
    let exponent = Estimate::new(
        0.5 * (n0.value + n1.value),
        0.5 * n0.u_combined().hypot(n1.u_combined()),
        0.0,
    );
    let (from, to) = (gb.group.material_k?, ga.group.material_k?);
    explain_by_temperature(
        exponent,
        SHEAR_INDEX_UNKNOWN,
        &line,
        Kelvin(from),
        Kelvin(to),
    )
    .ok()
}

/// Refuses recordings of which one seems to be in another unit.
fn check_units(
    before: &Findings,
    after: &Findings,
    pairs: &[(usize, usize)],
    is_other_rig: bool,
) -> Result<(), DaysError> {
    let refuse = |what, factor, mixed: Mixed| {
        Err(DaysError::OtherUnit {
            before: before.name.clone(),
            after: after.name.clone(),
            what,
            factor,
            units: match mixed {
                Mixed::PsiAndBar => "psi and bar",
                Mixed::BarAndMpa => "bar and MPa",
                Mixed::KpaAndBar => "kPa and bar",
                Mixed::GallonsAndLitres => "US gallons and litres",
            },
        })
    };
    if !is_other_rig && let (Some(a), Some(b)) = (before.supply.first(), after.supply.first()) {
        let level = crate::analysis::supply_curve::stalled_level;
        let factor = level(b) / level(a);
        if let Some(mixed) = mixed_pressure(factor) {
            return refuse("pressure", factor, mixed);
        }
    }
    for (b, a) in pairs {
        let (Ok(cb), Ok(ca)) = (&before.groups[*b].curve, &after.groups[*a].curve) else {
            continue;
        };
        let p = (cb.power_law.p_ref_pa * ca.power_law.p_ref_pa).sqrt();
        let factor = ca.flow_at(p).value / cb.flow_at(p).value;
        if let Some(mixed) = mixed_flow(factor) {
            return refuse("flow", factor, mixed);
        }
    }
    Ok(())
}

/// Tips and coatings of a recording in words.
fn settings_of(f: &Findings) -> String {
    let mut names: Vec<String> = Vec::new();
    for g in &f.groups {
        let name = format!("tip {} with {}", g.group.tip, g.group.material);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    if names.is_empty() {
        "no burst could be given to a tip and a coating".to_owned()
    } else {
        names.join(", ")
    }
}
