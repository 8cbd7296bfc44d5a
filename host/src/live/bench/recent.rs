//! The signal since before the last open burst, as the analysis wants it.
//!
//! Bounded: what lies before the last finished burst's pause is let go, and nothing older than
//! [`MOST_S`] is kept, so that an all-day recording costs no more than a short one.

use crate::analysis::signal::{FlowMeter, FlowSignal, Gap, PressureSensor, Series, Signal};

/// A pull of the trigger longer than this is cut for the live page (the report sees all of it).
const MOST_S: f64 = 180.0;

/// A step between samples above this is a gap.
const GAP_S: f64 = 0.5;

/// Standard uncertainty of a captured edge: the resolution of a tick, uniform.
const U_EDGE_S: f64 = 1.0e-6;

/// The recent signal.
#[derive(Debug, Default)]
pub struct Recent {
    t_s: Vec<f64>,
    pressure_pa: Vec<f64>,
    edge_t_s: Vec<f64>,
    supply_v: Series,
    supply_a: Series,
    material_k: Series,
    gaps: Vec<Gap>,
}

impl Recent {
    /// Takes one sample; one that does not lie after the last is left out.
    pub fn add_pressure(&mut self, t_s: f64, pressure_pa: f64) {
        if let Some(last) = self.t_s.last().copied() {
            if t_s <= last {
                return;
            }
            if t_s - last > GAP_S {
                self.gaps.push(Gap {
                    from_s: last,
                    to_s: t_s,
                });
            }
        }
        self.t_s.push(t_s);
        self.pressure_pa.push(pressure_pa);
        self.keep_bounded(self.t_s.first().copied(), t_s);
    }

    /// Takes one edge, in order of time.
    pub fn add_edge(&mut self, t_s: f64) {
        if self.edge_t_s.last().is_none_or(|last| t_s >= *last) {
            self.edge_t_s.push(t_s);
        }
        // A logger whose pressure sensor is dead sends edges all the same.
        self.keep_bounded(self.edge_t_s.first().copied(), t_s);
    }

    /// Lets go of what is too old beside `now_s`, once the oldest of a column is a quarter older than that, so that
    /// letting go is rare and its cost does not matter.
    fn keep_bounded(&mut self, oldest_s: Option<f64>, now_s: f64) {
        if oldest_s.is_some_and(|oldest_s| now_s - oldest_s > 1.25 * MOST_S) {
            self.forget_before(now_s - MOST_S);
        }
    }

    /// Takes slow readings: supply V and A, coating temperature; the rest is not needed here.
    pub fn add_slow(&mut self, t_s: f64, readings: [Option<f64>; 5]) {
        let series = [&mut self.supply_v, &mut self.supply_a, &mut self.material_k];
        for (series, reading) in series.into_iter().zip(readings) {
            if let Some(value) = reading {
                series.t_s.push(t_s);
                series.value.push(value);
            }
        }
        let oldest = [&self.supply_v, &self.supply_a, &self.material_k]
            .into_iter()
            .filter_map(|series| series.t_s.first().copied())
            .reduce(f64::min);
        self.keep_bounded(oldest, t_s);
    }

    /// Numbers that are kept, of all columns together.
    #[must_use]
    pub fn n_kept(&self) -> usize {
        let slow = [&self.supply_v, &self.supply_a, &self.material_k];
        let n_slow: usize = slow.iter().map(|series| series.t_s.len()).sum();
        self.t_s.len() + self.edge_t_s.len() + n_slow + self.gaps.len()
    }

    /// Time of the newest sample.
    #[must_use]
    pub fn last_s(&self) -> Option<f64> {
        self.t_s.last().copied()
    }

    /// Everything that is kept, as a signal.
    #[must_use]
    pub fn signal(&self, meter: FlowMeter, sensor: PressureSensor) -> Signal {
        Signal {
            t_s: self.t_s.clone(),
            pressure_pa: self.pressure_pa.clone(),
            flow: FlowSignal::Edges {
                t_s: self.edge_t_s.clone(),
                u_t_s: vec![U_EDGE_S; self.edge_t_s.len()],
            },
            slow: crate::analysis::signal::Slow {
                supply_v: self.supply_v.clone(),
                supply_a: self.supply_a.clone(),
                material_k: self.material_k.clone(),
                ..Default::default()
            },
            gaps: self.gaps.clone(),
            pressure_sensor: sensor,
            flow_meter: meter,
        }
    }

    /// Lets go of everything before `t_s`.
    pub fn forget_before(&mut self, t_s: f64) {
        let n = self.t_s.partition_point(|t| *t < t_s);
        self.t_s.drain(..n);
        self.pressure_pa.drain(..n);
        let n = self.edge_t_s.partition_point(|t| *t < t_s);
        self.edge_t_s.drain(..n);
        for series in [&mut self.supply_v, &mut self.supply_a, &mut self.material_k] {
            let n = series.t_s.partition_point(|t| *t < t_s);
            series.t_s.drain(..n);
            series.value.drain(..n);
        }
        self.gaps.retain(|gap| gap.to_s >= t_s);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_without_a_pressure_sensor_costs_no_more_than_minutes() {
        let mut recent = Recent::default();
        for k in 0..864_000 {
            let t_s = f64::from(k) * 0.1;
            recent.add_edge(t_s);
            recent.add_slow(t_s, [Some(18.0), None, None, None, None]);
        }
        assert!(recent.n_kept() < 4_600, "{}", recent.n_kept());
    }

    #[test]
    fn what_is_let_go_leaves_every_column_in_step() {
        let mut recent = Recent::default();
        for k in 0..100 {
            let t_s = f64::from(k) * 0.1;
            recent.add_pressure(t_s, t_s);
            recent.add_edge(t_s + 0.05);
            recent.add_slow(t_s, [Some(18.0), None, Some(293.0), None, None]);
        }
        recent.add_pressure(20.0, 1.0);
        recent.add_pressure(19.0, 1.0);
        recent.forget_before(5.0);
        let signal = recent.signal(FlowMeter::default(), PressureSensor::default());
        assert_eq!(signal.t_s.len(), signal.pressure_pa.len());
        assert_eq!(signal.t_s.first(), Some(&5.0));
        assert_eq!(signal.gaps.len(), 1);
        assert_eq!(signal.slow.supply_v.t_s.len(), 50);
        assert!(signal.slow.supply_a.t_s.is_empty());
    }
}
