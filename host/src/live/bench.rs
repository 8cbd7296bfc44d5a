//! Received bytes to what the page shows: figures, trace, and the recent signal for the bursts.
//!
//! Goes in: chunks from the [`tap`](super::tap), in order, some perhaps missing. Comes out: an
//! [`Update`] whenever asked. Losses are not counted here: the recorder counts them on the whole
//! stream. No lock, thread or clock: arrival times are arguments.

mod recent;
mod timeline;

use std::collections::VecDeque;
use std::sync::Arc;

use tipcurve_protocol::{Edges, Event, Health, Hello, Message, Quantity, Reader, Samples, Slow};

pub use recent::Recent;
pub use timeline::Timeline;

use super::meter::Meter;
use super::readings::Readings;
use super::snapshot::{Figures, Update};
use super::trace::Trace;
use super::trigger::Trigger;
use crate::recording::settings::PressureSensor;

/// The pressure figure is the mean over this long: some strokes of the pump, and still quick.
const FIGURE_S: f64 = 0.25;

/// An edge may wait this long in the logger for its block to fill (`EDGE_BLOCK_TICKS` of the
/// firmware); silence is known to be silence only after it.
const EDGE_WAIT_S: f64 = 0.5;

/// How readings become quantities on the page.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Scale {
    /// Volume per pulse of the flow meter, m3; `None` when nobody gave it.
    pub pulse_volume_m3: Option<f64>,
    /// The sensor with its calibration, where one was taken over.
    pub pressure_sensor: PressureSensor,
}

/// The state of one bench.
#[derive(Debug)]
pub struct Bench {
    scale: Scale,
    readings: Arc<Readings>,
    reader: Reader,
    hello: Option<Hello>,
    boot_id: Option<u32>,
    timeline: Timeline,
    trace: Trace,
    meter: Meter,
    trigger: Trigger,
    recent: Recent,
    figures: Figures,
    /// Pressure of the last quarter of a second: logger time and Pa.
    latest: VecDeque<(f64, f64)>,
    codes: Vec<i32>,
    ticks: Vec<u64>,
    arrived_unix_s: Option<f64>,
    /// The trace knows the flow up to here.
    flow_known_to_s: Option<f64>,
}

impl Bench {
    /// A bench that has heard nothing.
    #[must_use]
    pub fn new(scale: Scale, readings: Arc<Readings>) -> Self {
        Self {
            scale,
            readings,
            reader: Reader::new(),
            hello: None,
            boot_id: None,
            timeline: Timeline::default(),
            trace: Trace::default(),
            meter: Meter::default(),
            trigger: Trigger::default(),
            recent: Recent::default(),
            figures: Figures::default(),
            latest: VecDeque::new(),
            codes: Vec::new(),
            ticks: Vec::new(),
            arrived_unix_s: None,
            flow_known_to_s: None,
        }
    }

    /// Takes bytes as they came, and the host's time of their arrival, Unix seconds.
    pub fn feed(&mut self, bytes: &[u8], arrived_unix_s: f64) {
        self.arrived_unix_s = Some(arrived_unix_s);
        let mut reader = std::mem::take(&mut self.reader);
        let mut input = bytes;
        while let Some(event) = reader.next(&mut input) {
            if let Event::Message(message) = event {
                self.take(&message, arrived_unix_s);
            }
        }
        self.reader = reader;
        self.settle();
    }

    /// What changed since the last call: figures always, the trace where it moved.
    pub fn take_update(&mut self) -> Update {
        Update {
            figures: self.figures,
            trace: self.trace.take_changes(),
            arrived_ms: self.arrived_unix_s.take().map(|s| s * 1.0e3),
            ..Update::default()
        }
    }

    /// The figures now.
    #[must_use]
    pub const fn figures(&self) -> &Figures {
        &self.figures
    }

    /// The signal since before the last open burst.
    pub const fn recent_mut(&mut self) -> &mut Recent {
        &mut self.recent
    }

