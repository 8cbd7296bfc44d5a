//! Bytes as a script of what happens to the firmware core: commands, faults, floods, silence.

use tipcurve_firmware::{App, Config, PressureSensor, SensorError, SlowSensors};
use tipcurve_protocol::sequence::{Run, Tracker};
use tipcurve_protocol::{Event, Health, Message, Quantity, Reader};

use super::wire::framed;

/// Sensors as the script last set them.
struct Rig {
    code: i32,
    fault: Option<SensorError>,
}

impl PressureSensor for Rig {
    fn read_code(&mut self) -> Result<i32, SensorError> {
        self.fault.map_or(Ok(self.code), Err)
    }
}

impl SlowSensors for Rig {
    fn read_code(&mut self, quantity: Quantity) -> Result<i32, SensorError> {
        self.fault
            .map_or(Ok(self.code ^ i32::from(u8::from(quantity))), Err)
    }
}

/// A device in virtual time.
struct Bench {
    app: App,
    rig: Rig,
    now: u64,
    next_sample: u64,
    is_line_open: bool,
    line: Vec<u8>,
}

impl Bench {
    fn run(&mut self, steps: u32) {
        for _ in 0..steps {
            while self.now >= self.next_sample {
                self.app.on_sample_tick(self.next_sample, &mut self.rig);
                self.next_sample += u64::from(self.app.period_ticks());
            }
            self.app.poll(self.now, &mut self.rig);
            if self.is_line_open {
                self.send();
            }
            self.now += 500;
        }
    }

    fn send(&mut self) {
        loop {
            let bytes = self.app.next_bytes(self.now);
            if bytes.is_empty() {
                return;
            }
            let n = bytes.len();
            self.line.extend_from_slice(bytes);
            self.app.sent(n);
        }
    }

    fn hear(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.app.on_rx_byte(self.now, *byte);
        }
    }
}

/// Whatever happens, the core sends nothing but sound frames, and what a host misses by the numbers the
/// device has counted.
///
/// # Panics
/// When it does not.
pub fn check_core(data: &[u8]) {
    let mut bench = Bench {
        app: App::new(Config::default()),
        rig: Rig {
            code: 9_000,
            fault: None,
        },
        now: 0,
        next_sample: 0,
        is_line_open: true,
        line: Vec::new(),
    };
    let mut rest = data;
    while let Some((&what, tail)) = rest.split_first() {
        let (argument, tail) = tail.split_first().map_or((0, tail), |(a, tail)| (*a, tail));
        rest = tail;
        let n = usize::from(argument).min(rest.len());
        match what % 12 {
            // Raw bytes, and a command's body in a sound frame.
            0 => bench.hear(&rest[..n]),
            1 => bench.hear(&framed(&rest[..n])),
            2 => bench.run(u32::from(argument) * 8),
            3 => bench.rig.fault = Some(SensorError::Bus),
            4 => bench.rig.fault = Some(SensorError::NotReady),
            5 => bench.rig.fault = None,
            6 => bench.is_line_open = !bench.is_line_open,
            7 => bench.app.on_edge(bench.now + u64::from(argument)),
            8 => bench.app.on_button(bench.now),
            9 => bench.app.on_over_capture(u32::from(argument)),
            10 => bench.rig.code = i32::from(argument) << 18 | i32::from(what),
            _ => bench.app.flush(),
        }
        if what % 12 <= 1 {
            rest = &rest[n..];
        }
    }
    bench.rig.fault = None;
    bench.is_line_open = true;
    bench.run(2_200);
    bench.app.flush();
    bench.send();
    check_line(&bench.line);
}

fn check_line(line: &[u8]) {
    let (mut samples, mut edges) = (Tracker::new(), Tracker::new());
    let mut health = None::<Health>;
    let mut first = None;
    let mut reader = Reader::new();
    let mut input = line;
    while let Some(event) = reader.next(&mut input) {
        match event {
            Event::Message(Message::Samples(block)) => {
                let mut codes = vec![0; block.block.len()];
                assert_eq!(block.block.decode(&mut codes), Ok(()));
                first.get_or_insert(u64::from(block.first_sample));
                samples.observe(Run {
                    first: block.first_sample,
                    count: block.block.len().try_into().unwrap_or(u32::MAX),
                    start_ticks: block.base_ticks,
                    end_ticks: block.end_ticks(),
                });
            }
            Event::Message(Message::Edges(block)) => {
                let mut ticks = vec![0; block.len()];
                assert_eq!(block.decode(&mut ticks), Ok(()));
                edges.observe(Run {
                    first: block.first_edge,
                    count: block.len().try_into().unwrap_or(u32::MAX),
                    start_ticks: ticks.first().copied().unwrap_or(0),
                    end_ticks: ticks.last().copied().unwrap_or(0),
                });
            }
            Event::Message(Message::Health(last)) => health = Some(last),
            Event::Message(_) => {}
            other => panic!("the core sent {other:?}"),
        }
    }
    assert_eq!(reader.finish(), None, "the core sent half a frame");
    let health = health.expect("a heartbeat came");
    let counted = u64::from(health.dropped_samples) + u64::from(health.missed_samples);
    let missed = samples.totals().lost + first.unwrap_or(0);
    assert!(
        missed <= counted,
        "{missed} samples missed, {counted} counted"
    );
    assert!(edges.totals().lost <= u64::from(health.dropped_edges));
    assert_eq!(samples.totals().restarts, 0);
}
