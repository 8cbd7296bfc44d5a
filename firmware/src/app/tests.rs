//! The core driven in virtual time with invented sensors, and what a host would read of it.

use embedded_io::{ErrorKind, ErrorType, Write, WriteReady};
use tipcurve_protocol::sequence::{Run, Tracker};
use tipcurve_protocol::{
    Action, ClockEcho, Command, Event, Health, Hello, Mark, Message, Outcome, Quantity, Reader,
    Reply, ResetReason, Slow, frame,
};

use super::{App, Config};
use crate::limits::{ANSWER_QUEUE, MARK_QUEUE, SAMPLE_QUEUE_BLOCKS};
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

#[test]
fn every_sample_arrives_with_its_time() {
    let mut bench = Bench::started();
    bench.run(10_000_000);
    let received = bench.finish();
    assert_eq!(received.codes.len(), 5_000);
    for (i, ticks) in (0..).zip(&received.sample_ticks) {
        assert_eq!(*ticks, 2_000 * i);
    }
    let expected = (1..=5_000).map(|n| 9_000 + (n * 7_919) % 13);
    assert!(received.codes.iter().copied().eq(expected));
    assert_eq!(received.samples.totals().lost, 0);
}

#[test]
fn hello_comes_first_and_again_every_ten_seconds() {
    let mut bench = Bench::started();
    bench.run(20_500_000);
    assert_eq!(
        bench.line.bytes.first(),
        Some(&0),
        "ends what was on the line"
    );
    let received = bench.finish();
    assert_eq!(received.hellos.len(), 3);
    assert_eq!(received.hellos[0].channels, Config::default().channels);
}

#[test]
fn heartbeat_comes_every_second_also_while_stopped() {
    let mut bench = Bench::new(Config {
        is_running: false,
        boot_id: 77,
        reset_reason: ResetReason::Watchdog,
        ..Config::default()
    });
    bench.run(5_100_000);
    let received = bench.finish();
    assert!(received.codes.is_empty());
    let beats: Vec<u32> = received
        .health
        .iter()
        .map(|health| health.heartbeat)
        .collect();
    assert_eq!(beats, [0, 1, 2, 3, 4, 5]);
    let health = received.last_health();
    assert!(!health.is_running);
    assert_eq!(health.boot_id, 77);
    assert_eq!(health.reset_reason, ResetReason::Watchdog);
    assert!(!received.slow.is_empty(), "slow channels go on");
}

#[test]
fn full_queue_drops_the_newest_blocks_and_the_wire_says_how_many() {
    let mut bench = Bench::started();
    bench.line = Line::blocked();
    // Twenty blocks of half a second: one is being sent, six wait, the rest is dropped.
    bench.run(10_000_000);
    bench.line.room = None;
    bench.run(3_000_000);
    let received = bench.finish();
    let health = received.last_health();
    let kept = u32::try_from(SAMPLE_QUEUE_BLOCKS).unwrap();
    assert_eq!(u32::from(health.queue_high_water), kept);
    assert_eq!(health.dropped_samples, 250 * health.dropped_blocks);
    let totals = received.samples.totals();
    assert_eq!(totals.lost, u64::from(health.dropped_samples));
    assert_eq!(totals.gaps, 1, "the newest went, so there is one gap");
    assert_eq!(totals.received + totals.lost, 6_500);
    assert_eq!(received.sample_ticks[..1_500], {
        let before: Vec<u64> = (0..1_500).map(|i| i * 2_000).collect();
        before
    });
}

#[test]
fn slow_line_gets_the_same_bytes_in_small_parts() {
    let mut free = Bench::started();
    free.run(3_000_000);
    let mut slow = Bench::started();
    slow.line = Line::blocked();
    while slow.now < 3_000_000 {
        slow.line.room = Some(3);
        slow.run(500);
    }
    let (free, slow) = (free.finish(), slow.finish());
    assert_eq!(free.codes, slow.codes);
    assert_eq!(free.sample_ticks, slow.sample_ticks);
    assert_eq!(free.slow, slow.slow);
}

#[test]
fn writer_that_fails_loses_nothing_and_is_counted() {
    let mut bench = Bench::started();
    bench.run(1_000_000);
    bench.line.is_broken = true;
    bench.run(1_000_000);
    bench.line.is_broken = false;
    bench.run(2_000_000);
    let received = bench.finish();
    assert!(received.last_health().send_errors > 0);
    assert_eq!(received.samples.totals().lost, 0);
    assert_eq!(received.codes.len(), 2_000);
}

