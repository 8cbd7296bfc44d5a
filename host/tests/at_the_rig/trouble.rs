//! Lines that are not as they should be: each says where, what and what to do, and costs nothing that
//! was received.

use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use crate::program::{Program, Said, Socket, log_of, run, text, wait_until};
use crate::pty;
use crate::rig::{Plugged, Rig};
use crate::scratch::Scratch;
use tipcurve::recording::load::load;

/// A run that must not begin: bad input, one line that says so, and nothing left behind.
#[track_caller]
fn check_refused(said: &Said, folder: &Scratch, words: &[&str]) {
    assert_eq!(said.code, Some(2), "{}", said.err);
    for word in words {
        assert!(said.err.contains(word), "no \"{word}\" in:\n{}", said.err);
    }
    assert!(said.err.contains("nothing was recorded"), "{}", said.err);
    assert!(!folder.join("one").exists(), "a folder was left behind");
}

fn record(folder: &Scratch, port: &str) -> Said {
    let recording = folder.join("one");
    run(&[
        "record",
        text(&recording),
        "--no-page",
        "--wait",
        "1",
        "--port",
        port,
    ])
}

#[test]
fn a_port_that_is_not_a_logger_is_refused_by_what_came() {
    let folder = Scratch::new("other");
    let port = folder.join("printer");
    let mut other = pty::plug_other(&port);
    let writer = std::thread::spawn(move || {
        for _ in 0..300 {
            let _ = other.write(b"ok T:23.1 B:20.0\r\n");
            std::thread::sleep(Duration::from_millis(10));
        }
    });
    let said = record(&folder, text(&port));
    check_refused(&said, &folder, &["none was a frame of a logger", "--baud"]);
    writer.join().unwrap();
}

#[test]
fn a_silent_port_and_one_that_is_not_there_are_told_apart() {
    let folder = Scratch::new("silent");
    let port = folder.join("port");
    let _silent = pty::plug_other(&port);
    check_refused(
        &record(&folder, text(&port)),
        &folder,
        &["open, but silent", "press its reset"],
    );
    let gone = folder.join("no-port");
    check_refused(
        &record(&folder, text(&gone)),
        &folder,
        &["it is not there; plug the logger in"],
    );
}

#[test]
fn a_port_in_use_is_refused_and_its_user_is_left_alone() {
    let folder = Scratch::new("in-use");
    let port = folder.join("logger");
    let _rig = pty::plug(&port, Plugged::default());
    let first = folder.join("first");
    let program = Program::record(&first, text(&port));
    wait_until("some log", || log_of(&first).len() > 1_000);
    check_refused(
        &record(&folder, text(&port)),
        &folder,
        &["in use by another program; close that program"],
    );
    let before = log_of(&first).len();
    wait_until("the first goes on", || log_of(&first).len() > before + 500);
    assert_eq!(program.stop().code, Some(0));
}

#[test]
fn a_folder_that_is_being_recorded_into_is_refused_to_a_second_recorder() {
    let folder = Scratch::new("twice");
    let socket = Socket::open();
    let recording = folder.join("busy");
    let args = ["record", text(&recording), "--no-page", "--port"];
    let program = Program::start(&[&args[..], &[&socket.address]].concat());
    let _rig = socket.plug(Plugged::default());
    wait_until("some log", || log_of(&recording).len() > 1_000);
    let said = run(&[&args[..], &[&socket.address, "--resume"]].concat());
    assert_eq!(said.code, Some(2));
    assert!(
        said.err.contains("another recorder is writing into it"),
        "{}",
        said.err
    );
    let said = run(&[&args[..], &[&socket.address]].concat());
    assert!(
        said.err.contains("a recording is there already"),
        "{}",
        said.err
    );
    assert_eq!(program.stop().code, Some(0));
}

#[test]
fn a_newer_protocol_is_refused_with_both_versions() {
    let folder = Scratch::new("newer");
    let socket = Socket::open();
    let address = socket.address.clone();
    let device = std::thread::spawn(move || {
        let mut stream = socket.accept();
        let frame = hello_of(2);
        while stream.write_all(&frame).is_ok() {
            std::thread::sleep(Duration::from_millis(20));
        }
    });
    let said = record(&folder, &address);
    check_refused(
        &said,
        &folder,
        &["2.0", "update this program, or flash firmware"],
    );
    device.join().unwrap();
}

/// The first frame of a rig, its hello.
fn hello() -> Vec<u8> {
    let rig = Rig::play(Plugged::default(), std::io::empty(), std::io::sink());
    wait_until("a hello", || rig.sent.lock().unwrap().bytes.len() > 300);
    let sent = rig.sent.lock().unwrap();
    // A delimiter may stand before the first frame as well.
    let begin = sent.bytes.iter().position(|byte| *byte != 0).unwrap();
    let length = sent.bytes[begin..].iter().position(|byte| *byte == 0);
    sent.bytes[begin..=begin + length.unwrap()].to_vec()
}

