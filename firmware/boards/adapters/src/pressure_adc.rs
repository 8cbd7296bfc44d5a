//! The pressure transducer on a 16-bit converter of the ADS1115 class, running freely.
//!
//! A reading is one transfer of the latest conversion (four bytes and a pointer, 0.13 ms at 400 kHz); it never
//! waits. The converter works at 860 conversions a second, so the board declares at most
//! [`MAX_RATE_HZ`].

use ads1x1x::ModeChangeError;
use ads1x1x::{Ads1x1x, DataRate16Bit, FullScaleRange, TargetAddr, ic, mode};
use embedded_hal::i2c::I2c;
use tipcurve_firmware::{PressureSensor, SensorError};

use crate::presence::Presence;

/// Highest sample rate: 860 conversions a second less the 10 % by which the converter's clock may be
/// slow (its data sheet), so that no conversion is read twice.
pub const MAX_RATE_HZ: u16 = 750;

type Adc<I2C, MODE> = Ads1x1x<I2C, ic::Ads1115, ic::Resolution16Bit, MODE>;

enum State<I2C> {
    ToSetUp(Adc<I2C, mode::OneShot>),
    Running(Adc<I2C, mode::Continuous>),
    /// Only while a reading is under way.
    Taken,
}

/// The converter's input 0 against input 1, +-4.096 V full scale.
pub struct PressureAdc<I2C> {
    state: State<I2C>,
    presence: Presence,
}

impl<I2C: I2c> PressureAdc<I2C> {
    /// On a bus, at the address with its address pin at ground. Nothing is sent yet.
    pub fn new(i2c: I2C) -> Self {
        let adc = Ads1x1x::new_ads1115(i2c, TargetAddr::default());
        Self {
            state: State::ToSetUp(adc),
            presence: Presence::default(),
        }
    }

    /// Gives the bus back.
    pub fn destroy(self) -> Option<I2C> {
        match self.state {
            State::ToSetUp(adc) => Some(adc.destroy_ads1115()),
            State::Running(adc) => Some(adc.destroy_ads1115()),
            State::Taken => None,
        }
    }

    /// Range, rate and free running. Three transfers.
    fn set_up(&mut self, mut adc: Adc<I2C, mode::OneShot>) -> Result<(), SensorError> {
        let done = adc
            .set_full_scale_range(FullScaleRange::Within4_096V)
            .and_then(|()| adc.set_data_rate(DataRate16Bit::Sps860));
        if let Err(error) = done {
            self.state = State::ToSetUp(adc);
            return Err(self.fault(&error));
        }
        match adc.into_continuous() {
            Ok(adc) => {
                self.state = State::Running(adc);
                self.presence.answered();
                // The first conversion is not there yet.
                Err(SensorError::NotReady)
            }
            Err(ModeChangeError::I2C(error, adc)) => {
                self.state = State::ToSetUp(adc);
                Err(self.presence.fault(&error))
            }
        }
    }

    fn fault(&self, error: &ads1x1x::Error<I2C::Error>) -> SensorError {
        match error {
            ads1x1x::Error::I2C(error) => self.presence.fault(error),
            ads1x1x::Error::InvalidInputData => SensorError::Bus,
        }
    }
}

impl<I2C: I2c> PressureSensor for PressureAdc<I2C> {
    fn read_code(&mut self) -> Result<i32, SensorError> {
        match core::mem::replace(&mut self.state, State::Taken) {
            State::Running(mut adc) => match adc.read() {
                Ok(code) => {
                    self.state = State::Running(adc);
                    Ok(code.into())
                }
                Err(error) => {
                    let fresh = Ads1x1x::new_ads1115(adc.destroy_ads1115(), TargetAddr::default());
                    self.state = State::ToSetUp(fresh);
                    Err(self.fault(&error))
                }
            },
            State::ToSetUp(adc) => self.set_up(adc).map(|()| 0),
            State::Taken => Err(SensorError::Bus),
        }
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
    use embedded_hal_mock::eh1::i2c::{Mock, Transaction};

    use super::*;

    const ADDRESS: u8 = 0x48;

    /// Configuration register: data sheet table of the config register, from memory. High byte: bit 7 start,
    /// 6..4 input (000: 0 against 1), 3..1 range (001: 4.096 V), 0 single-shot. Low byte: 7..5 rate (111: 860/s),
    /// 1..0 comparator off (11).
    fn set_up() -> Vec<Transaction> {
        [
            [0x01, 0b1000_0011, 0b1000_0011],
            [0x01, 0b1000_0011, 0b1110_0011],
            [0x01, 0b1000_0010, 0b1110_0011],
        ]
        .map(|bytes: [u8; 3]| Transaction::write(ADDRESS, bytes.to_vec()))
        .to_vec()
    }

    fn reading(bytes: [u8; 2]) -> Transaction {
        Transaction::write_read(ADDRESS, [0x00].to_vec(), bytes.to_vec())
    }

    fn no_answer() -> ErrorKind {
        ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address)
    }

    #[track_caller]
    fn check(transactions: &[Transaction], expected: &[Result<i32, SensorError>]) {
        let mut adc = PressureAdc::new(Mock::new(transactions));
        let codes: Vec<_> = expected.iter().map(|_| adc.read_code()).collect();
        adc.destroy().expect("it is idle").done();
        assert_eq!(codes, expected);
    }

    #[test]
    fn it_is_set_up_once_and_then_read_in_one_transfer_each() {
        let mut bus = set_up();
        bus.extend([
            reading([0x12, 0x34]),
            reading([0xff, 0xfe]),
            reading([0x7f, 0xff]),
        ]);
        let ready = [Ok(0x1234), Ok(-2), Ok(32_767)];
        check(&bus, &[&[Err(SensorError::NotReady)], &ready[..]].concat());
    }

    #[test]
    fn one_that_never_answered_is_absent_and_asked_again() {
        let silent = set_up()[0].clone().with_error(no_answer());
        let absent = Err(SensorError::Absent);
        check(&[silent.clone(), silent], &[absent, absent]);
    }

    #[test]
    fn after_a_fault_it_is_set_up_again() {
        let mut bus = set_up();
        bus.push(reading([0, 9]));
        bus.push(reading([0, 0]).with_error(no_answer()));
        bus.extend(set_up());
        bus.push(reading([0, 10]));
        let (busy, fault) = (Err(SensorError::NotReady), Err(SensorError::Bus));
        check(&bus, &[busy, Ok(9), fault, busy, Ok(10)]);
    }

    #[test]
    fn a_held_bus_is_a_fault_even_before_the_first_answer() {
        let held = set_up()[0].clone().with_error(ErrorKind::ArbitrationLoss);
        check(&[held], &[Err(SensorError::Bus)]);
    }
}
