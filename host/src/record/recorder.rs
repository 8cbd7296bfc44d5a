//! Source to log, flushed each second. Decodes only to count and to answer the clock.

use std::io;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::RecvTimeoutError;
use std::time::Duration;

use thiserror::Error;
use tipcurve_protocol::Action;

use super::address::Address;
use super::host_clock::{HostClock, STEP_S};
use super::link::{Link, LinkEvent};
use super::port::Ports;
use super::probe::{Found, command};
use super::spool::{Log, Spool};
use super::status::{LineState, Listener, Status};
use super::tally::Tally;

/// Between two looks at the clock when nothing arrives.
const STEP: Duration = Duration::from_millis(50);

/// Between two statuses.
const STATUS_S: f64 = 1.0;

/// Between two questions for the logger's clock.
const ECHO_S: f64 = 10.0;

/// Without a whole frame for this long, three heartbeats, the line is not on line.
const STALE_S: f64 = 3.0;

/// Below this much free space the person is warned: an hour of the fastest line.
pub const LOW_DISK_BYTES: u64 = 64 << 20;

/// Below this much free space no recording is begun.
pub const LEAST_DISK_BYTES: u64 = 4 << 20;

/// What a recording needs.
pub struct Setup<L> {
    /// The ports of the system.
    pub ports: Arc<dyn Ports>,
    /// The logger.
    pub found: Found,
    /// Places to look at when it is lost.
    pub wanted: Vec<Address>,
    /// Samples per second that were asked of it. A logger that starts again is back at its own rate and is
    /// asked again.
    pub rate_hz: Option<u32>,
    /// Where its bytes go.
    pub log: L,
    /// The folder, for its free space.
    pub folder: PathBuf,
    /// Host time.
    pub clock: HostClock,
    /// Set to stop.
    pub stop: Arc<AtomicBool>,
}

/// Why a recording ended badly.
#[derive(Debug, Error)]
pub enum RecordError {
    /// The thread that reads could not start.
    #[error("the recorder could not start: {source}; nothing was recorded")]
    Start {
        /// The system's word.
        source: io::Error,
    },
    /// Bytes are left that the disk does not take.
    #[error(
        "{folder}: {source}; the last {bytes} bytes received could not be written, everything before \
         them is intact; make room on the disk before the next recording"
    )]
    Unwritten {
        /// The folder.
        folder: String,
        /// How many bytes.
        bytes: u64,
        /// The system's word.
        source: io::Error,
    },
}

/// Records until `stop` is set or the stream ends. Gives the last status.
///
/// # Errors
/// [`RecordError`]; the log is readable all the same.
pub fn record<L: Log>(setup: Setup<L>, listener: &mut dyn Listener) -> Result<Status, RecordError> {
    let source = setup.found.address.to_string();
    let link = Link::start(
        setup.ports,
        setup.found,
        setup.wanted,
        setup.clock,
        Arc::clone(&setup.stop),
    )
    .map_err(|source| RecordError::Start { source })?;
    let mut recorder = Recorder {
        spool: Spool::new(setup.log),
        tally: Tally::default(),
        rate_hz: setup.rate_hz,
        n_rated: 0,
        clock: setup.clock,
        folder: setup.folder,
        status: Status {
            source,
            ..Status::default()
        },
        line: Line::default(),
        told_at_s: f64::NEG_INFINITY,
        echo_at_s: setup.clock.elapsed_s() + 1.0,
        echo_id: 1,
    };
    recorder.run(&link, listener, &setup.stop);
    recorder.finish(listener)
}

/// What the link and the bytes say of the line.
#[derive(Debug, Default)]
struct Line {
    absent: Option<String>,
    other: Option<String>,
    bytes_at_s: Option<f64>,
    has_ended: bool,
}

struct Recorder<L> {
    spool: Spool<L>,
    tally: Tally,
    rate_hz: Option<u32>,
    /// Starts and returns of the logger after which it was asked for its rate.
    n_rated: u64,
    clock: HostClock,
    folder: PathBuf,
    status: Status,
    line: Line,
    told_at_s: f64,
    echo_at_s: f64,
    echo_id: u16,
}

