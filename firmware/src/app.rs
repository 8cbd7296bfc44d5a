//! One step that joins the parts. No loop, sleep or interrupt.

mod config;
mod outgoing;

use embedded_io::{Write, WriteReady};
use tipcurve_protocol::{Event, Mark, Message, Quantity, Reader, Slow};

pub use config::Config;

use crate::commands::{self, Answer, RateLimits, State};
use crate::edges::{EdgeQueue, EdgeRecorder};
use crate::limits::{
    ANSWER_QUEUE, BUTTON_TICKS, COMMAND_FRAME_BYTES, MARK_QUEUE, SLOW_QUEUE, WATCHDOG_PERIODS,
    period_ticks,
};
use crate::queue::BoundedQueue;
use crate::sampler::{SampleQueue, Sampler};
use crate::sender::Sender;
use crate::sensor::{PressureSensor, SensorError, SlowSensors};
use crate::slow::SlowChannels;

/// The logger: everything between its sensors and its serial line.
#[derive(Debug)]
pub struct App {
    config: Config,
    state: State,
    sampler: Sampler,
    samples: SampleQueue,
    edges: EdgeRecorder,
    edge_blocks: EdgeQueue,
    slow: SlowChannels,
    slow_reports: BoundedQueue<Slow, SLOW_QUEUE>,
    marks: BoundedQueue<Mark, MARK_QUEUE>,
    answers: BoundedQueue<Pending, ANSWER_QUEUE>,
    commands: Reader<COMMAND_FRAME_BYTES>,
    sender: Sender,
    progress: Progress,
    counts: Counts,
}

/// An answer and when its question was complete.
#[derive(Clone, Copy, Debug)]
struct Pending {
    answer: Answer,
    received_ticks: u64,
}

/// What was sent, and what is due to be.
#[derive(Debug, Default)]
struct Progress {
    hello_due_ticks: u64,
    health_due_ticks: u64,
    heartbeat: u32,
    sent_samples: u32,
    sent_edges: u32,
    sent_marks: u32,
}

/// Counted here because it belongs to no part.
#[derive(Debug, Default)]
struct Counts {
    bus_errors: u32,
    saturated_samples: u32,
    stray_messages: u32,
    absent_channels: u16,
    next_mark: u32,
    last_press_ticks: Option<u64>,
}

impl App {
    /// A device at tick 0.
    ///
    /// A sample rate outside the limits is brought to the nearer limit.
    #[must_use]
    pub fn new(config: Config) -> Self {
        let lowest = config.min_sample_rate_hz.max(1);
        let sample_rate_hz = config
            .sample_rate_hz
            .clamp(lowest, config.max_sample_rate_hz.max(lowest));
        Self {
            state: State {
                is_running: config.is_running,
                sample_rate_hz,
            },
            sampler: Sampler::new(period_ticks(sample_rate_hz)),
            samples: BoundedQueue::new(),
            edges: EdgeRecorder::new(config.debounce_ticks),
            edge_blocks: BoundedQueue::new(),
            slow: SlowChannels::new(&config.channels),
            slow_reports: BoundedQueue::new(),
            marks: BoundedQueue::new(),
            answers: BoundedQueue::new(),
            commands: Reader::with_limit(),
            sender: Sender::new(),
            progress: Progress::default(),
            counts: Counts::default(),
            config,
        }
    }

    /// Ticks between two sample ticks, to which the board sets its timer. Changes when a command sets
    /// another rate.
    #[must_use]
    pub const fn period_ticks(&self) -> u32 {
        self.sampler.period_ticks()
    }

    /// Whether samples are being taken.
    #[must_use]
    pub const fn is_running(&self) -> bool {
        self.state.is_running
    }

    /// Whether sample ticks come as they should. A board feeds its watchdog only while they do.
    #[must_use]
    pub fn is_alive(&self, device_ticks: u64) -> bool {
        let allowed = u64::from(self.period_ticks()) * WATCHDOG_PERIODS;
        self.sampler.overdue_ticks(device_ticks) <= allowed
    }

    /// A tick of the sample timer: reads the pressure. Nothing happens while the device is stopped.
    ///
    /// A tick that never came is noticed at the next one and its sample counted as missed.
    pub fn on_sample_tick<P: PressureSensor>(&mut self, device_ticks: u64, pressure: &mut P) {
        if self.state.is_running {
            let reading = pressure.read_code();
            self.on_sample(device_ticks, reading);
        }
    }

    /// As [`on_sample_tick`](Self::on_sample_tick), with a reading taken elsewhere, as in the timer's
    /// interrupt.
    pub fn on_sample(&mut self, device_ticks: u64, reading: Result<i32, SensorError>) {
        if !self.state.is_running {
            return;
        }
        self.note_reading(Quantity::Pressure, reading);
        self.sampler.take(device_ticks, reading, &mut self.samples);
    }

    /// An edge of the flow meter, by its captured time.
    pub fn on_edge(&mut self, device_ticks: u64) {
        self.edges.take(device_ticks, &mut self.edge_blocks);
    }

    /// The hardware says that edges were overwritten before they could be read.
    pub fn on_over_capture(&mut self, count: u32) {
        self.edges.count_over_captures(count);
    }

