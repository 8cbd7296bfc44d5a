//! Sizing a rig: which pump and motor give a wanted pressure with a wanted tip.
//!
//! The physics of [`super::super::pump`] says what a pump does; here its numbers are chosen so that it does
//! what a scenario needs, by proportion where that is exact and by search where it is not.

use crate::recording::settings::Tap;

use super::super::battery::BatteryPack;
use super::super::control::PressureControl;
use super::super::fan::{Pass, evenness};
use super::super::fluid_path::FluidPath;
use super::super::hose::Hose;
use super::super::liquid::Liquid;
use super::super::pump::{Motion, Motor, PistonPump};
use super::super::rig::{RigDesign, Supply};
use super::super::steady::{SupplyState, settle};

/// What a rig is wanted to do.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// Name of the rig.
    pub name: String,
    /// Where the transducer is tapped in.
    pub tap: Tap,
    /// Length and bore of the hose, m.
    pub hose_m: (f64, f64),
    /// Marks of the dial.
    pub marks: Vec<(String, f64)>,
    /// Set pressure at full dial.
    pub full_set_pa: f64,
    /// Largest flow that is wanted at that pressure, m3/s.
    pub flow_m3_per_s: f64,
    /// Stroke rate at that flow, 1/s.
    pub stroke_rate_hz: f64,
    /// What the pump can deliver over that flow.
    pub reserve: f64,
    /// Swing of the pressure by stroke ripple, peak to peak over the mean, roughly.
    pub ripple_ratio: f64,
    /// How the piston moves.
    pub motion: Motion,
    /// Cells of a battery; `None` for the mains.
    pub cells: Option<u32>,
}

/// Part of the pressure that stroke work adds to by friction that grows with load.
const LOAD_FRICTION_RATIO: f64 = 0.22;

/// A rig that does what is wanted.
#[must_use]
pub fn size_rig(wanted: &Wanted) -> RigDesign {
    let stroke_m3 = wanted.flow_m3_per_s / (wanted.stroke_rate_hz * 0.92);
    let top_rate_hz = wanted.stroke_rate_hz * wanted.reserve;
    let push_j = wanted.full_set_pa * stroke_m3;
    let work_j = push_j * (1.04 + LOAD_FRICTION_RATIO);
    let voltage_v = wanted.cells.map_or(230.0, |cells| 3.6 * f64::from(cells));
    // A motor that would turn half as fast again without load (a quarter on a battery, where weight
    // counts), and lose a twelfth of its voltage under it.
    let free_run = if wanted.cells.is_some() { 1.25 } else { 1.5 };
    let emf_v_s = voltage_v / (free_run * top_rate_hz);
    let current_a = work_j / emf_v_s;
    let loss_ohm = voltage_v / current_a / 12.0;
    let pump = PistonPump {
        stroke_m3,
        motion: wanted.motion,
        valve_lag_ratio: 0.05,
        dead_volume_ratio: 0.7,
        liquid_stiffness_pa: 1.7e9,
        leak_m3_per_s_pa: 0.004 * wanted.flow_m3_per_s / wanted.full_set_pa,
        inlet_capacity_m3_per_s: 2.5 * stroke_m3 * top_rate_hz,
    };
    RigDesign {
        name: wanted.name.clone(),
        tap: wanted.tap,
        hose: size_hose(wanted),
        fixed_compliance_m3_per_pa: 4.0e-14,
        filter_per_m3: 0.004 * wanted.full_set_pa / (0.05 * wanted.flow_m3_per_s),
        pump,
        motor: Motor {
            emf_v_s,
            winding_ohm: if wanted.cells.is_some() {
                0.4 * loss_ohm
            } else {
                loss_ohm
            },
            power_limit_w: 2.0 * work_j * top_rate_hz,
            friction_j: 0.04 * push_j,
            load_friction_ratio: LOAD_FRICTION_RATIO,
            top_rate_hz,
            lag_s: 0.05,
            rest_power_w: if wanted.cells.is_some() { 0.8 } else { 5.0 },
        },
        supply: supply_of(wanted, loss_ohm),
        control: PressureControl {
            marks: wanted.marks.clone(),
            full_set_pa: wanted.full_set_pa,
            proportional_band_pa: 0.03 * wanted.full_set_pa,
            dead_band_pa: 0.015 * wanted.full_set_pa,
        },
        working_pressure_pa: wanted.full_set_pa * 1.03,
        trigger_s: 0.04,
    }
}

/// A hose of the wanted length that swells as much as the wanted ripple needs: a pause of a sixth of a
/// stroke (valve lag, compression and the slow ends of the crank) is made good by the swelling.
fn size_hose(wanted: &Wanted) -> Hose {
    let (length_m, bore_m) = wanted.hose_m;
    let pause_m3 = wanted.flow_m3_per_s / wanted.stroke_rate_hz / 6.0;
    let compliance = pause_m3 / (wanted.ripple_ratio * wanted.full_set_pa);
    let volume_m3 = std::f64::consts::FRAC_PI_4 * bore_m * bore_m * length_m;
    Hose {
        length_m,
        bore_m,
        stiffness_pa: (volume_m3 / compliance).clamp(2.0e7, 2.5e9),
    }
}

fn supply_of(wanted: &Wanted, loss_ohm: f64) -> Supply {
    wanted.cells.map_or(
        Supply::Mains {
            voltage_v: 230.0,
            resistance_ohm: 0.6,
        },
        |cells| Supply::Battery {
            pack: BatteryPack {
                cells,
                capacity_a_s: 7_200.0,
                resistance_ohm: 0.4 * loss_ohm,
                polarisation_ohm: 0.2 * loss_ohm,
                polarisation_s: 25.0,
            },
            charge_ratio: 0.9,
        },
    )
}