/// The hello with another major version in its first byte, its check made anew (see `WIRE.md`: the
/// CRC-32 of the stuffed bytes, in five bytes of seven bits).
fn hello_of(major: u8) -> Vec<u8> {
    let mut frame = hello();
    let body = frame.len() - 6;
    frame[1] = (major << 4) | (frame[1] & 0x0f);
    let mut rest = crc_32(&frame[..body]);
    for byte in &mut frame[body..body + 5] {
        *byte = rest.to_le_bytes()[0] | 0x80;
        rest >>= 7;
    }
    frame
}

/// CRC-32 of ISO-HDLC, bit by bit.
fn crc_32(bytes: &[u8]) -> u32 {
    let step = |crc: u32| (crc >> 1) ^ (0xEDB8_8320 * (crc & 1));
    let one = |crc: u32, byte: &u8| (0..8).fold(crc ^ u32::from(*byte), |crc, _| step(crc));
    !bytes.iter().fold(u32::MAX, one)
}

#[test]
fn garbage_at_full_speed_is_refused_at_the_start() {
    let folder = Scratch::new("garbage");
    let socket = Socket::open();
    let address = socket.address.clone();
    let device = std::thread::spawn(move || {
        let mut stream = socket.accept();
        let noise = noise(64 * 1024);
        while stream.write_all(&noise).is_ok() {}
    });
    let said = record(&folder, &address);
    check_refused(&said, &folder, &["none was a frame of a logger"]);
    device.join().unwrap();
}

fn noise(length: usize) -> Vec<u8> {
    let mut state = 0x2545_F491_4F6C_DD1D_u64;
    (0..length)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            state.to_le_bytes()[3]
        })
        .collect()
}

#[test]
fn noise_in_a_recording_is_kept_and_good_frames_are_found_again_behind_it() {
    const NOISE: usize = 24 << 20;
    let folder = Scratch::new("noise");
    let socket = Socket::open();
    let recording = folder.join("one");
    let program = Program::record(&recording, &socket.address);
    let rig = socket.plug(Plugged::default());
    wait_until("some log", || log_of(&recording).len() > 1_000);
    drop(rig);
    // The line breaks; the same logger answers next, then noise as fast as the line takes it.
    let mut stream = socket.accept();
    stream.write_all(&hello()).unwrap();
    program.wait_for("| recording |");
    let noise = noise(1 << 20);
    for _ in 0..NOISE / noise.len() {
        stream.write_all(&noise).unwrap();
    }
    // A quick machine has taken all that before it says anything: the noise goes on until it does.
    let is_told = AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            // Bounded, so that a failure above is told and not waited for.
            for _ in 0..3_000 {
                if is_told.load(Ordering::Relaxed) {
                    break;
                }
                (&stream).write_all(&noise[..4096]).unwrap();
                std::thread::sleep(Duration::from_millis(20));
            }
        });
        program.wait_for("no logger's data");
        is_told.store(true, Ordering::Relaxed);
    });
    wait_until("the noise in the log", || log_of(&recording).len() > NOISE);
    let rig = Rig::play(Plugged::default(), stream.try_clone().unwrap(), stream);
    wait_until("good frames", || {
        rig.sent.lock().unwrap().bytes.len() > 3_000
    });
    let sent = rig.sent.lock().unwrap().bytes[..2_000].to_vec();
    wait_until("good frames in the log", || {
        let log = log_of(&recording);
        log[NOISE..].windows(sent.len()).any(|part| part == sent)
    });
    let said = program.stop();
    assert_eq!(said.code, Some(0), "{}", said.err);
    let loaded = load(&recording).unwrap();
    assert!(!loaded.defects.is_empty(), "the noise is told");
}

#[test]
fn another_logger_on_the_way_back_is_not_mixed_into_the_recording() {
    let folder = Scratch::new("stranger");
    let port = folder.join("logger");
    let rig = pty::plug(&port, Plugged::default());
    let recording = folder.join("one");
    let program = Program::record(&recording, text(&port));
    wait_until("some log", || log_of(&recording).len() > 1_000);
    pty::unplug(&port, rig);
    program.wait_for("the logger is gone");
    let length = log_of(&recording).len();
    let stranger = Plugged {
        device_id: 0xBAD,
        ..Plugged::default()
    };
    let other = pty::plug(&port, stranger);
    program.wait_for("another logger (BAD) is at");
    assert_eq!(log_of(&recording).len(), length);
    pty::unplug(&port, other);
    let back = Plugged {
        boot_id: 2,
        ..Plugged::default()
    };
    let _rig = pty::plug(&port, back);
    wait_until("it goes on", || log_of(&recording).len() > length + 500);
    let said = program.stop();
    assert_eq!(said.code, Some(0), "{}", said.err);
    assert!(
        said.out.contains("line found again 1 times"),
        "{}",
        said.out
    );
}
