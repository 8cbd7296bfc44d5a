//! The rig in motion: pump, hose and tip against each other in steps of a millisecond.
//!
//! One volume (hose, filter, meter) swells with pressure; the pump pushes into it stroke by stroke, the
//! gun lets out what the path's table says, and the control answers the pressure. Everything else
//! is taken as steady within a step. The person works a [`RunningRig`] by its verbs; what happened is
//! its [`Trace`].

use crate::recording::settings::Tap;

use super::battery::{BatteryPack, BatteryState, current_for_power_a};
use super::control::PressureControl;
use super::fluid_path::{FlowTable, FluidPath};
use super::hose::Hose;
use super::index::position;
use super::liquid::{Liquid, LiquidState};
use super::orifice::Orifice;
use super::pump::{Motor, PistonPump};
use super::random::{Part, RandomStream};
use super::restriction::{Restriction, RestrictionPlace};
use super::trace::{STEP_S, STEPS_PER_SLOW, SlowPoint, Trace};

/// What feeds the motor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Supply {
    /// The mains, behind the resistance of leads and rectifier.
    Mains {
        /// Voltage, V.
        voltage_v: f64,
        /// Resistance, ohm.
        resistance_ohm: f64,
    },
    /// A battery.
    Battery {
        /// The pack.
        pack: BatteryPack,
        /// Charge at the start, 0 to 1.
        charge_ratio: f64,
    },
}

/// Everything about a rig that does not change while it runs.
#[derive(Debug, Clone, PartialEq)]
pub struct RigDesign {
    /// Name, in the owner's words.
    pub name: String,
    /// Where the transducer is tapped in.
    pub tap: Tap,
    /// The hose.
    pub hose: Hose,
    /// Volume taken up per pascal by everything but the hose, m3/Pa.
    pub fixed_compliance_m3_per_pa: f64,
    /// Clean gun filter, 1/m3 (Darcy).
    pub filter_per_m3: f64,
    /// Hydraulic end.
    pub pump: PistonPump,
    /// Motor.
    pub motor: Motor,
    /// What feeds it.
    pub supply: Supply,
    /// Pressure control.
    pub control: PressureControl,
    /// Lowest rated working pressure of its parts.
    pub working_pressure_pa: f64,
    /// Time in which the trigger opens, s; it closes in twice that.
    pub trigger_s: f64,
}

impl RigDesign {
    /// Voltage behind the source's resistance, V, and that resistance, ohm, for a battery state.
    #[must_use]
    pub fn source(&self, battery: &BatteryState) -> (f64, f64) {
        match &self.supply {
            Supply::Mains {
                voltage_v,
                resistance_ohm,
            } => (*voltage_v, *resistance_ohm),
            Supply::Battery { pack, .. } => (
                battery.inner_v(pack),
                pack.ohmic_resistance_ohm(battery.charge_ratio),
            ),
        }
    }

    /// The battery as it is at the start; full where there is none.
    #[must_use]
    pub fn battery_at_start(&self) -> BatteryState {
        BatteryState::rested(match self.supply {
            Supply::Mains { .. } => 1.0,
            Supply::Battery { charge_ratio, .. } => charge_ratio,
        })
    }
}

/// What is at the gun and in the pot.
#[derive(Debug, Clone, PartialEq)]
pub struct Loading {
    /// The tip's opening as it is.
    pub orifice: Orifice,
    /// The coating.
    pub liquid: Liquid,
    /// Thinner in it, 0 to 1 by volume of coating.
    pub thinner_ratio: f64,
    /// Its temperature.
    pub material_k: f64,
}

/// A rig while somebody works with it.
#[derive(Debug)]
pub struct RunningRig<'a> {
    design: &'a RigDesign,
    loading: Loading,
    restrictions: Vec<Restriction>,
    random: RandomStream,
    set_pa: f64,
    table: FlowTable,
    /// Coating temperature and openness that the table was made for.
    tabled_for: (f64, f64),
    is_switched_on: bool,
    is_started: bool,
    outlet_pa: f64,
    stroke_phase: f64,
    stroke_rate_hz: f64,
    /// How far the trigger is open, 0 to 1.
    opening: f64,
    battery: BatteryState,
    source: (f64, f64),
    wander_k: f64,
    inlet_capacity_m3_per_s: f64,
    trace: Trace,
}

impl<'a> RunningRig<'a> {
    /// A rig at rest, relieved and switched off.
    #[must_use]
    pub fn new(design: &'a RigDesign, loading: Loading, seed: u64) -> Self {
        let battery = design.battery_at_start();
        let state = loading.liquid.at(loading.material_k, loading.thinner_ratio);
        let path = path_of(design, &loading.orifice, state, 1.0, 1.0);
        Self {
            set_pa: design.control.set_pa(0),
            table: FlowTable::new(&path, design.control.full_set_pa * 1.15),
            tabled_for: (loading.material_k, 1.0),
            loading,
            restrictions: Vec::new(),
            random: RandomStream::new(seed, Part::Rig),
            is_switched_on: false,
            is_started: false,
            outlet_pa: 0.0,
            stroke_phase: 0.0,
            stroke_rate_hz: 0.0,
            opening: 0.0,
            source: design.source(&battery),
            battery,
            wander_k: 0.0,
            inlet_capacity_m3_per_s: design.pump.inlet_capacity_m3_per_s,
            trace: Trace::default(),
            design,
        }
    }

