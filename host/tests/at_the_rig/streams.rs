//! Every way that bytes can come in, from the first to the last of them.

use std::io::Write;

use crate::program::{Program, Socket, log_of, run, text, wait_until};
use crate::pty;
use crate::rig::{Plugged, Rig};
use crate::scratch::Scratch;

/// Records at least so much of the log, then stops by a signal; checks the log byte by byte.
#[track_caller]
fn check_stopped_by(signal: &str, port: &str, rig: &Rig, folder: &Scratch) {
    let recording = folder.join("one");
    let program = Program::start(&[
        "record",
        text(&recording),
        "--port",
        port,
        "--no-page",
        "--json",
    ]);
    wait_until("half a second of log", || log_of(&recording).len() > 1_500);
    program.signal(signal);
    let said = program.end();
    assert_eq!(said.code, Some(0), "{}", said.err);
    let last: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(last["samples_lost"], 0, "{last}");
    assert_eq!(last["frames_damaged"], 0, "{last}");
    let log = log_of(&recording);
    assert_eq!(last["log_bytes"], log.len());
    // Bytes from before the port was open may be lost; from then on none is.
    let sent = rig.sent.lock().unwrap();
    assert!(
        is_part_of(&log, &sent.bytes),
        "the log is not what was sent"
    );
}

fn is_part_of(part: &[u8], whole: &[u8]) -> bool {
    whole.windows(part.len()).any(|window| window == part)
}

#[test]
fn a_serial_port_is_recorded_until_ctrl_c() {
    let folder = Scratch::new("serial");
    let port = folder.join("logger");
    let rig = pty::plug(&port, Plugged::default());
    check_stopped_by("INT", text(&port), &rig, &folder);
}

#[test]
fn a_socket_is_recorded_until_terminated() {
    let folder = Scratch::new("socket");
    let socket = Socket::open();
    let recording = folder.join("one");
    let program = Program::start(&[
        "record",
        text(&recording),
        "--port",
        &socket.address,
        "--no-page",
    ]);
    let rig = socket.plug(Plugged::default());
    wait_until("a second of log", || log_of(&recording).len() > 2_000);
    program.signal("TERM");
    let said = program.end();
    assert_eq!(said.code, Some(0), "{}", said.err);
    let sent = rig.sent.lock().unwrap();
    assert!(sent.bytes.starts_with(&log_of(&recording)));
    assert!(said.out.contains("0 lost"), "{}", said.out);
}

#[test]
fn standard_input_is_recorded_to_its_end_to_the_last_byte() {
    let folder = Scratch::new("stdin");
    let recording = folder.join("one");
    let args = ["record", text(&recording), "--port", "-", "--no-page"];
    let (program, input) = Program::start_piped(&args);
    let rig = Rig::play(
        Plugged {
            speed: 20.0,
            ..Plugged::default()
        },
        std::io::empty(),
        input,
    );
    wait_until("some log", || log_of(&recording).len() > 10_000);
    let sent = std::sync::Arc::clone(&rig.sent);
    drop(rig);
    let said = program.end();
    assert_eq!(said.code, Some(0), "{}", said.err);
    assert_eq!(log_of(&recording), sent.lock().unwrap().bytes);
    let report = folder.join("report");
    let read = run(&["report", text(&recording), "--output", text(&report)]);
    assert_eq!(read.code, Some(0), "{}", read.err);
}

#[test]
fn among_several_ports_the_only_logger_is_chosen_by_its_hello() {
    let folder = Scratch::new("several");
    let (silent, talking, port) = (
        folder.join("silent"),
        folder.join("talking"),
        folder.join("logger"),
    );
    let _silent = pty::plug_other(&silent);
    let mut talker = pty::plug_other(&talking);
    let chatter = std::thread::spawn(move || {
        for _ in 0..400 {
            let _ = talker.write(b"$GPGGA,no,logger,at,all\r\n");
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
    });
    let _rig = pty::plug(&port, Plugged::default());
    let recording = folder.join("one");
    let mut args = vec!["record", text(&recording), "--no-page", "--wait", "2"];
    for place in [&silent, &talking, &port] {
        args.extend(["--port", text(place)]);
    }
    let program = Program::start(&args);
    program.wait_for("logger 51D07E57 at ");
    program.wait_for("test rig, firmware");
    wait_until("some log", || log_of(&recording).len() > 1_000);
    assert_eq!(program.stop().code, Some(0));
    chatter.join().unwrap();
}

#[test]
fn two_loggers_are_told_apart_by_device_only() {
    let folder = Scratch::new("two");
    let ports = [folder.join("a"), folder.join("b")];
    let _rigs: Vec<Rig> = (1u8..)
        .zip(&ports)
        .map(|(k, port)| {
            pty::plug(
                port,
                Plugged {
                    device_id: 0xA0 + u64::from(k),
                    ..Plugged::default()
                },
            )
        })
        .collect();
    let recording = folder.join("one");
    let args = [
        "record",
        text(&recording),
        "--no-page",
        "--port",
        text(&ports[0]),
        "--port",
        text(&ports[1]),
    ];
    let said = run(&args);
    assert_eq!(said.code, Some(2));
    assert!(
        said.err.contains("2 loggers answered")
            && said.err.contains("A1")
            && said.err.contains("A2"),
        "{}",
        said.err
    );
    assert!(!recording.exists(), "a folder was left behind");
    let program = Program::start(&[&args[..], &["--device", "A2"]].concat());
    program.wait_for("logger A2 at ");
    wait_until("some log", || log_of(&recording).len() > 1_000);
    assert_eq!(program.stop().code, Some(0));
}

#[test]
fn the_list_of_ports_says_what_is_known_of_each() {
    let said = run(&["record", "--list"]);
    assert_eq!(said.code, Some(0), "{}", said.err);
    for line in said.out.lines() {
        let is_row = line
            .split_once('\t')
            .is_some_and(|(_, what)| !what.is_empty());
        assert!(is_row || line == "no serial port is there", "{line}");
    }
}
