//! The whole way: firmware as machine code on an emulated Cortex-M4, its line on a pseudo-terminal, `tipcurve record` at the
//! other end, `tipcurve report` on what it wrote.
//!
//! The board's sensors say what a recorded fixture says, so the report must come to the verdict that it gives of
//! the fixture itself. Source of the fixtures: `tests/fixtures/`, invented and made by a simulator that shares no code with
//! this project. The board runs faster than its own time; the recording's times are the board's.

#![allow(
    unreachable_pub,
    dead_code,
    reason = "modules of the tests' library, of which a part is used here"
)]
#![allow(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss
)]

#[path = "../../../tests/src/board_feed.rs"]
mod board_feed;
#[path = "../../../tests/src/emulator.rs"]
mod emulator;
mod fixture;
#[path = "../../src/scratch.rs"]
mod scratch;

use std::io::{BufRead, BufReader, Read};
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStderr, Command, Stdio};
use std::time::{Duration, Instant};

use tipcurve::interchange::import_folder;
use tipcurve::recording::load::load;
use tipcurve::recording::{Data, DeviceLog, folder};
use tipcurve_protocol::{Event, Message, Reader};

use board_feed::Scenario;
use emulator::{Emulator, build_board};
use fixture::scenario_of;
use scratch::Scratch;

/// Longest wait for anything, on a machine that has other work.
const PATIENCE: Duration = Duration::from_secs(120);

fn fixture(name: &str) -> PathBuf {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests");
    tests.join("fixtures").join(name)
}

/// `tipcurve` with nothing of the surroundings.
fn tipcurve() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tipcurve"));
    command.env("NO_COLOR", "1").env("TZ", "UTC");
    command
}

/// Asks again and again, for a machine that has other work.
#[track_caller]
fn wait_until(what_if_not: &str, is_so: impl Fn() -> bool) {
    let begun = Instant::now();
    while !is_so() {
        assert!(begun.elapsed() < PATIENCE, "{what_if_not}");
        std::thread::sleep(Duration::from_millis(100));
    }
}

/// A running `tipcurve record`.
struct Recorder {
    program: Child,
    words: BufReader<ChildStderr>,
    recording: PathBuf,
}

