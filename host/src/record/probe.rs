//! Listens at a port for a logger, and finds the only one among several.
//!
//! A port that nobody named is listened to first: only where a whole frame of a logger was heard is
//! anything sent (the request for its hello). Other people's devices are left alone. What was
//! heard while listening is kept: it belongs to the recording.

use std::io;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, Builder};
use std::time::{Duration, Instant};

use thiserror::Error;
use tipcurve_protocol::{Action, Command, Hello, Message, frame};

use super::address::Address;
use super::port::{FoundPort, Ports};
use super::source::{Heard, Source};
use super::tally::Tally;

/// A logger sends a heartbeat each second: two and a half are enough to hear one.
pub const PATIENCE: Duration = Duration::from_millis(2_500);

/// Once frames come, the hello that was asked for is waited for this long.
const HELLO_TIME: Duration = Duration::from_millis(1_500);

/// Kept of a stream that has not turned out to be a logger's.
const MOST_HEARD: usize = 1 << 20;

/// A logger, with its stream open.
pub struct Found {
    /// Where.
    pub address: Address,
    /// Its stream.
    pub source: Box<dyn Source>,
    /// What it has sent so far.
    pub heard: Vec<u8>,
    /// Its hello; `None` for a stream that cannot be asked and has not sent one yet.
    pub hello: Option<Hello>,
}

impl std::fmt::Debug for Found {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Found({}, {} bytes)", self.address, self.heard.len())
    }
}

/// What listening at one place came to.
#[derive(Debug)]
pub enum Outcome {
    /// A logger.
    Logger(Found),
    /// A logger that speaks another major version; its words.
    Refused(String),
    /// Bytes, but no frames.
    Garbled {
        /// How many.
        bytes: usize,
    },
    /// Nothing within the patience.
    Silent,
    /// The stream ended with nothing whole in it.
    Ended {
        /// Bytes until then.
        bytes: usize,
    },
    /// It could not be opened or broke off.
    Failed(io::Error),
}

/// Why there is no logger to record from. Each text says what to do.
#[derive(Debug, Error)]
pub enum NotFound {
    /// No serial port at all.
    #[error(
        "no serial port was found; plug the logger in, or name its stream with --port (a port, \
         tcp:HOST:PORT, file:PATH or -); nothing was recorded"
    )]
    NoPorts,
    /// The place that was named gave no logger.
    #[error("{}", describe(.address, .outcome, .others))]
    Named {
        /// Which.
        address: Address,
        /// What happened there.
        outcome: Outcome,
        /// Other ports that are there.
        others: Vec<String>,
    },
    /// Nothing answered as a logger.
    #[error(
        "no logger answered: {}; check its cable and power, or name a stream with --port; nothing \
         was recorded",
        .tried.join("; ")
    )]
    NoneAnswered {
        /// Each port with what happened there.
        tried: Vec<String>,
    },
    /// More than one logger.
    #[error(
        "{} loggers answered: {}; choose one with --port or --device; nothing was recorded",
        .found.len(), .found.join(", ")
    )]
    Several {
        /// Each with its device id.
        found: Vec<String>,
    },
    /// None of the loggers is the one asked for.
    #[error(
        "logger {wanted:X} did not answer (answered: {}); plug it in, or leave --device out; nothing \
         was recorded",
        .found.join(", ")
    )]
    OtherDevice {
        /// The id asked for.
        wanted: u64,
        /// Those that did.
        found: Vec<String>,
    },
    /// Stopped while looking.
    #[error("stopped before a logger was found; nothing was recorded")]
    Stopped,
}

/// How to listen.
#[derive(Debug, Clone, Copy)]
pub struct Manner {
    /// How long to wait for a first whole frame.
    pub patience: Duration,
    /// Ask for the hello at once: only where the person named the place.
    pub speaks_first: bool,
}

/// Listens at one place.
#[must_use]
pub fn listen(ports: &dyn Ports, address: &Address, manner: Manner, stop: &AtomicBool) -> Outcome {
    match ports.open(address) {
        Ok(source) => listen_at(source, address, manner, stop),
        Err(error) => Outcome::Failed(error),
    }
}

