//! The thread that turns what the recorder hands over into what the viewers see.
//!
//! It takes chunks from the tap, statuses from a slot that only keeps the newest, and the notes when
//! their file has changed; it publishes to the hub. When it is slow, the tap drops chunks for the
//! viewers: the recorder never waits for it.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::RecvTimeoutError;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::bench::{Bench, Scale};
use super::hub::Hub;
use super::points::Points;
use super::readings::Readings;
use super::snapshot::{LinkState, NoteView, RecorderView, Update};
use super::tap::{Spout, Tap};
use crate::record::status::{LineState, Listener, Status};
use crate::recording::notes::Note;

/// Wait for a chunk at most.
const STEP: Duration = Duration::from_millis(50);

/// Between two looks at the notes.
const NOTES_STEP: Duration = Duration::from_millis(300);

/// Between two looks for bursts.
const HARVEST_STEP: Duration = Duration::from_millis(700);

/// Between two updates when chunks come thick: faster than a screen shows.
const LEAST_STEP: Duration = Duration::from_millis(15);

/// Notes as their file has them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NotesNow {
    /// Notes in force, in order: taken-back ones left out.
    pub notes: Vec<Note>,
    /// All of them as shown.
    pub views: Vec<NoteView>,
    /// What is wrong with the file, for the person who edits it.
    pub problem: Option<String>,
}

/// Where the notes are read from.
pub trait NoteBook: Send {
    /// The notes, if they changed since the last call.
    fn poll(&mut self) -> Option<NotesNow>;
}

/// The newest status of the recorder.
#[derive(Debug, Default)]
pub struct StatusSlot {
    newest: Mutex<Option<Status>>,
}

impl StatusSlot {
    fn put(&self, status: &Status) {
        *self.newest.lock().unwrap_or_else(PoisonError::into_inner) = Some(status.clone());
    }

    fn take(&self) -> Option<Status> {
        self.newest
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
    }
}

/// What the recorder calls: hands over and returns at once.
#[derive(Debug, Clone)]
pub struct PageListener {
    tap: Tap,
    slot: Arc<StatusSlot>,
}

impl PageListener {
    /// A listener that feeds a page.
    #[must_use]
    pub const fn new(tap: Tap, slot: Arc<StatusSlot>) -> Self {
        Self { tap, slot }
    }
}

impl Listener for PageListener {
    fn on_bytes(&mut self, bytes: &[u8], arrived_unix_s: f64) {
        self.tap.offer(bytes, arrived_unix_s);
    }

    fn on_status(&mut self, status: &Status) {
        self.slot.put(status);
    }
}

/// What the thread needs.
pub struct FeedSetup {
    /// How readings become quantities.
    pub scale: Scale,
    /// Bursts, curves and words.
    pub points: Points,
    /// Chunks.
    pub spout: Spout,
    /// Statuses.
    pub slot: Arc<StatusSlot>,
    /// Notes.
    pub notes: Box<dyn NoteBook>,
    /// Readings for a calibration.
    pub readings: Arc<Readings>,
    /// Viewers.
    pub hub: Arc<Hub>,
}

/// The running thread. Dropping it stops it.
#[derive(Debug)]
pub struct Feed {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Feed {
    /// Starts the thread.
    ///
    /// # Errors
    /// It could not start.
    pub fn start(setup: FeedSetup) -> std::io::Result<Self> {
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let thread = std::thread::Builder::new()
            .name("live".to_owned())
            .spawn(move || Worker::new(setup).run(&stopped))?;
        Ok(Self {
            stop,
            thread: Some(thread),
        })
    }
}

impl Drop for Feed {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

struct Worker {
    setup: FeedSetup,
    bench: Bench,
    notes_at: Option<Instant>,
    harvest_at: Instant,
    published_at: Instant,
    is_on_line: bool,
    notes_problem: Option<String>,
}

impl Worker {
    fn new(setup: FeedSetup) -> Self {
        let now = Instant::now();
        Self {
            bench: Bench::new(setup.scale, Arc::clone(&setup.readings)),
            setup,
            notes_at: None,
            harvest_at: now,
            published_at: now,
            is_on_line: false,
            notes_problem: None,
        }
    }