    /// The line was lost: what the trigger does is not known any more. The log goes on.
    pub fn forget_trigger(&mut self) {
        self.trigger.forget();
        self.figures.trigger = self.trigger.state();
        self.figures.trigger_since_s = None;
        self.figures.pressure_pa = None;
        self.figures.flow_m3_per_s = None;
    }

    /// Host time of a logger time by the latest arrivals, Unix seconds.
    #[must_use]
    pub fn host_time_of(&self, t_s: f64) -> Option<f64> {
        self.timeline.host_time_of(t_s)
    }

    /// Logger time of a host time by the latest arrivals.
    #[must_use]
    pub fn logger_time_of(&self, unix_s: f64) -> Option<f64> {
        self.timeline.logger_time_of(unix_s)
    }

    fn take(&mut self, message: &Message<'_>, arrived_unix_s: f64) {
        match message {
            Message::Hello(hello) => {
                self.note_boot(hello.boot_id);
                self.hello = Some(hello.clone());
            }
            Message::Health(health) => self.take_health(health, arrived_unix_s),
            Message::Samples(samples) => self.take_samples(samples, arrived_unix_s),
            Message::Edges(edges) => self.take_edges(edges, arrived_unix_s),
            Message::Slow(slow) => self.take_slow(slow, arrived_unix_s),
            _ => {}
        }
    }

    /// A restart of the device begins a new stretch of the time line.
    fn note_boot(&mut self, boot_id: u32) {
        if self.boot_id.is_some_and(|known| known != boot_id) {
            self.timeline.restart();
            self.meter.restart();
            self.trigger.forget();
            self.latest.clear();
        }
        self.boot_id = Some(boot_id);
    }

    fn take_health(&mut self, health: &Health, arrived_unix_s: f64) {
        self.note_boot(health.boot_id);
        let t_s = self.timeline.observe(health.device_ticks, arrived_unix_s);
        self.meter.heard_to(t_s - EDGE_WAIT_S);
    }

    fn take_samples(&mut self, samples: &Samples<'_>, arrived_unix_s: f64) {
        let Some(channel) = self
            .hello
            .as_ref()
            .and_then(|hello| hello.channel(Quantity::Pressure))
            .copied()
        else {
            return;
        };
        self.codes.clear();
        self.codes.resize(samples.block.len(), 0);
        if samples.block.decode(&mut self.codes).is_err() {
            return;
        }
        let end_s = self.timeline.observe(samples.end_ticks(), arrived_unix_s);
        for (k, code) in self.codes.iter().enumerate() {
            let t_s = self.timeline.time_of(samples.ticks_at(k));
            let pressure_pa = self
                .scale
                .pressure_sensor
                .corrected_pa(channel.value_of(*code));
            self.trace.add_pressure(t_s, pressure_pa);
            self.recent.add_pressure(t_s, pressure_pa);
            self.latest.push_back((t_s, pressure_pa));
        }
        let timeline = &self.timeline;
        let raw = self.codes.iter().enumerate();
        let raw = raw.map(|(k, code)| {
            let t_s = timeline.time_of(samples.ticks_at(k));
            (t_s, channel.value_of(*code))
        });
        let step_pa = channel.value_of(1) - channel.value_of(0);
        self.readings.add_pressure(step_pa, raw);
        while self
            .latest
            .front()
            .is_some_and(|(t_s, _)| *t_s <= end_s - FIGURE_S)
        {
            self.latest.pop_front();
        }
        self.figures.is_saturated = self.codes.iter().any(|code| channel.is_saturated(*code));
        self.figures.t_s = self.latest.back().map(|(t_s, _)| *t_s);
        self.meter.heard_to(end_s - EDGE_WAIT_S);
    }