    /// True time now, s.
    #[must_use]
    pub fn now_s(&self) -> f64 {
        self.trace.duration_s()
    }

    /// What happened up to now.
    #[must_use]
    pub const fn trace(&self) -> &Trace {
        &self.trace
    }

    /// What happened, at the end.
    #[must_use]
    pub fn into_trace(self) -> Trace {
        self.trace
    }

    /// The battery now.
    #[must_use]
    pub const fn battery(&self) -> BatteryState {
        self.battery
    }

    /// The path from pump to air as it is now.
    #[must_use]
    pub fn path(&self) -> FluidPath {
        let k = self.material_k();
        let state = self.loading.liquid.at(k, self.loading.thinner_ratio);
        let open = self.openness(RestrictionPlace::Tip);
        let filter = self.openness(RestrictionPlace::GunFilter);
        path_of(self.design, &self.loading.orifice, state, open, filter)
    }

    /// Coating temperature now, K.
    #[must_use]
    pub fn material_k(&self) -> f64 {
        self.loading.material_k + self.wander_k
    }

    /// Part of the nozzle side (tip and gun filter together) that restrictions have left open.
    #[must_use]
    pub fn nozzle_openness(&self) -> f64 {
        self.openness(RestrictionPlace::Tip) * self.openness(RestrictionPlace::GunFilter)
    }

    /// Turns the pressure control to a mark.
    pub fn turn_dial(&mut self, mark: usize) {
        self.set_pa = self.design.control.set_pa(mark);
    }

    /// Switches the pump on or off.
    pub const fn switch(&mut self, on: bool) {
        self.is_switched_on = on;
    }

    /// Opens the prime valve for a while with the pump off: the line is relieved.
    pub fn relieve(&mut self, duration_s: f64) {
        self.is_switched_on = false;
        for _ in 0..steps(duration_s) {
            self.outlet_pa *= 1.0 - STEP_S / 0.12;
            self.step(false);
        }
    }

    /// Opens the prime valve just until the pressure is at the set one.
    pub fn bleed(&mut self) {
        while self.outlet_pa > self.set_pa {
            self.outlet_pa *= 1.0 - STEP_S / 0.3;
            self.step(false);
        }
    }

    /// Fits another tip; the person has relieved the line.
    pub fn fit_tip(&mut self, orifice: Orifice) {
        self.loading.orifice = orifice;
        self.restrictions
            .retain(|r| r.place() != RestrictionPlace::Tip);
        self.renew_table();
    }

    /// Pours in another coating, or the same with more thinner.
    pub fn fill(&mut self, liquid: Liquid, thinner_ratio: f64) {
        self.loading.liquid = liquid;
        self.loading.thinner_ratio = thinner_ratio;
        self.renew_table();
    }

    /// The coating is at another temperature now.
    pub fn bring_material_to(&mut self, material_k: f64) {
        self.loading.material_k = material_k;
        self.renew_table();
    }

    /// A restriction begins to build up.
    pub fn begin_restriction(&mut self, restriction: Restriction) {
        self.restrictions.push(restriction);
    }

    /// Everything is clean again.
    pub fn clean(&mut self) {
        self.restrictions.clear();
        self.inlet_capacity_m3_per_s = self.design.pump.inlet_capacity_m3_per_s;
        self.renew_table();
    }

    /// Puts in another battery, rested.
    pub fn swap_battery(&mut self, charge_ratio: f64) {
        self.battery = BatteryState::rested(charge_ratio);
    }

    /// Lets time pass with the trigger pulled or not.
    pub fn run(&mut self, duration_s: f64, is_pulled: bool) {
        for _ in 0..steps(duration_s) {
            self.step(is_pulled);
        }
    }

    /// Part of a place that is still open, 0 to 1.
    #[must_use]
    pub fn openness(&self, place: RestrictionPlace) -> f64 {
        self.restrictions
            .iter()
            .filter(|r| r.place() == place)
            .map(Restriction::openness)
            .product()
    }

    fn renew_table(&mut self) {
        self.table = FlowTable::new(&self.path(), self.design.control.full_set_pa * 1.15);
        self.tabled_for = (self.material_k(), self.nozzle_openness());
    }

