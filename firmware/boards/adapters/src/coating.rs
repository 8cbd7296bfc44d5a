//! Temperature of the coating, by a sensor of the TMP102 class clamped to the line under insulation.
//!
//! Codes are sixteenths of a kelvin from 0 degrees Celsius, -55 to 128 degrees. The sensor runs by itself four times a
//! second, so a reading is one transfer.

use embedded_hal::i2c::I2c;
use tipcurve_firmware::SensorError;
use tmp1x2::marker::mode::Continuous;
use tmp1x2::{Error, SlaveAddr, Tmp1x2};

use crate::presence::Presence;

/// Address with the address pin at the supply: the default is the pressure converter's.
const ADDRESS: SlaveAddr = SlaveAddr::Alternative(false, true);

/// The sensor.
pub struct CoatingSensor<I2C: I2c> {
    chip: Tmp1x2<I2C, Continuous>,
    presence: Presence,
}

impl<I2C: I2c> CoatingSensor<I2C> {
    /// On a bus. Nothing is sent yet.
    pub fn new(i2c: I2C) -> Self {
        Self {
            chip: Tmp1x2::new(i2c, ADDRESS),
            presence: Presence::default(),
        }
    }

    /// Gives the bus back.
    pub fn destroy(self) -> I2C {
        self.chip.destroy()
    }

    /// Temperature in sixteenths of a degree Celsius.
    ///
    /// # Errors
    /// [`SensorError`].
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the driver multiplies a whole number of sixteenths by 0.0625, which is exact"
    )]
    pub fn read_code(&mut self) -> Result<i32, SensorError> {
        match self.chip.read_temperature() {
            Ok(celsius) => {
                self.presence.answered();
                Ok((celsius * 16.0) as i32)
            }
            Err(Error::I2C(error)) => Err(self.presence.fault(&error)),
        }
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
    use embedded_hal_mock::eh1::i2c::{Mock, Transaction};

    use super::*;

    fn reading(bytes: [u8; 2]) -> Transaction {
        Transaction::write_read(0x49, [0x00].to_vec(), bytes.to_vec())
    }

    /// Register values beside temperatures: the sensor's data sheet, from memory.
    #[test]
    fn every_code_returns_exactly() {
        let table = [
            ([0x7f, 0xf0], 2_047),
            ([0x19, 0x00], 400),
            ([0x00, 0x10], 1),
            ([0x00, 0x00], 0),
            ([0xff, 0xf0], -1),
            ([0xe7, 0x00], -400),
        ];
        let bus = table.map(|(bytes, _)| reading(bytes));
        let mut sensor = CoatingSensor::new(Mock::new(&bus));
        for (_, code) in table {
            assert_eq!(sensor.read_code(), Ok(code));
        }
        sensor.destroy().done();
    }

    #[test]
    fn absent_until_it_answers_and_faulty_after() {
        let silent = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);
        let bus = [
            reading([0, 0]).with_error(silent),
            reading([0x19, 0]),
            reading([0, 0]).with_error(silent),
            reading([0x19, 0]),
        ];
        let mut sensor = CoatingSensor::new(Mock::new(&bus));
        assert_eq!(sensor.read_code(), Err(SensorError::Absent));
        assert_eq!(sensor.read_code(), Ok(400));
        assert_eq!(sensor.read_code(), Err(SensorError::Bus));
        assert_eq!(sensor.read_code(), Ok(400));
        sensor.destroy().done();
    }
}
