//! What the drawn rigs of the tests share: codes of the core's own channel table, ticks, and the slow sensors.

use tipcurve_firmware::SensorError;
use tipcurve_protocol::Quantity;

/// Pascals of one code of the default channel table.
pub(super) const PA_PER_CODE: f64 = 4.0e7 / 26_400.0;

/// The slow sensors: voltage and current as given, the air and the coating of a cool day, nothing else plugged in.
pub(super) fn slow(quantity: Quantity, supply_mv: i32, supply_ma: i32) -> Result<i32, SensorError> {
    match quantity {
        Quantity::SupplyVoltage => Ok(supply_mv),
        Quantity::SupplyCurrent => Ok(supply_ma),
        Quantity::CoatingTemperature => Ok(2_130),
        Quantity::AirTemperature => Ok(1_950),
        Quantity::AirHumidity => Ok(5_500),
        _ => Err(SensorError::Absent),
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a cast from f64 stops at the ends of i32"
)]
pub(super) fn code(value: f64) -> i32 {
    value.round() as i32
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "device time is above zero and below 2^53 microseconds, 285 years"
)]
pub(super) fn ticks_of(t_s: f64) -> u64 {
    (t_s * 1.0e6).round() as u64
}

#[expect(
    clippy::cast_precision_loss,
    reason = "2^53 microseconds are 285 years"
)]
pub(super) fn seconds(ticks: u64) -> f64 {
    ticks as f64 * 1.0e-6
}
