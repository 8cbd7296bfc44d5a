//! Timed catches and zeros to K-factor, pressure zero and span, with their uncertainty budgets.
//!
//! [`k_factor`] turns weighed, timed catches at several flows into pulses per volume against
//! pulse frequency, with the budget that says what limits it; [`pressure`] turns relieved readings before
//! and after, and readings beside a reference gauge, into zero, drift and gain; [`water`] gives
//! the density and viscosity of the liquid that a catch is best made with. No recordings here: the
//! numbers come from the person who calibrates. Checked against the outside in
//! `tests/tests/checks_apply_calibration.rs`.
//!
//! A zero reading may be a blocked port or a dead sensor. It calibrates the zero; it never proves
//! that a line is safe to open.

pub mod k_factor;
pub mod pressure;
pub mod water;

use thiserror::Error;

use crate::units::{Kelvin, Pascal};

/// Why a calibration has no result.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CalibrationError {
    /// A number that must be positive and finite is not.
    #[error(
        "{what} of {place} is {value}; it must be a finite number above zero: correct the entry or \
         leave it out"
    )]
    NotPositive {
        /// Which number.
        what: &'static str,
        /// Which entry, for example `catch 3`.
        place: String,
        /// The number.
        value: f64,
    },
    /// A standard uncertainty is negative or not finite.
    #[error("standard uncertainty of {what} of {place} is {value}; it must be zero or above")]
    BadUncertainty {
        /// Of which number.
        what: &'static str,
        /// Which entry.
        place: String,
        /// The uncertainty.
        value: f64,
    },
    /// The density cannot be that of a coating or of water.
    #[error(
        "density {density_kg_per_m3} kg/m3 is outside {low} to {high} kg/m3; check the unit (1.2 g/mL \
         is 1200 kg/m3)"
    )]
    Density {
        /// Density as given.
        density_kg_per_m3: f64,
        /// Lowest accepted.
        low: f64,
        /// Highest accepted.
        high: f64,
    },
    /// A catch has too few pulses for a K-factor.
    #[error("{place} has {n_edges} pulses, {needed} are needed; catch for longer")]
    TooFewEdges {
        /// Which catch.
        place: String,
        /// Pulses counted.
        n_edges: u32,
        /// Pulses needed.
        needed: u32,
    },
    /// No entries at all.
    #[error("no {what} was given; at least one is needed")]
    Nothing {
        /// What is missing.
        what: &'static str,
    },
    /// A pulse frequency at which no K-factor can be given.
    #[error("pulse frequency {frequency_hz} Hz is not a finite number above zero")]
    Frequency {
        /// The frequency.
        frequency_hz: f64,
    },
    /// The fitted K-factor is not positive at a frequency: slip would stop the meter.
    #[error(
        "the fitted K-factor is not above zero at {frequency_hz} Hz; calibrate nearer to that flow"
    )]
    NoFlow {
        /// The frequency.
        frequency_hz: f64,
    },
    /// A reading that must be finite is not.
    #[error("{what} of {place} is {value}; it must be a finite number")]
    NotFinite {
        /// Which number.
        what: &'static str,
        /// Which entry.
        place: String,
        /// The number.
        value: f64,
    },
    /// No span point lies far enough above zero to fix the gain.
    #[error(
        "the highest reference pressure, {:.1} bar, is below a tenth of the full scale \
         {:.0} bar; compare with the reference gauge at a working pressure",
        Pascal(*highest_pa).as_bar(), Pascal(*full_scale_pa).as_bar()
    )]
    SpanTooLow {
        /// Highest reference pressure.
        highest_pa: f64,
        /// Full scale of the transducer.
        full_scale_pa: f64,
    },
    /// The water formula does not hold at this temperature.
    #[error(
        "water at {:.1} degrees Celsius is outside {:.0} to {:.0} where the formula holds",
        Kelvin(*temperature_k).as_celsius(), Kelvin(*low_k).as_celsius(), Kelvin(*high_k).as_celsius()
    )]
    WaterTemperature {
        /// Temperature as given.
        temperature_k: f64,
        /// Lowest.
        low_k: f64,
        /// Highest.
        high_k: f64,
    },
}

/// The number when it is finite and above zero.
fn positive(what: &'static str, place: &str, value: f64) -> Result<f64, CalibrationError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(CalibrationError::NotPositive {
            what,
            place: place.to_owned(),
            value,
        })
    }
}

/// The uncertainty when it is finite and not negative.
fn uncertainty(what: &'static str, place: &str, value: f64) -> Result<f64, CalibrationError> {
    if value.is_finite() && value >= 0.0 {
        Ok(value)
    } else {
        Err(CalibrationError::BadUncertainty {
            what,
            place: place.to_owned(),
            value,
        })
    }
}