    fn run(&mut self, stop: &AtomicBool) {
        loop {
            let is_last = stop.load(Ordering::Relaxed);
            let mut is_fed = self.feed(is_last);
            let mut update = Update::default();
            is_fed |= self.take_notes(&mut update);
            is_fed |= self.harvest(&mut update);
            is_fed |= self.take_status(&mut update);
            if is_fed {
                self.publish(update);
            }
            if is_last {
                return;
            }
        }
    }

    /// Takes what is there; waits a little when nothing is.
    fn feed(&mut self, is_last: bool) -> bool {
        let first = if is_last {
            self.setup.spout.chunks.try_recv().ok()
        } else {
            match self.setup.spout.chunks.recv_timeout(STEP) {
                Ok(chunk) => Some(chunk),
                Err(RecvTimeoutError::Timeout) => None,
                Err(RecvTimeoutError::Disconnected) => {
                    std::thread::sleep(STEP);
                    None
                }
            }
        };
        let Some(first) = first else { return false };
        self.bench.feed(&first.bytes, first.arrived_unix_s);
        while let Ok(chunk) = self.setup.spout.chunks.try_recv() {
            self.bench.feed(&chunk.bytes, chunk.arrived_unix_s);
        }
        true
    }

    fn take_notes(&mut self, update: &mut Update) -> bool {
        if self.notes_at.is_some_and(|at| at.elapsed() < NOTES_STEP) {
            return false;
        }
        self.notes_at = Some(Instant::now());
        let Some(now) = self.setup.notes.poll() else {
            return false;
        };
        self.notes_problem = now.problem;
        self.setup.points.set_notes(now.notes);
        update.notes = Some(now.views);
        self.conclude(update);
        true
    }

    fn harvest(&mut self, update: &mut Update) -> bool {
        if self.harvest_at.elapsed() < HARVEST_STEP {
            return false;
        }
        self.harvest_at = Instant::now();
        // While the trigger is pulled no burst ends; looking again would only cost.
        if self.setup.points.harvest(self.bench.recent_mut()) == 0 {
            return false;
        }
        self.conclude(update);
        true
    }

    fn conclude(&mut self, update: &mut Update) {
        self.setup.points.set_start(self.bench.host_time_of(0.0));
        let views = self.setup.points.conclude();
        update.bursts = Some(views.bursts);
        update.curves = Some(views.curves);
        update.words = Some(views.words);
        update.setting = Some(views.setting);
    }

    fn take_status(&mut self, update: &mut Update) -> bool {
        let Some(status) = self.setup.slot.take() else {
            return false;
        };
        let is_on_line = status.line == LineState::OnLine;
        if self.is_on_line && !is_on_line {
            self.bench.forget_trigger();
        }
        self.is_on_line = is_on_line;
        let mut view = recorder_view(status, self.setup.spout.dropped());
        view.warnings.extend(self.notes_problem.clone());
        update.recorder = Some(view);
        true
    }

    fn publish(&mut self, update: Update) {
        let since = self.published_at.elapsed();
        if since < LEAST_STEP {
            std::thread::sleep(LEAST_STEP.saturating_sub(since));
        }
        self.published_at = Instant::now();
        let live = self.bench.take_update();
        self.setup.hub.publish(Update {
            figures: live.figures,
            trace: live.trace,
            arrived_ms: live.arrived_ms,
            ..update
        });
    }
}

fn recorder_view(status: Status, viewer_drops: u64) -> RecorderView {
    RecorderView {
        link: match status.line {
            LineState::Waiting => LinkState::Waiting,
            LineState::OnLine => LinkState::OnLine,
            LineState::Silent => LinkState::Silent,
            LineState::Garbled => LinkState::Garbled,
            LineState::Absent => LinkState::Absent,
            LineState::Ended => LinkState::Ended,
        },
        source: status.source,
        device: status.device_id.map(|id| format!("{id:X}")),
        elapsed_s: status.elapsed_s,
        sample_rate_hz: status.sample_rate_hz,
        samples: status.samples,
        samples_lost: status.samples_lost,
        edges_lost: status.edges_lost,
        frames_damaged: status.frames_damaged,
        reconnects: status.reconnects,
        log_bytes: status.log_bytes,
        held_bytes: status.held_bytes,
        disk_free_bytes: status.disk_free_bytes,
        viewer_drops,
        warnings: status.warnings,
    }
}
