//! The bytes of every message, stored per wire version and compared both ways.
//!
//! `golden/wire/VERSION/NAME.hex` holds what a writer of that version sent. Files of an older version
//! stay for ever and must still read as the same message. With `TIPCURVE_REWRITE_GOLDEN=1` in the
//! environment the files of the current version are written anew; review the difference.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use tipcurve_protocol::message::{MAX_CHANNELS, Name};
use tipcurve_protocol::{
    Action, Block, Channel, ClockEcho, Command, Edges, Event, Health, Hello, Kind, Mark, Message,
    Outcome, Quantity, Reader, Reply, ResetReason, Samples, Slow, WIRE_VERSION, delta, frame,
};

fn folder() -> PathBuf {
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("golden/wire");
    golden.join(WIRE_VERSION.to_string())
}

/// Bytes as lines of sixteen, readable beside `WIRE.md`.
fn as_hex(bytes: &[u8]) -> String {
    let mut text = String::new();
    for line in bytes.chunks(16) {
        let mut gap = "";
        for byte in line {
            write!(text, "{gap}{byte:02x}").expect("a string takes everything");
            gap = " ";
        }
        text.push('\n');
    }
    text
}

fn from_hex(text: &str) -> Vec<u8> {
    let words = text.lines().filter(|line| !line.starts_with('#'));
    words
        .flat_map(str::split_whitespace)
        .map(|word| u8::from_str_radix(word, 16).expect("two hexadecimal digits"))
        .collect()
}

#[track_caller]
fn check(name: &str, message: &Message<'_>) {
    let mut buffer = [0; frame::MAX_FRAME_BYTES];
    let bytes = frame::encode(message, &mut buffer).expect("a frame fits");
    let path = folder().join(name).with_extension("hex");
    if std::env::var_os("TIPCURVE_REWRITE_GOLDEN").is_some() {
        std::fs::create_dir_all(folder()).expect("the folder can be made");
        std::fs::write(&path, as_hex(bytes)).expect("the file can be written");
    }
    let stored = std::fs::read_to_string(&path).expect("the golden file is there");
    assert_eq!(as_hex(bytes), as_hex(&from_hex(&stored)), "{name}: written");

    let stored = from_hex(&stored);
    let mut reader = Reader::new();
    let mut input = stored.as_slice();
    let read = reader.next(&mut input);
    assert_eq!(read, Some(Event::Message(message.clone())), "{name}: read");
    assert!(input.is_empty(), "{name}: one frame");
}

fn name(text: &str) -> Name {
    text.parse().expect("a short name")
}

fn hello() -> Hello {
    let pressure = Channel {
        quantity: Quantity::Pressure,
        scale_nano: 1_515_151_515_152,
        offset_nano: 0,
        min_code: -32_768,
        max_code: 32_767,
        interval_ticks: 0,
    };
    let supply = Channel {
        quantity: Quantity::SupplyVoltage,
        scale_nano: 1_000_000,
        offset_nano: 0,
        min_code: 0,
        max_code: 36_000,
        interval_ticks: 200_000,
    };
    Hello {
        version: WIRE_VERSION,
        device_id: 0x7f3a_0000_1234_5678,
        boot_id: 42,
        firmware: name("0.1.0"),
        board: name("bench"),
        sample_rate_hz: 500,
        min_sample_rate_hz: 10,
        max_sample_rate_hz: 1_000,
        debounce_ticks: 500,
        channels: [pressure, supply].into_iter().collect(),
    }
}

#[test]
fn hello_has_its_bytes() {
    check("hello", &Message::Hello(hello()));
    let mut bare = hello();
    bare.channels.clear();
    bare.firmware.clear();
    bare.board.clear();
    check("hello_bare", &Message::Hello(bare));
    let mut full = hello();
    let last = full.channels[1];
    while full.channels.len() < MAX_CHANNELS {
        full.channels.push(last).expect("there is room");
    }
    check("hello_full", &Message::Hello(full));
}

