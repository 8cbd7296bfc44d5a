//! Where bursts begin and end. No means here: see `steady`.
//!
//! A burst is one pull of the trigger. It shows twice: fluid flows (edges, or a rate), and pressure
//! falls from the stalled value and comes back. Flow says *that* there was a burst, pressure says
//! *when*: the first edge of a slow meter comes late by up to a pulse, the fall of pressure does not.
//! Pulls too short for a single edge are found by pressure alone; a stuck or saturated sensor leaves
//! flow alone. Goes in: a [`Signal`]. Comes out: bursts in order of time, not overlapping.
//!
//! *Window*: a live caller may pass any stretch that begins in a pause; a burst is final once 3 s
//! have passed after its end.

mod flow_runs;
mod pressure_steps;

use serde::{Deserialize, Serialize};

use super::signal::Signal;
use flow_runs::{FlowRun, find_flow_runs};
use pressure_steps::PressureTrace;

/// One pull of the trigger, in logger time.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Burst {
    /// Trigger opens.
    pub start_s: f64,
    /// Trigger closes.
    pub end_s: f64,
    /// Standard uncertainty of both times.
    pub u_time_s: f64,
}

impl Burst {
    /// Time between opening and closing.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        self.end_s - self.start_s
    }
}

/// Longest dip of pressure without any flow edge that still counts as a pull, s. A longer one
/// without flow is no spraying (a leak, a relief valve).
const LONGEST_SILENT_PULL_S: f64 = 2.0;

/// Finds the bursts of a signal.
///
/// *Shape*: as [`Signal`] says; an empty signal has no bursts. *Cost*: linear in samples and edges.
#[must_use]
pub fn detect_bursts(signal: &Signal) -> Vec<Burst> {
    let trace = PressureTrace::new(&signal.t_s, &signal.pressure_pa);
    let runs = find_flow_runs(signal);
    let mut bursts: Vec<Burst> = Vec::new();
    for (i, run) in runs.iter().enumerate() {
        let earliest_s = bursts.last().map_or(f64::NEG_INFINITY, |b| b.end_s);
        let latest_s = runs.get(i + 1).map_or(f64::INFINITY, |r| r.first_s);
        if is_filling(&trace, run) {
            continue;
        }
        let burst = refine(&trace, run, earliest_s, latest_s);
        bursts.extend(split_at_recoveries(&trace, burst, run));
    }
    bursts.extend(silent_pulls(&trace, &bursts));
    bursts.retain(|b| b.end_s > b.start_s);
    bursts.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    join_fragments(&trace, bursts)
}

/// Longest stop of the edges inside one pull, s: the line's stored volume sprays first, and until a starved pump
/// takes over, a slow meter stands still.
const LONGEST_STANDSTILL_S: f64 = 1.2;
/// Share of the way back up to the stalled pressure that a line must have come before an opening.
const RECOVERED_RATIO: f64 = 0.7;

/// Joins pulls between which the line never came back to its stalled pressure: the trigger stayed open.
fn join_fragments(trace: &PressureTrace<'_>, bursts: Vec<Burst>) -> Vec<Burst> {
    let mut joined: Vec<Burst> = Vec::with_capacity(bursts.len());
    for burst in bursts {
        match joined.last_mut() {
            Some(last) if is_one_pull(trace, last, &burst) => {
                last.end_s = last.end_s.max(burst.end_s);
                last.u_time_s = last.u_time_s.max(burst.u_time_s);
            }
            _ => joined.push(burst),
        }
    }
    joined
}

fn is_one_pull(trace: &PressureTrace<'_>, first: &Burst, next: &Burst) -> bool {
    let pause_s = next.start_s - first.end_s;
    if pause_s <= 0.0 || pause_s > LONGEST_STANDSTILL_S {
        return pause_s <= 0.0;
    }
    let stalled = trace.median_between(first.start_s - 0.4, first.start_s - 0.02);
    let spraying = trace.median_between(next.start_s + 0.1, next.end_s - 0.02);
    let closing = trace.median_between(first.end_s, first.end_s + 0.15);
    let opening = trace.median_between(next.start_s - 0.15, next.start_s - 0.01);
    match (stalled, spraying, closing, opening) {
        (Some(stalled), Some(spraying), Some(closing), Some(opening)) => {
            // A closed line rises or stands, wherever the control stops it; an open one falls to what the pump
            // holds.
            opening < closing
                && trace.is_step(closing, opening)
                && opening < spraying + RECOVERED_RATIO * (stalled - spraying)
                && trace.is_step(stalled, spraying)
        }
        _ => false,
    }
}

/// True when flow fills the line instead of spraying: the line was relieved just before, and
/// pressure is up after a second or two of flow that never was steady.
fn is_filling(trace: &PressureTrace<'_>, run: &FlowRun) -> bool {
    let look_back_s = run.usual_interval_s + 0.8;
    let Some(before_pa) = trace.median_between(run.first_s - look_back_s, run.first_s - 0.02)
    else {
        return false;
    };
    before_pa < 0.08 * trace.highest_pa() && run.last_s - run.first_s < 2.5
}

/// Puts start and end of a flow run where pressure falls and comes back.
fn refine(trace: &PressureTrace<'_>, run: &FlowRun, earliest_s: f64, latest_s: f64) -> Burst {
    let late_s = run.usual_interval_s + run.lag_s + 0.25;
    let from_s = (run.first_s - late_s).max(earliest_s);
    let start = trace.sharpest_fall(from_s, run.first_s + 0.15);
    let to_s = (run.last_s + 1.2 * run.usual_interval_s + 0.25).min(latest_s);
    let end_from_s = run.last_s - run.lag_s - 0.1;
    let end = trace.sharpest_rise(end_from_s.max(run.first_s), to_s);
    let coarse_u_s = 0.3 * run.usual_interval_s + 0.02;
    Burst {
        start_s: start.unwrap_or(run.first_s - 0.5 * run.usual_interval_s),
        end_s: end.unwrap_or(run.last_s - run.lag_s),
        u_time_s: if start.is_some() && end.is_some() {
            trace.usual_step_s()
        } else {
            coarse_u_s
        },
    }
}

/// Cuts a burst where pressure stood back at its stalled value: a slow meter's edges bridge the
/// pause between two pulls.
fn split_at_recoveries(trace: &PressureTrace<'_>, burst: Burst, run: &FlowRun) -> Vec<Burst> {
    if run.usual_interval_s < 0.12 {
        return vec![burst];
    }
    let pauses = trace.recoveries(burst.start_s, burst.end_s);
    let mut parts = Vec::with_capacity(pauses.len() + 1);
    let mut start_s = burst.start_s;
    for (from_s, to_s) in pauses {
        parts.push(Burst {
            start_s,
            end_s: from_s,
            ..burst
        });
        start_s = to_s;
    }
    parts.push(Burst { start_s, ..burst });
    parts
}

/// Dips of pressure between the bursts that were too short for an edge.
fn silent_pulls(trace: &PressureTrace<'_>, bursts: &[Burst]) -> Vec<Burst> {
    trace
        .dips(LONGEST_SILENT_PULL_S)
        .into_iter()
        .filter(|(from_s, to_s)| {
            bursts
                .iter()
                .all(|b| *to_s < b.start_s - 0.05 || *from_s > b.end_s + 0.05)
        })
        .map(|(start_s, end_s)| Burst {
            start_s,
            end_s,
            u_time_s: trace.usual_step_s(),
        })
        .collect()
}

#[cfg(test)]
mod tests;
