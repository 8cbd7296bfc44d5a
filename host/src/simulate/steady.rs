//! Where a rig settles: mean delivery against pressure, and the point where the path takes just that.
//!
//! Averages over strokes, without stepping through them. The scenarios are made with it and the
//! truth's supply curve is written with it; the test holds it against the rig in motion.

use super::battery::BatteryState;
use super::fluid_path::{FluidPath, PathPoint};
use super::pump::PistonPump;
use super::rig::RigDesign;

/// The side of the pump at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SupplyState {
    /// Set pressure of the control.
    pub set_pa: f64,
    /// The battery, where there is one.
    pub battery: BatteryState,
    /// Part of the inlet's capacity that is left, 0 to 1.
    pub inlet_openness: f64,
}

impl SupplyState {
    /// Full dial, battery as at the start, clean inlet.
    #[must_use]
    pub fn full_dial(design: &RigDesign) -> Self {
        Self {
            set_pa: design.control.full_set_pa,
            battery: design.battery_at_start(),
            inlet_openness: 1.0,
        }
    }
}

/// Mean delivery, m3/s, that the pump can keep up at a pressure of its outlet.
#[must_use]
pub fn delivery_m3_per_s(design: &RigDesign, supply: &SupplyState, outlet_pa: f64) -> f64 {
    let pump = PistonPump {
        inlet_capacity_m3_per_s: design.pump.inlet_capacity_m3_per_s * supply.inlet_openness,
        ..design.pump
    };
    let below_pa = supply.set_pa - outlet_pa;
    let demand = (below_pa / design.control.proportional_band_pa).clamp(0.0, 1.0);
    let (inner_v, source_ohm) = design.source(&supply.battery);
    let top_hz = design
        .motor
        .top_stroke_rate_hz(&pump, outlet_pa, inner_v, source_ohm);
    pump.mean_delivery_m3_per_s(outlet_pa, demand * top_hz)
}

/// Where the rig settles with a path: the pressure at which the path takes what the pump delivers.
///
/// *Cost*: fifty searches along the path.
#[must_use]
pub fn settle(design: &RigDesign, supply: &SupplyState, path: &FluidPath) -> PathPoint {
    let (mut low, mut high) = (0.0, supply.set_pa);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        let wanted = path.at_pump(middle).flow_m3_per_s;
        if wanted < delivery_m3_per_s(design, supply, middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    path.at_pump(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::super::rig::tests::{measure, test_design, test_loading};
    use super::*;

    /// The rig in motion, averaged over whole seconds of spraying, sits where the averages say.
    #[test]
    fn settled_point_is_the_mean_of_the_rig_in_motion() {
        for (thou, power_w) in [(11.0, 800.0), (17.0, 800.0), (21.0, 250.0)] {
            let mut design = test_design();
            design.motor.power_limit_w = power_w;
            let loading = test_loading(thou);
            let path = super::super::rig::path_of(
                &design,
                &loading.orifice,
                loading.liquid.at(loading.material_k, 0.0),
                1.0,
                1.0,
            );
            let settled = settle(&design, &SupplyState::full_dial(&design), &path);
            let (pressure_pa, flow) = measure(&design, loading, design.control.full_mark());
            assert!(
                (settled.pump_pa / pressure_pa - 1.0).abs() < 0.02,
                "{thou} thou: {} {pressure_pa}",
                settled.pump_pa
            );
            assert!((settled.flow_m3_per_s / flow - 1.0).abs() < 0.01, "{thou}");
        }
    }

    #[test]
    fn delivery_never_rises_with_pressure() {
        let design = test_design();
        let supply = SupplyState::full_dial(&design);
        let mut above = f64::INFINITY;
        for bar in 10..=200 {
            let here = delivery_m3_per_s(&design, &supply, f64::from(bar) * 1e5);
            assert!(here <= above, "{bar} bar");
            above = here;
        }
        assert_eq!(above, 0.0);
    }
}
