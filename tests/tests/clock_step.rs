//! The host's clock is set while a recording runs: it is told, and the recording's time goes on without the step.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use std::io;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use tipcurve::record::address::Address;
use tipcurve::record::host_clock::{HostClock, system_unix_s};
use tipcurve::record::port::{FoundPort, Ports};
use tipcurve::record::probe::Found;
use tipcurve::record::recorder::{Setup, record};
use tipcurve::record::source::{Heard, Source};
use tipcurve::record::spool::Log;
use tipcurve::record::status::{Listener, Status};
use tipcurve::recording::log::{LogWriter, read_arrivals};
use tipcurve::recording::{Data, folder, load::load};
use tipcurve_tests::scratch::Scratch;
use tipcurve_tests::wire_log::LogBuilder;

struct NoPorts;

impl Ports for NoPorts {
    fn list(&self) -> Vec<FoundPort> {
        Vec::new()
    }

    fn open(&self, _: &Address) -> io::Result<Box<dyn Source>> {
        Err(io::ErrorKind::NotFound.into())
    }

    fn is_present(&self, _: &Address) -> bool {
        false
    }
}

/// Bytes that come a tenth of a second at a time, then an end.
struct Stream {
    bytes: Vec<u8>,
    done: usize,
}

impl Source for Stream {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<Heard> {
        std::thread::sleep(std::time::Duration::from_millis(30));
        let end = self.bytes.len().min(self.done + 60);
        let part = &self.bytes[self.done..end];
        buffer[..part.len()].copy_from_slice(part);
        self.done = end;
        Ok(match part.len() {
            0 => Heard::End,
            n => Heard::Bytes(n),
        })
    }

    fn write(&mut self, _: &[u8]) -> io::Result<()> {
        Ok(())
    }
}

struct FolderLog(LogWriter);

impl Log for FolderLog {
    fn append(&mut self, bytes: &[u8], host_unix_s: f64) -> (usize, io::Result<()>) {
        let before = self.0.end_byte();
        let outcome = self.0.append(bytes, host_unix_s);
        let taken = usize::try_from(self.0.end_byte() - before).unwrap();
        (taken, outcome)
    }

    fn sync_if_due(&mut self, host_unix_s: f64) -> io::Result<()> {
        self.0.sync_if_due(host_unix_s)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.0.sync()
    }

    fn len(&self) -> u64 {
        self.0.end_byte()
    }
}

struct Nobody;

impl Listener for Nobody {
    fn on_bytes(&mut self, _: &[u8], _: f64) {}
    fn on_status(&mut self, _: &Status) {}
}

#[track_caller]
fn check(step_s: f64, words: &str) {
    let scratch = Scratch::new(&format!("clock-step-{step_s}"));
    scratch.write(folder::NOTES, "time\n");
    scratch.write(folder::SESSION, "");
    let mut device = LogBuilder::new();
    device.hello();
    (0..3).for_each(|_| device.second());
    let begun_unix_s = system_unix_s() - step_s;
    let setup = Setup {
        ports: Arc::new(NoPorts),
        found: Found {
            address: Address::Stdin,
            source: Box::new(Stream {
                bytes: device.bytes.clone(),
                done: 0,
            }),
            heard: Vec::new(),
            hello: None,
        },
        wanted: Vec::new(),
        rate_hz: None,
        log: FolderLog(LogWriter::create(scratch.path()).unwrap()),
        folder: scratch.path().to_owned(),
        clock: HostClock::start_at(begun_unix_s),
        stop: Arc::new(AtomicBool::new(false)),
    };
    let status = record(setup, &mut Nobody).unwrap();
    assert!(
        status
            .warnings
            .iter()
            .any(|warning| warning.contains(words)),
        "{:?}",
        status.warnings
    );
    assert_eq!(scratch.read(folder::FRAMES), device.bytes);
    let (rows, _) = read_arrivals(&scratch.read(folder::ARRIVALS));
    assert!(rows.len() > 3, "{rows:?}");
    let mut before_s = begun_unix_s;
    for row in rows {
        assert!(
            (0.0..60.0).contains(&(row.host_unix_s - before_s)),
            "{row:?}"
        );
        before_s = row.host_unix_s;
    }
    let Data::Device(log) = load(scratch.path()).unwrap().data else {
        panic!("a log must load as one");
    };
    assert_eq!(log.pressure_code, device.codes);
}

#[test]
fn a_clock_that_was_set_is_told_and_the_recording_goes_on_without_the_step() {
    check(3_600.0, "clock was set by +3600 s");
    check(-7_200.0, "clock was set by -7200 s");
}
