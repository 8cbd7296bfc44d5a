//! A season of recordings: how a tip wore over the litres, how the pump's health went over the months.
//!
//! In: one [`SummaryRow`] for each nozzle curve, supply curve and tip's litres of each recording. Out: weighted
//! straight lines through flow at one pressure against litres, and pressure held at one flow against time, each
//! with the change over the season, its interval and the word of an equivalence test. What does not belong on a
//! line (other calibration, other temperature, no date) is kept, marked and counted. A straight line is
//! what a season can carry; steps are the verdicts' business. No files here.

mod row;

pub use row::{RowKind, SummaryRow};

use serde::{Deserialize, Serialize};

use crate::analysis::answer::Change;
use crate::analysis::fit::line::{Line, Scatter, fit_line};
use crate::analysis::thresholds::TEMPERATURE_STEP_K;
use crate::estimate::Estimate;
use crate::estimate::bracketed::Bracketed;

/// The least relative change over a season that matters: as for two days
/// ([`crate::analysis::compare::Margins`]).
pub const MARGIN_RATIO: f64 = 0.05;
/// Fewest recordings on a line: with two there is no freedom to see a scatter.
pub const FEWEST: usize = 3;
/// A curve speaks of a pressure this much beyond its measured ends, a tenth as elsewhere.
const BEYOND_RATIO: f64 = 1.1;
/// Flows further apart than this are two points of a supply curve.
const SAME_FLOW_RATIO: f64 = 0.06;
/// Seconds in a mean Gregorian month, for the horizontal axis only.
pub const MONTH_S: f64 = 30.436_875 * 86_400.0;

/// Why a recording is not on the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LeftOut {
    /// Neither start nor date.
    NoDate,
    /// Another meter constant, sensor or tap than most: its calibration would be a step.
    OtherInstruments,
    /// Another coating temperature than most, and nothing says what that makes.
    OtherTemperature,
    /// Its pressures do not reach the common one.
    OtherPressures,
    /// Its flows do not reach the common one.
    OtherFlows,
}

/// One recording on a trend.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrendPoint {
    /// Its name.
    pub recording: String,
    /// Its start, Unix time.
    pub start_unix_s: Option<f64>,
    /// Place on the horizontal axis: m3 through the tip, or s since the first recording.
    pub x: f64,
    /// Flow (m3/s) or pressure (Pa); at the common temperature where that could be computed.
    pub value: f64,
    /// Relative standard uncertainty, independent.
    pub u_ratio: f64,
    /// Why it is not on the line.
    pub left_out: Option<LeftOut>,
}

/// A trend over a season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Trend {
    /// Pressure (Pa) of a tip's trend, flow (m3/s) of a pump's: where all are compared.
    pub at: f64,
    /// Common coating temperature, K, of a tip's trend.
    pub material_k: Option<f64>,
    /// The recordings in order of time.
    pub points: Vec<TrendPoint>,
    /// Line of the logarithm against x; `None` below [`FEWEST`] recordings.
    pub line: Option<Line>,
    /// Change from the first to the last recording on the line, last over first.
    pub total: Option<Bracketed>,
    /// The word for it.
    pub change: Change,
}

/// How one tip wore.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TipTrend {
    /// Tip code; one code is taken as one piece.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Thinner, 0 to 1.
    pub thinner_ratio: f64,
    /// What the tip let through in all recordings, any coating, m3.
    pub volume_m3: f64,
    /// Flow at one pressure against volume.
    pub trend: Trend,
}

/// How a pump's health went.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PumpTrend {
    /// Rig, where it is known.
    pub rig: Option<String>,
    /// Control position.
    pub dial: String,
    /// First and last supply voltage of the recordings on the line, V.
    pub supply_v: Option<(f64, f64)>,
    /// Pressure held at one flow against time.
    pub trend: Trend,
}

/// The whole season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Season {
    /// Recordings in it.
    pub n_recordings: usize,
    /// Recordings without a curve of either kind.
    pub n_without_curve: usize,
    /// True when all were made by the simulated rig.
    pub is_simulated: bool,
    /// Tips, those with the most recordings first.
    pub tips: Vec<TipTrend>,
    /// Pumps.
    pub pumps: Vec<PumpTrend>,
}

