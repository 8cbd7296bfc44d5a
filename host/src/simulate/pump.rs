//! The pump: a piston that delivers in strokes, and the motor that drives it.
//!
//! A stroke sweeps the piston's volume. Its first part delivers nothing: valves close late, the dead
//! volume has to be brought up to pressure, and what the inlet did not let in is missing. Those pauses
//! are the ripple. The motor gives a stroke rate that falls with pressure (back-EMF against winding and
//! supply resistance), is held by an electrical power limit, and cannot pass the mechanical top rate.
//! No supply curve is written down anywhere: it follows from these.

/// How the piston moves during a stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Motion {
    /// Crank: slow at both ends.
    Crank,
    /// Constant speed, as with a chain or a heart-shaped cam.
    Constant,
}

/// The pump's hydraulic end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PistonPump {
    /// Volume swept in one stroke.
    pub stroke_m3: f64,
    /// How the piston moves.
    pub motion: Motion,
    /// Part of a stroke lost before the valves close, 0 to 1.
    pub valve_lag_ratio: f64,
    /// Dead volume over swept volume.
    pub dead_volume_ratio: f64,
    /// Pressure rise per relative change of the liquid's volume, Pa.
    pub liquid_stiffness_pa: f64,
    /// Flow back past packings and valves per pressure, m3/(s Pa).
    pub leak_m3_per_s_pa: f64,
    /// Flow that the inlet lets in at most, m3/s.
    pub inlet_capacity_m3_per_s: f64,
}

impl PistonPump {
    /// Part of a stroke, 0 to 1, that delivers nothing at an outlet pressure and stroke rate.
    #[must_use]
    pub fn idle_ratio(&self, outlet_pa: f64, stroke_rate_hz: f64) -> f64 {
        let swept_m3_per_s = (self.stroke_m3 * stroke_rate_hz).max(1.0e-12);
        let fill = smooth_min(1.0, self.inlet_capacity_m3_per_s / swept_m3_per_s, 0.02);
        let compression = self.dead_volume_ratio * outlet_pa / self.liquid_stiffness_pa;
        (self.valve_lag_ratio + compression + (1.0 - fill)).clamp(0.0, 0.98)
    }

    /// Volume, m3, pushed out while the stroke's phase goes from `from` to `to` (`0 <= from <= to <= 1`).
    #[must_use]
    pub fn delivered_m3(&self, from: f64, to: f64, idle_ratio: f64) -> f64 {
        let swept = |phase: f64| match self.motion {
            Motion::Crank => 0.5 * (1.0 - (std::f64::consts::PI * phase).cos()),
            Motion::Constant => phase,
        };
        self.stroke_m3 * (swept(to).max(idle_ratio) - swept(from).max(idle_ratio))
    }

    /// Mean delivery at an outlet pressure and stroke rate, m3/s; not below zero.
    #[must_use]
    pub fn mean_delivery_m3_per_s(&self, outlet_pa: f64, stroke_rate_hz: f64) -> f64 {
        let gross =
            self.stroke_m3 * stroke_rate_hz * (1.0 - self.idle_ratio(outlet_pa, stroke_rate_hz));
        (gross - self.leak_m3_per_s_pa * outlet_pa).max(0.0)
    }
}

/// The motor and what feeds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motor {
    /// Back-EMF per stroke rate, V s.
    pub emf_v_s: f64,
    /// Resistance of winding and leads, ohm.
    pub winding_ohm: f64,
    /// Electrical power that the electronics allow, W.
    pub power_limit_w: f64,
    /// Work lost to friction in one stroke, J.
    pub friction_j: f64,
    /// Part of the work that friction takes besides, growing with load, 0 to 1.
    pub load_friction_ratio: f64,
    /// Highest stroke rate that the gear stands, 1/s.
    pub top_rate_hz: f64,
    /// Time in which the stroke rate follows, s.
    pub lag_s: f64,
    /// Power that the electronics draw at rest, W.
    pub rest_power_w: f64,
}

impl Motor {
    /// Work of one stroke against an outlet pressure, J.
    #[must_use]
    pub fn stroke_work_j(&self, pump: &PistonPump, outlet_pa: f64) -> f64 {
        self.friction_j + outlet_pa * pump.stroke_m3 * (1.0 + self.load_friction_ratio)
    }

    /// Winding current at that work, A: the motor's force is in proportion to it.
    fn winding_a(&self, work_j: f64) -> f64 {
        work_j / self.emf_v_s
    }

    /// Highest stroke rate against an outlet pressure, 1/s, from a source of the given voltage behind the
    /// given resistance.
    #[must_use]
    pub fn top_stroke_rate_hz(
        &self,
        pump: &PistonPump,
        outlet_pa: f64,
        inner_v: f64,
        source_ohm: f64,
    ) -> f64 {
        let work_j = self.stroke_work_j(pump, outlet_pa);
        let current_a = self.winding_a(work_j);
        let by_voltage = (inner_v - current_a * (self.winding_ohm + source_ohm)) / self.emf_v_s;
        let by_power = (self.power_limit_w - current_a * current_a * self.winding_ohm) / work_j;
        let electrical = smooth_min(by_voltage.max(0.0), by_power.max(0.0), 0.03);
        smooth_min(electrical, self.top_rate_hz, 0.03)
    }

