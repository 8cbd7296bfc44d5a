//! Hydraulic and electric power, efficiency, run time and charges for a job.
//!
//! Power is pressure times flow on the liquid's side and voltage times current on the battery's; their
//! ratio is the efficiency from battery to tap. Run time is what the battery can give over what
//! was measured to be used. [`battery`] follows the charge and what sags with it. In go estimates, out
//! come estimates and intervals; no recording here. Unit checks stand beside the formulas, the interval of the run
//! time is counted in `tests/tests/checks_apply_energy.rs`.

pub mod battery;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::estimate::Estimate;
use crate::estimate::bracketed::Bracketed;
use crate::estimate::propagate::propagate;

/// Share of a battery's nominal energy that a pump can use before it stops itself, where it was not
/// measured: rectangular from 0.8 to 1 (common practice, no source).
pub const USABLE_UNKNOWN: Estimate = Estimate::new(0.9, 0.0, 0.058);

/// Why there is no power, efficiency or run time.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum EnergyError {
    /// A number that must be finite and above zero is not.
    #[error("{what} is {value}; it must be a finite number above zero")]
    NotPositive {
        /// Which number.
        what: &'static str,
        /// The number.
        value: f64,
    },
    /// A share is not between 0 and 1.
    #[error("{what} is {value}; it must lie between 0 and 1")]
    NotAShare {
        /// Which number.
        what: &'static str,
        /// The number.
        value: f64,
    },
    /// More hydraulic than electric power, by more than their uncertainty.
    #[error(
        "{hydraulic_w:.0} W at the tap from {electric_w:.0} W of supply cannot be; check the units and scales \
         of supply voltage, current, pressure and flow"
    )]
    AboveUnity {
        /// Hydraulic power.
        hydraulic_w: f64,
        /// Electric power.
        electric_w: f64,
    },
    /// The power used cannot be told from zero.
    #[error(
        "the power used, {power_w:.1} W with standard uncertainty {u_power_w:.1} W, cannot be told from zero; \
         record longer bursts with the supply current logged"
    )]
    PowerUnknown {
        /// Power used.
        power_w: f64,
        /// Its standard uncertainty.
        u_power_w: f64,
    },
    /// Columns differ in length.
    #[error("{n_first} times and {n_second} values; they must agree in number")]
    Lengths {
        /// Length of the first.
        n_first: usize,
        /// Length of the second.
        n_second: usize,
    },
    /// Too few different readings for a line.
    #[error("{what} needs three readings at two different values or more, there are {n_readings}")]
    TooFew {
        /// What was to be found.
        what: &'static str,
        /// Readings there are.
        n_readings: usize,
    },
    /// A reading is not finite, or a time runs backwards.
    #[error("reading {index} cannot be used: {first}, {second}")]
    BadReading {
        /// Position, from 1.
        index: usize,
        /// Its first number.
        first: f64,
        /// Its second number.
        second: f64,
    },
}

/// Hydraulic power of a flow at a gauge pressure, W.
///
/// *Errors*: a pressure (Pa) or flow (m3/s) that is not finite and above zero.
pub fn hydraulic_power(
    pressure_pa: Estimate,
    flow_m3_per_s: Estimate,
) -> Result<Estimate, EnergyError> {
    product(("pressure", pressure_pa), ("flow", flow_m3_per_s))
}

/// Electric power, W.
///
/// *Errors*: a voltage (V) or current (A) that is not finite and above zero.
pub fn electric_power(supply_v: Estimate, supply_a: Estimate) -> Result<Estimate, EnergyError> {
    product(("supply voltage", supply_v), ("supply current", supply_a))
}

/// Hydraulic over electric power, 0 to 1.
///
/// *Errors*: a power that is not finite and above zero; a ratio above 1 by more than its uncertainty.
pub fn efficiency(hydraulic_w: Estimate, electric_w: Estimate) -> Result<Estimate, EnergyError> {
    positive("hydraulic power", hydraulic_w)?;
    positive("electric power", electric_w)?;
    let error = EnergyError::AboveUnity {
        hydraulic_w: hydraulic_w.value,
        electric_w: electric_w.value,
    };
    let ratio = propagate(&[hydraulic_w, electric_w], |[h, e]| h / e).ok_or(error.clone())?;
    if ratio.interval_95().low > 1.0 {
        return Err(error);
    }
    Ok(ratio)
}

/// A battery: what it can give from full.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Battery {
    /// Charge, A s.
    pub charge_a_s: Estimate,
    /// Mean voltage over a discharge, V; the nominal one where it was not measured.
    pub mean_v: Estimate,
    /// Share that the pump can use, 0 to 1; [`USABLE_UNKNOWN`] where it was not measured.
    pub usable_ratio: Estimate,
}