    /// The button went down. Bounce of its contacts is ignored.
    pub fn on_button(&mut self, device_ticks: u64) {
        let last = self.counts.last_press_ticks.replace(device_ticks);
        if last.is_some_and(|last| device_ticks.saturating_sub(last) < BUTTON_TICKS) {
            return;
        }
        let first_mark = self.counts.next_mark;
        self.counts.next_mark = first_mark.wrapping_add(1);
        self.marks.push(&Mark {
            first_mark,
            device_ticks,
        });
    }

    /// A byte from the host.
    pub fn on_rx_byte(&mut self, device_ticks: u64, byte: u8) {
        let bytes = [byte];
        let mut input = bytes.as_slice();
        while let Some(event) = self.commands.next(&mut input) {
            // Damage is counted by the reader.
            let Event::Message(message) = event else {
                continue;
            };
            let Message::Command(command) = message else {
                self.counts.stray_messages = self.counts.stray_messages.saturating_add(1);
                continue;
            };
            let limits = RateLimits {
                min_hz: self.config.min_sample_rate_hz.max(1),
                max_hz: self.config.max_sample_rate_hz,
            };
            let (state, answer) = commands::apply(command, self.state, limits);
            self.enter(state);
            self.answers.push(&Pending {
                answer,
                received_ticks: device_ticks,
            });
        }
    }

    /// Reads at most one slow channel, if one is due, and moves on what has waited long enough.
    pub fn poll<S: SlowSensors>(&mut self, device_ticks: u64, sensors: &mut S) {
        self.edges.close_if_old(device_ticks, &mut self.edge_blocks);
        if let Some(quantity) = self.slow.next_due(device_ticks) {
            let reading = sensors.read_code(quantity);
            self.note_reading(quantity, reading);
            if let Ok(code) = reading {
                self.slow.put(quantity, code, device_ticks);
            }
        }
        if let Some(report) = self.slow.take_report(device_ticks) {
            self.slow_reports.push(&report);
        }
    }

    /// Hands over blocks that are not full yet, as before the supply goes away or at the end of a
    /// simulated run.
    pub fn flush(&mut self) {
        self.sampler.close(&mut self.samples);
        self.edges.close(&mut self.edge_blocks);
    }

    /// Sends as much as the writer takes without waiting; how many bytes that was.
    ///
    /// # Errors
    /// The writer's. Nothing is lost by it: the same bytes are offered again at the next call.
    pub fn poll_send<W: Write + WriteReady>(
        &mut self,
        device_ticks: u64,
        writer: &mut W,
    ) -> Result<usize, W::Error> {
        let mut total = 0;
        while !self.next_bytes(device_ticks).is_empty() {
            let bytes = self.sender.write(writer)?;
            if bytes == 0 {
                break;
            }
            total += bytes;
        }
        Ok(total)
    }

    /// The next bytes for the line, for a board that moves them itself; empty if there are none.
    /// Report with [`sent`](Self::sent) how many of them went out.
    pub fn next_bytes(&mut self, device_ticks: u64) -> &[u8] {
        if self.sender.pending().is_empty() {
            self.load_next(device_ticks);
        }
        self.sender.pending()
    }

    /// The first `bytes` of [`next_bytes`](Self::next_bytes) went out.
    pub fn sent(&mut self, bytes: usize) {
        self.sender.advance(bytes);
    }

    /// Takes over a state that a command asked for.
    fn enter(&mut self, state: State) {
        #[cfg(feature = "defmt")]
        defmt::info!(
            "running {=bool} at {=u16} Hz",
            state.is_running,
            state.sample_rate_hz
        );
        if state.sample_rate_hz != self.state.sample_rate_hz {
            let period = period_ticks(state.sample_rate_hz);
            self.sampler.set_period(period, &mut self.samples);
        }
        if !state.is_running {
            self.sampler.pause(&mut self.samples);
        }
        self.state = state;
    }

    /// Keeps the counters of errors, absent sensors and saturation.
    fn note_reading(&mut self, quantity: Quantity, reading: Result<i32, SensorError>) {
        let bit = 1_u16.checked_shl(u8::from(quantity).into()).unwrap_or(0);
        match reading {
            Ok(code) => {
                self.counts.absent_channels &= !bit;
                let is_saturated = quantity == Quantity::Pressure && self.is_saturated(code);
                let more = u32::from(is_saturated);
                self.counts.saturated_samples = self.counts.saturated_samples.saturating_add(more);
            }
            Err(SensorError::NotReady) => {}
            Err(SensorError::Bus) => {
                #[cfg(feature = "defmt")]
                defmt::warn!("bus error, quantity {=u8}", u8::from(quantity));
                self.counts.bus_errors = self.counts.bus_errors.saturating_add(1);
                self.counts.absent_channels |= bit;
            }
            Err(SensorError::Absent) => self.counts.absent_channels |= bit,
        }
    }

    fn is_saturated(&self, code: i32) -> bool {
        let mut channels = self.config.channels.iter();
        channels
            .find(|channel| channel.quantity == Quantity::Pressure)
            .is_some_and(|channel| channel.is_saturated(code))
    }
}

#[cfg(test)]
mod tests;