fn listen_at(
    mut source: Box<dyn Source>,
    address: &Address,
    manner: Manner,
    stop: &AtomicBool,
) -> Outcome {
    let begun = Instant::now();
    let mut tally = Tally::default();
    let mut heard = Vec::new();
    let mut buffer = vec![0; 16 * 1024];
    let mut asked = manner.speaks_first;
    let mut first_frame: Option<Instant> = None;
    if asked && let Err(error) = source.write(&identify()) {
        return Outcome::Failed(error);
    }
    while !stop.load(Ordering::Relaxed) {
        let is_ended = match source.read(&mut buffer) {
            Ok(Heard::Bytes(n)) => {
                heard.extend_from_slice(&buffer[..n]);
                tally.feed(&buffer[..n], 0.0);
                false
            }
            Ok(Heard::Nothing) => false,
            Ok(Heard::End) => true,
            Err(error) => return Outcome::Failed(error),
        };
        if let Some(refusal) = tally.refused() {
            return Outcome::Refused(refusal.to_owned());
        }
        let has_frames = tally.counts().messages > 0;
        if has_frames && first_frame.is_none() {
            first_frame = Some(Instant::now());
        }
        if has_frames && !asked {
            asked = true;
            if let Err(error) = source.write(&identify()) {
                return Outcome::Failed(error);
            }
        }
        let waited_for_hello = first_frame.is_some_and(|at| at.elapsed() >= HELLO_TIME);
        if tally.hello().is_some() || waited_for_hello || (is_ended && has_frames) {
            return Outcome::Logger(Found {
                address: address.clone(),
                source,
                heard,
                hello: tally.hello().cloned(),
            });
        }
        if is_ended {
            return Outcome::Ended { bytes: heard.len() };
        }
        if !has_frames && (begun.elapsed() >= manner.patience || heard.len() > MOST_HEARD) {
            break;
        }
    }
    if heard.is_empty() {
        Outcome::Silent
    } else {
        Outcome::Garbled { bytes: heard.len() }
    }
}

/// Finds the only logger.
///
/// With nothing `wanted`, every likely port of the system is listened to, all at the same time.
///
/// # Errors
/// [`NotFound`].
pub fn find_logger(
    ports: &dyn Ports,
    wanted: &[Address],
    device_id: Option<u64>,
    patience: Duration,
    stop: &AtomicBool,
) -> Result<Found, NotFound> {
    let is_named = !wanted.is_empty();
    let places: Vec<Address> = if is_named {
        wanted.to_vec()
    } else {
        let likely = ports.list().into_iter().filter(|port| port.is_likely);
        likely.map(|port| Address::Serial(port.name)).collect()
    };
    if places.is_empty() {
        return Err(NotFound::NoPorts);
    }
    let manner = Manner {
        patience,
        speaks_first: is_named,
    };
    let outcomes = listen_at_all(ports, &places, manner, stop);
    if stop.load(Ordering::Relaxed) {
        return Err(NotFound::Stopped);
    }
    choose(ports, outcomes, device_id)
}

fn listen_at_all(
    ports: &dyn Ports,
    places: &[Address],
    manner: Manner,
    stop: &AtomicBool,
) -> Vec<(Address, Outcome)> {
    thread::scope(|scope| {
        let threads: Vec<_> = places
            .iter()
            .map(|place| Builder::new().spawn_scoped(scope, || listen(ports, place, manner, stop)))
            .collect();
        let heard = places.iter().zip(threads).map(|(place, thread)| {
            let broken = |_| Outcome::Failed(io::Error::other("listening broke off"));
            let outcome = match thread {
                Ok(thread) => thread.join().unwrap_or_else(broken),
                // No thread to be had: listened to after the others, not left out.
                Err(_) => listen(ports, place, manner, stop),
            };
            (place.clone(), outcome)
        });
        heard.collect()
    })
}