impl Battery {
    /// Energy that the pump can use from full, J.
    ///
    /// *Errors*: a charge or voltage that is not above zero, a share outside 0 to 1.
    pub fn usable_energy_j(&self) -> Result<Estimate, EnergyError> {
        let charge = positive("battery charge", self.charge_a_s)?;
        let voltage = positive("battery voltage", self.mean_v)?;
        let usable = share("usable share", self.usable_ratio)?;
        propagate(&[charge, voltage, usable], |[q, v, s]| q * v * s).ok_or(
            EnergyError::NotPositive {
                what: "battery energy",
                value: f64::NAN,
            },
        )
    }
}

/// How a rig uses power over a working day.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Duty {
    /// Power while the trigger is open, W.
    pub spraying_w: Estimate,
    /// Power while it is closed and the pump is on, W; zero where it is nothing.
    pub stalled_w: Estimate,
    /// Share of the time that the trigger is open, above 0 and up to 1.
    pub spraying_ratio: f64,
}

impl Duty {
    /// Mean power over time, W.
    ///
    /// *Errors*: a spraying power that is not above zero, a stalled power below zero, a share that is
    /// zero or above one.
    pub fn mean_w(&self) -> Result<Estimate, EnergyError> {
        let share = self.spraying_ratio;
        if !(share > 0.0 && share <= 1.0) {
            return Err(EnergyError::NotAShare {
                what: "share of time spraying",
                value: share,
            });
        }
        let spraying = positive("power while spraying", self.spraying_w)?;
        if !(self.stalled_w.value.is_finite() && self.stalled_w.value >= 0.0) {
            return Err(EnergyError::NotPositive {
                what: "power while stalled",
                value: self.stalled_w.value,
            });
        }
        let mix = |[on, off]: &[f64; 2]| share * on + (1.0 - share) * off;
        propagate(&[spraying, self.stalled_w], mix).ok_or(EnergyError::NotPositive {
            what: "mean power",
            value: f64::NAN,
        })
    }
}

/// How long a charge lasts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RunTime {
    /// Time on the clock, s.
    pub elapsed_s: Bracketed,
    /// Time with the trigger open, s.
    pub spraying_s: Bracketed,
}

/// Run time of one full charge at a duty.
///
/// *Errors*: as [`Battery::usable_energy_j`] and [`Duty::mean_w`]; a mean power that cannot be told from
/// zero.
///
/// *Source*: energy over power, interval by Fieller's theorem ([`Bracketed`]).
pub fn run_time(battery: &Battery, duty: &Duty) -> Result<RunTime, EnergyError> {
    let (energy, power) = (battery.usable_energy_j()?, duty.mean_w()?);
    let elapsed_s = Bracketed::quotient(&energy, &power).ok_or(EnergyError::PowerUnknown {
        power_w: power.value,
        u_power_w: power.u_combined(),
    })?;
    let spraying_s = elapsed_s.scaled(duty.spraying_ratio);
    Ok(RunTime {
        elapsed_s,
        spraying_s,
    })
}

/// Full charges that a volume of coating takes.
///
/// *Errors*: a volume (m3) or flow (m3/s) that is not above zero; as [`run_time`].
pub fn charges_for_volume(
    volume_m3: Estimate,
    flow_m3_per_s: Estimate,
    battery: &Battery,
    duty: &Duty,
) -> Result<Bracketed, EnergyError> {
    let volume = positive("volume", volume_m3)?;
    let flow = positive("flow", flow_m3_per_s)?;
    let power = duty.mean_w()?;
    let share = duty.spraying_ratio;
    let unknown = EnergyError::PowerUnknown {
        power_w: power.value,
        u_power_w: power.u_combined(),
    };
    let needed =
        propagate(&[volume, flow, power], |[v, q, w]| v / q / share * w).ok_or(unknown.clone())?;
    Bracketed::quotient(&needed, &battery.usable_energy_j()?).ok_or(unknown)
}

fn positive(what: &'static str, estimate: Estimate) -> Result<Estimate, EnergyError> {
    if estimate.value.is_finite() && estimate.value > 0.0 && estimate.u_combined().is_finite() {
        Ok(estimate)
    } else {
        Err(EnergyError::NotPositive {
            what,
            value: estimate.value,
        })
    }
}

fn share(what: &'static str, estimate: Estimate) -> Result<Estimate, EnergyError> {
    if estimate.value > 0.0 && estimate.value <= 1.0 {
        Ok(estimate)
    } else {
        Err(EnergyError::NotAShare {
            what,
            value: estimate.value,
        })
    }
}