#[test]
fn stopped_means_stopped_and_start_resumes_without_a_gap_in_numbers() {
    let mut bench = Bench::started();
    bench.run(1_000_000);
    bench.command(1, Action::Stop);
    bench.run(100_000);
    let reads = bench.rig.n_reads;
    bench.run(2_000_000);
    assert_eq!(bench.rig.n_reads, reads, "no sensor is read while stopped");
    assert!(bench.app.is_alive(bench.now));
    bench.command(2, Action::Start);
    bench.run(1_000_000);
    let received = bench.finish();
    assert_eq!(received.samples.totals().lost, 0);
    assert_eq!(received.codes.len(), 1_000);
    assert_eq!(received.last_health().missed_samples, 0);
    let running: Vec<bool> = received
        .replies
        .iter()
        .map(|reply| reply.is_running)
        .collect();
    assert_eq!(running, [false, true]);
}

#[test]
fn rate_changes_between_blocks_and_is_refused_outside_the_limits() {
    let mut bench = Bench::started();
    bench.run(700_000);
    bench.command(1, Action::SetRate(1_000));
    assert_eq!(bench.app.period_ticks(), 1_000);
    bench.run(700_000);
    bench.command(2, Action::SetRate(1_001));
    bench.command(3, Action::SetRate(0));
    assert_eq!(bench.app.period_ticks(), 1_000);
    bench.run(700_000);
    let received = bench.finish();
    assert_eq!(received.samples.totals().lost, 0);
    let outcomes: Vec<Outcome> = received.replies.iter().map(|reply| reply.outcome).collect();
    assert_eq!(
        outcomes,
        [
            Outcome::Done,
            Outcome::RateOutOfRange,
            Outcome::RateOutOfRange
        ]
    );
    let steps: Vec<u64> = received
        .sample_ticks
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .collect();
    assert_eq!(steps[0], 2_000);
    assert_eq!(steps.last(), Some(&1_000));
    assert_eq!(received.last_health().missed_samples, 0);
}

#[test]
fn identify_brings_a_hello_and_then_the_reply() {
    let mut bench = Bench::started();
    bench.run(50_000);
    let before = bench.line.bytes.len();
    bench.command(5, Action::Identify);
    bench.run(50_000);
    let received = receive(&bench.line.bytes[before..]);
    assert_eq!(received.hellos.len(), 1);
    assert_eq!(received.replies.len(), 1);
    assert_eq!(received.replies[0].id, 5);
}

#[test]
fn clock_echo_returns_token_and_both_times() {
    let mut bench = Bench::started();
    bench.line = Line::blocked();
    bench.run(40_000);
    let asked = bench.now;
    bench.command(6, Action::EchoClock { token: u64::MAX });
    bench.run(10_000);
    let answered = bench.now;
    bench.line.room = None;
    bench.run(500);
    let received = bench.finish();
    let echo = ClockEcho {
        id: 6,
        token: u64::MAX,
        received_ticks: asked,
        sent_ticks: answered,
    };
    assert_eq!(received.echoes, [echo]);
}

#[test]
fn unknown_and_damaged_commands_have_defined_answers_and_are_counted() {
    let mut bench = Bench::started();
    bench.run(50_000);
    bench.command(
        9,
        Action::Other {
            code: 200,
            argument: 1,
        },
    );
    let damaged = b"\x03\x10\x41garbage\0";
    let overlong = [0x55; 400];
    let stray = {
        let mark = Message::Mark(Mark {
            first_mark: 0,
            device_ticks: 0,
        });
        let mut buffer = [0; 64];
        frame::encode(&mark, &mut buffer).unwrap().to_vec()
    };
    for byte in [&damaged[..], &overlong, &[0], &stray].concat() {
        bench.app.on_rx_byte(bench.now, byte);
    }
    bench.run(1_100_000);
    let received = bench.finish();
    assert_eq!(received.replies.len(), 1);
    assert_eq!(received.replies[0].outcome, Outcome::NotKnown);
    assert_eq!(received.last_health().bad_frames, 3);
}

#[test]
fn flooding_host_loses_answers_and_no_samples() {
    let mut bench = Bench::started();
    bench.line = Line::blocked();
    for id in 0..1_000 {
        bench.command(id, Action::Start);
    }
    bench.line.room = None;
    bench.run(2_000_000);
    let received = bench.finish();
    assert_eq!(received.replies.len(), ANSWER_QUEUE);
    let dropped = usize::try_from(received.last_health().dropped_others).unwrap();
    assert_eq!(dropped, 1_000 - ANSWER_QUEUE);
    assert_eq!(received.samples.totals().lost, 0);
}

#[test]
fn edges_keep_their_captured_times_across_blocks() {
    let mut bench = Bench::started();
    let mut expected = Vec::new();
    for i in 0..400_u64 {
        let ticks = 3 + i * 6_667 + (i * i) % 97;
        bench.run(ticks.saturating_sub(bench.now));
        bench.app.on_edge(ticks);
        expected.push(ticks);
    }
    let received = bench.finish();
    assert_eq!(received.edge_ticks, expected);
    assert_eq!(received.edges.totals().lost, 0);
}