    fn take_edges(&mut self, edges: &Edges<'_>, arrived_unix_s: f64) {
        self.ticks.clear();
        self.ticks.resize(edges.len(), 0);
        if edges.decode(&mut self.ticks).is_err() {
            return;
        }
        let ticks = std::mem::take(&mut self.ticks);
        let timeline = &self.timeline;
        let times = ticks.iter().map(|at| timeline.time_of(*at));
        self.readings.add_edges(edges.first_edge, times);
        for at in &ticks {
            let before_s = self.meter.last_edge_s();
            let t_s = self.timeline.time_of(*at);
            self.meter.add_edge(t_s);
            self.recent.add_edge(t_s);
            self.draw_flow(before_s, t_s);
        }
        if let Some(last) = ticks.last() {
            self.timeline.observe(*last, arrived_unix_s);
        }
        self.ticks = ticks;
    }

    /// Between two edges of one run the trace shows the flow of just that interval.
    fn draw_flow(&mut self, before_s: Option<f64>, t_s: f64) {
        let (Some(before_s), Some(volume)) = (before_s, self.scale.pulse_volume_m3) else {
            return;
        };
        let interval_s = t_s - before_s;
        if interval_s > 0.0 && interval_s < 2.0 {
            // One-second smoothing keeps a fast meter's jitter from painting a band.
            let flow = self.meter.frequency_hz() * volume;
            self.trace.set_flow(before_s, t_s, flow);
        } else if interval_s >= 2.0 {
            self.trace.set_flow(before_s, t_s, 0.0);
        }
        self.flow_known_to_s = Some(t_s);
    }

    fn take_slow(&mut self, slow: &Slow, arrived_unix_s: f64) {
        let t_s = self.timeline.observe(slow.device_ticks, arrived_unix_s);
        let Some(hello) = &self.hello else { return };
        let value = |quantity, code: Option<i32>| Some(hello.channel(quantity)?.value_of(code?));
        let readings = [
            (Quantity::SupplyVoltage, slow.supply_voltage_code),
            (Quantity::SupplyCurrent, slow.supply_current_code),
            (Quantity::CoatingTemperature, slow.coating_temperature_code),
            (Quantity::AirTemperature, slow.air_temperature_code),
            (Quantity::AirHumidity, slow.air_humidity_code),
        ]
        .map(|(quantity, code)| value(quantity, code));
        let shown = &mut self.figures;
        let places = [
            &mut shown.supply_v,
            &mut shown.supply_a,
            &mut shown.material_k,
            &mut shown.air_k,
            &mut shown.rh_ratio,
        ];
        for (place, reading) in places.into_iter().zip(readings) {
            if reading.is_some() {
                *place = reading;
            }
        }
        self.recent.add_slow(t_s, readings);
    }

    /// Brings the figures up to the newest readings.
    fn settle(&mut self) {
        let Some((t_s, _)) = self.latest.back().copied() else {
            return;
        };
        #[expect(clippy::cast_precision_loss, reason = "a quarter second of samples")]
        let mean = self.latest.iter().map(|(_, pa)| pa).sum::<f64>() / self.latest.len() as f64;
        self.trigger.observe(t_s, mean, self.meter.is_running());
        let shown = &mut self.figures;
        shown.pressure_pa = Some(mean);
        shown.flow_m3_per_s = self
            .scale
            .pulse_volume_m3
            .map(|volume| volume * self.meter.frequency_hz());
        shown.edges = self.meter.count();
        shown.trigger = self.trigger.state();
        shown.trigger_since_s = self.trigger.since_s();
        shown.stalled_pa = self.trigger.stalled_pa();
        shown.sag_ratio = self.trigger.sag_ratio();
        self.close_flow(t_s);
    }

    /// Once the meter has stopped, the trace says zero up to what has been heard.
    fn close_flow(&mut self, t_s: f64) {
        let known_to_s = *self.flow_known_to_s.get_or_insert(t_s - FIGURE_S);
        let heard_to_s = t_s - EDGE_WAIT_S;
        if self.meter.is_running() || heard_to_s <= known_to_s {
            return;
        }
        if self.scale.pulse_volume_m3.is_some() {
            self.trace.set_flow(known_to_s, heard_to_s, 0.0);
        }
        self.flow_known_to_s = Some(heard_to_s);
    }
}

#[cfg(test)]
mod tests;