/// Trends of a season.
///
/// *Shape*: rows of any number of recordings in any order. *Cost*: `n log n`.
#[must_use]
pub fn find_trends(rows: &[SummaryRow]) -> Season {
    let mut names: Vec<&str> = rows.iter().map(|r| r.recording.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let has_curve = |name: &&&str| {
        rows.iter().any(|r| {
            r.recording == **name && r.kind != RowKind::Nothing && r.kind != RowKind::Volume
        })
    };
    let with_curve = if rows.is_empty() {
        0
    } else {
        names.iter().filter(has_curve).count()
    };
    let mut tips: Vec<TipTrend> = Vec::new();
    for group in grouped(rows, RowKind::Nozzle, |r| {
        let thinner = (1e3 * r.thinner_ratio.unwrap_or(0.0)).round();
        format!(
            "{}\u{1f}{}\u{1f}{thinner}",
            lower(&r.tip),
            lower(&r.material)
        )
    }) {
        tips.extend(tip_trend(rows, &group));
    }
    tips.sort_by_key(|t| std::cmp::Reverse(t.trend.points.len()));
    let pumps = grouped(rows, RowKind::Supply, |r| {
        format!("{}\u{1f}{}", lower(&r.rig), lower(&r.dial))
    })
    .iter()
    .filter_map(|group| pump_trend(group))
    .collect();
    Season {
        n_recordings: names.len(),
        n_without_curve: names.len() - with_curve,
        is_simulated: rows.iter().all(|r| r.is_simulated) && !rows.is_empty(),
        tips,
        pumps,
    }
}

fn lower(text: &Option<String>) -> String {
    text.as_deref().unwrap_or_default().trim().to_lowercase()
}

/// Rows of one kind by a key, in order of each key's first row; within a key in order of time.
fn grouped(
    rows: &[SummaryRow],
    kind: RowKind,
    key: impl Fn(&SummaryRow) -> String,
) -> Vec<Vec<&SummaryRow>> {
    let mut groups: std::collections::BTreeMap<String, Vec<&SummaryRow>> = Default::default();
    for row in rows.iter().filter(|r| r.kind == kind) {
        groups.entry(key(row)).or_default().push(row);
    }
    let mut out: Vec<Vec<&SummaryRow>> = groups.into_values().collect();
    for group in &mut out {
        group.sort_by(|a, b| start(a).total_cmp(&start(b)));
    }
    out
}

fn start(row: &SummaryRow) -> f64 {
    row.start_unix_s.unwrap_or(f64::INFINITY)
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.retain(|v| v.is_finite());
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// The commonest text among the rows' instruments.
fn commonest<'a>(rows: &[&'a SummaryRow]) -> &'a str {
    let mut counts: std::collections::BTreeMap<&str, usize> = Default::default();
    for row in rows {
        *counts.entry(row.instruments.as_str()).or_default() += 1;
    }
    counts
        .into_iter()
        .max_by_key(|(_, n)| *n)
        .map_or("", |(text, _)| text)
}

fn tip_trend(all: &[SummaryRow], group: &[&SummaryRow]) -> Option<TipTrend> {
    let first = group.first()?;
    let tip = lower(&first.tip);
    let volumes: Vec<&SummaryRow> = all
        .iter()
        .filter(|r| r.kind == RowKind::Volume && lower(&r.tip) == tip)
        .collect();
    let through = |row: &SummaryRow| -> f64 {
        let volume = |r: &&SummaryRow| {
            let share = if r.recording == row.recording {
                0.5
            } else if start(r) < start(row) {
                1.0
            } else {
                0.0
            };
            share * r.volume_m3.unwrap_or(0.0)
        };
        volumes.iter().map(volume).sum()
    };
    let at = median(group.iter().filter_map(|r| r.p_ref_pa).collect())?;
    let material_k = median(group.iter().filter_map(|r| r.material_k).collect());
    let instruments = commonest(group);
    let points = group
        .iter()
        .filter_map(|row| {
            let (value, u_ratio, reaches) = row.flow_at(at, BEYOND_RATIO)?;
            let (value, u_ratio, is_alike) = at_temperature(row, (value, u_ratio), material_k);
            let left_out = if row.start_unix_s.is_none() {
                Some(LeftOut::NoDate)
            } else if row.instruments != instruments {
                Some(LeftOut::OtherInstruments)
            } else if !reaches {
                Some(LeftOut::OtherPressures)
            } else {
                (!is_alike).then_some(LeftOut::OtherTemperature)
            };
            Some(TrendPoint {
                recording: row.recording.clone(),
                start_unix_s: row.start_unix_s,
                x: through(row),
                value,
                u_ratio,
                left_out,
            })
        })
        .collect();
    Some(TipTrend {
        tip: first.tip.clone().unwrap_or_default(),
        material: first.material.clone().unwrap_or_default(),
        thinner_ratio: first.thinner_ratio.unwrap_or(0.0),
        volume_m3: volumes.iter().filter_map(|r| r.volume_m3).sum(),
        trend: trend(at, material_k, points),
    })
}

