//! A battery pack: open-circuit voltage against charge, resistance, and the slow sag behind a load.
//!
//! The voltage falls at once with the current (resistance), then further over half a minute
//! (polarisation), and comes back the same way at rest. Near empty the open-circuit voltage drops
//! and the resistance rises: that is what a weak battery feels like at the trigger.

/// Open-circuit voltage of one lithium-ion cell against charge ratio (typical discharge curve at
/// room temperature and low current, from memory).
const CELL_V: [(f64, f64); 9] = [
    (0.0, 2.60),
    (0.05, 3.20),
    (0.10, 3.42),
    (0.20, 3.54),
    (0.40, 3.64),
    (0.60, 3.76),
    (0.80, 3.94),
    (0.95, 4.08),
    (1.0, 4.17),
];

/// A pack of cells in series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatteryPack {
    /// Cells in series; 3.6 V nominal each.
    pub cells: u32,
    /// Charge of a full pack, A s.
    pub capacity_a_s: f64,
    /// Resistance of the whole pack when well charged, ohm.
    pub resistance_ohm: f64,
    /// Resistance that builds up behind a load, ohm.
    pub polarisation_ohm: f64,
    /// Time over which it builds up, s.
    pub polarisation_s: f64,
}

impl BatteryPack {
    /// Nominal voltage, V.
    #[must_use]
    pub fn nominal_v(&self) -> f64 {
        3.6 * f64::from(self.cells)
    }

    /// Open-circuit voltage of the pack at a charge ratio, V.
    #[must_use]
    pub fn open_circuit_v(&self, charge_ratio: f64) -> f64 {
        let held = charge_ratio.clamp(0.0, 1.0);
        let above = CELL_V
            .iter()
            .position(|(ratio, _)| *ratio >= held)
            .unwrap_or(CELL_V.len() - 1)
            .max(1);
        let ((r0, v0), (r1, v1)) = (CELL_V[above - 1], CELL_V[above]);
        f64::from(self.cells) * (v0 + (v1 - v0) * (held - r0) / (r1 - r0))
    }

    /// Resistance that acts at once, ohm: half as much again at a tenth of the charge, tenfold when empty
    /// (shape typical of lithium-ion cells near their end, from memory).
    #[must_use]
    pub fn ohmic_resistance_ohm(&self, charge_ratio: f64) -> f64 {
        self.resistance_ohm * (1.0 + 9.0 * (-charge_ratio.max(0.0) / 0.035).exp())
    }
}

/// A pack at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatteryState {
    /// Charge left, 0 to 1.
    pub charge_ratio: f64,
    /// Voltage lost to polarisation, V.
    pub polarisation_v: f64,
}

impl BatteryState {
    /// A rested pack.
    #[must_use]
    pub const fn rested(charge_ratio: f64) -> Self {
        Self {
            charge_ratio,
            polarisation_v: 0.0,
        }
    }

    /// Voltage behind the ohmic resistance, V.
    #[must_use]
    pub fn inner_v(&self, pack: &BatteryPack) -> f64 {
        pack.open_circuit_v(self.charge_ratio) - self.polarisation_v
    }

    /// Draws a current for a while.
    pub fn draw(&mut self, pack: &BatteryPack, current_a: f64, duration_s: f64) {
        self.charge_ratio =
            (self.charge_ratio - current_a * duration_s / pack.capacity_a_s).max(0.0);
        let settled_v = current_a * pack.polarisation_ohm;
        let part = 1.0 - (-duration_s / pack.polarisation_s).exp();
        self.polarisation_v += part * (settled_v - self.polarisation_v);
    }
}

/// Current, A, that carries a power through a resistance from a voltage behind it; half the
/// short-circuit current when the source cannot give so much.
///
/// *Source*: derived here, `P = V i - R i^2`, the smaller root.
#[must_use]
pub fn current_for_power_a(inner_v: f64, resistance_ohm: f64, power_w: f64) -> f64 {
    if resistance_ohm <= 0.0 {
        return power_w / inner_v;
    }
    let root = (inner_v * inner_v - 4.0 * resistance_ohm * power_w).max(0.0);
    (inner_v - root.sqrt()) / (2.0 * resistance_ohm)
}

#[cfg(test)]
mod tests {
    use super::*;

    const PACK: BatteryPack = BatteryPack {
        cells: 5,
        capacity_a_s: 2.0 * 3600.0,
        resistance_ohm: 0.1,
        polarisation_ohm: 0.06,
        polarisation_s: 25.0,
    };

    /// Five lithium-ion cells: 18 V nominal, 21 V charged (common practice, no source).
    #[test]
    fn five_cells_are_an_18_volt_pack() {
        assert!((PACK.nominal_v() - 18.0).abs() < 1e-12);
        assert!((PACK.open_circuit_v(1.0) - 21.0).abs() < 0.3);
        assert!((PACK.open_circuit_v(0.5) - 18.5).abs() < 0.3);
        assert!(PACK.open_circuit_v(0.0) < 15.0);
        assert_eq!(PACK.open_circuit_v(2.0), PACK.open_circuit_v(1.0));
    }

    /// Volt-ampere line: its slope is the resistance, at once and after polarisation.
    #[test]
    fn voltage_falls_on_a_line_with_current_at_once_and_on_a_steeper_one_later() {
        let charge = 0.8;
        let at_once = PACK.ohmic_resistance_ohm(charge);
        assert!((at_once - 0.1).abs() < 1e-4);
        let terminal_v = |current_a: f64, after_s: f64| {
            let mut state = BatteryState::rested(charge);
            state.draw(&PACK, current_a, after_s);
            state.charge_ratio = charge;
            state.inner_v(&PACK) - current_a * at_once
        };
        let slope = |after_s| (terminal_v(2.0, after_s) - terminal_v(12.0, after_s)) / 10.0;
        assert!((slope(0.0) - at_once).abs() < 1e-9);
        assert!((slope(1000.0) - (at_once + 0.06)).abs() < 1e-9);
    }

    #[test]
    fn charge_drawn_is_current_times_time_and_rest_brings_the_voltage_back() {
        let mut state = BatteryState::rested(0.5);
        for _ in 0..600 {
            state.draw(&PACK, 6.0, 0.1);
        }
        assert!((state.charge_ratio - (0.5 - 360.0 / 7200.0)).abs() < 1e-9);
        let loaded_v = state.inner_v(&PACK);
        state.draw(&PACK, 0.0, 300.0);
        assert!(state.inner_v(&PACK) > loaded_v + 0.3);
    }

    /// 100 W from 18 V behind 0.1 ohm: 5.7385 A by hand; at most V^2 / 4R = 810 W.
    #[test]
    fn current_for_a_power_solves_the_quadratic_and_stops_at_the_greatest() {
        let current_a = current_for_power_a(18.0, 0.1, 100.0);
        assert!((current_a - 5.7385).abs() < 1e-3, "{current_a}");
        assert!((current_for_power_a(18.0, 0.1, 5000.0) - 90.0).abs() < 1e-9);
        assert!((current_for_power_a(230.0, 0.0, 460.0) - 2.0).abs() < 1e-12);
    }
}
