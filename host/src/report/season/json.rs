//! A season for programs: see `report/SEASON_JSON.md`.

use serde::Serialize;

use crate::analysis::answer::Change;
use crate::analysis::season::{LeftOut, PumpTrend, Season, TipTrend, Trend};
use crate::report::json::{Value, finite, finite_or_none};
use crate::units::M3_PER_L;

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    schema_version: u32,
    name: String,
    n_recordings: usize,
    n_without_curve: usize,
    is_simulated: bool,
    tips: Vec<Tip>,
    pumps: Vec<Pump>,
}

#[derive(Serialize)]
struct Tip {
    tip: String,
    material: String,
    thinner_ratio: Option<f64>,
    volume_m3: Option<f64>,
    at_pressure_pa: Option<f64>,
    material_k: Option<f64>,
    slope_per_10_l: Option<Value>,
    #[serde(flatten)]
    common: Common,
    points: Vec<TipPoint>,
}

#[derive(Serialize)]
struct Pump {
    rig: Option<String>,
    dial: String,
    at_flow_m3_per_s: Option<f64>,
    first_v: Option<f64>,
    last_v: Option<f64>,
    #[serde(flatten)]
    common: Common,
    points: Vec<PumpPoint>,
}

#[derive(Serialize)]
struct Common {
    n_recordings: usize,
    n_on_line: usize,
    left_out: Counts,
    total_change: Option<Total>,
    change: Change,
}

#[derive(Serialize)]
struct Counts {
    no_date: usize,
    other_instruments: usize,
    other_temperature: usize,
    other_pressures: usize,
    other_flows: usize,
}

#[derive(Serialize)]
struct Total {
    value: Option<f64>,
    low_95: Option<f64>,
    high_95: Option<f64>,
}

#[derive(Serialize)]
struct TipPoint {
    recording: String,
    start_unix_s: Option<f64>,
    volume_m3: Option<f64>,
    flow_m3_per_s: Option<f64>,
    u_ratio: Option<f64>,
    left_out: Option<LeftOut>,
}

#[derive(Serialize)]
struct PumpPoint {
    recording: String,
    start_unix_s: Option<f64>,
    pressure_pa: Option<f64>,
    u_ratio: Option<f64>,
    left_out: Option<LeftOut>,
}

/// The season as one JSON object.
///
/// *Errors*: what the JSON writer says; it does not depend on what a user wrote.
pub fn json(season: &Season, name: &str) -> serde_json::Result<String> {
    serde_json::to_string(&Document {
        schema: "tipcurve-season",
        schema_version: 1,
        name: name.to_owned(),
        n_recordings: season.n_recordings,
        n_without_curve: season.n_without_curve,
        is_simulated: season.is_simulated,
        tips: season.tips.iter().map(tip).collect(),
        pumps: season.pumps.iter().map(pump).collect(),
    })
}

fn common(trend: &Trend) -> Common {
    let n = |reason: LeftOut| {
        trend
            .points
            .iter()
            .filter(|p| p.left_out == Some(reason))
            .count()
    };
    Common {
        n_recordings: trend.points.len(),
        n_on_line: trend.points.iter().filter(|p| p.left_out.is_none()).count(),
        left_out: Counts {
            no_date: n(LeftOut::NoDate),
            other_instruments: n(LeftOut::OtherInstruments),
            other_temperature: n(LeftOut::OtherTemperature),
            other_pressures: n(LeftOut::OtherPressures),
            other_flows: n(LeftOut::OtherFlows),
        },
        total_change: trend.total.map(|t| Total {
            value: finite(t.value - 1.0),
            low_95: finite(t.interval_95.low - 1.0),
            high_95: finite(t.interval_95.high - 1.0),
        }),
        change: trend.change,
    }
}

fn tip(t: &TipTrend) -> Tip {
    Tip {
        tip: t.tip.clone(),
        material: t.material.clone(),
        thinner_ratio: finite(t.thinner_ratio),
        volume_m3: finite(t.volume_m3),
        at_pressure_pa: finite(t.trend.at),
        material_k: finite_or_none(t.trend.material_k),
        slope_per_10_l: t
            .trend
            .line
            .as_ref()
            .map(|l| Value::from(&l.slope().scaled(10.0 * M3_PER_L))),
        common: common(&t.trend),
        points: t
            .trend
            .points
            .iter()
            .map(|p| TipPoint {
                recording: p.recording.clone(),
                start_unix_s: finite_or_none(p.start_unix_s),
                volume_m3: finite(p.x),
                flow_m3_per_s: finite(p.value),
                u_ratio: finite(p.u_ratio),
                left_out: p.left_out,
            })
            .collect(),
    }
}

fn pump(p: &PumpTrend) -> Pump {
    Pump {
        rig: p.rig.clone(),
        dial: p.dial.clone(),
        at_flow_m3_per_s: finite(p.trend.at),
        first_v: p.supply_v.map(|v| v.0),
        last_v: p.supply_v.map(|v| v.1),
        common: common(&p.trend),
        points: p
            .trend
            .points
            .iter()
            .map(|point| PumpPoint {
                recording: point.recording.clone(),
                start_unix_s: finite_or_none(point.start_unix_s),
                pressure_pa: finite(point.value),
                u_ratio: finite(point.u_ratio),
                left_out: point.left_out,
            })
            .collect(),
    }
}
