//! Counts what arrives and what does not, from the same bytes that go into the log.

use std::collections::VecDeque;

use tipcurve_protocol::sequence::{Run, Tracker};
use tipcurve_protocol::{Event, Hello, Message, Reader};

/// Rates are over this long.
const RATE_S: f64 = 5.0;

/// Counts of one stream.
#[derive(Debug)]
pub struct Tally {
    reader: Reader,
    samples: Tracker,
    edges: Tracker,
    boot_id: Option<u32>,
    hello: Option<Hello>,
    refused: Option<String>,
    valid_at_s: Option<f64>,
    /// Steady time, samples and bytes so far.
    marks: VecDeque<(f64, u64, u64)>,
    ticks: Vec<u64>,
}

impl Default for Tally {
    fn default() -> Self {
        Self {
            reader: Reader::new(),
            samples: Tracker::new(),
            edges: Tracker::new(),
            boot_id: None,
            hello: None,
            refused: None,
            valid_at_s: None,
            marks: VecDeque::new(),
            ticks: Vec::new(),
        }
    }
}

/// What the stream has shown so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Samples received.
    pub samples: u64,
    /// Samples known to be lost.
    pub samples_lost: u64,
    /// Flow edges known to be lost.
    pub edges_lost: u64,
    /// Damaged stretches.
    pub damaged: u64,
    /// Frames of a newer version or an unknown kind.
    pub unknown: u64,
    /// Whole frames that were understood.
    pub messages: u64,
    /// Bytes.
    pub bytes: u64,
    /// Starts of the device after the first.
    pub restarts: u64,
}

impl Tally {
    /// Takes bytes that arrived at a steady time, s.
    pub fn feed(&mut self, bytes: &[u8], now_s: f64) {
        let mut reader = std::mem::take(&mut self.reader);
        let mut input = bytes;
        while let Some(event) = reader.next(&mut input) {
            match event {
                Event::Message(message) => {
                    self.valid_at_s = Some(now_s);
                    self.count(&message);
                }
                Event::Unknown { .. } => self.valid_at_s = Some(now_s),
                Event::Refused(refusal) => self.refused = Some(refusal.to_string()),
                Event::Damaged(_) => {}
            }
        }
        self.reader = reader;
        let counts = self.counts();
        self.marks.push_back((now_s, counts.samples, counts.bytes));
        while self.marks.len() > 2 && self.marks[1].0 < now_s - RATE_S {
            self.marks.pop_front();
        }
    }

    /// The counts.
    #[must_use]
    pub fn counts(&self) -> Counts {
        let stream = self.reader.counts();
        let samples = self.samples.totals();
        Counts {
            samples: samples.received,
            samples_lost: samples.lost,
            edges_lost: self.edges.totals().lost,
            damaged: stream.damaged,
            unknown: stream.unknown,
            messages: stream.messages,
            bytes: stream.bytes,
            restarts: samples.restarts,
        }
    }

    /// Samples and bytes a second over the last seconds before a steady time, s.
    #[must_use]
    pub fn rates(&self, now_s: f64) -> (f64, f64) {
        let Some((from_s, samples, bytes)) = self.marks.front().copied() else {
            return (0.0, 0.0);
        };
        let counts = self.counts();
        let over_s = now_s - from_s;
        if over_s <= 0.5 {
            return (0.0, 0.0);
        }
        (
            per_second(counts.samples - samples, over_s),
            per_second(counts.bytes - bytes, over_s),
        )
    }

    /// The logger's latest hello.
    #[must_use]
    pub const fn hello(&self) -> Option<&Hello> {
        self.hello.as_ref()
    }

    /// Why frames were refused: the logger speaks another major version.
    #[must_use]
    pub fn refused(&self) -> Option<&str> {
        self.refused.as_deref()
    }

    /// Steady time of the newest frame that was whole.
    #[must_use]
    pub const fn valid_at_s(&self) -> Option<f64> {
        self.valid_at_s
    }

