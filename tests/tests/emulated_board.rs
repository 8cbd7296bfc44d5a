//! The firmware as machine code on an emulated Cortex-M4, read as a host reads it.
//!
//! `firmware/build` makes the program with the toolchain it finds; `qemu-system-arm` runs it; the test feeds its
//! sensors over one serial port and reads the other. Everything the feed said must come back: each sample
//! by value and time, each edge to the tick. Nothing here depends on how fast the machine is: device
//! time stands still while the feed is behind.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::sync::mpsc;
use std::thread::{self, JoinHandle};

use tipcurve_protocol::sequence::{Continuity, Run, Tracker};
use tipcurve_protocol::{
    Action, Command as HostCommand, Event, Health, Hello, Message, Outcome, Quantity, Reader, frame,
};
use tipcurve_tests::board_feed::Scenario;
use tipcurve_tests::emulator::{Emulator, build_board};

/// A running board with its line read to the end.
struct Board {
    emulator: Emulator,
    data: TcpStream,
    received: JoinHandle<Vec<u8>>,
    progress: mpsc::Receiver<usize>,
}

impl Board {
    fn start(program: &Path) -> Self {
        let (emulator, data) = Emulator::start_on_tcp(program);
        let mut line = data.try_clone().expect("a second handle");
        let (report, progress) = mpsc::channel();
        let received = thread::spawn(move || {
            let (mut all, mut part) = (Vec::new(), [0; 4096]);
            // A board that is killed ends the stream or breaks it.
            while let Ok(n @ 1..) = line.read(&mut part) {
                all.extend_from_slice(&part[..n]);
                let _ = report.send(all.len());
            }
            all
        });
        Self {
            emulator,
            data,
            received,
            progress,
        }
    }

    fn feed(&mut self, text: &str) {
        self.emulator.feed(text);
    }

    fn send(&mut self, id: u16, action: Action) {
        let mut buffer = [0; 64];
        let command = Message::Command(HostCommand { id, action });
        let frame = frame::encode(&command, &mut buffer).expect("a command fits");
        self.data.write_all(frame).expect("the board reads on");
    }

    /// Waits until the feed has been replayed; all bytes of the line.
    fn finish(mut self) -> Vec<u8> {
        self.emulator.wait_until_done();
        self.kill()
    }

    /// Takes the board's supply away; all bytes it had sent.
    fn kill(self) -> Vec<u8> {
        self.emulator.kill();
        self.received.join().expect("the reading thread is sound")
    }
}

/// What a host knows after reading a log.
#[derive(Debug, Default)]
struct Log {
    hellos: Vec<Hello>,
    health: Vec<Health>,
    samples: Vec<(u64, i32)>,
    edges: Vec<u64>,
    marks: Vec<u64>,
    voltages: Vec<(u64, i32)>,
    replies: Vec<(u16, Outcome, u16)>,
    restarts: Vec<Continuity>,
    lost: u64,
    damaged: u64,
}

impl Log {
    fn read(bytes: &[u8]) -> Self {
        let mut log = Self::default();
        let mut samples = Tracker::new();
        let mut reader = Reader::new();
        let mut input = bytes;
        while let Some(event) = reader.next(&mut input) {
            if let Event::Message(message) = event {
                log.take(&message, &mut samples);
            }
        }
        log.lost = samples.totals().lost;
        log.damaged = reader.counts().damaged;
        log
    }

    fn take(&mut self, message: &Message<'_>, tracker: &mut Tracker) {
        match message {
            Message::Samples(block) => {
                let mut codes = vec![0; block.block.len()];
                block.block.decode(&mut codes).expect("a whole block");
                let seen = tracker.observe(Run {
                    first: block.first_sample,
                    count: u32::try_from(codes.len()).expect("a short block"),
                    start_ticks: block.base_ticks,
                    end_ticks: block.end_ticks(),
                });
                if matches!(seen, Continuity::Restart { .. }) {
                    self.restarts.push(seen);
                }
                let timed = codes.iter().enumerate();
                let timed = timed.map(|(i, code)| (block.ticks_at(i), *code));
                self.samples.extend(timed);
            }
            Message::Edges(block) => {
                let mut ticks = vec![0; block.len()];
                block.decode(&mut ticks).expect("a whole block");
                self.edges.extend(ticks);
            }
            Message::Slow(slow) => {
                let voltage = slow.supply_voltage_code;
                self.voltages
                    .extend(voltage.map(|code| (slow.device_ticks, code)));
            }
            Message::Mark(mark) => self.marks.push(mark.device_ticks),
            Message::Hello(hello) => self.hellos.push(hello.clone()),
            Message::Health(health) => self.health.push(*health),
            Message::Reply(reply) => {
                self.replies
                    .push((reply.id, reply.outcome, reply.sample_rate_hz));
            }
            _ => {}
        }
    }
}

