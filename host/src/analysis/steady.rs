//! The stationary part of one burst and its means. Knows nothing of other bursts.
//!
//! The opening transient (the hose's compliance) and the closing one are left out; the rest is tested
//! for a trend against its uncertainty, and the longest part whose trend is small is kept. Pressure is
//! a mean over whole strokes between the first and the last flow edge used, so that both means speak of
//! the same time.

mod flow_mean;

use serde::{Deserialize, Serialize};

use super::burst::Burst;
use super::ripple::{RippleMean, mean_over_ripple};
use super::signal::{FlowSignal, Signal};
use super::sliding::quantile;
use super::thresholds;
use crate::estimate::Estimate;
use flow_mean::{FlowMean, edge_mean, rate_mean};

/// Why a burst is listed but not used in a fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "reason", rename_all = "snake_case")]
pub enum Exclusion {
    /// No stationary part that is long enough.
    TooShort {
        /// Length of the longest stationary part.
        steady_s: f64,
        /// Length needed.
        needed_s: f64,
    },
    /// Pressure or flow drifts through the whole burst.
    NotSteady {
        /// Relative change of pressure over the burst.
        drift_ratio: f64,
    },
    /// Too few flow edges for a flow.
    TooFewEdges {
        /// Edges in the steady part.
        n_edges: usize,
    },
    /// Samples were lost inside.
    Gap {
        /// Where the gap begins.
        from_s: f64,
    },
    /// A health defect covers it.
    Health {
        /// The defect's code.
        code: String,
    },
    /// One of the three short pulls of a sync mark.
    Sync,
    /// No note says what was sprayed.
    NoNote,
    /// The note's burst is ambiguous.
    AmbiguousNote,
    /// A test pull that no note describes, between noted bursts.
    NotNoted,
}

/// What one burst yields.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct SteadyMeasurement {
    /// Begin of the steady part, logger time.
    pub from_s: f64,
    /// End of the steady part.
    pub to_s: f64,
    /// Spraying pressure, Pa, zero corrected.
    pub pressure_pa: Option<Estimate>,
    /// Volume flow, m3/s.
    pub flow_m3_per_s: Option<Estimate>,
    /// True when the flow is an upper bound only (below the meter's calibrated range).
    pub flow_is_bound: bool,
    /// Pressure just before the trigger opened, Pa, zero corrected.
    pub stalled_pa: Option<f64>,
    /// `1 - spraying / stalled`.
    pub sag_ratio: Option<f64>,
    /// Ripple frequency: the pump's stroke rate.
    pub stroke_rate_hz: Option<f64>,
    /// Peak-to-peak stroke ripple, Pa.
    pub ripple_pa: Option<f64>,
    /// Mean supply voltage, V.
    pub supply_v: Option<f64>,
    /// Mean supply current, A.
    pub supply_a: Option<f64>,
    /// Coating temperature, K.
    pub material_k: Option<f64>,
    /// Flow edges in the steady part.
    pub n_edges: usize,
    /// Why it is not used in fits; `None` when it is.
    pub exclusion: Option<Exclusion>,
}

