//! Keeps the stream of one logger, and finds the logger again when it is lost.
//!
//! A thread does nothing but read, so that neither a slow disk nor anything else makes the system's
//! buffer of the port run over. A logger that was unplugged may come back under another name: it
//! is known by the device id in its hello. Silence and absence are told apart: the logger has a
//! heartbeat, and the system is asked whether the port is there.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::address::Address;
use super::host_clock::HostClock;
use super::port::Ports;
use super::probe::{Found, Manner, Outcome, PATIENCE, listen};
use super::source::{Heard, Source};

/// After this much silence the system is asked whether the port is still there.
const ASK_AFTER: Duration = Duration::from_secs(1);

/// After this much silence, five heartbeats, the port is opened anew: the old handle may belong to a
/// device that is gone.
const REOPEN_AFTER: Duration = Duration::from_secs(5);

/// Between two rounds of looking for the logger.
const ROUND: Duration = Duration::from_millis(200);

/// Chunks that may wait for the recorder while its disk is slow: minutes of a fast line.
const DEPTH: usize = 16_384;

/// What happens on the line.
#[derive(Debug, Clone, PartialEq)]
pub enum LinkEvent {
    /// Bytes, with the host time of their arrival, Unix seconds.
    Bytes(Vec<u8>, f64),
    /// The logger is lost; why, in words. Looking for it goes on.
    Lost(String),
    /// The port is there and opens, but nothing is heard.
    Quiet,
    /// The logger is back, at this place.
    Back(Address),
    /// A logger answers that is not the one of this recording.
    Other(String),
    /// The stream ended for good.
    Ended,
}

/// The running thread.
#[derive(Debug)]
pub struct Link {
    /// What happens, in order.
    pub events: Receiver<LinkEvent>,
    commands: Sender<Vec<u8>>,
    thread: Option<JoinHandle<()>>,
}

impl Link {
    /// Begins to read from a logger that was found. `wanted` are the places to look at when it is
    /// lost; with none, every port of the system. Ends when `stop` is set.
    ///
    /// # Errors
    /// The thread could not start.
    pub fn start(
        ports: Arc<dyn Ports>,
        found: Found,
        wanted: Vec<Address>,
        clock: HostClock,
        stop: Arc<AtomicBool>,
    ) -> std::io::Result<Self> {
        let (sender, events) = sync_channel(DEPTH);
        let (commands, orders) = channel();
        let device_id = found.hello.as_ref().map(|hello| hello.device_id);
        let mut reader = Reader {
            ports,
            wanted,
            device_id,
            address: found.address,
            clock,
            stop,
            events: sender,
            orders,
        };
        let (source, heard) = (found.source, found.heard);
        let thread = std::thread::Builder::new()
            .name("line".to_owned())
            .spawn(move || reader.run(source, heard))?;
        Ok(Self {
            events,
            commands,
            thread: Some(thread),
        })
    }