impl<L: Log> Recorder<L> {
    fn run(&mut self, link: &Link, listener: &mut dyn Listener, stop: &AtomicBool) {
        self.tell(listener);
        while !stop.load(Ordering::Relaxed) {
            match link.events.recv_timeout(STEP) {
                Ok(event) => self.take(event, listener),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => self.line.has_ended = true,
            }
            if self.line.has_ended {
                break;
            }
            let now_s = self.clock.elapsed_s();
            if now_s - self.told_at_s >= STATUS_S || self.line_state(now_s) != self.status.line {
                self.spool.tend(self.clock.now_unix_s());
                self.tell(listener);
            }
            if now_s >= self.echo_at_s {
                self.ask_clock(link, now_s);
            }
            self.keep_rate(link);
        }
        // What was read before the stop belongs to the recording.
        while let Ok(event) = link.events.try_recv() {
            self.take(event, listener);
        }
    }

    fn take(&mut self, event: LinkEvent, listener: &mut dyn Listener) {
        match event {
            LinkEvent::Bytes(bytes, arrived_unix_s) => {
                self.spool.push(&bytes, arrived_unix_s);
                let now_s = self.clock.elapsed_s();
                self.tally.feed(&bytes, now_s);
                self.line.bytes_at_s = Some(now_s);
                listener.on_bytes(&bytes, arrived_unix_s);
            }
            LinkEvent::Lost(why) => {
                self.line.absent = Some(why);
                self.tell(listener);
            }
            LinkEvent::Quiet => {
                self.line.absent = None;
                self.tell(listener);
            }
            LinkEvent::Back(address) => {
                self.line = Line::default();
                self.status.source = address.to_string();
                self.status.reconnects += 1;
            }
            LinkEvent::Other(words) => self.line.other = Some(words),
            LinkEvent::Ended => self.line.has_ended = true,
        }
    }

    /// Asks for the rate again after each start or return of the logger.
    fn keep_rate(&mut self, link: &Link) {
        let n_starts = self.tally.counts().restarts + self.status.reconnects;
        if n_starts == self.n_rated {
            return;
        }
        self.n_rated = n_starts;
        if let Some(rate_hz) = self.rate_hz {
            link.send(command(2, Action::SetRate(rate_hz)));
        }
    }

    fn ask_clock(&mut self, link: &Link, now_s: f64) {
        self.echo_at_s = now_s + ECHO_S;
        if self.line_state(now_s) != LineState::OnLine {
            return;
        }
        self.echo_id = self.echo_id.wrapping_add(1);
        link.send(command(
            self.echo_id,
            Action::EchoClock {
                token: microseconds(self.clock.now_unix_s()),
            },
        ));
    }

    fn line_state(&self, now_s: f64) -> LineState {
        let is_fresh = |at_s: Option<f64>| at_s.is_some_and(|at_s| now_s - at_s < STALE_S);
        if self.line.has_ended {
            LineState::Ended
        } else if self.line.absent.is_some() {
            LineState::Absent
        } else if is_fresh(self.tally.valid_at_s()) {
            LineState::OnLine
        } else if is_fresh(self.line.bytes_at_s) {
            LineState::Garbled
        } else if self.tally.valid_at_s().is_none() {
            LineState::Waiting
        } else {
            LineState::Silent
        }
    }

