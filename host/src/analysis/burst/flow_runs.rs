//! Runs of flow: stretches in which edges keep coming, or a rate stays up.

use crate::analysis::signal::{FlowSignal, Gap, Signal};

/// One stretch of flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct FlowRun {
    /// First sign of flow.
    pub(super) first_s: f64,
    /// Last sign of flow.
    pub(super) last_s: f64,
    /// Usual time between two signs: the meter's pulse interval, or a sample of a rate.
    pub(super) usual_interval_s: f64,
    /// How long a rate lags behind the flow (the averaging of whatever made the rate).
    pub(super) lag_s: f64,
}

/// Finds the runs of a signal, in order of time.
pub(super) fn find_flow_runs(signal: &Signal) -> Vec<FlowRun> {
    match &signal.flow {
        FlowSignal::Edges { t_s, .. } => runs_of_edges(t_s, &signal.gaps),
        FlowSignal::Rate { flow_m3_per_s } => runs_of_rate(&signal.t_s, flow_m3_per_s),
    }
}

/// A pause is 2.6 usual intervals: one lost edge doubles an interval, stroke ripple stretches it by
/// less than half, and a person's pause between two pulls is longer than both.
const PAUSE_INTERVALS: f64 = 2.6;
/// Pauses shorter than this are strokes, whatever the meter, s.
const SHORTEST_PAUSE_S: f64 = 0.3;

fn runs_of_edges(t_s: &[f64], gaps: &[Gap]) -> Vec<FlowRun> {
    let mut runs = Vec::new();
    let mut begin = 0;
    let mut recent: Vec<f64> = Vec::with_capacity(9);
    for i in 1..=t_s.len() {
        // Time that was not recorded is no pause: a run goes on across a gap.
        let interval_s = t_s
            .get(i)
            .map(|t| t - t_s[i - 1] - lost_between(gaps, t_s[i - 1], *t));
        let usual_s = median_of(&mut recent.clone());
        let limit_s = usual_s.map_or(1.6, |u| (PAUSE_INTERVALS * u).max(SHORTEST_PAUSE_S));
        match interval_s {
            Some(interval_s) if interval_s <= limit_s => {
                recent.push(interval_s);
                if recent.len() > 8 {
                    recent.remove(0);
                }
            }
            _ => {
                push_run(&mut runs, &t_s[begin..i]);
                begin = i;
                recent.clear();
            }
        }
    }
    runs
}

/// Time lost in gaps between two times, s.
fn lost_between(gaps: &[Gap], from_s: f64, to_s: f64) -> f64 {
    gaps.iter()
        .map(|g| (g.to_s.min(to_s) - g.from_s.max(from_s)).max(0.0))
        .sum()
}

fn push_run(runs: &mut Vec<FlowRun>, edges: &[f64]) {
    let (Some(first_s), Some(last_s)) = (edges.first(), edges.last()) else {
        return;
    };
    let mut intervals: Vec<f64> = edges.windows(2).map(|w| w[1] - w[0]).collect();
    let usual_interval_s = median_of(&mut intervals).unwrap_or(0.5);
    runs.push(FlowRun {
        first_s: *first_s,
        last_s: *last_s,
        usual_interval_s,
        lag_s: 0.0,
    });
}

fn median_of(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// A rate counts as flow above this share of the recording's usual rate.
const RATE_THRESHOLD_RATIO: f64 = 0.02;
/// Rates made from counts look back up to a second: their end comes late by as much.
const RATE_LAG_S: f64 = 1.1;

fn runs_of_rate(t_s: &[f64], rate: &[f64]) -> Vec<FlowRun> {
    let mut positive: Vec<f64> = rate.iter().copied().filter(|q| *q > 0.0).collect();
    let Some(usual) = median_of(&mut positive) else {
        return Vec::new();
    };
    let mut runs: Vec<FlowRun> = Vec::new();
    let mut is_open = false;
    for (t, q) in t_s.iter().zip(rate) {
        if !q.is_finite() {
            continue;
        }
        if *q > RATE_THRESHOLD_RATIO * usual {
            if is_open {
                if let Some(run) = runs.last_mut() {
                    run.last_s = *t;
                }
            } else {
                runs.push(FlowRun {
                    first_s: *t,
                    last_s: *t,
                    usual_interval_s: 0.05,
                    lag_s: RATE_LAG_S,
                });
            }
            is_open = true;
        } else {
            is_open = false;
        }
    }
    runs
}
