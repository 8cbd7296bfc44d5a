//! What the parts of `hardware/README.md` give, as scales. The only place that knows shunt, range and divider.

use tipcurve_firmware::Config;
use tipcurve_protocol::Quantity;
use tipcurve_protocol::message::{Channel, MAX_CHANNELS};

/// Nano-pascal a code: a transducer of 0.5 V to 4.5 V for 0 to 400 bar, halved by the divider of the input
/// to 0.25 V to 2.25 V, on a converter of 0.125 mV a code: 16 000 codes for 400 bar.
pub const PRESSURE_SCALE_NANO: i64 = 2_500_000_000_000;

/// Nano-pascal at code 0: 0.25 V, 2000 codes, below zero pressure.
pub const PRESSURE_OFFSET_NANO: i64 = -2_000 * PRESSURE_SCALE_NANO;

/// Shunt of the supply monitor, microohm.
pub const SHUNT_MICROOHM: i64 = 2_000;

/// The channel table of a complete logger.
///
/// A code at either end of the pressure range is saturated: below 0.1 V the transducer or its cable is
/// broken, and above 2.4 V it is past its full scale.
#[must_use]
pub fn table() -> heapless::Vec<Channel, MAX_CHANNELS> {
    let mut channels = Config::default().channels;
    for channel in &mut channels {
        let (scale_nano, offset_nano) = match channel.quantity {
            Quantity::Pressure => (PRESSURE_SCALE_NANO, PRESSURE_OFFSET_NANO),
            // Sixteenths of a kelvin from 0 degrees Celsius.
            Quantity::CoatingTemperature => (62_500_000, 273_150_000_000),
            // -45 degrees Celsius, 175 K over 65 535 codes.
            Quantity::AirTemperature => (2_670_329, 228_150_000_000),
            // -6 %, 125 % over 65 535 codes.
            Quantity::AirHumidity => (19_074, -60_000_000),
            Quantity::SupplyVoltage => (1_250_000, 0),
            // 2.5 microvolt over the shunt.
            Quantity::SupplyCurrent => (2_500_000_000 / SHUNT_MICROOHM, 0),
            Quantity::FlowEdges | Quantity::Other(_) => continue,
        };
        channel.scale_nano = scale_nano;
        channel.offset_nano = offset_nano;
        if channel.quantity == Quantity::Pressure {
            (channel.min_code, channel.max_code) = (800, 19_200);
        }
    }
    channels
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(quantity: Quantity, code: i32, expected: f64) {
        let channels = table();
        let channel = channels.iter().find(|channel| channel.quantity == quantity);
        let value = channel.expect("it is in the table").value_of(code);
        assert!(
            (value - expected).abs() < 1e-4 * expected.abs() + 1e-6,
            "{value} for {expected}"
        );
    }

    /// Values by the formulas of the parts' data sheets (from memory), worked by hand.
    #[test]
    fn codes_are_what_the_parts_mean() {
        check(Quantity::Pressure, 2_000, 0.0);
        check(Quantity::Pressure, 18_000, 400e5);
        check(Quantity::Pressure, 10_000, 200e5);
        check(Quantity::CoatingTemperature, 400, 298.15);
        check(Quantity::AirTemperature, 0, 228.15);
        check(Quantity::AirTemperature, 65_535, 403.15);
        check(Quantity::AirHumidity, 0, -0.06);
        check(Quantity::AirHumidity, 65_535, 1.19);
        check(Quantity::SupplyVoltage, 14_720, 18.4);
        check(Quantity::SupplyCurrent, 20_000, 25.0);
    }
}
