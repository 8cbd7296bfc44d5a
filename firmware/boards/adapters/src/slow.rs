//! The slow sensors together, each quantity to its chip.

use embedded_hal::delay::DelayNs;
use embedded_hal::i2c::I2c;
use tipcurve_firmware::{SensorError, SlowSensors};
use tipcurve_protocol::Quantity;

use crate::air::AirSensor;
use crate::coating::CoatingSensor;
use crate::supply::SupplyMonitor;

/// All slow sensors, on devices of one bus.
pub struct SlowBus<I2C: I2c, D> {
    /// Coating temperature.
    pub coating: CoatingSensor<I2C>,
    /// Air temperature and humidity.
    pub air: AirSensor<I2C, D>,
    /// Supply voltage and current.
    pub supply: SupplyMonitor<I2C>,
}

impl<I2C: I2c, D: DelayNs> SlowSensors for SlowBus<I2C, D> {
    fn read_code(&mut self, quantity: Quantity) -> Result<i32, SensorError> {
        match quantity {
            Quantity::CoatingTemperature => self.coating.read_code(),
            Quantity::AirTemperature => self.air.read_temperature_code(),
            Quantity::AirHumidity => self.air.read_humidity_code(),
            Quantity::SupplyVoltage => self.supply.read_voltage_code(),
            Quantity::SupplyCurrent => self.supply.read_current_code(),
            Quantity::Pressure | Quantity::FlowEdges | Quantity::Other(_) => {
                Err(SensorError::Absent)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
    use embedded_hal_mock::eh1::delay::NoopDelay;
    use embedded_hal_mock::eh1::i2c::{Mock, Transaction};
    use tipcurve_firmware::{App, Config, PressureSensor};
    use tipcurve_protocol::{Event, Message, Reader};

    use super::*;
    use crate::channels;

    struct Tap;

    impl PressureSensor for Tap {
        fn read_code(&mut self) -> Result<i32, SensorError> {
            Ok(500)
        }
    }

    /// Chips that never answer cost nothing but their own readings, and the heartbeat names them.
    #[test]
    fn sampling_goes_on_without_any_slow_sensor() {
        let silent = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);
        let coating = Transaction::write_read(0x49, [0].to_vec(), [0, 0].to_vec());
        let air = Transaction::write(0x44, [0xf6].to_vec());
        let supply = Transaction::write(0x40, [0, 0x45, 0x27].to_vec());
        // In 0.9 s: the coating and each half of the air once, each half of the supply at 0.2 s distance.
        let repeat = |one: Transaction, n| std::vec![one.with_error(silent); n];
        let (mut coating, mut air, mut supply) = (
            Mock::new(&repeat(coating, 1)),
            Mock::new(&repeat(air, 2)),
            Mock::new(&repeat(supply, 10)),
        );
        let mut slow = SlowBus {
            coating: CoatingSensor::new(coating.clone()),
            air: AirSensor::new(air.clone(), NoopDelay::new()),
            supply: SupplyMonitor::new(supply.clone()),
        };
        let mut app = App::new(Config {
            channels: channels::table(),
            ..Config::default()
        });
        let (mut samples, mut absent) = (0, 0);
        let mut reader: Reader = Reader::new();
        for ms in 0..1_010 {
            let now = ms * 1_000;
            if ms % 2 == 0 && ms < 1_000 {
                app.on_sample_tick(now, &mut Tap);
            }
            if ms < 900 {
                app.poll(now, &mut slow);
            }
            let bytes = app.next_bytes(now).to_vec();
            app.sent(bytes.len());
            let mut input = bytes.as_slice();
            while let Some(event) = reader.next(&mut input) {
                match event {
                    Event::Message(Message::Samples(block)) => samples += block.block.len(),
                    Event::Message(Message::Health(health)) => absent = health.absent_channels,
                    _ => {}
                }
            }
        }
        assert_eq!(samples, 500);
        assert_eq!(absent, 0b1111_1000, "quantities 3 to 7");
        coating.done();
        air.done();
        supply.done();
    }
}
