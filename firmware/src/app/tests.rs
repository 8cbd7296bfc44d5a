//! A bench for the core: it is driven in virtual time with invented sensors, and what a host would read of it.

mod commands;
mod faults;
mod signals;

use embedded_io::{ErrorKind, ErrorType, Write, WriteReady};
use tipcurve_protocol::sequence::{Run, Tracker};
use tipcurve_protocol::{
    Action, ClockEcho, Command, Event, Health, Hello, Mark, Message, Quantity, Reader, Reply, Slow,
    frame,
};

use super::{App, Config};
use crate::sensor::{PressureSensor, SensorError, SlowSensors};

extern crate std;
use std::vec;
use std::vec::Vec;

/// Sensors whose readings are functions of the number of reads, and which can fail.
struct Rig {
    n_reads: i32,
    pressure_fault: Option<SensorError>,
    coating_fault: Option<SensorError>,
    level: i32,
}

impl Rig {
    const fn new() -> Self {
        Self {
            n_reads: 0,
            pressure_fault: None,
            coating_fault: None,
            level: 9_000,
        }
    }
}

impl PressureSensor for Rig {
    fn read_code(&mut self) -> Result<i32, SensorError> {
        self.n_reads += 1;
        match self.pressure_fault {
            Some(fault) => Err(fault),
            None => Ok(self.level + (self.n_reads * 7_919) % 13),
        }
    }
}

impl SlowSensors for Rig {
    fn read_code(&mut self, quantity: Quantity) -> Result<i32, SensorError> {
        match (quantity, self.coating_fault) {
            (Quantity::CoatingTemperature, Some(fault)) => Err(fault),
            _ => Ok(100 * i32::from(u8::from(quantity))),
        }
    }
}

/// A line that takes what it is told to.
struct Line {
    bytes: Vec<u8>,
    /// Bytes it still takes; `None` for any number.
    room: Option<usize>,
    is_broken: bool,
    n_writes: usize,
}

impl Line {
    fn open() -> Self {
        Self {
            bytes: Vec::new(),
            room: None,
            is_broken: false,
            n_writes: 0,
        }
    }

    fn blocked() -> Self {
        Self {
            room: Some(0),
            ..Self::open()
        }
    }
}

impl ErrorType for Line {
    type Error = ErrorKind;
}

impl Write for Line {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, ErrorKind> {
        self.n_writes += 1;
        if self.is_broken {
            return Err(ErrorKind::BrokenPipe);
        }
        let taken = self.room.unwrap_or(usize::MAX).min(bytes.len());
        assert!(taken > 0, "a writer that is not ready was written to");
        self.room = self.room.map(|room| room - taken);
        self.bytes.extend_from_slice(&bytes[..taken]);
        Ok(taken)
    }

    fn flush(&mut self) -> Result<(), ErrorKind> {
        Ok(())
    }
}

impl WriteReady for Line {
    fn write_ready(&mut self) -> Result<bool, ErrorKind> {
        Ok(self.room != Some(0))
    }
}

/// What a host reads of a stream.
#[derive(Default)]
struct Received {
    codes: Vec<i32>,
    sample_ticks: Vec<u64>,
    edge_ticks: Vec<u64>,
    hellos: Vec<Hello>,
    slow: Vec<Slow>,
    marks: Vec<Mark>,
    health: Vec<Health>,
    replies: Vec<Reply>,
    echoes: Vec<ClockEcho>,
    samples: Tracker,
    edges: Tracker,
    n_blocks: usize,
}

fn receive(bytes: &[u8]) -> Received {
    let mut received = Received::default();
    let mut reader = Reader::new();
    let mut input = bytes;
    while let Some(event) = reader.next(&mut input) {
        match event {
            Event::Message(message) => received.take(message),
            other => panic!("the core sent {other:?}"),
        }
    }
    assert_eq!(reader.finish(), None);
    received
}

impl Received {
    fn take(&mut self, message: Message<'_>) {
        match message {
            Message::Samples(samples) => {
                let mut codes = vec![0; samples.block.len()];
                samples.block.decode(&mut codes).unwrap();
                self.samples.observe(Run {
                    first: samples.first_sample,
                    count: codes.len().try_into().unwrap(),
                    start_ticks: samples.base_ticks,
                    end_ticks: samples.end_ticks(),
                });
                let ticks = (0..codes.len()).map(|i| samples.ticks_at(i));
                self.sample_ticks.extend(ticks);
                self.codes.extend(codes);
                self.n_blocks += 1;
            }
            Message::Edges(edges) => {
                let mut ticks = vec![0; edges.len()];
                edges.decode(&mut ticks).unwrap();
                self.edges.observe(Run {
                    first: edges.first_edge,
                    count: ticks.len().try_into().unwrap(),
                    start_ticks: ticks[0],
                    end_ticks: *ticks.last().unwrap(),
                });
                self.edge_ticks.extend(ticks);
            }
            Message::Hello(hello) => self.hellos.push(hello),
            Message::Slow(slow) => self.slow.push(slow),
            Message::Mark(mark) => self.marks.push(mark),
            Message::Health(health) => self.health.push(health),
            Message::Reply(reply) => self.replies.push(reply),
            Message::ClockEcho(echo) => self.echoes.push(echo),
            Message::Command(command) => panic!("the core sent {command:?}"),
        }
    }

    fn last_health(&self) -> Health {
        *self.health.last().expect("a heartbeat came")
    }
}

/// A device, its rig, its line and its time.
struct Bench {
    app: App,
    rig: Rig,
    line: Line,
    now: u64,
    next_sample: u64,
}

impl Bench {
    fn new(config: Config) -> Self {
        Self {
            app: App::new(config),
            rig: Rig::new(),
            line: Line::open(),
            now: 0,
            next_sample: 0,
        }
    }

    fn started() -> Self {
        Self::new(Config::default())
    }

    /// Runs in steps of half a millisecond.
    fn run(&mut self, ticks: u64) {
        let end = self.now + ticks;
        while self.now < end {
            if self.now >= self.next_sample {
                self.app.on_sample_tick(self.now, &mut self.rig);
                self.next_sample = self.now + u64::from(self.app.period_ticks());
            }
            self.app.poll(self.now, &mut self.rig);
            let _ = self.app.poll_send(self.now, &mut self.line);
            self.now += 500;
        }
    }

    fn command(&mut self, id: u16, action: Action) {
        let mut buffer = [0; 64];
        let message = Message::Command(Command { id, action });
        for byte in frame::encode(&message, &mut buffer).unwrap() {
            self.app.on_rx_byte(self.now, *byte);
        }
    }

    /// Everything the host has once the open blocks are closed and the line is free.
    fn finish(mut self) -> Received {
        self.line.room = None;
        self.line.is_broken = false;
        self.app.flush();
        self.app.poll_send(self.now, &mut self.line).unwrap();
        receive(&self.line.bytes)
    }
}
