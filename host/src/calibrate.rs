//! A guided calibration: what the person entered to a result, and the result to a file.
//!
//! [`entries`] is what terminal and page hand over, numbers as they were read and the accuracy of what
//! they were read from. [`result`] turns it into zero, gain and K-factor with the budgets of
//! `analysis::calibration`. [`file`](mod@file) writes it under a name of its own: an earlier calibration
//! is kept, never overwritten. A recording takes it over by `tipcurve new --calibration`, or by its
//! lines in `session.toml`.
//!
//! A zero that was taken calibrates the zero. It never proves that a line is safe.

pub mod entries;
pub mod file;
pub mod result;

use thiserror::Error;

use crate::analysis::calibration::CalibrationError;

/// What is shown before anything else, and must be confirmed.
pub const CAUTION: &str = "Relieve pressure at the gun and lock the trigger before you begin. A zero on \
    the screen is no proof that the line is safe: a port may be blocked or a sensor dead. Never put a hand \
    in front of the tip; an injection through the skin is a surgical emergency even if it looks like a \
    small cut.";

/// What is shown before the line is put under pressure for span and catches.
pub const PRESSURE_CAUTION: &str = "The line comes under pressure now. Never above the lowest rated \
    working pressure of pump, hose, gun, gauge and fittings. Spray only into the catch vessel, never \
    toward a person; ground the vessel where the liquid can burn; ventilate, and protect eyes and lungs.";

/// Why there is no calibration.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CalibrateError {
    /// The caution was not confirmed.
    #[error(
        "pressure must be relieved and the trigger locked before a zero is taken; confirm it, or stop \
         here; nothing was written"
    )]
    NotRelieved,
    /// Nobody signs it.
    #[error(
        "the operator's initials are 1 to 12 letters, digits, dots or dashes; nothing was written"
    )]
    Operator,
    /// Nothing to calibrate.
    #[error("neither a zero nor a catch was taken; nothing was written")]
    Nothing,
    /// A span without its zero.
    #[error("a span point needs a zero before it; take the zero first; nothing was written")]
    SpanWithoutZero,
    /// An accuracy of gauge or scales that cannot be.
    #[error("{what} is {value}; it must be above 0 and at most {most}; nothing was written")]
    Accuracy {
        /// Which.
        what: &'static str,
        /// As given.
        value: f64,
        /// The largest that is believed.
        most: f64,
    },
    /// The numbers have no result.
    #[error("{0}; nothing was written")]
    Numbers(CalibrationError),
    /// The numbers have a result that no sensor can have.
    #[error(
        "the {what} comes out as {value:.3}, and only {low} to {high} is believed; check units, full scale \
         and gauge; nothing was written"
    )]
    Unbelievable {
        /// Which.
        what: &'static str,
        /// As found.
        value: f64,
        /// Lowest.
        low: f64,
        /// Highest.
        high: f64,
    },
    /// The file could not be written.
    #[error("{path}: {reason}; nothing was written; choose another folder")]
    File {
        /// Where.
        path: String,
        /// The system's word.
        reason: String,
    },
}

impl From<CalibrationError> for CalibrateError {
    fn from(error: CalibrationError) -> Self {
        Self::Numbers(error)
    }
}
