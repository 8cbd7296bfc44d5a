//! A recorder, a device and a disk that fails, step by step, beside a model that knows what must be left.
//!
//! The model keeps every byte of the log with the time it came at, and every frame that was sent with its place in
//! the log. After each step the folder is loaded and compared: every frame whose bytes are whole on the disk is read
//! back equal, what is damaged and what is missing is told by count, arrival times belong to their bytes, and
//! nothing that was there is overwritten.

mod compare;
mod reference;

use std::fs;
use std::path::PathBuf;

use tipcurve::recording::folder;
use tipcurve::recording::log::LogWriter;

use crate::disk::{Sector, cut_power};
use crate::scratch::Scratch;
use crate::wire_log::{BLOCK, LogBuilder};

/// One step.
#[derive(Debug, Clone)]
pub enum Step {
    /// The device sends so many frames; the recorder takes them in portions of so many bytes. What it does not take
    /// (nobody records) is gone.
    Record {
        /// Frames.
        frames: usize,
        /// Bytes of a portion.
        portion_bytes: usize,
    },
    /// The device sends a frame of which only this share (of 256) arrives before the next step.
    HalfFrame {
        /// 256ths.
        share: u8,
    },
    /// Everything is brought to the disk.
    Sync,
    /// The program is killed, and of what was not synced this share (of 256) is there, byte by byte.
    Kill {
        /// 256ths of the log's tail.
        frames_share: u8,
        /// 256ths of the arrivals' tail.
        arrivals_share: u8,
    },
    /// The power is cut.
    PowerCut {
        /// Bytes of a sector.
        sector_bytes: usize,
        /// Sectors of the log, in turn.
        frames: Vec<Sector>,
        /// Sectors of the arrivals, in turn.
        arrivals: Vec<Sector>,
    },
    /// The recording goes on, where nobody records.
    Resume,
    /// The device starts again.
    Restart,
    /// The host's clock is set, seconds; a recorder that runs does not see it.
    SetClock {
        /// By so much.
        step_s: i32,
    },
}

/// What a frame says, as far as the model compares it.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Content {
    Hello,
    Samples { first: u32, codes: Vec<i32> },
    Edges { first: u32, n: u32 },
    Health { sent_samples: u32, sent_edges: u32 },
    Slow,
}

/// A frame and where it stands in the log.
#[derive(Debug, Clone)]
struct Sent {
    start: usize,
    bytes: Vec<u8>,
    boot_id: u32,
    ticks: u64,
    content: Content,
}

/// Recorder, device, disk, and the model of them.
#[derive(Debug)]
pub struct Bench {
    folder: Scratch,
    writer: Option<LogWriter>,
    device: LogBuilder,
    n_sent: usize,
    /// Bytes that are still to come of the frame that was cut.
    on_the_way: Option<(Sent, usize)>,
    /// What the log must hold, and when each byte came (NaN: nobody's byte).
    log: Vec<u8>,
    came_s: Vec<f64>,
    sent: Vec<Sent>,
    synced_log: usize,
    synced_arrivals: usize,
    run_s: f64,
    clock_s: f64,
}

impl Bench {
    /// A recording that has begun: the hello and a first block are on the disk.
    ///
    /// # Panics
    /// When the system cannot write.
    #[must_use]
    pub fn new(name: &str) -> Self {
        let folder = Scratch::in_memory(name);
        folder.write(folder::NOTES, "time\n");
        folder.write(folder::SESSION, "");
        let writer = LogWriter::create(folder.path()).expect("a log");
        let mut bench = Self {
            folder,
            writer: Some(writer),
            device: LogBuilder::new(),
            n_sent: 0,
            on_the_way: None,
            log: Vec::new(),
            came_s: Vec::new(),
            sent: Vec::new(),
            synced_log: 0,
            synced_arrivals: 0,
            run_s: 1.7e9,
            clock_s: 1.7e9,
        };
        bench.take(&Step::Record {
            frames: 2,
            portion_bytes: 1_000,
        });
        bench.take(&Step::Sync);
        bench
    }

    /// Carries out a step, then compares.
    ///
    /// # Errors
    /// What is not as it must be, in words.
    pub fn step(&mut self, step: &Step) -> Result<(), String> {
        self.take(step);
        self.check()
    }

    /// Ends with a resumed recording of two more seconds: going on must always be possible.
    ///
    /// # Errors
    /// As [`step`](Self::step).
    pub fn go_on(&mut self) -> Result<(), String> {
        self.step(&Step::Resume)?;
        self.step(&Step::Record {
            frames: 40,
            portion_bytes: 100,
        })
    }

    fn take(&mut self, step: &Step) {
        self.run_s += 0.037;
        self.clock_s += 0.037;
        match step {
            Step::Record {
                frames,
                portion_bytes,
            } => self.record(*frames, *portion_bytes),
            Step::HalfFrame { share } => self.half_frame(*share),
            Step::Sync => self.sync(),
            Step::Kill {
                frames_share,
                arrivals_share,
            } => {
                let cut = |now: &[u8], synced: usize, share: u8| {
                    let kept = (now.len() - synced) * usize::from(share) / 255;
                    now[..synced + kept].to_vec()
                };
                let log = cut(&self.log, self.synced_log, *frames_share);
                let arrivals = cut(&self.arrivals(), self.synced_arrivals, *arrivals_share);
                self.fail(log, &arrivals);
            }
            Step::PowerCut {
                sector_bytes,
                frames,
                arrivals,
            } => {
                let log = cut_power(&self.log, self.synced_log, *sector_bytes, frames);
                let now = self.arrivals();
                let arrivals = cut_power(&now, self.synced_arrivals, *sector_bytes, arrivals);
                self.fail(log, &arrivals);
            }
            Step::Resume => self.resume(),
            Step::Restart => {
                self.device.restart();
                self.n_sent = 0;
            }
            Step::SetClock { step_s } => self.clock_s += f64::from(*step_s),
        }
    }

