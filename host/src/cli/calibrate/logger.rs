//! The logger beside a guided calibration: read on a thread of its own, nothing recorded.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::guide::Instrument;
use crate::cli::Stop;
use crate::cli::args::CalibrateArgs;
use crate::live::bench::{Bench, Scale};
use crate::live::readings::{CaughtEdges, ReadingFault, Readings, RestMean};
use crate::record::address::Address;
use crate::record::host_clock::system_unix_s;
use crate::record::port::SystemPorts;
use crate::record::probe::{Found, find_logger};
use crate::record::source::{Heard, Source};

/// A mean is taken over this long, s.
const MEAN_S: f64 = 5.0;

/// How long its readings are waited for: as long as it lasts, and the logger's blocks.
const MEAN_PATIENCE: Duration = Duration::from_secs(15);

/// A logger that is listened to.
pub(super) struct Logger {
    readings: Arc<Readings>,
    device_id: Option<u64>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Logger {
    /// Finds the only logger and begins to listen.
    pub(super) fn open(args: &CalibrateArgs) -> Result<Self, Stop> {
        let wanted = args
            .port
            .iter()
            .map(|text| text.parse::<Address>())
            .collect::<Result<Vec<_>, _>>()
            .map_err(Stop::bad_input)?;
        if wanted.contains(&Address::Stdin) {
            return Err(Stop::bad_input(
                "--port -: standard input is where you answer; give a port, a socket or a pipe",
            ));
        }
        let ports = SystemPorts { baud: args.baud };
        let stop = Arc::new(AtomicBool::new(false));
        let patience = Duration::from_secs(args.wait);
        let found = find_logger(&ports, &wanted, None, patience, &stop).map_err(|error| {
            Stop::bad_input(error.to_string().replace("recorded", "calibrated"))
        })?;
        Self::listen(found, stop)
    }

    fn listen(found: Found, stop: Arc<AtomicBool>) -> Result<Self, Stop> {
        let readings = Arc::new(Readings::default());
        let device_id = found.hello.as_ref().map(|hello| hello.device_id);
        let (kept, stopped) = (Arc::clone(&readings), Arc::clone(&stop));
        let thread = std::thread::Builder::new()
            .name("line".to_owned())
            .spawn(move || {
                let mut bench = Bench::new(Scale::default(), kept);
                bench.feed(&found.heard, system_unix_s());
                take_all(found.source, &mut bench, &stopped);
            })
            .map_err(|e| Stop::failed(format!("the logger cannot be listened to: {e}")))?;
        Ok(Self {
            readings,
            device_id,
            stop,
            thread: Some(thread),
        })
    }

    pub(super) const fn device_id(&self) -> Option<u64> {
        self.device_id
    }
}

/// Reads until stopped or the line breaks; what is missing then is said where it is asked for.
fn take_all(mut source: Box<dyn Source>, bench: &mut Bench, stop: &AtomicBool) {
    let mut buffer = vec![0; 16 * 1024];
    while !stop.load(Ordering::Relaxed) {
        match source.read(&mut buffer) {
            Ok(Heard::Bytes(n)) => bench.feed(&buffer[..n], system_unix_s()),
            Ok(Heard::Nothing) => {}
            Ok(Heard::End) | Err(_) => return,
        }
    }
}

impl Drop for Logger {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

impl Instrument for Logger {
    /// The mean of what comes after the word was given.
    fn mean(&self) -> Result<RestMean, ReadingFault> {
        let begun = Instant::now();
        let from_s = self.readings.heard_to_s();
        // What was under way at the word belongs to the time before it.
        while self.readings.heard_to_s() < from_s + MEAN_S + 1.0 {
            if begun.elapsed() > MEAN_PATIENCE {
                return Err(ReadingFault::Silent);
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        self.readings.rest_mean(MEAN_S)
    }

    fn start_catch(&self) -> Result<(), ReadingFault> {
        self.readings.start_catch()
    }

    fn pulses(&self) -> u32 {
        self.readings.caught_so_far().unwrap_or(0)
    }

    fn stop_catch(&self) -> Result<CaughtEdges, ReadingFault> {
        self.readings.stop_catch()
    }
}
