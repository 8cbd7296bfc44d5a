//! Air temperature and humidity, by a sensor of the SHT4x class.
//!
//! One measurement gives both, so the second of the two quantities asked for gets the partner of the first. A
//! measurement holds the caller for 5 ms; samples are taken in an interrupt and do not notice.

use embedded_hal::delay::DelayNs;
use embedded_hal::i2c::I2c;
use sht4x::{Error, Precision, Sht4x};
use tipcurve_firmware::SensorError;

use crate::presence::Presence;

/// The sensor. Codes are its raw 16 bits.
pub struct AirSensor<I2C, D> {
    chip: Sht4x<I2C, D>,
    delay: D,
    presence: Presence,
    temperature_code: Option<i32>,
    humidity_code: Option<i32>,
}

impl<I2C: I2c, D: DelayNs> AirSensor<I2C, D> {
    /// On a bus. Nothing is sent yet.
    pub fn new(i2c: I2C, delay: D) -> Self {
        Self {
            chip: Sht4x::new(i2c),
            delay,
            presence: Presence::default(),
            temperature_code: None,
            humidity_code: None,
        }
    }

    /// Gives the bus back.
    pub fn destroy(self) -> I2C {
        self.chip.destroy()
    }

    /// Temperature: -45 to 130 degrees Celsius over 65 535 codes.
    ///
    /// # Errors
    /// [`SensorError`].
    pub fn read_temperature_code(&mut self) -> Result<i32, SensorError> {
        if self.temperature_code.is_none() {
            self.measure()?;
        }
        self.temperature_code.take().ok_or(SensorError::NotReady)
    }

    /// Humidity: -6 to 119 % over 65 535 codes.
    ///
    /// # Errors
    /// [`SensorError`].
    pub fn read_humidity_code(&mut self) -> Result<i32, SensorError> {
        if self.humidity_code.is_none() {
            self.measure()?;
        }
        self.humidity_code.take().ok_or(SensorError::NotReady)
    }

    fn measure(&mut self) -> Result<(), SensorError> {
        // 4.5 ms at medium precision, 0.02 K and 0.08 % of noise: below the sensor's own tolerance.
        match self.chip.measure_raw(Precision::Medium, &mut self.delay) {
            Ok(raw) => {
                self.presence.answered();
                self.temperature_code = Some(raw.temperature.into());
                self.humidity_code = Some(raw.humidity.into());
                Ok(())
            }
            Err(Error::I2c(error)) => Err(self.presence.fault(&error)),
            Err(_) => Err(SensorError::Bus),
        }
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
    use embedded_hal_mock::eh1::delay::NoopDelay;
    use embedded_hal_mock::eh1::i2c::{Mock, Transaction};

    use super::*;

    const ADDRESS: u8 = 0x44;

    /// The checksum of 0xbeef is 0x92 (data sheet of the sensor, from memory); that of 0x6666 is computed.
    fn measurement(check: u8) -> [Transaction; 2] {
        [
            Transaction::write(ADDRESS, [0xf6].to_vec()),
            Transaction::read(ADDRESS, [0xbe, 0xef, check, 0x66, 0x66, 0x93].to_vec()),
        ]
    }

    #[test]
    fn one_measurement_serves_both_quantities() {
        let bus = [measurement(0x92), measurement(0x92)].concat();
        let mut air = AirSensor::new(Mock::new(&bus), NoopDelay::new());
        assert_eq!(air.read_temperature_code(), Ok(0xbeef));
        assert_eq!(air.read_humidity_code(), Ok(0x6666));
        assert_eq!(air.read_humidity_code(), Ok(0x6666));
        assert_eq!(air.read_temperature_code(), Ok(0xbeef));
        air.destroy().done();
    }

    #[test]
    fn a_wrong_checksum_is_a_fault_and_a_silent_sensor_absent() {
        let silent = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);
        let mut bus = [measurement(0x92)[0].clone().with_error(silent)].to_vec();
        bus.extend(measurement(0x93));
        let mut air = AirSensor::new(Mock::new(&bus), NoopDelay::new());
        assert_eq!(air.read_temperature_code(), Err(SensorError::Absent));
        assert_eq!(air.read_temperature_code(), Err(SensorError::Bus));
        air.destroy().done();
    }
}
