//! A log decoded on two processors is the log decoded portion by portion, and a disk that fails is told.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use std::io::{self, Read};

use tipcurve::recording::decode::{Decoded, Decoder, read_log};
use tipcurve::recording::log::Arrival;
use tipcurve_tests::long_log::repeat;
use tipcurve_tests::wire_log::LogBuilder;

/// Some 3 MB: many portions, and more than it takes to estimate the length of the columns.
fn long_log() -> Vec<u8> {
    let mut b = LogBuilder::new();
    b.hello();
    b.second();
    b.second();
    let copies = 3_000_000 / b.bytes.len();
    repeat(&b.bytes, u32::try_from(copies).unwrap())
}

fn arrivals(n_bytes: usize) -> Vec<Arrival> {
    let ends = (0..n_bytes as u64).step_by(1009).enumerate();
    ends.map(|(i, end_byte)| Arrival {
        end_byte,
        host_unix_s: 1.7e9 + 0.1 * f64::from(u32::try_from(i).unwrap()),
    })
    .collect()
}

fn in_portions(log: &[u8], portion: usize, arrivals: &[Arrival]) -> Decoded {
    let mut decoder = Decoder::new();
    for arrival in arrivals {
        decoder.push_arrival(*arrival);
    }
    for bytes in log.chunks(portion) {
        decoder.push(bytes);
    }
    decoder.finish()
}

/// A disk that gives odd lengths, is interrupted now and then, and fails at the end where told to.
struct Disk<'a> {
    rest: &'a [u8],
    n_reads: usize,
    fails: bool,
}

impl Read for Disk<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.n_reads += 1;
        if self.n_reads.is_multiple_of(7) {
            return Err(io::ErrorKind::Interrupted.into());
        }
        if self.rest.is_empty() && self.fails {
            return Err(io::Error::other("the stick was pulled"));
        }
        let n = self.rest.len().min(into.len()).min(1 + 977 * self.n_reads);
        into[..n].copy_from_slice(&self.rest[..n]);
        self.rest = &self.rest[n..];
        Ok(n)
    }
}

fn disk(log: &[u8], fails: bool) -> Disk<'_> {
    Disk {
        rest: log,
        n_reads: 0,
        fails,
    }
}

#[track_caller]
fn check(log: &[u8]) -> Decoded {
    let arrivals = arrivals(log.len());
    let expected = in_portions(log, 100_003, &arrivals);
    for bytes_expected in [0, log.len() as u64] {
        let read = read_log(disk(log, false), bytes_expected, arrivals.clone()).unwrap();
        assert_eq!(read, expected);
    }
    assert_eq!(expected.n_bytes, log.len() as u64);
    expected
}

#[test]
fn a_sound_log_is_the_same_both_ways() {
    let decoded = check(&long_log());
    assert!(decoded.log.pressure_code.len() > 1_000_000);
    assert!(decoded.log.arrivals.len() > 1_000);
}

#[test]
fn a_damaged_and_torn_log_is_the_same_both_ways() {
    let mut log = long_log();
    for at in (0..log.len()).step_by(50_021) {
        log[at] ^= 0x41;
    }
    log.truncate(log.len() - 11);
    let decoded = check(&log);
    assert!(!decoded.log.gaps.is_empty());
    assert!(!decoded.defects.is_empty());
}

#[test]
fn no_log_is_no_error() {
    let decoded = read_log(io::empty(), 0, []).unwrap();
    assert_eq!(decoded, in_portions(&[], 1, &[]));
}

#[test]
fn a_disk_that_fails_is_told_wherever_it_does() {
    let log = long_log();
    for n in [0, 10_000, log.len()] {
        let error = read_log(disk(&log[..n], true), log.len() as u64, []).unwrap_err();
        assert_eq!(error.to_string(), "the stick was pulled");
    }
}
