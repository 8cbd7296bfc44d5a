//! The pressure control: a dial with marks, a proportional band, and a dead band before it starts again.

/// A rig's pressure control.
#[derive(Debug, Clone, PartialEq)]
pub struct PressureControl {
    /// Positions of the dial, lowest first: what is written there, and the part of the full set
    /// pressure that it asks for.
    pub marks: Vec<(String, f64)>,
    /// Set pressure at the highest mark.
    pub full_set_pa: f64,
    /// Below the set pressure by this much, the motor gets all it can.
    pub proportional_band_pa: f64,
    /// A pump that has stopped starts again when the pressure is lower by this much.
    pub dead_band_pa: f64,
}

impl PressureControl {
    /// Set pressure at a mark, Pa; the highest mark where there is no such mark.
    #[must_use]
    pub fn set_pa(&self, mark: usize) -> f64 {
        let part = self.marks.get(mark).or(self.marks.last());
        self.full_set_pa * part.map_or(1.0, |(_, part)| *part)
    }

    /// Position of the highest mark.
    #[must_use]
    pub const fn full_mark(&self) -> usize {
        self.marks.len().saturating_sub(1)
    }

    /// What the control asks of the motor, 0 to 1, and whether the pump stays started.
    #[must_use]
    pub fn command(&self, set_pa: f64, outlet_pa: f64, is_started: bool) -> (f64, bool) {
        let below_pa = set_pa - outlet_pa;
        let is_started = if is_started {
            below_pa > 0.0
        } else {
            below_pa > self.dead_band_pa
        };
        if is_started {
            ((below_pa / self.proportional_band_pa).min(1.0), true)
        } else {
            (0.0, false)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn control() -> PressureControl {
        PressureControl {
            marks: vec![("low".into(), 0.4), ("max".into(), 1.0)],
            full_set_pa: 2.0e7,
            proportional_band_pa: 5.0e5,
            dead_band_pa: 2.0e5,
        }
    }

    #[test]
    fn marks_ask_for_their_part_of_the_full_pressure() {
        assert_eq!(control().set_pa(0), 8.0e6);
        assert_eq!(control().set_pa(1), 2.0e7);
        assert_eq!(control().set_pa(9), 2.0e7);
        assert_eq!(control().full_mark(), 1);
    }

    #[test]
    fn a_stopped_pump_waits_for_the_dead_band_and_a_running_one_stops_at_the_set_pressure() {
        let control = control();
        assert_eq!(control.command(1.0e7, 1.0e7 - 1.9e5, false), (0.0, false));
        let (demand, started) = control.command(1.0e7, 1.0e7 - 2.5e5, false);
        assert!(started && (demand - 0.5).abs() < 1e-12);
        assert_eq!(control.command(1.0e7, 1.0e7 - 2.0e6, true), (1.0, true));
        assert_eq!(control.command(1.0e7, 1.0e7, true), (0.0, false));
    }
}