/// A tap at rest, a burst with ripple and flow, a tap at rest, at 500 Hz. Made up.
fn burst(boot_id: u32, seconds: u32) -> Scenario {
    let n = 500 * seconds;
    let is_spraying = |i: u32| i > n / 5 && i < n * 4 / 5;
    let code = |i: u32| {
        let noise = i32::try_from(i.wrapping_mul(2_654_435_761) >> 30).unwrap_or(0);
        let ripple = i32::try_from(i % 42).unwrap_or(0) * 17 - 357;
        if is_spraying(i) {
            12_000 + ripple + noise
        } else {
            33 + noise
        }
    };
    let edges = (0..n).filter(|i| is_spraying(*i) && i % 9 == 0);
    Scenario {
        boot_id,
        period_ticks: 2_000,
        codes: (0..n).map(code).collect(),
        edge_ticks: edges
            .map(|i| u64::from(i) * 2_000 + u64::from(i * 7 % 2_000))
            .collect(),
        slow: vec![(0, u8::from(Quantity::SupplyVoltage), 18_200)],
        button_ticks: vec![u64::from(n) * 1_000 + 123],
    }
}

/// Each code with its time.
fn timed(scenario: &Scenario) -> Vec<(u64, i32)> {
    let period = u64::from(scenario.period_ticks);
    (0..)
        .step_by(usize::try_from(period).expect("short"))
        .zip(scenario.codes.iter().copied())
        .collect()
}

#[test]
fn every_sample_and_edge_of_the_feed_comes_back_in_time() {
    let Some(program) = build_board() else { return };
    let scenario = burst(71, 6);
    let mut board = Board::start(&program);
    board.feed(&scenario.to_feed());
    let log = Log::read(&board.finish());

    assert_eq!(log.samples, timed(&scenario));
    assert_eq!(log.edges, scenario.edge_ticks);
    assert_eq!(log.marks, scenario.button_ticks);
    assert_eq!((log.damaged, log.lost), (0, 0));
    let hello = log.hellos.first().expect("a hello comes first");
    assert_eq!((hello.boot_id, hello.board.as_str()), (71, "emulated"));
    // Five a second, and nothing else fitted: the other channels are reported absent.
    assert!(log.voltages.len() >= 29, "{:?}", log.voltages);
    assert!(log.voltages.iter().all(|(_, code)| *code == 18_200));
    assert!(log.health.len() >= 6, "a heartbeat a second");
    for health in &log.health {
        assert_eq!(
            health.dropped_samples + health.missed_samples,
            0,
            "{health:?}"
        );
        assert_eq!(
            health.dropped_edges + health.debounce_rejects,
            0,
            "{health:?}"
        );
    }
}

#[test]
fn a_board_killed_midway_and_started_again_shows_the_restart_and_loses_only_what_was_unsent() {
    let Some(program) = build_board() else { return };
    let (first, second) = (burst(1, 8), burst(2, 3));
    let mut board = Board::start(&program);
    let feed = first.to_feed();
    // Two thirds of the feed: the board then stands still in the middle of the burst.
    board.feed(&feed[..feed.len() * 2 / 3]);
    while board.progress.recv().expect("the board sends") < 1_000 {}
    let mut recording = board.kill();
    let cut = recording.len();
    let mut board = Board::start(&program);
    board.feed(&second.to_feed());
    recording.extend(board.finish());

    let before = Log::read(&recording[..cut]);
    let n_before = before.samples.len();
    assert!(n_before >= 500, "{n_before} samples before the cut");
    assert_eq!(before.samples, timed(&first)[..n_before]);
    assert_eq!(before.edges, first.edge_ticks[..before.edges.len()]);

    let log = Log::read(&recording);
    assert_eq!(log.samples[..n_before], timed(&first)[..n_before]);
    assert_eq!(log.samples[n_before..], timed(&second));
    assert_eq!(log.edges[before.edges.len()..], second.edge_ticks);
    assert_eq!(log.restarts, [Continuity::Restart { lost: 0 }]);
    let mut boots: Vec<_> = log.hellos.iter().map(|hello| hello.boot_id).collect();
    boots.dedup();
    assert_eq!(boots, [1, 2]);
}

#[test]
fn commands_reach_the_board_and_are_answered() {
    let Some(program) = build_board() else { return };
    let mut scenario = burst(5, 4);
    scenario.period_ticks = 4_000;
    let mut board = Board::start(&program);
    let feed = scenario.to_feed();
    let (head, tail) = feed.split_at(feed.len() / 4);
    board.feed(head);
    while board.progress.recv().expect("the board sends") < 200 {}
    // Another program's bytes, half a frame, and then a host that knows the rules.
    board
        .data
        .write_all(b"AT\r\n\x05\x00")
        .expect("the board reads on");
    board.send(1, Action::Identify);
    board.send(2, Action::SetRate(250));
    board.send(3, Action::SetRate(60_000));
    board.send(4, Action::EchoClock { token: 99 });
    // Whoever feeds only once the commands are on the line cannot overtake them by much.
    board.feed(tail);
    board.emulator.wait_until_done();
    let diagnostics = board.emulator.diagnostics();
    let log = Log::read(&board.kill());
    // A line for each command, on a port of its own: frames of `defmt` end with a zero.
    let lines = diagnostics.split(|byte| *byte == 0);
    assert_eq!(lines.filter(|line| !line.is_empty()).count(), 4);
    assert_eq!(
        log.replies,
        [
            (1, Outcome::Done, 500),
            (2, Outcome::Done, 250),
            (3, Outcome::RateOutOfRange, 250)
        ]
    );
    assert_eq!((log.damaged, log.lost), (0, 0));
    let last = log.health.last().expect("a heartbeat");
    assert!(
        last.bad_frames > 0,
        "the stray bytes were counted: {last:?}"
    );
    assert!(
        log.samples
            .windows(2)
            .any(|pair| pair[1].0 - pair[0].0 == 4_000)
    );
}