    fn count(&mut self, message: &Message<'_>) {
        match message {
            Message::Hello(hello) => {
                self.note_boot(hello.boot_id);
                self.hello = Some(hello.clone());
            }
            Message::Health(health) => {
                self.note_boot(health.boot_id);
                self.samples
                    .observe_sent(health.sent_samples, health.device_ticks);
                self.edges
                    .observe_sent(health.sent_edges, health.device_ticks);
            }
            Message::Samples(samples) => {
                self.samples.observe(Run {
                    first: samples.first_sample,
                    count: u32::try_from(samples.block.len()).unwrap_or(u32::MAX),
                    start_ticks: samples.base_ticks,
                    end_ticks: samples.end_ticks(),
                });
            }
            Message::Edges(edges) => {
                self.ticks.clear();
                self.ticks.resize(edges.len(), 0);
                if edges.decode(&mut self.ticks).is_ok()
                    && let (Some(first), Some(last)) = (self.ticks.first(), self.ticks.last())
                {
                    self.edges.observe(Run {
                        first: edges.first_edge,
                        count: u32::try_from(edges.len()).unwrap_or(u32::MAX),
                        start_ticks: *first,
                        end_ticks: *last,
                    });
                }
            }
            _ => {}
        }
    }

    fn note_boot(&mut self, boot_id: u32) {
        if self.boot_id.is_some_and(|known| known != boot_id) {
            self.samples.restart();
            self.edges.restart();
        }
        self.boot_id = Some(boot_id);
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "counts of a few seconds are small"
)]
fn per_second(count: u64, over_s: f64) -> f64 {
    count as f64 / over_s
}

#[cfg(test)]
mod tests {
    use super::*;
    use tipcurve_firmware::{App, Config, PressureSensor, SensorError, SlowSensors};
    use tipcurve_protocol::Quantity;

    struct Still;

    impl PressureSensor for Still {
        fn read_code(&mut self) -> Result<i32, SensorError> {
            Ok(100)
        }
    }

    impl SlowSensors for Still {
        fn read_code(&mut self, _: Quantity) -> Result<i32, SensorError> {
            Err(SensorError::Absent)
        }
    }

    /// Frames of `seconds` at 500 Hz with 20 edges a second, each frame by itself.
    fn frames(boot_id: u32, seconds: u64) -> Vec<Vec<u8>> {
        let mut app = App::new(Config {
            device_id: 7,
            boot_id,
            ..Config::default()
        });
        let mut sent = Vec::new();
        for now in (0..seconds * 1_000_000).step_by(2_000) {
            if now % 50_000 == 0 {
                app.on_edge(now);
            }
            app.on_sample_tick(now, &mut Still);
            app.poll(now, &mut Still);
            loop {
                let bytes = app.next_bytes(now).to_vec();
                if bytes.is_empty() {
                    break;
                }
                app.sent(bytes.len());
                sent.push(bytes);
            }
        }
        sent
    }

    #[test]
    fn what_was_left_out_on_the_way_is_counted() {
        let mut all = Tally::default();
        let mut some = Tally::default();
        for (k, frame) in frames(1, 10).iter().enumerate() {
            all.feed(frame, 1.0);
            if !(60..75).contains(&k) {
                some.feed(frame, 1.0);
            }
        }
        assert_eq!(all.counts().samples_lost, 0);
        let counts = some.counts();
        assert!(counts.samples_lost > 0, "{counts:?}");
        assert_eq!(counts.samples + counts.samples_lost, all.counts().samples);
    }

    #[test]
    fn a_restart_is_no_loss_and_garbage_is_damage() {
        let mut tally = Tally::default();
        for frame in frames(1, 3) {
            tally.feed(&frame, 1.0);
        }
        tally.feed(&[0x55; 400], 2.0);
        tally.feed(&[0], 2.0);
        for frame in frames(2, 3) {
            tally.feed(&frame, 3.0);
        }
        let counts = tally.counts();
        assert_eq!((counts.restarts, counts.samples_lost), (1, 0));
        assert_eq!(counts.damaged, 1);
        assert_eq!(tally.valid_at_s(), Some(3.0));
        assert_eq!(tally.hello().unwrap().device_id, 7);
    }

    #[test]
    fn the_rate_is_that_of_the_last_seconds() {
        let mut tally = Tally::default();
        let sent = frames(1, 8);
        let step_s = 8.0 / f64::from(u32::try_from(sent.len()).unwrap());
        let mut now_s = 100.0;
        for frame in sent {
            tally.feed(&frame, now_s);
            now_s += step_s;
        }
        let (rate_hz, _) = tally.rates(now_s);
        assert!((rate_hz / 500.0 - 1.0).abs() < 0.1, "{rate_hz}");
        assert_eq!(Tally::default().rates(1.0), (0.0, 0.0));
    }
}