fn product(
    (first_name, first): (&'static str, Estimate),
    (second_name, second): (&'static str, Estimate),
) -> Result<Estimate, EnergyError> {
    let (a, b) = (positive(first_name, first)?, positive(second_name, second)?);
    propagate(&[a, b], |[a, b]| a * b).ok_or(EnergyError::NotPositive {
        what: first_name,
        value: first.value,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn battery() -> Battery {
        Battery {
            // 6 A h at 18 V.
            charge_a_s: Estimate::new(6.0 * 3600.0, 0.0, 400.0),
            mean_v: Estimate::new(18.0, 0.0, 0.3),
            usable_ratio: Estimate::new(0.9, 0.0, 0.03),
        }
    }

    fn duty(spraying_w: f64, u: f64) -> Duty {
        Duty {
            spraying_w: Estimate::new(spraying_w, u, 0.0),
            stalled_w: Estimate::exact(6.0),
            spraying_ratio: 0.5,
        }
    }

    #[test]
    fn power_is_pressure_times_flow_and_voltage_times_current() {
        // 120 bar at 0.5 L/min is 100 W.
        let hydraulic = hydraulic_power(
            Estimate::new(1.2e7, 0.0, 1.2e5),
            Estimate::new(0.5e-3 / 60.0, 0.0, 0.5e-5 / 60.0),
        )
        .unwrap();
        assert!((hydraulic.value - 100.0).abs() < 1e-9);
        assert!((hydraulic.u_common - 2f64.sqrt()).abs() < 1e-6);
        let electric = electric_power(Estimate::exact(20.0), Estimate::exact(10.0)).unwrap();
        assert_eq!(efficiency(hydraulic, electric).unwrap().value, 0.5);
    }

    #[test]
    fn run_time_is_energy_over_mean_power_with_a_lopsided_interval() {
        let time = run_time(&battery(), &duty(90.0, 9.0)).unwrap();
        let expected = 6.0 * 3600.0 * 18.0 * 0.9 / 48.0;
        assert!((time.elapsed_s.value - expected).abs() < 1e-9);
        assert!((time.spraying_s.value - 0.5 * expected).abs() < 1e-9);
        let (low, high) = (
            time.elapsed_s.interval_95.low,
            time.elapsed_s.interval_95.high,
        );
        assert!(high - expected > expected - low && low > 0.6 * expected && high < 1.5 * expected);
    }

    #[test]
    fn charges_are_the_energy_of_a_volume_over_that_of_the_battery() {
        let flow = Estimate::exact(0.5e-3 / 60.0);
        let volume = Estimate::exact(0.5e-3 / 60.0 * 3600.0);
        let charges = charges_for_volume(volume, flow, &battery(), &duty(90.0, 1.0)).unwrap();
        // An hour of spraying is two hours on the clock at 48 W.
        let expected = 2.0 * 3600.0 * 48.0 / (6.0 * 3600.0 * 18.0 * 0.9);
        assert!((charges.value - expected).abs() < 1e-9, "{charges:?}");
    }

    #[test]
    fn each_unusable_entry_is_refused_by_name() {
        #[track_caller]
        fn check<T: std::fmt::Debug>(result: Result<T, EnergyError>, message: &str) {
            assert_eq!(result.unwrap_err().to_string(), message);
        }
        let one = Estimate::exact(1.0);
        check(
            hydraulic_power(Estimate::exact(f64::NAN), one),
            "pressure is NaN; it must be a finite number above zero",
        );
        check(
            electric_power(one, Estimate::exact(-2.0)),
            "supply current is -2; it must be a finite number above zero",
        );
        check(
            efficiency(
                Estimate::new(300.0, 1.0, 0.0),
                Estimate::new(100.0, 1.0, 0.0),
            ),
            "300 W at the tap from 100 W of supply cannot be; check the units and scales of supply \
             voltage, current, pressure and flow",
        );
        check(
            run_time(&battery(), &duty(10.0, 20.0)),
            "the power used, 8.0 W with standard uncertainty 10.0 W, cannot be told from zero; record \
             longer bursts with the supply current logged",
        );
        let always = Duty {
            spraying_ratio: 1.5,
            ..duty(90.0, 1.0)
        };
        check(
            run_time(&battery(), &always),
            "share of time spraying is 1.5; it must lie between 0 and 1",
        );
        let empty = Battery {
            usable_ratio: Estimate::exact(0.0),
            ..battery()
        };
        check(
            run_time(&empty, &duty(90.0, 1.0)),
            "usable share is 0; it must lie between 0 and 1",
        );
    }
}