#[test]
fn lone_edge_is_sent_within_half_a_second() {
    let mut bench = Bench::started();
    bench.run(100_000);
    bench.app.on_edge(bench.now);
    bench.run(501_000);
    let received = receive(&bench.line.bytes);
    assert_eq!(received.edge_ticks, [100_000]);
}

#[test]
fn bounce_is_rejected_and_counted() {
    let mut bench = Bench::started();
    for ticks in [10_000, 10_200, 10_499, 10_500, 10_400, 20_000] {
        bench.app.on_edge(ticks);
    }
    bench.app.on_over_capture(2);
    bench.run(1_100_000);
    let received = bench.finish();
    assert_eq!(received.edge_ticks, [10_000, 10_500, 20_000]);
    let health = received.last_health();
    assert_eq!((health.debounce_rejects, health.over_captures), (3, 2));
    assert_eq!(health.sent_edges, 3);
}

#[test]
fn edge_storm_is_counted_edge_by_edge_and_disturbs_no_sample() {
    let mut bench = Bench::started();
    // 50 kHz for two seconds: one edge in 25 is outside the debounce time.
    for i in 0..100_000_u64 {
        let ticks = i * 20;
        if ticks > bench.now {
            bench.run(500);
        }
        bench.app.on_edge(ticks);
    }
    bench.run(1_100_000);
    let received = bench.finish();
    let health = received.last_health();
    let totals = received.edges.totals();
    let accounted = totals.received + totals.lost + u64::from(health.debounce_rejects);
    assert_eq!(accounted, 100_000);
    assert_eq!(totals.lost, u64::from(health.dropped_edges));
    assert_eq!(received.samples.totals().lost, 0);
}

#[test]
fn button_gives_one_mark_a_press() {
    let mut bench = Bench::started();
    for ticks in [1_000_000, 1_003_000, 1_015_000, 2_000_000] {
        bench.app.on_button(ticks);
    }
    bench.run(500_000);
    let received = bench.finish();
    let expected = [(0, 1_000_000), (1, 2_000_000)];
    let marks: Vec<(u32, u64)> = received
        .marks
        .iter()
        .map(|mark| (mark.first_mark, mark.device_ticks))
        .collect();
    assert_eq!(marks, expected);
}

#[test]
fn marks_beyond_their_queue_leave_a_hole_in_the_numbers() {
    let mut bench = Bench::started();
    bench.line = Line::blocked();
    for i in 0..20 {
        bench.app.on_button(i * 1_000_000);
    }
    bench.line.room = None;
    bench.run(500_000);
    bench.app.on_button(30_000_000);
    let received = bench.finish();
    let numbers: Vec<u32> = received.marks.iter().map(|mark| mark.first_mark).collect();
    assert_eq!(numbers.len(), MARK_QUEUE + 1);
    assert_eq!(numbers.last(), Some(&20));
}

#[test]
fn failing_pressure_sensor_leaves_counted_gaps_and_the_rest_goes_on() {
    for (fault, bus_errors, absent) in [
        (SensorError::Bus, 500, 1 << 1),
        (SensorError::Absent, 0, 1 << 1),
        (SensorError::NotReady, 0, 0),
    ] {
        let mut bench = Bench::started();
        bench.run(1_000_000);
        bench.rig.pressure_fault = Some(fault);
        bench.run(1_000_000);
        bench.app.on_edge(bench.now);
        let during = receive(&bench.line.bytes);
        bench.rig.pressure_fault = None;
        bench.run(1_100_000);
        let slow_during = during.slow.last().unwrap().device_ticks;
        assert!(slow_during > 1_700_000, "slow channels went on");
        let received = bench.finish();
        let health = received.last_health();
        assert_eq!(health.missed_samples, 500, "{fault:?}");
        assert_eq!(health.bus_errors, bus_errors, "{fault:?}");
        assert_eq!(health.absent_channels, 0, "it came back");
        let seen = received
            .health
            .iter()
            .any(|health| health.absent_channels == absent);
        assert!(seen, "{fault:?}");
        let totals = received.samples.totals();
        assert_eq!((totals.lost, totals.gaps), (500, 1));
        assert_eq!(received.edge_ticks.len(), 1);
    }
}

#[test]
fn failing_slow_sensor_is_reported_and_others_are_read() {
    let mut bench = Bench::started();
    bench.rig.coating_fault = Some(SensorError::Bus);
    bench.run(4_950_000);
    let received = bench.finish();
    let health = received.last_health();
    assert_eq!(health.absent_channels, 1 << 3);
    assert_eq!(health.bus_errors, 5);
    assert!(
        received
            .slow
            .iter()
            .all(|slow| slow.coating_temperature_code.is_none())
    );
    let voltages = received
        .slow
        .iter()
        .filter_map(|slow| slow.supply_voltage_code);
    assert!(voltages.eq(core::iter::repeat_n(600, 25)));
    let humidities = received
        .slow
        .iter()
        .filter_map(|slow| slow.air_humidity_code);
    assert!(humidities.eq(core::iter::repeat_n(500, 5)));
}

