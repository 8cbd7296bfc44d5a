//! Who the device is, what it measures and how its codes are scaled.

use serde::{Deserialize, Serialize};

use super::open_code;
use crate::version::Version;

/// Most channels in one hello.
pub const MAX_CHANNELS: usize = 12;

/// Longest firmware or board name, in bytes of UTF-8.
pub const MAX_NAME_BYTES: usize = 24;

/// A short name: firmware version or board.
pub type Name = heapless::String<MAX_NAME_BYTES>;

/// Sent at the start, when asked for, and every few seconds.
///
/// Version and device stand first and keep their place in every version of the wire, so that
/// a refused device can still be named. A later minor version adds fields at the end only,
/// and a reader takes the part that it knows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hello {
    /// Newest version the device speaks.
    pub version: Version,
    /// Identifies the logger whatever port it hangs on.
    pub device_id: u64,
    /// Differs from one start of the device to the next.
    pub boot_id: u32,
    /// Version of the firmware.
    pub firmware: Name,
    /// Board that it runs on.
    pub board: Name,
    /// Pressure samples per second asked for now; the exact period is in each block.
    pub sample_rate_hz: u16,
    /// Lowest rate the device accepts.
    pub min_sample_rate_hz: u16,
    /// Highest rate the device accepts.
    pub max_sample_rate_hz: u16,
    /// Edges closer than this to the one before are rejected and counted.
    pub debounce_ticks: u32,
    /// What is measured. A quantity that is missing here is not fitted to this device.
    pub channels: heapless::Vec<Channel, MAX_CHANNELS>,
}

impl Hello {
    /// The channel that measures `quantity`.
    #[must_use]
    pub fn channel(&self, quantity: Quantity) -> Option<&Channel> {
        self.channels
            .iter()
            .find(|channel| channel.quantity == quantity)
    }
}

/// What a channel measures. The unit is fixed by the quantity.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "u8", into = "u8")]
pub enum Quantity {
    /// Gauge pressure at the tap, Pa.
    Pressure,
    /// Pulses of the flow meter, counted; one code is one edge.
    FlowEdges,
    /// Temperature of the coating, K.
    CoatingTemperature,
    /// Temperature of the air, K.
    AirTemperature,
    /// Relative humidity of the air, 0 to 1.
    AirHumidity,
    /// Supply voltage of the rig, V.
    SupplyVoltage,
    /// Supply current of the rig, A.
    SupplyCurrent,
    /// A quantity of a later version.
    Other(u8),
}

open_code!(Quantity:
    Pressure = 1,
    FlowEdges = 2,
    CoatingTemperature = 3,
    AirTemperature = 4,
    AirHumidity = 5,
    SupplyVoltage = 6,
    SupplyCurrent = 7,
);

/// One measured quantity: `value = offset + scale * code`, in the quantity's SI unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Channel {
    /// What is measured.
    pub quantity: Quantity,
    /// Nano-units per code.
    pub scale_nano: i64,
    /// Nano-units at code 0.
    pub offset_nano: i64,
    /// Lowest code the converter gives; a reading of it is saturated.
    pub min_code: i32,
    /// Highest code the converter gives; a reading of it is saturated.
    pub max_code: i32,
    /// Nominal ticks between readings; 0 for the sample rate or for events.
    pub interval_ticks: u32,
}

impl Channel {
    /// The value of a code by the declared scale, in the quantity's SI unit.
    #[must_use]
    #[expect(
        clippy::cast_precision_loss,
        reason = "2^53 nano-units are nine million units; beyond, parts in 10^16 are lost"
    )]
    pub fn value_of(&self, code: i32) -> f64 {
        (self.offset_nano as f64 + self.scale_nano as f64 * f64::from(code)) * 1e-9
    }

    /// Whether the code is at an end of the converter's range.
    #[must_use]
    pub const fn is_saturated(&self, code: i32) -> bool {
        code <= self.min_code || code >= self.max_code
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_quantity_code_returns() {
        for code in 0..=u8::MAX {
            assert_eq!(u8::from(Quantity::from(code)), code);
        }
        assert_eq!(Quantity::from(99), Quantity::Other(99));
    }

    #[test]
    fn declared_scale_gives_si_values_and_saturation() {
        let channel = Channel {
            quantity: Quantity::Pressure,
            scale_nano: 1_600_000_000_000,
            offset_nano: -1_000_000_000_000_000,
            min_code: -32_768,
            max_code: 32_767,
            interval_ticks: 0,
        };
        assert!((channel.value_of(10_000) - 15e6).abs() < 1e-6);
        assert!(channel.is_saturated(32_767) && channel.is_saturated(-32_768));
        assert!(!channel.is_saturated(32_766));
    }
}
