//! The few traits through which the core sees the world. No chip names: adapters live with the
//! boards, and the simulated rig implements the same traits.

use tipcurve_protocol::Quantity;

/// Why a sensor gave no reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SensorError {
    /// The transfer failed: no acknowledge, lost arbitration, bad checksum, a bus held low.
    Bus,
    /// The sensor answered that no new value is there yet.
    NotReady,
    /// The device has no such sensor.
    Absent,
}

/// The pressure transducer's converter.
pub trait PressureSensor {
    /// The latest code. Must not wait for a conversion: at most one transfer on the bus.
    ///
    /// # Errors
    /// [`SensorError`]; the sample is then missing and counted, and sampling goes on.
    fn read_code(&mut self) -> Result<i32, SensorError>;
}

/// Everything that is read a few times a second.
pub trait SlowSensors {
    /// The code of one quantity of the channel table, scaled as declared there.
    ///
    /// # Errors
    /// [`SensorError`]; the reading is then left out and counted, and is tried again when next due.
    fn read_code(&mut self, quantity: Quantity) -> Result<i32, SensorError>;
}
