//! A comparison for programs: see `report/COMPARE_JSON.md`.

use serde::Serialize;

use super::Compared;
use super::words::cause;
use crate::analysis::answer::Change;
use crate::analysis::compare::{Calibration, RatioChange, WhichMoved};
use crate::findings::Findings;
use crate::pipeline::compare_days::{DaysDifference, DaysMove, NozzleMove, NozzlePair, SupplyMove};
use crate::report::json::{Value, finite, finite_or_none};
use crate::units::UnitChoice;

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    schema_version: u32,
    units_shown: UnitChoice,
    is_simulated: bool,
    baseline: Recording,
    comparisons: Vec<Comparison>,
}

#[derive(Serialize)]
struct Recording {
    name: String,
    date: Option<String>,
    started_at_unix_s: Option<f64>,
    rig: Option<String>,
}

impl Recording {
    fn new(f: &Findings) -> Self {
        Self {
            name: f.name.clone(),
            date: f.settings.date.clone(),
            started_at_unix_s: finite_or_none(f.settings.started_at_unix_s),
            rig: f.settings.rig.clone(),
        }
    }
}

#[derive(Serialize)]
struct Comparison {
    recording: Recording,
    calibration: &'static str,
    differences: Vec<DaysDifference>,
    nozzles: Vec<Nozzle>,
    supply: Option<Supply>,
    supply_refusal: Option<String>,
    only_after: Vec<Setting>,
    only_before: Vec<Setting>,
}

#[derive(Serialize)]
struct Setting {
    tip: String,
    tip_family: Option<String>,
    material: String,
    thinner_ratio: Option<f64>,
    material_k: Option<f64>,
}

#[derive(Serialize)]
struct Nozzle {
    tip: String,
    tip_family: Option<String>,
    material: String,
    thinner_ratio: Option<f64>,
    before_group_index: usize,
    after_group_index: usize,
    before_k: Option<f64>,
    after_k: Option<f64>,
    abs_by_k: Option<f64>,
    refusal: Option<String>,
    pressure_pa: Option<f64>,
    flow_change: Option<Moved>,
    explained_by_temperature_ratio: Option<Value>,
    left_change: Option<Moved>,
    exponent_difference: Option<Value>,
    exponent_change: Option<Change>,
    change: Option<Change>,
    which_moved: Option<WhichMoved>,
    meaning: String,
    advice: Vec<String>,
    cautions: Vec<&'static str>,
}

#[derive(Serialize)]
struct Supply {
    dial: String,
    flow_m3_per_s: Option<f64>,
    pressure_change: Moved,
    before_v: Option<f64>,
    after_v: Option<f64>,
}

/// A relative change: 0.07 is seven percent more.
#[derive(Serialize)]
struct Moved {
    value: Option<f64>,
    low_95: Option<f64>,
    high_95: Option<f64>,
    margin_ratio: Option<f64>,
    change: Change,
}

impl From<&RatioChange> for Moved {
    fn from(r: &RatioChange) -> Self {
        Self {
            value: finite(r.ratio.value - 1.0),
            low_95: finite(r.ratio.interval_95.low - 1.0),
            high_95: finite(r.ratio.interval_95.high - 1.0),
            margin_ratio: finite(r.margin_ratio),
            change: r.change,
        }
    }
}

/// The comparison as one JSON object.
///
/// *Errors*: what the JSON writer says; it does not depend on what a user wrote.
pub fn json(compared: &Compared, units: &UnitChoice) -> serde_json::Result<String> {
    let before = compared.before;
    let later = compared.later.iter();
    serde_json::to_string(&Document {
        schema: "tipcurve-compare",
        schema_version: 1,
        units_shown: *units,
        is_simulated: before.is_simulated,
        baseline: Recording::new(before),
        comparisons: later
            .map(|(after, moved)| comparison(before, after, moved))
            .collect(),
    })
}

fn comparison(before: &Findings, after: &Findings, moved: &DaysMove) -> Comparison {
    Comparison {
        recording: Recording::new(after),
        calibration: match moved.calibration {
            Calibration::Shared => "shared",
            Calibration::Separate | Calibration::Partly(_) => "separate",
        },
        differences: moved.differences.clone(),
        nozzles: moved
            .nozzles
            .iter()
            .map(|n| nozzle(before, after, moved, n))
            .collect(),
        supply: moved.supply.as_ref().ok().map(supply),
        supply_refusal: moved.supply.as_ref().err().map(ToString::to_string),
        only_after: settings(after, &moved.only_after),
        only_before: settings(before, &moved.only_before),
    }
}

fn settings(f: &Findings, indices: &[usize]) -> Vec<Setting> {
    indices
        .iter()
        .filter_map(|i| Some(&f.groups.get(*i)?.group))
        .map(|g| Setting {
            tip: g.tip.clone(),
            tip_family: g.tip_family.clone(),
            material: g.material.clone(),
            thinner_ratio: finite(g.thinner_ratio),
            material_k: finite_or_none(g.material_k),
        })
        .collect()
}

fn nozzle(before: &Findings, after: &Findings, moved: &DaysMove, n: &NozzleMove) -> Nozzle {
    let (b, a) = (
        &before.groups[n.before_group].group,
        &after.groups[n.after_group].group,
    );
    let pair: Option<&NozzlePair> = n.result.as_ref().ok();
    let cause = cause(before, after, Some(n), moved.supply.as_ref().ok());
    Nozzle {
        tip: a.tip.clone(),
        tip_family: a.tip_family.clone(),
        material: a.material.clone(),
        thinner_ratio: finite(a.thinner_ratio),
        before_group_index: n.before_group,
        after_group_index: n.after_group,
        before_k: finite_or_none(b.material_k),
        after_k: finite_or_none(a.material_k),
        abs_by_k: finite_or_none(n.by_k.map(f64::abs)),
        refusal: n.result.as_ref().err().map(ToString::to_string),
        pressure_pa: pair.and_then(|p| finite(p.measured.pressure_pa)),
        flow_change: pair.map(|p| Moved::from(&p.measured.flow)),
        explained_by_temperature_ratio: pair.and_then(|p| p.explained.as_ref().map(Value::from)),
        left_change: pair.and_then(|p| p.left.as_ref().map(Moved::from)),
        exponent_difference: pair.map(|p| Value::from(&p.measured.exponent_difference)),
        exponent_change: pair.map(|p| p.measured.exponent_change),
        change: pair.map(|p| p.change),
        which_moved: pair.map(|p| p.which),
        meaning: cause.headline,
        advice: cause.advice.iter().map(|(a, _)| (*a).to_owned()).collect(),
        cautions: cause.advice.iter().filter_map(|(_, c)| *c).collect(),
    }
}

fn supply(s: &SupplyMove) -> Supply {
    Supply {
        dial: s.dial.clone(),
        flow_m3_per_s: finite(s.flow_m3_per_s),
        pressure_change: Moved::from(&s.ratio),
        before_v: s.supply_v.map(|v| v.0),
        after_v: s.supply_v.map(|v| v.1),
    }
}