/// A flow brought to the common temperature; the last is false where it would have to be and cannot.
fn at_temperature(
    row: &SummaryRow,
    (value, u_ratio): (f64, f64),
    common_k: Option<f64>,
) -> (f64, f64, bool) {
    let Some((k, common)) = row.material_k.zip(common_k) else {
        return (value, u_ratio, true);
    };
    let by_k = common - k;
    match row.flow_per_k_ratio {
        Some(slope) => {
            let u = by_k * row.u_flow_per_k_ratio.unwrap_or(0.0);
            (value * (slope * by_k).exp(), u_ratio.hypot(u), true)
        }
        None => (value, u_ratio, by_k.abs() <= TEMPERATURE_STEP_K),
    }
}

fn pump_trend(group: &[&SummaryRow]) -> Option<PumpTrend> {
    let first = group.first()?;
    let begin = group.iter().find_map(|r| r.start_unix_s);
    let at = common_flow(group)?;
    let instruments = commonest(group);
    let points: Vec<TrendPoint> = group
        .iter()
        .filter_map(|row| {
            let (value, u_ratio, reaches) = row.held_at(at, SAME_FLOW_RATIO)?;
            let left_out = if row.start_unix_s.is_none() {
                Some(LeftOut::NoDate)
            } else if row.instruments != instruments {
                Some(LeftOut::OtherInstruments)
            } else {
                (!reaches).then_some(LeftOut::OtherFlows)
            };
            let since = row.start_unix_s.zip(begin).map(|(t, begin)| t - begin);
            Some(TrendPoint {
                recording: row.recording.clone(),
                start_unix_s: row.start_unix_s,
                x: since.unwrap_or(0.0),
                value,
                u_ratio,
                left_out,
            })
        })
        .collect();
    let volts: Vec<f64> = group
        .iter()
        .filter(|r| r.start_unix_s.is_some())
        .filter_map(|r| r.supply_v)
        .collect();
    Some(PumpTrend {
        rig: first.rig.clone(),
        dial: first.dial.clone().unwrap_or_default(),
        supply_v: volts.first().copied().zip(volts.last().copied()),
        trend: trend(at, None, points),
    })
}

/// The flow that most of the supply curves were measured at: the middle of the best covered stretch.
fn common_flow(group: &[&SummaryRow]) -> Option<f64> {
    let spans: Vec<(f64, f64)> = group
        .iter()
        .filter_map(|r| r.flow_low_m3_per_s.zip(r.flow_high_m3_per_s))
        .map(|(low, high)| {
            (
                low * (1.0 - SAME_FLOW_RATIO),
                high * (1.0 + SAME_FLOW_RATIO),
            )
        })
        .collect();
    // Ends in order; at one place openings come before closings.
    let mut ends: Vec<(f64, bool)> = spans
        .iter()
        .flat_map(|(low, high)| [(*low, true), (*high, false)])
        .collect();
    ends.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let (mut depth, mut most, mut best) = (0usize, 0usize, None);
    for (i, (flow, opens)) in ends.iter().enumerate() {
        if *opens {
            depth += 1;
            if depth > most {
                most = depth;
                best = ends.get(i + 1).map(|next| (flow * next.0).sqrt());
            }
        } else {
            depth = depth.saturating_sub(1);
        }
    }
    best.filter(|q| q.is_finite() && *q > 0.0)
}

fn trend(at: f64, material_k: Option<f64>, points: Vec<TrendPoint>) -> Trend {
    let used: Vec<&TrendPoint> = points.iter().filter(|p| p.left_out.is_none()).collect();
    let x: Vec<f64> = used.iter().map(|p| p.x).collect();
    let y: Vec<f64> = used.iter().map(|p| p.value.ln()).collect();
    let u: Vec<f64> = used.iter().map(|p| p.u_ratio.max(1e-6)).collect();
    let x0 = x.iter().sum::<f64>() / (x.len() as f64).max(1.0);
    let line = (used.len() >= FEWEST)
        .then(|| fit_line(&x, &y, &u, x0, Scatter::Larger).ok())
        .flatten();
    let length = x
        .last()
        .zip(x.first())
        .map_or(0.0, |(last, first)| last - first);
    let ln_total: Option<Estimate> = line.map(|l| l.slope().scaled(length));
    Trend {
        at,
        material_k,
        line,
        total: ln_total.as_ref().map(Bracketed::from_ln),
        change: ln_total.map_or(Change::CannotTell, |e| Change::of(&e, MARGIN_RATIO.ln_1p())),
        points,
    }
}

#[cfg(test)]
mod tests;
