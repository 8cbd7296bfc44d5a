//! What truly happened at the rig, before any sensor saw it: one value a millisecond.

use crate::recording::settings::Tap;

use super::index::{position, real};

/// Time between two entries of a trace, s.
pub const STEP_S: f64 = 1.0e-3;

/// Entries of the fast columns for each entry of the slow ones.
pub const STEPS_PER_SLOW: usize = 100;

/// The slow quantities at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlowPoint {
    /// Voltage at the pump's terminals.
    pub supply_v: f64,
    /// Current drawn.
    pub supply_a: f64,
    /// Coating temperature.
    pub material_k: f64,
}

/// True pressures and flow against true time.
#[derive(Debug, Clone, Default)]
pub struct Trace {
    /// Pressure at the pump's outlet, one entry each [`STEP_S`].
    pub pump_pa: Vec<f64>,
    /// Pressure at the gun's inlet.
    pub gun_pa: Vec<f64>,
    /// Flow through the gun.
    pub flow_m3_per_s: Vec<f64>,
    /// Slow quantities, one entry each [`STEPS_PER_SLOW`] steps.
    pub slow: Vec<SlowPoint>,
}

impl Trace {
    /// True time at the end, s.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        real(self.flow_m3_per_s.len()) * STEP_S
    }

    /// Pressure where the transducer is tapped in, whole column.
    #[must_use]
    pub fn tap_pa(&self, tap: Tap) -> &[f64] {
        match tap {
            Tap::PumpOutlet => &self.pump_pa,
            Tap::GunInlet => &self.gun_pa,
        }
    }

    /// Slow quantities at a true time: the latest entry at or before it.
    #[must_use]
    pub fn slow_at(&self, t_s: f64) -> Option<SlowPoint> {
        let at = position(t_s / STEP_S) / STEPS_PER_SLOW;
        self.slow.get(at).or(self.slow.last()).copied()
    }
}

/// Value of a column at a true time, read between its entries; the ends hold outside.
#[must_use]
pub fn value_at(column: &[f64], t_s: f64) -> f64 {
    let Some(last) = column.last() else {
        return 0.0;
    };
    let place = (t_s / STEP_S).max(0.0);
    let entry = position(place);
    match (column.get(entry), column.get(entry + 1)) {
        (Some(a), Some(b)) => a + (place - place.floor()) * (b - a),
        _ => *last,
    }
}

/// Mean of a column over a stretch of true time; of its nearest entry when the stretch holds none.
#[must_use]
pub fn mean_between(column: &[f64], from_s: f64, to_s: f64) -> f64 {
    let from = position((from_s / STEP_S).ceil());
    let to = position(to_s / STEP_S).min(column.len());
    match column.get(from..to) {
        Some(part) if !part.is_empty() => part.iter().sum::<f64>() / real(part.len()),
        _ => value_at(column, from_s),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_read_between_entries_and_held_outside() {
        let column = [0.0, 10.0, 20.0];
        assert!((value_at(&column, 0.0015) - 15.0).abs() < 1e-9);
        assert_eq!(value_at(&column, 9.0), 20.0);
        assert_eq!(value_at(&column, -1.0), 0.0);
        assert_eq!(value_at(&[], 1.0), 0.0);
    }

    #[test]
    fn means_cover_whole_entries() {
        let column: Vec<f64> = (0..100).map(f64::from).collect();
        assert!((mean_between(&column, 0.010, 0.020) - 14.5).abs() < 1e-9);
        assert!((mean_between(&column, 0.0101, 0.0104) - 10.1).abs() < 1e-9);
    }
}