#[test]
fn saturated_converter_is_counted_and_its_codes_are_kept() {
    let mut bench = Bench::started();
    bench.rig.level = 40_000;
    bench.run(200_000);
    bench.rig.level = 9_000;
    bench.run(1_000_000);
    let received = bench.finish();
    assert_eq!(received.last_health().saturated_samples, 100);
    assert!(received.codes[0] >= 40_000);
}

#[test]
fn missed_timer_ticks_are_numbered_and_counted() {
    let mut bench = Bench::started();
    bench.run(100_000);
    bench.now += 300_000;
    bench.next_sample = bench.now;
    bench.run(1_100_000);
    let received = bench.finish();
    let totals = received.samples.totals();
    assert_eq!((totals.lost, totals.gaps), (150, 1));
    assert_eq!(received.last_health().missed_samples, 150);
    for pair in received.sample_ticks.windows(2) {
        assert!(pair[1] > pair[0]);
    }
}

#[test]
fn jittering_timer_does_not_break_blocks() {
    let mut app = App::new(Config::default());
    let mut rig = Rig::new();
    for i in 0..1_000_u64 {
        app.on_sample_tick(i * 2_000 + (i * i) % 700, &mut rig);
        if i % 200 == 0 {
            app.flush();
        }
    }
    let mut line = Line::open();
    app.poll_send(2_000_000, &mut line).unwrap();
    let received = receive(&line.bytes);
    assert_eq!(received.samples.totals().lost, 0);
}

#[test]
fn device_time_goes_on_past_32_bits() {
    let mut bench = Bench::started();
    bench.now = (1 << 32) - 1_000_000;
    bench.next_sample = bench.now;
    bench.app.on_edge(bench.now + 999_999);
    bench.run(1_100_000);
    bench.app.on_edge((1 << 32) + 1);
    bench.run(1_000_000);
    let received = bench.finish();
    assert_eq!(received.samples.totals().lost, 0);
    assert_eq!(received.edge_ticks, [(1 << 32) - 1]);
    assert_eq!(
        received.last_health().debounce_rejects,
        1,
        "two microseconds after the one before"
    );
    assert!(*received.sample_ticks.last().unwrap() > 1 << 32);
}

#[test]
fn restart_shows_in_boot_id_reason_and_numbers() {
    let mut first = Bench::started();
    first.run(3_000_000);
    let mut second = Bench::new(Config {
        boot_id: 1,
        reset_reason: ResetReason::BrownOut,
        ..Config::default()
    });
    second.run(2_000_000);
    // The first start was cut off in the middle of a frame.
    let mut stream = first.line.bytes;
    stream.truncate(stream.len() - 5);
    stream.extend_from_slice(&second.line.bytes);
    let mut reader = Reader::new();
    let mut received = Received::default();
    let mut damaged = 0;
    let mut input = stream.as_slice();
    while let Some(event) = reader.next(&mut input) {
        match event {
            Event::Message(message) => received.take(message),
            _ => damaged += 1,
        }
    }
    assert_eq!(damaged, 1, "only the frame that was cut off");
    assert_eq!(received.samples.totals().restarts, 1);
    assert_eq!(received.last_health().reset_reason, ResetReason::BrownOut);
    assert_ne!(received.health[0].boot_id, received.last_health().boot_id);
}

#[test]
fn watchdog_is_fed_only_while_sample_ticks_come() {
    let mut bench = Bench::started();
    bench.run(1_000_000);
    assert!(bench.app.is_alive(bench.now));
    assert!(bench.app.is_alive(bench.now + 90_000));
    assert!(!bench.app.is_alive(bench.now + 110_000));
}

#[test]
fn rate_of_the_configuration_is_brought_inside_the_limits() {
    for (asked, period) in [(0, 100_000), (5, 100_000), (5_000, 1_000), (250, 4_000)] {
        let app = App::new(Config {
            sample_rate_hz: asked,
            ..Config::default()
        });
        assert_eq!(app.period_ticks(), period);
    }
}

#[test]
fn quiet_signal_at_500_hz_costs_less_than_1_6_bytes_a_sample_with_everything() {
    let mut bench = Bench::started();
    bench.run(60_000_000);
    let bytes = bench.line.bytes.len();
    let per_sample = bytes as f64 / 30_000.0;
    assert!(per_sample < 1.6, "{per_sample} bytes");
}