    /// Electrical power at a stroke rate, W, rest power included.
    #[must_use]
    pub fn electrical_power_w(
        &self,
        pump: &PistonPump,
        outlet_pa: f64,
        stroke_rate_hz: f64,
    ) -> f64 {
        let work_j = self.stroke_work_j(pump, outlet_pa);
        // The winding heats only while the motor is fed: at a standstill the electronics are off.
        let heat_w = self.winding_a(work_j).powi(2)
            * self.winding_ohm
            * (stroke_rate_hz / (0.05 * self.top_rate_hz)).min(1.0);
        self.rest_power_w + work_j * stroke_rate_hz + heat_w
    }
}

/// The smaller of two numbers with the corner rounded over `softness` times the first.
#[must_use]
pub fn smooth_min(a: f64, b: f64, softness: f64) -> f64 {
    let difference = a - b;
    let round = softness * a.abs();
    0.5 * (a + b - (difference * difference + round * round).sqrt()).max(0.0)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A corded pump for the tests of this folder: 4 mL a stroke, 800 W.
    pub(crate) fn test_pump() -> (PistonPump, Motor) {
        let pump = PistonPump {
            stroke_m3: 4.0e-6,
            motion: Motion::Crank,
            valve_lag_ratio: 0.06,
            dead_volume_ratio: 0.8,
            liquid_stiffness_pa: 1.6e9,
            leak_m3_per_s_pa: 1.0e-15,
            inlet_capacity_m3_per_s: 1.0e-3,
        };
        let motor = Motor {
            emf_v_s: 16.0,
            winding_ohm: 1.0,
            power_limit_w: 800.0,
            friction_j: 3.0,
            load_friction_ratio: 0.2,
            top_rate_hz: 12.0,
            lag_s: 0.05,
            rest_power_w: 4.0,
        };
        (pump, motor)
    }

    /// A whole stroke pushes out its volume less the idle part, whatever the motion and the steps.
    #[test]
    fn strokes_push_out_their_volume_less_the_idle_part() {
        for motion in [Motion::Crank, Motion::Constant] {
            let (mut pump, _) = test_pump();
            pump.motion = motion;
            let steps = 37;
            let total: f64 = (0..steps)
                .map(|i| {
                    let at = |k: i32| f64::from(k) / f64::from(steps);
                    pump.delivered_m3(at(i), at(i + 1), 0.15)
                })
                .sum();
            assert!((total / (0.85 * pump.stroke_m3) - 1.0).abs() < 1e-12);
            assert_eq!(pump.delivered_m3(0.0, 0.05, 0.15), 0.0);
        }
    }

    /// Volumetric efficiency of a piston pump: about 0.85 to 0.97 (common practice, no source), lower
    /// at high pressure because the dead volume must be compressed.
    #[test]
    fn efficiency_falls_with_pressure() {
        let (pump, _) = test_pump();
        let low = 1.0 - pump.idle_ratio(5.0e6, 6.0);
        let high = 1.0 - pump.idle_ratio(2.0e7, 6.0);
        assert!(high < low && low < 0.97 && high > 0.85, "{low} {high}");
        // 0.8 * 15 MPa / 1.6 GPa of a stroke by hand.
        assert!((low - high - 0.0075).abs() < 1e-9);
    }

    #[test]
    fn a_starved_inlet_caps_the_delivery_at_what_it_lets_in() {
        let (mut pump, _) = test_pump();
        pump.inlet_capacity_m3_per_s = 8.0e-6;
        let fast = pump.mean_delivery_m3_per_s(1.0e6, 10.0);
        let faster = pump.mean_delivery_m3_per_s(1.0e6, 12.0);
        assert!(faster < 8.0e-6 && (faster / fast - 1.0).abs() < 0.1);
    }

    /// Hydraulic power cannot pass the electrical limit times the efficiency 1 / 1.2.
    #[test]
    fn power_limit_bounds_pressure_times_flow() {
        let (pump, motor) = test_pump();
        for bar in [60.0, 120.0, 180.0] {
            let rate = motor.top_stroke_rate_hz(&pump, bar * 1e5, 325.0, 0.0);
            let hydraulic_w = bar * 1e5 * pump.mean_delivery_m3_per_s(bar * 1e5, rate);
            assert!(hydraulic_w < 800.0 / 1.2, "{bar} bar: {hydraulic_w} W");
            let drawn_w = motor.electrical_power_w(&pump, bar * 1e5, rate);
            assert!(drawn_w < 1.02 * (800.0 + 4.0), "{bar} bar: {drawn_w} W");
        }
    }

    #[test]
    fn a_lower_voltage_slows_the_pump_and_load_does_too() {
        let (pump, motor) = test_pump();
        let rate = |bar: f64, volt: f64| motor.top_stroke_rate_hz(&pump, bar * 1e5, volt, 0.2);
        assert!(rate(50.0, 120.0) < rate(50.0, 325.0));
        assert!(rate(150.0, 120.0) < rate(50.0, 120.0));
        assert_eq!(rate(50.0, 0.0), 0.0);
    }

    #[test]
    fn smooth_min_is_below_both_and_near_the_smaller_far_from_the_corner() {
        assert!(smooth_min(1.0, 1.0, 0.02) < 1.0);
        assert!((smooth_min(1.0, 5.0, 0.02) - 1.0).abs() < 1e-4);
        assert!((smooth_min(5.0, 1.0, 0.02) - 1.0).abs() < 1e-3);
    }
}
