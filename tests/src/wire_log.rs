//! Logs of a small imaginary device, frame by frame: what tests of the recording folder read.

use tipcurve_protocol::frame::{self, MAX_FRAME_BYTES};
use tipcurve_protocol::{
    Block, Channel, Edges, Health, Hello, Mark, Message, Quantity, Samples, Slow, WIRE_VERSION,
    delta,
};

/// Ticks between samples: 500 Hz.
pub const PERIOD_TICKS: u32 = 2_000;

/// Samples in one block of [`LogBuilder::block`].
pub const BLOCK: usize = 50;

/// Pascals of one pressure code of the imaginary device.
pub const PA_PER_CODE: f64 = 1_600.0;

/// Writes frames one after the other and remembers where each ends.
#[derive(Debug, Clone, Default)]
pub struct LogBuilder {
    /// The bytes so far.
    pub bytes: Vec<u8>,
    /// End of every frame.
    pub ends: Vec<usize>,
    /// Codes of every sample written, in order.
    pub codes: Vec<i32>,
    /// Number of the next sample since the start of the device.
    pub next_sample: u32,
    /// Number of the next edge since the start of the device.
    pub next_edge: u32,
    /// Device tick of the next sample.
    pub now_ticks: u64,
    /// Start of the device that is being written.
    pub boot_id: u32,
    heartbeat: u32,
}

impl LogBuilder {
    /// Nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self {
            boot_id: 1,
            ..Self::default()
        }
    }

    /// Any message.
    ///
    /// # Panics
    /// When the message does not fit a frame: the test is wrong.
    pub fn message(&mut self, message: &Message<'_>) {
        let mut buffer = [0; MAX_FRAME_BYTES];
        let bytes = frame::encode(message, &mut buffer).expect("a message fits its frame");
        self.bytes.extend_from_slice(bytes);
        self.ends.push(self.bytes.len());
    }

    /// Who the device is.
    pub fn hello(&mut self) {
        self.hello_with(PA_PER_CODE);
    }

    /// Who the device is, with another pressure scale.
    ///
    /// # Panics
    /// When there are more channels than a hello holds: the test is wrong.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "scales of tests are a few thousand pascals"
    )]
    pub fn hello_with(&mut self, pa_per_code: f64) {
        let channel = |quantity, scale_nano, offset_nano| Channel {
            quantity,
            scale_nano,
            offset_nano,
            min_code: -32_768,
            max_code: 32_767,
            interval_ticks: 0,
        };
        let channels = [
            channel(Quantity::Pressure, (pa_per_code * 1e9) as i64, 0),
            channel(Quantity::CoatingTemperature, 10_000_000, 273_150_000_000),
            channel(Quantity::SupplyVoltage, 1_000_000, 0),
        ];
        let hello = Hello {
            version: WIRE_VERSION,
            device_id: 0x7F3A,
            boot_id: self.boot_id,
            firmware: "0.1.0".try_into().expect("short"),
            board: "imagined".try_into().expect("short"),
            sample_rate_hz: 500,
            min_sample_rate_hz: 10,
            max_sample_rate_hz: 1_000,
            debounce_ticks: 500,
            channels: channels.into_iter().collect(),
        };
        self.message(&Message::Hello(hello));
    }

    /// The next [`BLOCK`] samples: a code that counts up, so that every sample is known again.
    pub fn block(&mut self) {
        let codes = self.take_codes();
        let mut planes = [0; delta::MAX_PLANE_BYTES];
        let samples = Samples {
            first_sample: self.next_sample,
            base_ticks: self.now_ticks,
            period_ticks: PERIOD_TICKS,
            block: Block::encode(&codes, &mut planes).expect("a block fits"),
        };
        self.message(&Message::Samples(samples));
        self.advance();
        self.codes.extend_from_slice(&codes);
    }

    /// A block that was sampled and never sent.
    pub fn lost_block(&mut self) {
        self.advance();
    }

    fn take_codes(&self) -> Vec<i32> {
        let first = self.next_sample.cast_signed();
        let n = i32::try_from(BLOCK).expect("small");
        (first..first + n).map(|i| i % 1_000).collect()
    }

    fn advance(&mut self) {
        let n = u32::try_from(BLOCK).expect("small");
        self.next_sample += n;
        self.now_ticks += u64::from(n * PERIOD_TICKS);
    }

    /// Edges at these ticks.
    ///
    /// # Panics
    /// When there are none: the test is wrong.
    pub fn edges(&mut self, ticks: &[u64]) {
        let step = |pair: &[u64]| {
            u32::try_from(pair[1] - pair[0])
                .expect("near")
                .cast_signed()
        };
        let steps: Vec<i32> = ticks.windows(2).map(step).collect();
        let mut planes = [0; delta::MAX_PLANE_BYTES];
        let edges = Edges {
            first_edge: self.next_edge,
            base_ticks: ticks[0],
            over_captures: 0,
            rejected: 0,
            intervals: Block::encode(&steps, &mut planes).expect("a block fits"),
        };
        self.message(&Message::Edges(edges));
        self.next_edge += u32::try_from(ticks.len()).expect("few");
    }

    /// A reading of coating temperature (hundredths of a degree Celsius) and supply (mV).
    pub fn slow(&mut self, centi_celsius: i32, millivolts: i32) {
        let slow = Slow {
            device_ticks: self.now_ticks,
            coating_temperature_code: Some(centi_celsius),
            supply_voltage_code: Some(millivolts),
            ..Slow::default()
        };
        self.message(&Message::Slow(slow));
    }

    /// A press of the button.
    pub fn mark(&mut self, first_mark: u32) {
        let device_ticks = self.now_ticks;
        self.message(&Message::Mark(Mark {
            first_mark,
            device_ticks,
        }));
    }

    /// The heartbeat, with the counts as they are now.
    pub fn health(&mut self) {
        let health = self.health_now();
        self.message(&Message::Health(health));
        self.heartbeat += 1;
    }

    /// What a heartbeat says now, to be changed by a test.
    #[must_use]
    pub fn health_now(&self) -> Health {
        Health {
            device_ticks: self.now_ticks,
            boot_id: self.boot_id,
            heartbeat: self.heartbeat,
            is_running: true,
            sent_samples: self.next_sample,
            sent_edges: self.next_edge,
            ..Health::default()
        }
    }

    /// The device starts again: numbers and ticks from 0, another boot id.
    pub fn restart(&mut self) {
        self.next_sample = 0;
        self.next_edge = 0;
        self.now_ticks = 0;
        self.heartbeat = 0;
        self.boot_id += 1;
    }

    /// A second of ordinary recording: ten blocks, edges, slow channels and a heartbeat.
    pub fn second(&mut self) {
        for i in 0..10 {
            self.block();
            if i % 3 == 0 {
                let last = self.now_ticks - 10_000;
                self.edges(&[last - 40_000, last - 20_000, last]);
            }
            if i % 5 == 0 {
                self.slow(2_150, 18_200);
            }
        }
        self.health();
    }
}