/// Measures one burst.
///
/// *Units*: pressure in Pa with `zero_pa` taken off; flow in m3/s. Uncertainties are standard and
/// independent; the common parts (zero, span, meter) are added where points are fitted.
#[must_use]
pub fn measure_burst(signal: &Signal, burst: &Burst, zero_pa: f64) -> SteadyMeasurement {
    let stalled_pa = stalled_pressure(signal, burst, zero_pa);
    let stretch = steady_stretch(signal, burst);
    let (from_s, to_s) = (stretch.from_s, stretch.to_s);
    let flow = flow_between(signal, from_s, to_s);
    let (mean_from_s, mean_to_s) = flow.map_or((from_s, to_s), |f| (f.from_s, f.to_s));
    let pressure = pressure_mean(signal, mean_from_s, mean_to_s)
        .or_else(|| pressure_mean(signal, from_s, to_s));
    let pressure_pa = pressure.map(|p| Estimate {
        value: p.mean.value - zero_pa,
        ..p.mean
    });
    let lowest_hz = signal.flow_meter.lowest_calibrated_hz.unwrap_or(0.0);
    let ripple = stretch.mean.and_then(|m| m.ripple);
    SteadyMeasurement {
        from_s,
        to_s,
        pressure_pa,
        flow_m3_per_s: flow.map(|f| f.flow_m3_per_s),
        flow_is_bound: flow.is_some_and(|f| f.frequency_hz.is_some_and(|hz| hz < lowest_hz)),
        stalled_pa,
        sag_ratio: stalled_pa
            .zip(pressure_pa)
            .filter(|(stalled, _)| *stalled > 0.0)
            .map(|(stalled, p)| 1.0 - p.value / stalled),
        stroke_rate_hz: ripple.map(|r| r.frequency_hz),
        ripple_pa: stretch.mean.map(|m| m.peak_to_peak),
        supply_v: signal.slow.supply_v.mean_between(from_s, to_s),
        supply_a: signal.slow.supply_a.mean_between(from_s, to_s),
        material_k: signal
            .slow
            .material_k
            .mean_between(from_s, to_s)
            .or_else(|| signal.slow.material_k.nearest(0.5 * (from_s + to_s))),
        n_edges: flow.map_or(0, |f| f.n_edges),
        exclusion: exclusion(signal, burst, &stretch, flow.as_ref()),
    }
}

fn exclusion(
    signal: &Signal,
    burst: &Burst,
    stretch: &Stretch,
    flow: Option<&FlowMean>,
) -> Option<Exclusion> {
    let steady_s = stretch.to_s - stretch.from_s;
    if steady_s < thresholds::SHORTEST_STEADY_S {
        let lost = signal
            .gaps
            .iter()
            .find(|g| g.from_s < burst.end_s && g.to_s > burst.start_s);
        if let Some(gap) = lost {
            return Some(Exclusion::Gap { from_s: gap.from_s });
        }
        return Some(Exclusion::TooShort {
            steady_s: steady_s.max(0.0),
            needed_s: thresholds::SHORTEST_STEADY_S,
        });
    }
    let drift_ratio = stretch.mean.map_or(0.0, |m| m.drift_ratio);
    if drift_ratio.abs() > thresholds::MOST_DRIFT_RATIO {
        return Some(Exclusion::NotSteady { drift_ratio });
    }
    match flow {
        None => Some(Exclusion::TooFewEdges { n_edges: 0 }),
        Some(f) if f.n_edges < thresholds::FEWEST_EDGES && f.frequency_hz.is_some() => {
            Some(Exclusion::TooFewEdges { n_edges: f.n_edges })
        }
        Some(_) => None,
    }
}

/// What the control was set to: the pressure just before the trigger opened, or the one that the
/// line came back to where that is lower. A control that was turned down while nothing flowed
/// cannot lower the pressure of a closed line until the trigger opens.
fn stalled_pressure(signal: &Signal, burst: &Burst, zero_pa: f64) -> Option<f64> {
    let before = median_between(
        signal,
        burst.start_s - 1.0,
        burst.start_s - burst.u_time_s - 0.02,
    );
    let spraying = median_between(signal, burst.start_s + OPENING_S, burst.end_s - CLOSING_S);
    let after = median_between(signal, burst.end_s + 0.2, burst.end_s + 0.8)
        // A line relieved at once says nothing of the control.
        .filter(|after| spraying.is_none_or(|s| *after > 0.9 * s));
    let stalled = match (before, after) {
        (Some(b), Some(a)) if a < 0.97 * b => a,
        (Some(b), _) => b,
        (None, after) => after?,
    };
    Some(stalled - zero_pa)
}

fn median_between(signal: &Signal, from_s: f64, to_s: f64) -> Option<f64> {
    let lo = signal.t_s.partition_point(|t| *t < from_s);
    let hi = signal.t_s.partition_point(|t| *t < to_s).max(lo);
    let mut values: Vec<f64> = signal.pressure_pa[lo..hi]
        .iter()
        .copied()
        .filter(|p| p.is_finite())
        .collect();
    quantile(&mut values, 0.5)
}