    /// One millisecond.
    fn step(&mut self, is_pulled: bool) {
        if self
            .trace
            .flow_m3_per_s
            .len()
            .is_multiple_of(STEPS_PER_SLOW)
        {
            self.slow_step();
        }
        let design = self.design;
        let travel = STEP_S / design.trigger_s;
        self.opening = if is_pulled {
            (self.opening + travel).min(1.0)
        } else {
            (self.opening - 0.5 * travel).max(0.0)
        };
        let (full_flow, full_gun_pa) = self.table.at(self.outlet_pa);
        let flow = self.opening * full_flow;
        let gun_pa = self.outlet_pa - self.opening * (self.outlet_pa - full_gun_pa);
        self.trace.pump_pa.push(self.outlet_pa);
        self.trace.gun_pa.push(gun_pa);
        self.trace.flow_m3_per_s.push(flow);
        let pushed_m3 = self.stroke();
        let leak_m3 = design.pump.leak_m3_per_s_pa * self.outlet_pa * STEP_S;
        let compliance = design.hose.compliance_m3_per_pa() + design.fixed_compliance_m3_per_pa;
        self.outlet_pa += (pushed_m3 - flow * STEP_S - leak_m3) / compliance;
        self.outlet_pa = self.outlet_pa.max(0.0);
        if flow > 0.0 {
            for restriction in &mut self.restrictions {
                restriction.spray(STEP_S);
            }
        }
    }

    /// Moves motor and piston by one step; volume pushed out, m3.
    fn stroke(&mut self) -> f64 {
        let design = self.design;
        let (demand, is_started) = if self.is_switched_on {
            design
                .control
                .command(self.set_pa, self.outlet_pa, self.is_started)
        } else {
            (0.0, false)
        };
        self.is_started = is_started;
        if demand <= 0.0 && self.stroke_rate_hz < 1.0e-3 {
            self.stroke_rate_hz = 0.0;
            return 0.0;
        }
        let (inner_v, source_ohm) = self.source;
        let top_hz =
            design
                .motor
                .top_stroke_rate_hz(&design.pump, self.outlet_pa, inner_v, source_ohm);
        // A stopped motor coasts against the pressure: it stops ten times faster than it starts.
        let lag_s = if demand > 0.0 {
            design.motor.lag_s
        } else {
            0.1 * design.motor.lag_s
        };
        self.stroke_rate_hz += (demand * top_hz - self.stroke_rate_hz) * (STEP_S / lag_s).min(1.0);
        let pump = PistonPump {
            inlet_capacity_m3_per_s: self.inlet_capacity_m3_per_s,
            ..design.pump
        };
        let idle_ratio = pump.idle_ratio(self.outlet_pa, self.stroke_rate_hz);
        let to = self.stroke_phase + self.stroke_rate_hz * STEP_S;
        let first = pump.delivered_m3(self.stroke_phase, to.min(1.0), idle_ratio);
        self.stroke_phase = to.fract();
        if to > 1.0 {
            first + pump.delivered_m3(0.0, self.stroke_phase, idle_ratio)
        } else {
            first
        }
    }

    /// What changes slowly: supply, temperature, restrictions, and the table that depends on them.
    fn slow_step(&mut self) {
        let design = self.design;
        let slow_s = STEP_S * f64::from(u16::try_from(STEPS_PER_SLOW).unwrap_or(u16::MAX));
        let rate_hz = self.stroke_rate_hz;
        let power_w = design
            .motor
            .electrical_power_w(&design.pump, self.outlet_pa, rate_hz);
        self.source = design.source(&self.battery);
        let (inner_v, source_ohm) = self.source;
        let current_a = current_for_power_a(inner_v, source_ohm, power_w);
        if let Supply::Battery { pack, .. } = &design.supply {
            self.battery.draw(pack, current_a, slow_s);
        }
        // Temperature wanders by a few tenths of a kelvin over a minute.
        self.wander_k += -self.wander_k * slow_s / 60.0 + self.random.normal(0.012);
        self.trace.slow.push(SlowPoint {
            supply_v: inner_v - current_a * source_ohm,
            supply_a: current_a,
            material_k: self.material_k(),
        });
        self.inlet_capacity_m3_per_s =
            design.pump.inlet_capacity_m3_per_s * self.openness(RestrictionPlace::Inlet);
        let (table_k, table_openness) = self.tabled_for;
        if self.opening > 0.0
            && ((self.material_k() - table_k).abs() > 0.05
                || (self.nozzle_openness() - table_openness).abs() > 1.0e-4)
        {
            self.renew_table();
        }
    }
}

/// The path through a rig with parts of tip and filter still open.
#[must_use]
pub fn path_of(
    design: &RigDesign,
    orifice: &Orifice,
    state: LiquidState,
    tip_openness: f64,
    filter_openness: f64,
) -> FluidPath {
    FluidPath {
        hose: design.hose,
        filter_per_m3: design.filter_per_m3 / filter_openness,
        orifice: Orifice {
            diameter_m: orifice.diameter_m * tip_openness.sqrt(),
            ..*orifice
        },
        state,
    }
}

fn steps(duration_s: f64) -> usize {
    position((duration_s / STEP_S).round())
}

#[cfg(test)]
pub(crate) mod tests;