/// Lowers what `knob` sets, between nothing and its present value, until the rig settles with `path` at a
/// pump pressure; leaves it as it is when the rig settles below that already.
pub fn weaken_until(
    rig: &mut RigDesign,
    path: &FluidPath,
    pump_pa: f64,
    knob: impl Fn(&mut RigDesign) -> &mut f64,
) {
    let full = *knob(rig);
    let (mut low, mut high) = (0.0, full);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        *knob(rig) = middle;
        if settle(rig, &SupplyState::full_dial(rig), path).pump_pa < pump_pa {
            low = middle;
        } else {
            high = middle;
        }
    }
    *knob(rig) = high;
}

/// Openness of the inlet, 0 to 1, with which the rig settles with `path` at a pump pressure.
#[must_use]
pub fn inlet_openness_for(rig: &RigDesign, path: &FluidPath, pump_pa: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..40 {
        let supply = SupplyState {
            inlet_openness: 0.5 * (low + high),
            ..SupplyState::full_dial(rig)
        };
        if settle(rig, &supply, path).pump_pa < pump_pa {
            low = supply.inlet_openness;
        } else {
            high = supply.inlet_openness;
        }
    }
    high
}

/// Makes a formulation whose tails vanish at a pressure of the tap.
pub fn clear_at(liquid: &mut Liquid, path: &FluidPath, tap: Tap, width_m: f64, tap_pa: f64) {
    let tip_pa = path.at_tap(tap, tap_pa).tip_pa;
    liquid.tail_number = evenness(&path.state, &path.orifice, width_m, tip_pa);
}

/// Makes a formulation whose film runs from a pressure of the tap on, with thinner in it as in `path`.
pub fn run_from(
    liquid: &mut Liquid,
    thinner_ratio: f64,
    path: &FluidPath,
    tap: Tap,
    (width_m, pass): (f64, &Pass),
    tap_pa: f64,
) {
    let flow = path.at_tap(tap, tap_pa).flow_m3_per_s;
    liquid.yield_stress_pa = 1.0;
    let standing_m = liquid.at(293.15, thinner_ratio).standing_film_m();
    liquid.yield_stress_pa = pass.wet_film_m(flow, width_m) / standing_m;
}

#[cfg(test)]
mod tests {
    use super::super::super::fluid_path::tests::test_path;
    use super::super::super::liquid::tests::test_enamel;
    use super::super::super::rig::path_of;
    use super::super::super::{fan, liquid};
    use super::*;

    fn wanted(cells: Option<u32>) -> Wanted {
        Wanted {
            name: "wanted".into(),
            tap: Tap::PumpOutlet,
            hose_m: (7.5, 6.4e-3),
            marks: vec![("max".into(), 1.0)],
            full_set_pa: 1.8e7,
            flow_m3_per_s: test_path().at_pump(1.8e7).flow_m3_per_s,
            stroke_rate_hz: 6.0,
            reserve: 1.8,
            ripple_ratio: 0.04,
            motion: Motion::Crank,
            cells,
        }
    }

    fn path_in(rig: &RigDesign) -> FluidPath {
        let path = test_path();
        path_of(rig, &path.orifice, path.state, 1.0, 1.0)
    }

    #[test]
    fn a_sized_rig_holds_its_pressure_on_mains_and_battery() {
        for cells in [None, Some(5), Some(10)] {
            let rig = size_rig(&wanted(cells));
            let held = settle(&rig, &SupplyState::full_dial(&rig), &path_in(&rig));
            assert!(held.pump_pa > 0.965 * 1.8e7, "{cells:?} {}", held.pump_pa);
        }
    }

    #[test]
    fn weakening_reaches_the_wanted_pressure_by_power_and_by_strokes() {
        let base = size_rig(&wanted(None));
        let path = path_in(&base);
        let mut by_power = base.clone();
        weaken_until(&mut by_power, &path, 1.1e7, |r| &mut r.motor.power_limit_w);
        let mut by_stroke = base.clone();
        weaken_until(&mut by_stroke, &path, 1.1e7, |r| &mut r.motor.top_rate_hz);
        for rig in [by_power, by_stroke] {
            let held = settle(&rig, &SupplyState::full_dial(&rig), &path).pump_pa;
            assert!((held / 1.1e7 - 1.0).abs() < 1e-3, "{held}");
        }
        let openness = inlet_openness_for(&base, &path, 0.9e7);
        assert!(openness > 0.0 && openness < 1.0);
    }

    #[test]
    fn formulations_clear_and_run_where_they_are_told_to() {
        let rig = size_rig(&wanted(None));
        let path = path_in(&rig);
        let pass = Pass {
            speed_m_per_s: 0.5,
            transfer_ratio: 0.7,
            overlap_ratio: 0.4,
        };
        let mut enamel = test_enamel();
        clear_at(&mut enamel, &path, Tap::PumpOutlet, 0.203, 1.0e7);
        run_from(
            &mut enamel,
            0.0,
            &path,
            Tap::PumpOutlet,
            (0.203, &pass),
            1.4e7,
        );
        let state = enamel.at(liquid::REFERENCE_K, 0.0);
        let new_path = FluidPath { state, ..path };
        let clear = fan::clear_point(&new_path, 0.203).pump_pa;
        let run = fan::run_point(&new_path, 0.203, &pass).pump_pa;
        assert!((clear / 1.0e7 - 1.0).abs() < 1e-6, "{clear}");
        assert!((run / 1.4e7 - 1.0).abs() < 1e-6, "{run}");
    }
}
