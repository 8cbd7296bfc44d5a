//! Codes of the slow channels to series in SI.

use tipcurve_protocol::{Channel, Hello, Quantity, Slow};

use crate::recording::{SlowChannels, SlowSeries};

const QUANTITIES: [Quantity; 5] = [
    Quantity::SupplyVoltage,
    Quantity::SupplyCurrent,
    Quantity::CoatingTemperature,
    Quantity::AirTemperature,
    Quantity::AirHumidity,
];

/// Knows the scales; holds back what came before them.
#[derive(Debug, Default)]
pub(super) struct SlowDecoder {
    channels: Option<[Option<Channel>; 5]>,
    early: Vec<(f64, Slow)>,
}

impl SlowDecoder {
    /// Takes the scales of a hello, and gives what was held back its values.
    pub(super) fn scale(&mut self, hello: &Hello, into: &mut SlowChannels) {
        self.channels = Some(QUANTITIES.map(|q| hello.channel(q).copied()));
        for (t_s, slow) in std::mem::take(&mut self.early) {
            self.push(&slow, t_s, into);
        }
    }

    pub(super) fn push(&mut self, slow: &Slow, t_s: f64, into: &mut SlowChannels) {
        let Some(channels) = &self.channels else {
            self.early.push((t_s, *slow));
            return;
        };
        let codes = [
            slow.supply_voltage_code,
            slow.supply_current_code,
            slow.coating_temperature_code,
            slow.air_temperature_code,
            slow.air_humidity_code,
        ];
        let series: [&mut SlowSeries; 5] = [
            &mut into.supply_v,
            &mut into.supply_a,
            &mut into.material_k,
            &mut into.air_k,
            &mut into.rh_ratio,
        ];
        for ((code, channel), series) in codes.into_iter().zip(channels).zip(series) {
            if let (Some(code), Some(channel)) = (code, channel) {
                series.t_s.push(t_s);
                series.value.push(channel.value_of(code));
            }
        }
    }
}
