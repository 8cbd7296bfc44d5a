//! What a board declares once, at its start.

use tipcurve_protocol::message::{Channel, MAX_CHANNELS, Name};
use tipcurve_protocol::{Quantity, ResetReason};

use crate::limits::{
    DEBOUNCE_TICKS, DEFAULT_SAMPLE_RATE_HZ, MAX_SAMPLE_RATE_HZ, MIN_SAMPLE_RATE_HZ,
};

/// What a board tells the core once, at its start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Config {
    /// Identifies the logger, as the chip's unique number does.
    pub device_id: u64,
    /// Must differ from one start to the next: a random number, or a count kept over resets.
    pub boot_id: u32,
    /// Why the device started.
    pub reset_reason: ResetReason,
    /// Version of the firmware.
    pub firmware: Name,
    /// The board.
    pub board: Name,
    /// Samples per second at the start.
    pub sample_rate_hz: u16,
    /// Lowest rate a command may set.
    pub min_sample_rate_hz: u16,
    /// Highest rate the converter manages.
    pub max_sample_rate_hz: u16,
    /// Edges closer than this to the one before are rejected.
    pub debounce_ticks: u32,
    /// What is fitted, with its scale. Channels with an interval are read as slow channels.
    pub channels: heapless::Vec<Channel, MAX_CHANNELS>,
    /// Whether samples are taken from the start, without a command.
    pub is_running: bool,
}

impl Default for Config {
    /// A complete logger without an identity, sampling at once: 400 bar full scale on 26 400 codes,
    /// temperatures in hundredths of a kelvin, humidity in hundredths of a percent, millivolts and
    /// milliamperes.
    fn default() -> Self {
        let slow = |quantity, scale_nano, interval_ticks| Channel {
            quantity,
            scale_nano,
            offset_nano: 0,
            min_code: i32::MIN,
            max_code: i32::MAX,
            interval_ticks,
        };
        let celsius = |quantity| Channel {
            offset_nano: 273_150_000_000,
            ..slow(quantity, 10_000_000, 1_000_000)
        };
        let channels = [
            Channel {
                // 400 bar = 4e7 Pa over 26 400 codes.
                scale_nano: 1_515_151_515_152,
                min_code: -32_768,
                max_code: 32_767,
                ..slow(Quantity::Pressure, 0, 0)
            },
            slow(Quantity::FlowEdges, 1_000_000_000, 0),
            celsius(Quantity::CoatingTemperature),
            celsius(Quantity::AirTemperature),
            slow(Quantity::AirHumidity, 100_000, 1_000_000),
            slow(Quantity::SupplyVoltage, 1_000_000, 200_000),
            slow(Quantity::SupplyCurrent, 1_000_000, 200_000),
        ];
        Self {
            device_id: 0,
            boot_id: 0,
            reset_reason: ResetReason::NotKnown,
            firmware: name_of(env!("CARGO_PKG_VERSION")),
            board: name_of("none"),
            sample_rate_hz: DEFAULT_SAMPLE_RATE_HZ,
            min_sample_rate_hz: MIN_SAMPLE_RATE_HZ,
            max_sample_rate_hz: MAX_SAMPLE_RATE_HZ,
            debounce_ticks: DEBOUNCE_TICKS,
            channels: heapless::Vec::from_array(channels),
            is_running: true,
        }
    }
}

/// As much of a name as fits.
fn name_of(text: &str) -> Name {
    let mut name = Name::new();
    for letter in text.chars() {
        if name.push(letter).is_err() {
            break;
        }
    }
    name
}