fn check_samples(name: &str, codes: &[i32]) {
    let mut planes = [0; delta::MAX_PLANE_BYTES];
    let samples = Samples {
        first_sample: 1_000,
        base_ticks: 2_000_000,
        period_ticks: 2_000,
        block: Block::encode(codes, &mut planes).expect("a block fits"),
    };
    check(name, &Message::Samples(samples));
    let mut restored = vec![0; codes.len()];
    samples
        .block
        .decode(&mut restored)
        .expect("a block returns");
    assert_eq!(restored, codes, "{name}");
}

#[test]
fn samples_have_their_bytes_under_each_predictor() {
    check_samples("samples_level", &[9_000, 9_003, 9_001, 8_998, 9_002]);
    check_samples("samples_previous", &[0, 40, 83, 81, 120, 160, 158, 200]);
    check_samples("samples_line", &[0, 100, 201, 299, 400, 502, 600]);
    check_samples("samples_one", &[-32_768]);
    check_samples("samples_extreme", &[i32::MAX, i32::MIN, 0, -1]);
    let long: Vec<i32> = (0..256).map(|i| 9_000 + (i * i) % 17).collect();
    check_samples("samples_longest", &long);
}

#[test]
fn edges_have_their_bytes() {
    let mut planes = [0; delta::MAX_PLANE_BYTES];
    let mut edges = Edges {
        first_edge: 128,
        base_ticks: 5_000_000_000,
        over_captures: 1,
        rejected: 300,
        intervals: Block::encode(&[6_700, 6_650, 6_720], &mut planes).expect("a block fits"),
    };
    check("edges", &Message::Edges(edges));
    edges.intervals = Block::encode(&[], &mut []).expect("nothing fits anywhere");
    check("edges_one", &Message::Edges(edges));
}

#[test]
fn slow_readings_have_their_bytes() {
    let slow = Slow {
        device_ticks: 3_100_000,
        coating_temperature_code: Some(-250),
        air_temperature_code: Some(1_840),
        air_humidity_code: Some(6_125),
        supply_voltage_code: Some(18_204),
        supply_current_code: Some(22_900),
    };
    check("slow", &Message::Slow(slow));
    check("slow_none", &Message::Slow(Slow::default()));
}

#[test]
fn mark_has_its_bytes() {
    let mark = Mark {
        first_mark: 3,
        device_ticks: 12_345_678,
    };
    check("mark", &Message::Mark(mark));
}

#[test]
fn health_has_its_bytes() {
    let health = Health {
        device_ticks: 1 << 33,
        boot_id: 42,
        reset_reason: ResetReason::BrownOut,
        heartbeat: 8_589,
        is_running: true,
        sent_samples: 4_294_967,
        sent_edges: 70_000,
        sent_marks: 3,
        dropped_blocks: 1,
        dropped_samples: 250,
        dropped_edges: 2,
        dropped_others: 4,
        missed_samples: 5,
        saturated_samples: 6,
        bus_errors: 7,
        absent_channels: 0b1000,
        over_captures: 8,
        debounce_rejects: 300,
        bad_frames: 9,
        send_errors: 10,
        queue_high_water: 6,
    };
    check("health", &Message::Health(health));
    check("health_first", &Message::Health(Health::default()));
}

#[test]
fn commands_and_answers_have_their_bytes() {
    for (name, action) in [
        ("command_start", Action::Start),
        ("command_stop", Action::Stop),
        ("command_set_rate", Action::SetRate(1_000)),
        ("command_identify", Action::Identify),
        (
            "command_echo_clock",
            Action::EchoClock {
                token: 0x0123_4567_89ab_cdef,
            },
        ),
        (
            "command_later",
            Action::Other {
                code: 200,
                argument: 9,
            },
        ),
    ] {
        check(name, &Message::Command(Command { id: 513, action }));
    }
    let reply = Reply {
        id: 513,
        outcome: Outcome::RateOutOfRange,
        is_running: false,
        sample_rate_hz: 500,
    };
    check("reply", &Message::Reply(reply));
    let echo = ClockEcho {
        id: 513,
        token: 0x0123_4567_89ab_cdef,
        received_ticks: 7_000_000,
        sent_ticks: 7_000_450,
    };
    check("clock_echo", &Message::ClockEcho(echo));
}

