//! Readings of the slow channels.

use serde::{Deserialize, Serialize};

/// Codes of the slow channels read since the last such message; the scale of each is in the hello.
///
/// A channel is absent when it was not due, when the device has no such sensor, or when reading
/// it failed; failures are counted in the health message.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Slow {
    /// Device tick of the latest reading in this message.
    pub device_ticks: u64,
    /// Temperature of the coating.
    pub coating_temperature_code: Option<i32>,
    /// Temperature of the air.
    pub air_temperature_code: Option<i32>,
    /// Relative humidity of the air.
    pub air_humidity_code: Option<i32>,
    /// Supply voltage.
    pub supply_voltage_code: Option<i32>,
    /// Supply current.
    pub supply_current_code: Option<i32>,
}