fn choose(
    ports: &dyn Ports,
    outcomes: Vec<(Address, Outcome)>,
    device_id: Option<u64>,
) -> Result<Found, NotFound> {
    let is_only = outcomes.len() == 1;
    let mut found = Vec::new();
    let mut others = Vec::new();
    for (address, outcome) in outcomes {
        match outcome {
            Outcome::Logger(logger) => found.push(logger),
            other => others.push((address, other)),
        }
    }
    let names: Vec<String> = found.iter().map(name).collect();
    if let Some(wanted) = device_id {
        found.retain(|logger| logger.hello.as_ref().is_some_and(|h| h.device_id == wanted));
        if found.is_empty() && !names.is_empty() {
            return Err(NotFound::OtherDevice {
                wanted,
                found: names,
            });
        }
    }
    match (found.len(), is_only) {
        (1, _) => found.pop().ok_or(NotFound::NoPorts),
        (0, true) => others
            .pop()
            .map_or(Err(NotFound::NoPorts), |(address, outcome)| {
                Err(NotFound::Named {
                    others: other_ports(ports, &address),
                    address,
                    outcome,
                })
            }),
        (0, false) => Err(NotFound::NoneAnswered {
            tried: others
                .iter()
                .map(|(address, outcome)| format!("{address}: {}", in_short(outcome)))
                .collect(),
        }),
        _ => Err(NotFound::Several {
            found: found.iter().map(name).collect(),
        }),
    }
}

fn name(logger: &Found) -> String {
    match &logger.hello {
        Some(hello) => format!("{:X} at {}", hello.device_id, logger.address),
        None => format!("one without a hello at {}", logger.address),
    }
}

fn other_ports(ports: &dyn Ports, address: &Address) -> Vec<String> {
    let shown = address.to_string();
    ports
        .list()
        .into_iter()
        .map(|FoundPort { name, .. }| name)
        .filter(|name| *name != shown)
        .collect()
}

fn in_short(outcome: &Outcome) -> String {
    match outcome {
        Outcome::Logger(_) => "a logger".to_owned(),
        Outcome::Refused(words) => words.clone(),
        Outcome::Garbled { bytes } => format!("{bytes} bytes, no frames of a logger"),
        Outcome::Silent => "silent".to_owned(),
        Outcome::Ended { bytes } => format!("ended after {bytes} bytes without a frame"),
        Outcome::Failed(error) => match error.kind() {
            io::ErrorKind::PermissionDenied => "permission denied".to_owned(),
            io::ErrorKind::ResourceBusy => "in use by another program".to_owned(),
            io::ErrorKind::NotFound => "not there".to_owned(),
            _ => error.to_string(),
        },
    }
}

/// One line: where, what, what to do.
fn describe(address: &Address, outcome: &Outcome, others: &[String]) -> String {
    let choose = if others.is_empty() {
        "or choose another with --port (no other port is there)".to_owned()
    } else {
        format!(
            "or choose another with --port (found: {})",
            others.join(", ")
        )
    };
    let what = match outcome {
        Outcome::Refused(words) => {
            return format!(
                "port {address}: {words}; update this program, or flash firmware of that version; \
                 nothing was recorded"
            );
        }
        Outcome::Garbled { bytes } => format!(
            "{bytes} bytes came and none was a frame of a logger; check that it is the logger's \
             port and its speed (--baud), {choose}"
        ),
        Outcome::Silent => format!(
            "open, but silent; check the logger's power and cable, press its reset, {choose}"
        ),
        Outcome::Ended { bytes } => {
            format!("the stream ended after {bytes} bytes without a whole frame of a logger")
        }
        Outcome::Failed(error) => match error.kind() {
            io::ErrorKind::PermissionDenied => format!(
                "permission denied; add your user to the group that owns it (often \"dialout\") and \
                 log in again, {choose}"
            ),
            io::ErrorKind::ResourceBusy => {
                format!("in use by another program; close that program, {choose}")
            }
            io::ErrorKind::NotFound => format!("it is not there; plug the logger in, {choose}"),
            io::ErrorKind::ConnectionRefused => {
                "nobody listens there; start the gateway, or correct the address".to_owned()
            }
            _ => format!("{error}; {choose}"),
        },
        Outcome::Logger(_) => "a logger".to_owned(),
    };
    format!("port {address}: {what}; nothing was recorded")
}

/// A delimiter, so that the device is in step, and the request for its hello.
#[must_use]
pub fn identify() -> Vec<u8> {
    command(1, Action::Identify)
}

/// One command as bytes, after a delimiter.
#[must_use]
pub fn command(id: u16, action: Action) -> Vec<u8> {
    let mut buffer = [0; 64];
    let mut bytes = vec![0];
    if let Ok(frame) = frame::encode(&Message::Command(Command { id, action }), &mut buffer) {
        bytes.extend_from_slice(frame);
    }
    bytes
}
