//! Flow over a window, from edges or from a rate, with quantisation and jitter in its uncertainty.

use crate::estimate::Estimate;

/// A mean flow and the times that it speaks of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct FlowMean {
    pub(super) flow_m3_per_s: Estimate,
    pub(super) from_s: f64,
    pub(super) to_s: f64,
    pub(super) n_edges: usize,
    /// Pulse frequency; `None` for a rate.
    pub(super) frequency_hz: Option<f64>,
}

/// `(edges - 1) * volume_per_pulse / (t_last - t_first)`.
///
/// The two end edges carry the times' uncertainty. Between them the meter integrates, so stroke
/// ripple enters only through the phase at the ends: at most one interval's deviation from its mean,
/// estimated from the scatter of the intervals about theirs.
pub(super) fn edge_mean(t_s: &[f64], u_t_s: &[f64], pulse_volume_m3: f64) -> Option<FlowMean> {
    let (first_s, last_s) = (*t_s.first()?, *t_s.last()?);
    let span_s = last_s - first_s;
    if t_s.len() < 2 || span_s <= 0.0 {
        return None;
    }
    #[allow(clippy::cast_precision_loss)]
    let n = (t_s.len() - 1) as f64;
    let interval_s = span_s / n;
    let u_ends_s = u_t_s.first()?.hypot(*u_t_s.last()?);
    let u_phase_s = phase_scatter(t_s, u_t_s, interval_s);
    let flow = n * pulse_volume_m3 / span_s;
    let u_ratio = u_ends_s.hypot(u_phase_s) / span_s;
    Some(FlowMean {
        flow_m3_per_s: Estimate::new(flow, flow * u_ratio, 0.0),
        from_s: first_s,
        to_s: last_s,
        n_edges: t_s.len(),
        frequency_hz: Some(1.0 / interval_s),
    })
}

/// Standard deviation of the edges about an even spacing, beyond what their own uncertainty
/// explains, s: how far stroke ripple moves an edge that a window ends at.
fn phase_scatter(t_s: &[f64], u_t_s: &[f64], interval_s: f64) -> f64 {
    let first_s = t_s[0];
    #[allow(clippy::cast_precision_loss)]
    let n = t_s.len() as f64;
    let (mut sum, mut squares, mut known) = (0.0, 0.0, 0.0);
    for (i, (t, u)) in t_s.iter().zip(u_t_s).enumerate() {
        #[allow(clippy::cast_precision_loss)]
        let off = t - first_s - interval_s * i as f64;
        sum += off;
        squares += off * off;
        known += u * u;
    }
    (squares / n - (sum / n).powi(2) - known / n)
        .max(0.0)
        .sqrt()
}

/// Averaging time of rates that loggers make from counts, s (common practice, no source).
const RATE_AVERAGING_S: f64 = 1.0;

/// Mean of a rate, with the step that it moves in as quantisation.
///
/// A rate that a logger made from counts moves in steps as large as its scatter. Over the window the
/// counts telescope: what is left is one step at either end, averaged over the window. A rate that
/// moves continuously is a noisy reading instead, one independent value a second.
pub(super) fn rate_mean(t_s: &[f64], rate: &[f64]) -> Option<FlowMean> {
    let finite: Vec<(f64, f64)> = t_s
        .iter()
        .zip(rate)
        .filter(|(_, q)| q.is_finite())
        .map(|(t, q)| (*t, *q))
        .collect();
    let ((from_s, _), (to_s, _)) = (*finite.first()?, *finite.last()?);
    if finite.len() < 4 || to_s <= from_s {
        return None;
    }
    #[allow(clippy::cast_precision_loss)]
    let n = finite.len() as f64;
    let mean = finite.iter().map(|(_, q)| q).sum::<f64>() / n;
    let variance = finite.iter().map(|(_, q)| (q - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let seconds = ((to_s - from_s) / RATE_AVERAGING_S).max(1.0);
    let step = smallest_step(&finite);
    let is_counted = step > 0.5 * variance.sqrt();
    let (u, dof) = if is_counted {
        (step / (seconds * 6f64.sqrt()), f64::INFINITY)
    } else {
        ((variance / seconds).sqrt(), (seconds - 1.0).max(1.0))
    };
    Some(FlowMean {
        flow_m3_per_s: Estimate::new(mean, u, 0.0).with_dof(dof),
        from_s,
        to_s,
        n_edges: 0,
        frequency_hz: None,
    })
}

/// The smallest step between two different neighbours.
fn smallest_step(samples: &[(f64, f64)]) -> f64 {
    let smallest = samples
        .windows(2)
        .map(|w| (w[1].1 - w[0].1).abs())
        .filter(|d| *d > 0.0)
        .fold(f64::INFINITY, f64::min);
    if smallest.is_finite() { smallest } else { 0.0 }
}
