//! A recorder that is killed at any instruction: what was whole before the cut is read back equal.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use tipcurve::recording::load::load;
use tipcurve::recording::log::LogWriter;
use tipcurve::recording::{Data, DeviceLog, LoadDefect};
use tipcurve_tests::scratch::Scratch;
use tipcurve_tests::wire_log::{BLOCK, LogBuilder};

fn three_seconds() -> LogBuilder {
    let mut b = LogBuilder::new();
    b.hello();
    b.second();
    b.second();
    b.second();
    b
}

fn read(folder: &Scratch) -> (DeviceLog, Vec<LoadDefect>) {
    let recording = load(folder.path()).unwrap();
    match recording.data {
        Data::Device(log) => (log, recording.defects),
        Data::Samples(_) => panic!("a log must load as one"),
    }
}

fn prepare(name: &str) -> Scratch {
    let folder = Scratch::new(name);
    folder.write("notes.csv", "time\n");
    folder.write("session.toml", "");
    folder
}

/// Cuts at every byte of the last second: the hello is long since written, as a recorder asks for it.
#[test]
fn a_log_cut_at_any_byte_keeps_every_whole_frame() {
    let b = three_seconds();
    let folder = prepare("cut");
    folder.write("arrivals.csv", "end_byte,host_unix_s\n10,1700000000.0\n");
    let whole = {
        folder.write("frames.log", &b.bytes);
        read(&folder).0
    };
    let last_second = b.ends[b.ends.len() - 18];
    for cut in last_second..b.bytes.len() {
        folder.write("frames.log", &b.bytes[..cut]);
        let (log, defects) = read(&folder);
        let n = log.t_s.len();
        assert_eq!(n % BLOCK, 0, "cut at {cut}: a block came in part");
        assert_eq!(log.pressure_code[..], b.codes[..n], "cut at {cut}");
        assert!(log.t_s.iter().eq(whole.t_s.iter().take(n)), "cut at {cut}");
        assert_eq!(
            log.edge_t_s[..],
            whole.edge_t_s[..log.edge_t_s.len()],
            "cut at {cut}"
        );
        let is_between_frames = b.ends.contains(&cut);
        let codes: Vec<&str> = defects.iter().map(|d| d.code.as_str()).collect();
        let expected: &[&str] = if is_between_frames {
            &[]
        } else {
            &["torn_tail"]
        };
        assert_eq!(codes, expected, "cut at {cut}");
        // Only the frame that was cut is missing: everything that ended before it is there.
        let whole_frames = b.ends.iter().filter(|end| **end <= cut).count();
        let mut longer = b.clone();
        longer.bytes.truncate(b.ends[whole_frames - 1]);
        folder.write("frames.log", &longer.bytes);
        let (before, _) = read(&folder);
        assert_eq!(
            (before.t_s.len(), before.edge_t_s.len()),
            (n, log.edge_t_s.len()),
            "cut at {cut}"
        );
    }
}

/// The two files are written one after the other and may reach the disk in any order.
#[test]
fn an_arrivals_file_cut_at_any_byte_costs_no_sample() {
    let b = three_seconds();
    let folder = prepare("cut-arrivals");
    folder.write("frames.log", &b.bytes);
    let rows: String = b
        .ends
        .iter()
        .enumerate()
        .map(|(i, end)| format!("{end},{:.6}\n", 1.7e9 + i as f64 / 20.0))
        .collect();
    let text = format!("end_byte,host_unix_s\n{rows}");
    folder.write("arrivals.csv", &text);
    let (whole, _) = read(&folder);
    for cut in 0..text.len() {
        folder.write("arrivals.csv", &text[..cut]);
        let (log, defects) = read(&folder);
        assert!(log.t_s.iter().eq(whole.t_s.iter()), "cut at {cut}");
        assert_eq!(
            log.arrivals[..],
            whole.arrivals[..log.arrivals.len()],
            "cut at {cut}"
        );
        for defect in &defects {
            assert!(
                ["bad_arrivals", "no_arrivals"].contains(&defect.code.as_str()),
                "{defect:?}"
            );
        }
    }
    // Rows that speak of bytes which never reached the disk.
    folder.write("arrivals.csv", &text);
    folder.write("frames.log", &b.bytes[..b.ends[30]]);
    let (log, defects) = read(&folder);
    assert_eq!(log.arrivals[..], whole.arrivals[..log.arrivals.len()]);
    assert!(defects.is_empty(), "{defects:?}");
}

/// Killed in the middle of a frame, started again: the half frame is lost and nothing else.
#[test]
fn a_recording_that_is_resumed_at_any_cut_loses_the_cut_frame_only() {
    let b = three_seconds();
    let half = b.ends[20];
    for cut in half..b.ends[22] {
        let folder = prepare(&format!("resume-{cut}"));
        folder.write("frames.log", &b.bytes[..cut]);
        folder.write("arrivals.csv", "end_byte,host_unix_s\n10,1700000000.0\n");
        let mut log = LogWriter::resume(folder.path()).unwrap();
        // What the device sent while nobody listened is gone; listening begins in mid-frame.
        log.append(&b.bytes[b.ends[23] - 7..], 1.7e9 + 2.0).unwrap();
        drop(log);
        let (log, _) = read(&folder);
        let lost: u64 = log.gaps.iter().filter_map(|g| g.samples_lost).sum();
        assert_eq!(
            log.t_s.len() as u64 + lost,
            b.codes.len() as u64,
            "cut at {cut}"
        );
        assert!(lost <= 4 * BLOCK as u64, "cut at {cut}: {lost}");
        for (t_s, code) in log.t_s.iter().zip(&log.pressure_code) {
            let index = (t_s * 500.0).round();
            assert_eq!(f64::from(*code), index % 1_000.0, "cut at {cut}, {t_s} s");
        }
    }
}

/// Another program's bytes, noise, and a log of nothing but noise: told, never a panic.
#[test]
fn foreign_bytes_in_the_log_are_passed_over() {
    let b = three_seconds();
    let mut bytes = b.bytes[..b.ends[4]].to_vec();
    bytes.extend_from_slice(b"login: root\r\nPassword:\x00");
    bytes.extend((0..5_000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8));
    bytes.push(0);
    bytes.extend_from_slice(&b.bytes[b.ends[4]..]);
    let folder = prepare("foreign");
    folder.write("frames.log", &bytes);
    let (log, defects) = read(&folder);
    assert_eq!(log.pressure_code, b.codes, "not one sample is lost");
    let codes: Vec<&str> = defects.iter().map(|d| d.code.as_str()).collect();
    assert_eq!(codes, ["corrupt_frames", "no_arrivals"]);

    let noise: Vec<u8> = (0..100_000_u32)
        .map(|i| (i.wrapping_mul(2_246_822_519) >> 13).to_le_bytes()[0])
        .collect();
    folder.write("frames.log", noise);
    let (log, _) = read(&folder);
    assert!(log.t_s.is_empty());
}
