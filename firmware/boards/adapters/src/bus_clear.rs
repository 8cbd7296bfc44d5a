//! Frees a two-wire bus whose data line is held low by a chip that was reset in the middle of a byte.
//!
//! Nine clock pulses let any chip finish its byte (I2C-bus specification UM10204, section 3.1.16 "Bus clear";
//! section number from memory). To be done before the bus is given to its peripheral, at each start.

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};

/// Half a clock period, 100 kHz.
const HALF_PERIOD_US: u32 = 5;

/// Clocks until the data line is free, at most nine times; whether it is free.
///
/// `clock` and `data` are open-drain with pull-ups.
///
/// # Errors
/// Those of the pins.
pub fn clear_bus<C, D, T, E>(clock: &mut C, data: &mut D, delay: &mut T) -> Result<bool, E>
where
    C: OutputPin<Error = E>,
    D: InputPin<Error = E>,
    T: DelayNs,
{
    for _ in 0..9 {
        if data.is_high()? {
            return Ok(true);
        }
        clock.set_low()?;
        delay.delay_us(HALF_PERIOD_US);
        clock.set_high()?;
        delay.delay_us(HALF_PERIOD_US);
    }
    data.is_high()
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use embedded_hal_mock::eh1::delay::NoopDelay;
    use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};

    use super::*;

    #[track_caller]
    fn check(data: &[State], pulses: usize, expected: bool) {
        let levels: Vec<_> = data.iter().map(|state| Transaction::get(*state)).collect();
        let pulse = [State::Low, State::High].repeat(pulses);
        let pulses: Vec<_> = pulse.into_iter().map(Transaction::set).collect();
        let mut clock = Mock::new(&pulses);
        let mut data = Mock::new(&levels);
        let is_free = clear_bus(&mut clock, &mut data, &mut NoopDelay::new());
        assert_eq!(is_free, Ok(expected));
        clock.done();
        data.done();
    }

    #[test]
    fn a_free_bus_is_left_alone() {
        check(&[State::High], 0, true);
    }

    #[test]
    fn a_held_bus_is_clocked_until_it_is_free() {
        check(&[State::Low, State::Low, State::Low, State::High], 3, true);
    }

    #[test]
    fn a_bus_that_stays_held_is_given_up() {
        check(&[State::Low; 10], 9, false);
    }
}
