//! Supply voltage and current of the rig, by a monitor of the INA226 class with a shunt.
//!
//! Codes are the chip's raw registers: 1.25 mV and 2.5 microvolt over the shunt a code, averaged over 16
//! conversions of 1.1 ms. The calibration register is not used: the channel table declares the shunt.

use embedded_hal::i2c::I2c;
use ina226::{AVG, Config, INA226, MODE, VBUSCT, VSHCT};
use tipcurve_firmware::SensorError;

use crate::presence::Presence;

/// Bus address with both address pins at ground.
const ADDRESS: u8 = 0x40;

/// The monitor.
pub struct SupplyMonitor<I2C> {
    chip: INA226<I2C>,
    is_set_up: bool,
    presence: Presence,
}

impl<I2C: I2c> SupplyMonitor<I2C> {
    /// On a bus. Nothing is sent yet.
    pub fn new(i2c: I2C) -> Self {
        Self {
            chip: INA226::new(i2c, ADDRESS),
            is_set_up: false,
            presence: Presence::default(),
        }
    }

    /// Gives the bus back.
    pub fn destroy(self) -> I2C {
        self.chip.destroy()
    }

    /// Voltage at the rig, in codes of 1.25 mV.
    ///
    /// # Errors
    /// [`SensorError`].
    pub fn read_voltage_code(&mut self) -> Result<i32, SensorError> {
        self.set_up()?;
        let read = self.chip.bus_voltage_raw();
        self.note(read)
    }

    /// Voltage over the shunt, in codes of 2.5 microvolt; negative while the battery is charged.
    ///
    /// # Errors
    /// [`SensorError`].
    pub fn read_current_code(&mut self) -> Result<i32, SensorError> {
        self.set_up()?;
        let read = self.chip.shunt_voltage_raw();
        self.note(read)
    }

    fn set_up(&mut self) -> Result<(), SensorError> {
        if self.is_set_up {
            return Ok(());
        }
        let done = self.chip.set_configuration(&Config {
            avg: AVG::_16,
            vbusct: VBUSCT::_1100us,
            vshct: VSHCT::_1100us,
            mode: MODE::ShuntBusVoltageContinuous,
        });
        self.note(done.map(|()| 0_u16))?;
        self.is_set_up = true;
        // The chip answers with the conversion before its set-up for up to 35 ms.
        Err(SensorError::NotReady)
    }

    fn note<T: Into<i32>>(&mut self, read: Result<T, I2C::Error>) -> Result<i32, SensorError> {
        match read {
            Ok(code) => {
                self.presence.answered();
                Ok(code.into())
            }
            Err(error) => {
                self.is_set_up = false;
                Err(self.presence.fault(&error))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
    use embedded_hal_mock::eh1::i2c::{Mock, Transaction};

    use super::*;

    /// Configuration 0x4527: reset value 0x4127 (data sheet, from memory) with averaging 010 in bits 11..9.
    fn set_up() -> Transaction {
        Transaction::write(ADDRESS, [0x00, 0x45, 0x27].to_vec())
    }

    fn register(number: u8, value: [u8; 2]) -> [Transaction; 2] {
        [
            Transaction::write(ADDRESS, [number].to_vec()),
            Transaction::read(ADDRESS, value.to_vec()),
        ]
    }

    fn no_answer() -> ErrorKind {
        ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address)
    }

    #[test]
    fn voltage_and_current_are_the_raw_registers() {
        let mut bus = [set_up()].to_vec();
        bus.extend(register(2, [0x39, 0x80]));
        bus.extend(register(1, [0xff, 0x38]));
        let mut monitor = SupplyMonitor::new(Mock::new(&bus));
        assert_eq!(monitor.read_voltage_code(), Err(SensorError::NotReady));
        assert_eq!(monitor.read_voltage_code(), Ok(14_720));
        assert_eq!(monitor.read_current_code(), Ok(-200));
        monitor.destroy().done();
    }

    #[test]
    fn absent_at_first_faulty_later_and_set_up_again() {
        let mut bus = [set_up().with_error(no_answer()), set_up()].to_vec();
        bus.push(register(2, [0, 0])[0].clone().with_error(no_answer()));
        bus.push(set_up());
        bus.extend(register(1, [0, 3]));
        let mut monitor = SupplyMonitor::new(Mock::new(&bus));
        assert_eq!(monitor.read_voltage_code(), Err(SensorError::Absent));
        assert_eq!(monitor.read_voltage_code(), Err(SensorError::NotReady));
        assert_eq!(monitor.read_voltage_code(), Err(SensorError::Bus));
        assert_eq!(monitor.read_current_code(), Err(SensorError::NotReady));
        assert_eq!(monitor.read_current_code(), Ok(3));
        monitor.destroy().done();
    }
}
