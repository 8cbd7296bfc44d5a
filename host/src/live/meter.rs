//! The flow figure from the newest edges: what the large number shows, not what a fit uses.
//!
//! Flow over the last edges is `(edges - 1) * volume_per_pulse / (t_last - t_first)`. When the
//! next edge is overdue, the flow can be at most one pulse over the time since the last; so the
//! figure falls off as it should instead of standing still, and is zero once the wait is out.

use std::collections::VecDeque;

/// Edges of at most this long ago make the figure.
const WINDOW_S: f64 = 1.0;

/// No edge for this long means no flow: the slowest flow that is shown is then one pulse in it.
const LONGEST_WAIT_S: f64 = 2.0;

/// A gap of this many times the last interval means that the meter has stopped.
const OVERDUE_INTERVALS: f64 = 4.0;

/// The shortest wait before the meter counts as stopped.
const SHORTEST_WAIT_S: f64 = 0.25;

/// Follows the edges of the flow meter.
#[derive(Debug, Default)]
pub struct Meter {
    edges: VecDeque<f64>,
    count: u64,
    /// Everything up to this logger time has been heard of.
    heard_to_s: f64,
}

impl Meter {
    /// Takes one edge, in order of time.
    pub fn add_edge(&mut self, t_s: f64) {
        if self.edges.back().is_some_and(|last| t_s < *last) {
            self.edges.clear();
        }
        self.count += 1;
        self.edges.push_back(t_s);
        while self.edges.len() > 2 && self.edges.front().is_some_and(|t| *t < t_s - WINDOW_S) {
            self.edges.pop_front();
        }
        self.heard_to_s = self.heard_to_s.max(t_s);
    }

    /// The logger's word that edges up to `t_s` would have arrived.
    pub fn heard_to(&mut self, t_s: f64) {
        self.heard_to_s = self.heard_to_s.max(t_s);
    }

    /// Forgets everything but the count: the device started again.
    pub fn restart(&mut self) {
        self.edges.clear();
        self.heard_to_s = 0.0;
    }

    /// Edges since the start.
    #[must_use]
    pub const fn count(&self) -> u64 {
        self.count
    }

    /// Time of the newest edge.
    #[must_use]
    pub fn last_edge_s(&self) -> Option<f64> {
        self.edges.back().copied()
    }

    /// Interval between the two newest edges.
    #[must_use]
    pub fn last_interval_s(&self) -> Option<f64> {
        let n = self.edges.len();
        (n >= 2).then(|| self.edges[n - 1] - self.edges[n - 2])
    }

    /// True while edges come at the rate that they came at.
    #[must_use]
    pub fn is_running(&self) -> bool {
        let Some(last) = self.last_edge_s() else {
            return false;
        };
        let wait = self.last_interval_s().map_or(LONGEST_WAIT_S, |interval| {
            (OVERDUE_INTERVALS * interval).clamp(SHORTEST_WAIT_S, LONGEST_WAIT_S)
        });
        self.heard_to_s - last <= wait
    }

    /// Pulse frequency now, Hz: 0 when the meter has stopped.
    #[must_use]
    pub fn frequency_hz(&self) -> f64 {
        if !self.is_running() || self.edges.len() < 2 {
            return 0.0;
        }
        let (Some(first), Some(last)) = (self.edges.front(), self.edges.back()) else {
            return 0.0;
        };
        #[expect(
            clippy::cast_precision_loss,
            reason = "a second holds a few thousand edges at most"
        )]
        let measured = (self.edges.len() - 1) as f64 / (last - first).max(1.0e-6);
        let since = self.heard_to_s - last;
        if since > 0.0 {
            measured.min(1.0 / since)
        } else {
            measured
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn meter(hz: f64, from_s: f64, n: u32) -> Meter {
        let mut meter = Meter::default();
        for k in 0..n {
            meter.add_edge(from_s + f64::from(k) / hz);
        }
        meter
    }

    #[test]
    fn even_edges_give_their_frequency_without_a_counting_step() {
        for hz in [2.0, 7.3, 150.0] {
            let shown = meter(hz, 100.0, 400).frequency_hz();
            assert!((shown / hz - 1.0).abs() < 1e-9, "{hz}: {shown}");
        }
    }

    #[test]
    fn an_overdue_edge_lowers_the_figure_and_a_long_wait_makes_it_zero() {
        let mut meter = meter(10.0, 0.0, 50);
        let last = meter.last_edge_s().unwrap();
        meter.heard_to(last + 0.2);
        assert!((meter.frequency_hz() - 5.0).abs() < 1e-9);
        meter.heard_to(last + 0.5);
        assert_eq!(meter.frequency_hz(), 0.0);
        assert!(!meter.is_running());
        assert_eq!(meter.count(), 50);
    }

    #[test]
    fn one_edge_alone_has_no_frequency_yet() {
        assert_eq!(meter(1.0, 3.0, 1).frequency_hz(), 0.0);
        assert_eq!(Meter::default().frequency_hz(), 0.0);
    }
}