impl Drop for Recorder {
    fn drop(&mut self) {
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

impl Recorder {
    fn start(recording: &Path, port: &Path, rate_hz: u32) -> Self {
        let mut program = tipcurve()
            .args(["record", "--no-page", "--json", "--wait", "30", "--rate"])
            .arg(rate_hz.to_string())
            .arg("--port")
            .arg(port)
            .arg(recording)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let words = BufReader::new(program.stderr.take().unwrap());
        Self {
            program,
            words,
            recording: recording.to_owned(),
        }
    }

    /// Waits until it holds the terminal: the emulator drops what nobody listens to, in the middle of a frame too, which
    /// then counts as a damaged one.
    fn wait_until_open(&self, terminal: &Path) {
        let place = PathBuf::from(format!("/proc/{}/fd", self.program.id()));
        // Only Linux tells what another program has open.
        if !place.is_dir() {
            return;
        }
        wait_until("the recorder does not open the terminal", || {
            let open = std::fs::read_dir(&place).into_iter().flatten().flatten();
            let mut names = open.filter_map(|entry| std::fs::read_link(entry.path()).ok());
            names.any(|name| name == terminal)
        });
    }

    /// Reads what it says up to a line with these words.
    fn wait_for(&mut self, words: &str) {
        let mut all = String::new();
        while self.words.read_line(&mut all).unwrap() > 0 {
            if all.lines().last().unwrap().contains(words) {
                return;
            }
        }
        panic!("the recorder ended without {words:?}:\n{all}");
    }

    /// It ends by itself with this among its words, and makes no recording.
    fn expect_refusal(mut self, words: &str) {
        self.wait_for(words);
        assert_eq!(self.program.wait().unwrap().code(), Some(2));
        assert!(!self.recording.exists());
    }

    /// Waits until the board has answered so many times that it samples at this rate.
    fn wait_for_rate(&self, rate_hz: u32, n_answers: usize) {
        let is_answer = |message: &Message<'_>| matches!(message, Message::Reply(reply) if u32::from(reply.sample_rate_hz) == rate_hz);
        wait_until("no answer of the board", || {
            let log = std::fs::read(self.recording.join(folder::FRAMES)).unwrap_or_default();
            let mut reader = Reader::new();
            let mut input = log.as_slice();
            let mut n = 0;
            while let Some(event) = reader.next(&mut input) {
                n += usize::from(matches!(event, Event::Message(m) if is_answer(&m)));
            }
            n >= n_answers
        });
    }

    /// Waits until the recording's samples are as they should be.
    fn wait_for_samples(&self, are_there: impl Fn(&[i32]) -> bool) {
        wait_until("samples are missing", || {
            are_there(&device_log(&self.recording).pressure_code)
        });
    }

    /// Ctrl-C; what it then says of the recording.
    fn stop(mut self) -> serde_json::Value {
        let id = self.program.id().to_string();
        let sent = Command::new("kill").args(["-INT", &id]).status().unwrap();
        assert!(sent.success());
        let mut said = String::new();
        let mut output = self.program.stdout.take().unwrap();
        output.read_to_string(&mut said).unwrap();
        let status = self.program.wait().unwrap();
        assert_eq!(status.code(), Some(0), "{said}");
        serde_json::from_str(&said).unwrap()
    }
}

/// `tipcurve report --json` on a folder.
fn report(recording: &Path, output: &Path) -> serde_json::Value {
    let done = tipcurve()
        .args(["report", "--json", "--output"])
        .arg(output)
        .arg(recording)
        .output()
        .unwrap();
    let words = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(0), "{words}");
    let text = String::from_utf8(done.stdout).unwrap();
    let all: serde_json::Value = serde_json::from_str(&text).unwrap();
    all.get(0).unwrap_or(&all).clone()
}

/// Kind and advice of the verdict on the report's subject.
fn verdict(report: &serde_json::Value) -> (String, String) {
    let verdicts = report["verdicts"].as_array().unwrap();
    let subject = verdicts.iter().find(|v| v["is_subject"] == true);
    let subject = subject.unwrap_or_else(|| panic!("no subject in {verdicts:?}"));
    (subject["kind"].to_string(), subject["advice"].to_string())
}

/// A recording folder that holds the fixture's notes and session and waits for a logger.
fn folder_for(scratch: &Scratch, name: &str) -> PathBuf {
    for file in [folder::NOTES, folder::SESSION] {
        let text = std::fs::read(fixture(name).join(file)).unwrap();
        scratch.write(&format!("{name}/{file}"), text);
    }
    scratch.path().join(name)
}

fn device_log(path: &Path) -> DeviceLog {
    match load(path).unwrap().data {
        Data::Device(log) => log,
        Data::Samples(_) => panic!("a logger's recording"),
    }
}

/// Edges that the board takes for no bounce: those far enough from the last one that it took.
fn n_accepted(edge_ticks: &[u64]) -> usize {
    let debounce_ticks = u64::from(tipcurve_firmware::Config::default().debounce_ticks);
    let mut last_ticks = None;
    let is_accepted = move |ticks: &&u64| {
        let is_far = last_ticks.is_none_or(|last| **ticks - last >= debounce_ticks);
        if is_far {
            last_ticks = Some(**ticks);
        }
        is_far
    };
    edge_ticks.iter().filter(is_accepted).count()
}

#[track_caller]
fn check_fixture(name: &str, rate_hz: u32) {
    let Some(program) = build_board() else { return };
    let scratch = Scratch::new(&format!("board-{name}"));
    let path = folder_for(&scratch, name);
    let recording = import_folder(&fixture(name)).unwrap();
    let scenario = scenario_of(&recording, rate_hz, 1, (0.0, f64::INFINITY));

    let (mut board, terminal) = Emulator::start_on_terminal(&program);
    let mut recorder = Recorder::start(&path, &terminal, rate_hz);
    let feed = scenario.to_feed();
    let (boot, rest) = feed.split_once('\n').unwrap();
    recorder.wait_until_open(&terminal);
    // The board starts, is found and is given its rate; only then do its sensors begin.
    board.feed(&format!("{boot}\n"));
    recorder.wait_for("emulated");
    recorder.wait_for_rate(rate_hz, 1);
    board.feed(rest);
    board.wait_until_done();
    recorder.wait_for_samples(|codes| codes.len() >= scenario.codes.len());
    let refused = Recorder::start(&scratch.path().join("second"), &terminal, rate_hz);
    refused.expect_refusal("in use by another program");
    let end = recorder.stop();

    assert_eq!(end["samples"], scenario.codes.len(), "{end}");
    assert_eq!(end["samples_lost"], 0, "{end}");
    assert_eq!(end["edges_lost"], 0, "{end}");
    assert_eq!(end["frames_damaged"], 0, "{end}");
    let log = device_log(&path);
    assert_eq!(log.pressure_code, scenario.codes);
    assert_eq!(log.edge_t_s.len(), n_accepted(&scenario.edge_ticks));
    let recorded = report(&path, &scratch.path().join("recorded"));
    let direct = report(&fixture(name), &scratch.path().join("direct"));
    assert_eq!(verdict(&recorded), verdict(&direct), "{name}");
}

#[test]
fn atomisation_limit_of_a_fixture_is_found_through_the_board() {
    check_fixture("rec-04", 50);
}

#[test]
fn supply_limit_of_a_fixture_is_found_through_the_board() {
    check_fixture("rec-28", 100);
}

/// Points a name at a terminal, as the system does with the stable name of a plugged-in logger.
fn plug_in(name: &Path, terminal: &Path) {
    let _ = std::fs::remove_file(name);
    symlink(terminal, name).unwrap();
}

/// Starts a board, and has it found by the recorder that already runs.
fn start_again(program: &Path, name: &Path, recorder: &Recorder, scenario: &Scenario) -> Emulator {
    let (mut board, terminal) = Emulator::start_on_terminal(program);
    plug_in(name, &terminal);
    let feed = scenario.to_feed();
    let (boot, rest) = feed.split_once('\n').unwrap();
    board.feed(&format!("{boot}\n"));
    // The recorder has it again, and has asked it for its rate again.
    recorder.wait_for_rate(50, 2);
    board.feed(rest);
    board
}

#[test]
fn recording_goes_on_when_the_board_is_killed_midway_and_started_again() {
    let Some(program) = build_board() else { return };
    let scratch = Scratch::new("board-killed");
    let name = "rec-10";
    let path = folder_for(&scratch, name);
    let recording = import_folder(&fixture(name)).unwrap();
    let first = scenario_of(&recording, 50, 1, (0.0, 80.0));
    let second = scenario_of(&recording, 50, 2, (80.0, 120.0));

    let port = scratch.path().join("logger");
    let (mut board, terminal) = Emulator::start_on_terminal(&program);
    plug_in(&port, &terminal);
    let mut recorder = Recorder::start(&path, &port, 50);
    let feed = first.to_feed();
    let (boot, rest) = feed.split_once('\n').unwrap();
    recorder.wait_until_open(&terminal);
    board.feed(&format!("{boot}\n"));
    recorder.wait_for("emulated");
    recorder.wait_for_rate(50, 1);
    // Half of the feed: the board then stands still, in the middle of a block.
    board.feed(&rest[..rest.len() / 2]);
    recorder.wait_for_samples(|codes| codes.len() > 1_000);
    board.kill();

    let mut board = start_again(&program, &port, &recorder, &second);
    board.wait_until_done();
    // The board forgot the rate that the recorder had asked for, and was asked again.
    recorder.wait_for_samples(|codes| codes.ends_with(&second.codes));
    let end = recorder.stop();

    assert!(end["reconnects"].as_u64().unwrap() >= 1, "{end}");
    assert_eq!(end["samples_lost"], 0, "{end}");
    let log = device_log(&path);
    let n_before = log.pressure_code.len() - second.codes.len();
    assert!(n_before > 1_000, "{n_before} samples before the cut");
    assert_eq!(log.pressure_code[..n_before], first.codes[..n_before]);
    let defects = load(&path).unwrap().defects;
    assert!(
        defects.iter().any(|defect| defect.code == "device_restart"),
        "{defects:?}"
    );
    let shown = report(&path, &scratch.path().join("report"));
    assert!(shown.to_string().contains("device_restart"), "{shown}");
}