    fn tell(&mut self, listener: &mut dyn Listener) {
        let now_s = self.clock.elapsed_s();
        self.told_at_s = now_s;
        let counts = self.tally.counts();
        let (sample_rate_hz, bytes_per_s) = self.tally.rates(now_s);
        let line = self.line_state(now_s);
        let is_on_line = line == LineState::OnLine;
        self.status = Status {
            line,
            source: std::mem::take(&mut self.status.source),
            device_id: self.tally.hello().map(|hello| hello.device_id),
            elapsed_s: now_s,
            sample_rate_hz: if is_on_line { sample_rate_hz } else { 0.0 },
            bytes_per_s: if is_on_line { bytes_per_s } else { 0.0 },
            samples: counts.samples,
            samples_lost: counts.samples_lost,
            edges_lost: counts.edges_lost,
            frames_damaged: counts.damaged,
            frames_unknown: counts.unknown,
            restarts: counts.restarts,
            reconnects: self.status.reconnects,
            log_bytes: self.spool.log().len(),
            held_bytes: self.spool.held_bytes() as u64,
            disk_free_bytes: fs4::available_space(&self.folder).ok(),
            warnings: Vec::new(),
        };
        self.status.warnings = self.warnings();
        listener.on_status(&self.status);
    }

    fn warnings(&self) -> Vec<String> {
        let mut warnings = Vec::new();
        if let Some(problem) = self.spool.problem() {
            warnings.push(disk_words(problem, &self.status));
        } else if let Some(free) = self.status.disk_free_bytes.filter(|b| *b < LOW_DISK_BYTES) {
            warnings.push(format!(
                "the disk is nearly full: {:.1} MB are left; make room now",
                megabytes(free)
            ));
        }
        if self.spool.dropped_bytes() > 0 {
            warnings.push(format!(
                "{:.1} MB were lost: neither disk nor memory had room",
                megabytes(self.spool.dropped_bytes())
            ));
        }
        if let Some(why) = &self.line.absent {
            warnings.push(format!(
                "the logger is gone ({why}); plug it in again, the recording goes on by itself"
            ));
        }
        if self.status.line == LineState::Silent {
            warnings.push(
                "the logger is silent though its port is there; check its power, press its reset"
                    .to_owned(),
            );
        }
        if self.status.line == LineState::Garbled {
            warnings.push(
                "bytes come that are no frames of a logger; check that no other program uses the \
                 port"
                    .to_owned(),
            );
        }
        warnings.extend(self.line.other.clone());
        warnings.extend(self.tally.refused().map(|words| {
            format!("{words}; its frames are in the log, this program cannot show them")
        }));
        let step_s = self.clock.system_step_s();
        if step_s.abs() > STEP_S {
            warnings.push(format!(
                "this computer's clock was set by {step_s:+.0} s during the recording, or it slept; \
                 times of the recording go on without the step"
            ));
        }
        if self.status.frames_unknown > 0 {
            warnings.push(format!(
                "{} frames of a newer logger are in the log and not shown; update this program",
                self.status.frames_unknown
            ));
        }
        warnings
    }

    fn finish(mut self, listener: &mut dyn Listener) -> Result<Status, RecordError> {
        self.line.has_ended = true;
        let written = self.spool.finish(self.clock.now_unix_s());
        self.tell(listener);
        let left = self.spool.held_bytes() as u64 + self.spool.dropped_bytes();
        match written {
            Ok(()) if left == 0 => Ok(self.status),
            Ok(()) => Err(io::Error::from(io::ErrorKind::StorageFull)),
            Err(source) => Err(source),
        }
        .map_err(|source| RecordError::Unwritten {
            folder: self.folder.display().to_string(),
            bytes: left,
            source,
        })
    }
}

fn disk_words(problem: &io::Error, status: &Status) -> String {
    let what = match problem.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => "the disk is full".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk has become read-only".to_owned(),
        io::ErrorKind::PermissionDenied => "the folder may not be written any more".to_owned(),
        _ => format!("the log cannot be written ({problem})"),
    };
    format!(
        "{what}: nothing is lost yet, {:.1} MB wait in memory; make room or mend it before you stop",
        megabytes(status.held_bytes)
    )
}

#[expect(clippy::cast_precision_loss, reason = "shown with one decimal")]
fn megabytes(bytes: u64) -> f64 {
    bytes as f64 / 1.0e6
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "Unix time in microseconds fits until the year 586 000"
)]
fn microseconds(unix_s: f64) -> u64 {
    (unix_s.max(0.0) * 1.0e6) as u64
}
