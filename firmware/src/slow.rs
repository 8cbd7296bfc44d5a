//! When each slow channel is due, and which readings go out together. No bus access.

use tipcurve_protocol::message::{Channel, MAX_CHANNELS};
use tipcurve_protocol::{Quantity, Slow};

use crate::limits::{SLOW_REPORT_TICKS, SLOW_STAGGER_TICKS};

#[derive(Clone, Copy, Debug)]
struct Due {
    quantity: Quantity,
    interval_ticks: u32,
    at_ticks: u64,
}

/// The timetable of the slow channels and the readings that wait to be sent.
#[derive(Debug)]
pub(crate) struct SlowChannels {
    timetable: heapless::Vec<Due, MAX_CHANNELS>,
    open: Slow,
    opened_ticks: Option<u64>,
}

impl SlowChannels {
    /// Channels with an interval of their own are slow; the first readings are staggered.
    pub(crate) fn new(channels: &[Channel]) -> Self {
        let slow = channels.iter().filter(|channel| channel.interval_ticks > 0);
        let mut timetable = heapless::Vec::new();
        for (channel, i) in slow.zip(0..) {
            // There is room for every channel that a hello can declare.
            let _ = timetable.push(Due {
                quantity: channel.quantity,
                interval_ticks: channel.interval_ticks,
                at_ticks: i * SLOW_STAGGER_TICKS,
            });
        }
        Self {
            timetable,
            open: Slow::default(),
            opened_ticks: None,
        }
    }

    /// The channel that is most overdue, if one is due. It is then due again one interval later, or,
    /// after a long pause, one interval from now.
    pub(crate) fn next_due(&mut self, device_ticks: u64) -> Option<Quantity> {
        let due = self.timetable.iter_mut().min_by_key(|due| due.at_ticks)?;
        if due.at_ticks > device_ticks {
            return None;
        }
        let interval = u64::from(due.interval_ticks);
        due.at_ticks += interval;
        if due.at_ticks <= device_ticks {
            due.at_ticks = device_ticks + interval;
        }
        Some(due.quantity)
    }

    /// Keeps a reading until its report is sent.
    pub(crate) fn put(&mut self, quantity: Quantity, code: i32, device_ticks: u64) {
        let slot = match quantity {
            Quantity::CoatingTemperature => &mut self.open.coating_temperature_code,
            Quantity::AirTemperature => &mut self.open.air_temperature_code,
            Quantity::AirHumidity => &mut self.open.air_humidity_code,
            Quantity::SupplyVoltage => &mut self.open.supply_voltage_code,
            Quantity::SupplyCurrent => &mut self.open.supply_current_code,
            Quantity::Pressure | Quantity::FlowEdges | Quantity::Other(_) => return,
        };
        *slot = Some(code);
        self.open.device_ticks = device_ticks;
        self.opened_ticks.get_or_insert(device_ticks);
    }

    /// The readings since the last report, once the first of them is old enough.
    pub(crate) fn take_report(&mut self, device_ticks: u64) -> Option<Slow> {
        let opened = self.opened_ticks?;
        if device_ticks.saturating_sub(opened) < SLOW_REPORT_TICKS {
            return None;
        }
        self.opened_ticks = None;
        Some(core::mem::take(&mut self.open))
    }
}