/// A stretch with the mean that its trend was read from.
struct Stretch {
    from_s: f64,
    to_s: f64,
    mean: Option<RippleMean>,
}

/// Shortest time that the hose and the control need after the trigger opens, s.
const OPENING_S: f64 = 0.4;
/// Left out before the trigger closes, s.
const CLOSING_S: f64 = 0.08;

/// The longest part of a burst whose trend is small, trying ever later beginnings.
///
/// A trend counts when it exceeds both `thresholds::SMALL_DRIFT_RATIO` and twice its own
/// uncertainty. Where no beginning gives a small trend, the last half of the burst is
/// returned with its trend, and the caller decides.
fn steady_stretch(signal: &Signal, burst: &Burst) -> Stretch {
    let lag_s = match signal.flow {
        FlowSignal::Rate { .. } => 1.2,
        FlowSignal::Edges { .. } => 0.0,
    };
    let earliest_s = burst.start_s
        + OPENING_S
            .max(0.12 * burst.duration_s().min(10.0))
            .max(lag_s);
    let (earliest_s, end_s) =
        longest_without_gap(signal, earliest_s, burst.end_s - CLOSING_S, lag_s);
    let room_s = end_s - earliest_s;
    if room_s <= 0.0 {
        return Stretch {
            from_s: earliest_s.min(end_s),
            to_s: end_s,
            mean: None,
        };
    }
    let mut last = None;
    for share in [0.0, 0.1, 0.2, 0.3, 0.4, 0.5] {
        let from_s = earliest_s + share * room_s;
        let mean = pressure_mean(signal, from_s, end_s);
        let is_steady = mean.is_none_or(|m| {
            m.drift_ratio.abs() < thresholds::SMALL_DRIFT_RATIO.max(2.0 * m.u_drift_ratio)
        });
        let stretch = Stretch {
            from_s,
            to_s: end_s,
            mean,
        };
        if is_steady {
            return stretch;
        }
        last = Some(stretch);
    }
    last.unwrap_or(Stretch {
        from_s: earliest_s,
        to_s: end_s,
        mean: None,
    })
}

/// The longest part of a stretch in which nothing was lost; a rate needs its lag behind a gap.
fn longest_without_gap(signal: &Signal, from_s: f64, to_s: f64, lag_s: f64) -> (f64, f64) {
    let mut best = (from_s, from_s);
    let mut begin_s = from_s;
    for gap in &signal.gaps {
        if gap.to_s <= from_s || gap.from_s >= to_s {
            continue;
        }
        if gap.from_s - begin_s > best.1 - best.0 {
            best = (begin_s, gap.from_s);
        }
        // The row behind a gap may hold the pulses of the gap: it is left out.
        begin_s = gap.to_s + 1.0e-6 + lag_s;
    }
    if to_s - begin_s > best.1 - best.0 {
        best = (begin_s, to_s);
    }
    best
}

fn pressure_mean(signal: &Signal, from_s: f64, to_s: f64) -> Option<RippleMean> {
    let lo = signal.t_s.partition_point(|t| *t < from_s);
    let hi = signal.t_s.partition_point(|t| *t <= to_s).max(lo);
    mean_over_ripple(&signal.t_s[lo..hi], &signal.pressure_pa[lo..hi])
}

fn flow_between(signal: &Signal, from_s: f64, to_s: f64) -> Option<FlowMean> {
    match &signal.flow {
        FlowSignal::Edges { t_s, u_t_s } => {
            let lo = t_s.partition_point(|t| *t < from_s);
            let hi = t_s.partition_point(|t| *t <= to_s).max(lo);
            edge_mean(
                &t_s[lo..hi],
                &u_t_s[lo..hi],
                signal.flow_meter.pulse_volume_m3,
            )
        }
        FlowSignal::Rate { flow_m3_per_s } => {
            let lo = signal.t_s.partition_point(|t| *t < from_s);
            let hi = signal.t_s.partition_point(|t| *t <= to_s).max(lo);
            rate_mean(&signal.t_s[lo..hi], &flow_m3_per_s[lo..hi])
        }
    }
}

#[cfg(test)]
mod tests;