    /// Sends bytes to the logger when the line is free.
    pub fn send(&self, bytes: Vec<u8>) {
        // An error means that the thread has ended; its last event says so.
        let _ = self.commands.send(bytes);
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        // Nothing takes events any more: the thread's next send fails and it ends.
        let (_, nothing) = sync_channel(0);
        self.events = nothing;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// The recorder is gone or wants to stop.
struct Stopped;

/// How a stretch of reading ended.
enum End {
    Lost(String),
    Quiet,
    ForGood,
}

struct Reader {
    ports: Arc<dyn Ports>,
    wanted: Vec<Address>,
    device_id: Option<u64>,
    address: Address,
    clock: HostClock,
    stop: Arc<AtomicBool>,
    events: SyncSender<LinkEvent>,
    orders: Receiver<Vec<u8>>,
}

impl Reader {
    fn run(&mut self, source: Box<dyn Source>, heard: Vec<u8>) {
        // Stopping is no failure.
        let _ = self.keep_reading(source, heard);
    }

    fn keep_reading(&mut self, source: Box<dyn Source>, heard: Vec<u8>) -> Result<(), Stopped> {
        let mut source = source;
        let mut heard = heard;
        loop {
            if !heard.is_empty() {
                self.tell(LinkEvent::Bytes(heard, self.clock.now_unix_s()))?;
            }
            match self.read(&mut *source)? {
                End::Lost(why) => self.tell(LinkEvent::Lost(why))?,
                End::Quiet => self.tell(LinkEvent::Quiet)?,
                End::ForGood => return self.tell(LinkEvent::Ended),
            }
            drop(source);
            let found = self.look()?;
            if self.device_id.is_none() {
                self.device_id = found.hello.as_ref().map(|hello| hello.device_id);
            }
            self.address = found.address.clone();
            self.tell(LinkEvent::Back(found.address))?;
            (source, heard) = (found.source, found.heard);
        }
    }

    fn tell(&self, event: LinkEvent) -> Result<(), Stopped> {
        if self.stop.load(Ordering::Relaxed) {
            return Err(Stopped);
        }
        self.events.send(event).map_err(|_| Stopped)
    }

    fn read(&self, source: &mut dyn Source) -> Result<End, Stopped> {
        let mut buffer = vec![0; 16 * 1024];
        let mut heard_at = Instant::now();
        let mut asked_at = heard_at;
        loop {
            if self.stop.load(Ordering::Relaxed) {
                return Err(Stopped);
            }
            for order in self.orders.try_iter() {
                if let Err(error) = source.write(&order) {
                    return Ok(End::Lost(error.to_string()));
                }
            }
            match source.read(&mut buffer) {
                Ok(Heard::Bytes(n)) => {
                    let now_s = self.clock.now_unix_s();
                    self.tell(LinkEvent::Bytes(buffer[..n].to_vec(), now_s))?;
                    heard_at = Instant::now();
                }
                Ok(Heard::Nothing) => {
                    if let Some(end) = self.judge_silence(heard_at, &mut asked_at) {
                        return Ok(end);
                    }
                }
                Ok(Heard::End) if self.address.can_return() => {
                    return Ok(End::Lost("the stream was closed".to_owned()));
                }
                Ok(Heard::End) => return Ok(End::ForGood),
                Err(error) => return Ok(End::Lost(error.to_string())),
            }
        }
    }

    fn judge_silence(&self, heard_at: Instant, asked_at: &mut Instant) -> Option<End> {
        if !self.address.can_return() || heard_at.elapsed() < ASK_AFTER {
            return None;
        }
        if asked_at.elapsed() >= ASK_AFTER {
            *asked_at = Instant::now();
            if !self.ports.is_present(&self.address) {
                return Some(End::Lost("the port is gone".to_owned()));
            }
        }
        (heard_at.elapsed() >= REOPEN_AFTER).then_some(End::Quiet)
    }

    /// Looks for the logger until it is found.
    fn look(&self) -> Result<Found, Stopped> {
        let mut told = None;
        loop {
            for address in self.places() {
                if self.stop.load(Ordering::Relaxed) {
                    return Err(Stopped);
                }
                if let Some(found) = self.try_place(&address, &mut told)? {
                    return Ok(found);
                }
            }
            std::thread::sleep(ROUND);
        }
    }

    /// The place it was at, the places that were named, then every port, as long as one is there.
    fn places(&self) -> Vec<Address> {
        let mut places = vec![self.address.clone()];
        places.extend(self.wanted.iter().cloned());
        if self.wanted.is_empty() {
            let likely = self.ports.list().into_iter().filter(|port| port.is_likely);
            places.extend(likely.map(|port| Address::Serial(port.name)));
        }
        let mut seen = std::collections::HashSet::new();
        places.retain(|place| seen.insert(place.clone()) && self.ports.is_present(place));
        places
    }

    fn try_place(
        &self,
        address: &Address,
        told: &mut Option<String>,
    ) -> Result<Option<Found>, Stopped> {
        let is_named = *address == self.address || self.wanted.contains(address);
        let manner = Manner {
            patience: PATIENCE,
            speaks_first: is_named,
        };
        match listen(&*self.ports, address, manner, &self.stop) {
            Outcome::Logger(found) => {
                if self.is_ours(&found, is_named) {
                    return Ok(Some(found));
                }
                self.tell_once(told, other_words(&found))?;
            }
            Outcome::Refused(words) => self.tell_once(told, words)?,
            Outcome::Silent | Outcome::Garbled { .. } if *address == self.address => {
                self.tell(LinkEvent::Quiet)?;
            }
            _ => {}
        }
        Ok(None)
    }

    /// With an id known, only that id; a stream that has no hello only where it was named.
    fn is_ours(&self, found: &Found, is_named: bool) -> bool {
        match (&found.hello, self.device_id) {
            (Some(hello), Some(ours)) => hello.device_id == ours,
            (None, Some(_)) => is_named,
            (_, None) => true,
        }
    }

    fn tell_once(&self, told: &mut Option<String>, words: String) -> Result<(), Stopped> {
        if told.as_ref() != Some(&words) {
            *told = Some(words.clone());
            self.tell(LinkEvent::Other(words))?;
        }
        Ok(())
    }
}

fn other_words(found: &Found) -> String {
    let id = found
        .hello
        .as_ref()
        .map_or("without a hello".to_owned(), |h| {
            format!("{:X}", h.device_id)
        });
    format!(
        "another logger ({id}) is at {}; it is not part of this recording",
        found.address
    )
}