    fn record(&mut self, frames: usize, portion_bytes: usize) {
        let mut bytes = self.rest_on_the_way();
        for _ in 0..frames {
            let frame = self.next_frame();
            self.place(frame, &mut bytes, usize::MAX);
        }
        self.append(&bytes, portion_bytes);
    }

    fn half_frame(&mut self, share: u8) {
        let mut bytes = self.rest_on_the_way();
        let frame = self.next_frame();
        let arrives = frame.bytes.len() * usize::from(share) / 256;
        self.place(frame, &mut bytes, arrives);
        self.append(&bytes, usize::MAX);
    }

    /// Puts a frame, or its first bytes, behind the bytes that are to be appended. The model looks at the bytes later,
    /// and so knows whether all of it came.
    fn place(&mut self, mut frame: Sent, bytes: &mut Vec<u8>, most: usize) {
        frame.start = self.log.len() + bytes.len();
        let arrives = frame.bytes.len().min(most);
        bytes.extend_from_slice(&frame.bytes[..arrives]);
        if self.writer.is_some() && arrives > 0 {
            self.sent.push(frame.clone());
        }
        if arrives < frame.bytes.len() {
            self.on_the_way = Some((frame, arrives));
        }
    }

    fn rest_on_the_way(&mut self) -> Vec<u8> {
        let mut bytes = Vec::new();
        match self.on_the_way.take() {
            Some((frame, 0)) => self.place(frame, &mut bytes, usize::MAX),
            Some((frame, done)) => bytes.extend_from_slice(&frame.bytes[done..]),
            None => {}
        }
        bytes
    }

    fn append(&mut self, bytes: &[u8], portion_bytes: usize) {
        for portion in bytes.chunks(portion_bytes.max(1)) {
            self.run_s += 0.023;
            self.clock_s += 0.023;
            let Some(writer) = &mut self.writer else {
                continue;
            };
            writer
                .append_unsynced(portion, self.run_s)
                .expect("a disk with room");
            self.log.extend_from_slice(portion);
            self.came_s.resize(self.log.len(), self.run_s);
        }
    }

    fn sync(&mut self) {
        if let Some(writer) = &mut self.writer {
            writer.sync().expect("a disk");
            self.synced_log = self.log.len();
            self.synced_arrivals = self.arrivals().len();
        }
    }

    fn fail(&mut self, log: Vec<u8>, arrivals: &[u8]) {
        self.writer = None;
        self.on_the_way = None;
        self.folder.write(folder::FRAMES, &log);
        self.folder.write(folder::ARRIVALS, arrivals);
        self.came_s.truncate(log.len());
        // One that lacks its delimiter alone is whole once somebody ends it.
        self.sent
            .retain(|frame| frame.start + frame.bytes.len() <= log.len() + 1);
        self.log = log;
        // What was found on the disk after the cut is there to stay.
        self.synced_log = self.log.len();
        self.synced_arrivals = arrivals.len();
    }

    fn resume(&mut self) {
        if self.writer.is_some() {
            return;
        }
        self.run_s = self.clock_s;
        let writer = LogWriter::resume(self.folder.path()).expect("a log can always go on");
        if self.log.last().is_some_and(|byte| *byte != 0) {
            self.log.push(0);
            self.came_s.push(f64::NAN);
        }
        assert_eq!(writer.end_byte(), self.log.len() as u64);
        self.synced_arrivals = self.arrivals().len();
        self.writer = Some(writer);
    }

    /// Hello first, then blocks with edges, slow channels and heartbeats between them.
    fn next_frame(&mut self) -> Sent {
        let before = self.device.bytes.len();
        let ticks = self.device.now_ticks;
        let content = match self.n_sent % 13 {
            0 => {
                self.device.hello();
                Content::Hello
            }
            3 | 8 => {
                let first = self.device.next_edge;
                let last = self.device.now_ticks + 1_000;
                self.device.edges(&[last, last + 300, last + 700]);
                Content::Edges { first, n: 3 }
            }
            5 => {
                self.device.slow(2_150, 18_200);
                Content::Slow
            }
            11 => {
                self.device.health();
                Content::Health {
                    sent_samples: self.device.next_sample,
                    sent_edges: self.device.next_edge,
                }
            }
            _ => {
                let first = self.device.next_sample;
                self.device.block();
                let codes = self.device.codes[self.device.codes.len() - BLOCK..].to_vec();
                Content::Samples { first, codes }
            }
        };
        self.n_sent += 1;
        Sent {
            start: 0,
            bytes: self.device.bytes[before..].to_vec(),
            boot_id: self.device.boot_id,
            ticks,
            content,
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn arrivals(&self) -> Vec<u8> {
        fs::read(self.path(folder::ARRIVALS)).expect("the arrivals")
    }
}