#[test]
fn every_golden_file_is_one_sound_frame() {
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("golden/wire");
    let mut n_files = 0;
    for version in std::fs::read_dir(golden).expect("the folder is there") {
        let version = version.expect("an entry").path();
        for file in std::fs::read_dir(&version).expect("a folder per version") {
            let path = file.expect("an entry").path();
            let bytes = from_hex(&std::fs::read_to_string(&path).expect("a text file"));
            let mut reader = Reader::new();
            let mut input = bytes.as_slice();
            let event = reader.next(&mut input);
            assert!(
                matches!(event, Some(Event::Message(_))),
                "{}: {event:?}",
                path.display()
            );
            n_files += 1;
        }
    }
    assert_eq!(
        n_files, 24,
        "a file without a test, or a test without a file"
    );
}

/// The specification cannot drift from the bytes: each of its examples is a golden frame.
#[test]
fn worked_bytes_in_the_specification_are_the_golden_ones() {
    let protocol = Path::new(env!("CARGO_MANIFEST_DIR")).join("../protocol");
    let text = std::fs::read_to_string(protocol.join("WIRE.md")).expect("the file is there");
    let mut kinds = std::collections::BTreeSet::new();
    for example in text.split("```hex ").skip(1) {
        let (name, rest) = example.split_once('\n').expect("a name");
        let (bytes, _) = rest.split_once("```").expect("an end");
        let path = folder().join(name).with_extension("hex");
        let golden = std::fs::read_to_string(path).expect("the golden file is there");
        assert_eq!(bytes, golden, "{name}");
        kinds.insert(from_hex(bytes)[2]);
    }
    let all: std::collections::BTreeSet<u8> = Kind::ALL.iter().map(|kind| kind.as_code()).collect();
    assert_eq!(kinds, all, "every kind has an example");
}

/// Bits in the order of the line: least significant first.
fn flip(frame: &mut [u8], start: usize, pattern: u32) {
    for i in (0..32).filter(|i| pattern >> i & 1 == 1) {
        if let Some(byte) = frame.get_mut((start + i) / 8) {
            *byte ^= 1 << ((start + i) % 8);
        }
    }
}

#[track_caller]
fn check_no_message(damaged: &[u8]) {
    let mut reader = Reader::new();
    let mut input = damaged;
    while let Some(event) = reader.next(&mut input) {
        assert!(
            !matches!(event, Event::Message(_)),
            "{damaged:02x?} gave {event:?}"
        );
    }
}

#[test]
fn damage_to_any_golden_frame_never_passes_for_data() {
    let mut random = 0x9e37_79b9_u32;
    for file in std::fs::read_dir(folder()).expect("the folder is there") {
        let path = file.expect("an entry").path();
        let frame = from_hex(&std::fs::read_to_string(path).expect("a text file"));
        let n_bits = (frame.len() - 1) * 8;
        for bit in 0..n_bits {
            let mut damaged = frame.clone();
            flip(&mut damaged, bit, 1);
            check_no_message(&damaged);
        }
        // Bursts of every length from 2 to 32 bits, their inside at random, wherever they fit.
        for length in 2..=32_u32 {
            for start in 0..=n_bits.saturating_sub(length as usize) {
                random ^= random << 13;
                random ^= random >> 17;
                random ^= random << 5;
                let ends = 1 | 1 << (length - 1);
                let inside = random & (u32::MAX >> (32 - length));
                let mut damaged = frame.clone();
                flip(&mut damaged, start, inside | ends);
                check_no_message(&damaged);
            }
        }
    }
}
