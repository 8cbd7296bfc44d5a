//! Hours of recording in virtual time: firmware core, line, log, counts and live page, with what they kept in memory.
//!
//! The device's clock runs fast by a known amount, the line has a rate and a wait of its own, somebody sprays every
//! two minutes. Pressure and flow are a plain drawing, not physics: what is tested is that nothing grows or drifts.

mod device;

use std::path::Path;
use std::sync::Arc;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tipcurve::live::bench::{Bench, Scale};
use tipcurve::live::hub::Hub;
use tipcurve::live::points::Points;
use tipcurve::live::readings::Readings;
use tipcurve::live::snapshot::{Snapshot, Update};
use tipcurve::record::tally::{Counts, Tally};
use tipcurve::recording::log::LogWriter;
use tipcurve::recording::notes::{Note, NoteTime};
use tipcurve::recording::settings::Settings;

use device::{Device, PULSE_VOLUME_M3};

pub use device::SAMPLE_RATE_HZ;

/// Excess of the device's clock rate over true time.
pub const DEVICE_FAST: f64 = 40.0e-6;

/// True time at which the device began, Unix seconds.
pub const BEGAN_UNIX_S: f64 = 1.7e9;

/// Between two reads of the line, s.
const READ_S: f64 = 0.02;

/// Bytes a second on the line: 115 200 baud.
const LINE_BYTES_PER_S: f64 = 11_520.0;

/// Least wait of the host, s.
const WAIT_S: f64 = 0.001;

/// Between two looks of the page, s: for bursts (five times rarer than its thread looks, as a look sorts all that is
/// kept), and for viewers.
const HARVEST_S: f64 = 3.5;
const SHOW_S: f64 = 0.25;

/// What the live side and the process held at one time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Held {
    /// Hours of virtual time, thousandths.
    pub milli_hours: u64,
    /// Numbers of the recent signal, the most since the last look.
    pub most_recent: usize,
    /// Bins of the trace that a viewer would get.
    pub trace_bins: usize,
    /// Bursts so far.
    pub bursts: usize,
    /// Greatest resident memory of the process so far, KiB; `None` where the system does not say.
    pub peak_rss_kib: Option<u64>,
    /// Resident memory now, KiB.
    pub rss_kib: Option<u64>,
}

/// What a soak came to.
#[derive(Debug, Clone)]
pub struct Soaked {
    /// At each of the hours asked for.
    pub held: Vec<Held>,
    /// As the recorder counts.
    pub counts: Counts,
    /// Samples that the device took.
    pub samples_taken: u64,
    /// Ticks of the device between two samples.
    pub period_ticks: u32,
    /// Edges of the drawing.
    pub edges: u64,
}

/// Records so many hours into `folder`; looks at the memory at each of `looks_h`, in hours.
///
/// # Panics
/// When the system cannot write.
#[must_use]
pub fn soak(folder: &Path, hours: f64, looks_h: &[f64]) -> Soaked {
    let mut log = LogWriter::create(folder).expect("a log");
    let mut device = Device::new();
    let mut line = Line::new();
    let mut page = Page::new();
    let mut tally = Tally::default();
    let mut held = Vec::new();
    let mut looks = looks_h.iter().copied().peekable();
    let end_s = hours * 3600.0;
    let mut read_s = READ_S;
    while read_s <= end_s + READ_S {
        device.run_to(read_s.min(end_s));
        let is_last = read_s > end_s;
        if is_last {
            device.app.flush();
        }
        let portion = line.carry(&mut device, is_last);
        if !portion.is_empty() {
            let true_s = read_s / (1.0 + DEVICE_FAST);
            let arrived_s = BEGAN_UNIX_S + line.arrival_s(true_s, portion.len());
            log.append(&portion, arrived_s).expect("a disk with room");
            tally.feed(&portion, true_s);
            page.take(&portion, arrived_s);
        }
        page.look(read_s);
        if looks.next_if(|hour| *hour * 3600.0 <= read_s).is_some() {
            held.push(page.held(read_s));
        }
        read_s += READ_S;
    }
    log.sync().expect("a disk");
    Soaked {
        held,
        counts: tally.counts(),
        samples_taken: device.n_samples,
        period_ticks: device.app.period_ticks(),
        edges: device.n_edges,
    }
}

/// So many bytes a second, and a host that takes them a little later.
struct Line {
    random: ChaCha8Rng,
    latest_s: f64,
}

impl Line {
    fn new() -> Self {
        Self {
            random: ChaCha8Rng::seed_from_u64(24),
            latest_s: 0.0,
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a few hundred bytes"
    )]
    fn carry(&self, device: &mut Device, is_last: bool) -> Vec<u8> {
        let mut room = (READ_S * LINE_BYTES_PER_S) as usize * if is_last { 100 } else { 1 };
        let mut portion = Vec::new();
        while room > 0 {
            let waiting = device.app.next_bytes(device.now_ticks);
            if waiting.is_empty() {
                break;
            }
            let sent = waiting.len().min(room);
            portion.extend_from_slice(&waiting[..sent]);
            device.app.sent(sent);
            room -= sent;
        }
        portion
    }

    /// When a portion that left at `true_s` has arrived: never early, now and then late.
    #[expect(clippy::cast_precision_loss, reason = "a few hundred bytes")]
    fn arrival_s(&mut self, true_s: f64, n_bytes: usize) -> f64 {
        let uniform: f64 = self.random.random();
        let busy_s = if self.random.random::<f64>() < 0.01 {
            0.05
        } else {
            0.0
        };
        let wait_s = WAIT_S - 0.002 * (1.0 - uniform).ln() + busy_s;
        let arrived_s = true_s + n_bytes as f64 / LINE_BYTES_PER_S + wait_s;
        self.latest_s = self.latest_s.max(arrived_s);
        self.latest_s
    }
}

/// The live side, as its thread drives it, in virtual time.
struct Page {
    bench: Bench,
    points: Points,
    hub: Hub,
    harvest_s: f64,
    show_s: f64,
    most_recent: usize,
}

impl Page {
    fn new() -> Self {
        let scale = Scale {
            pulse_volume_m3: Some(PULSE_VOLUME_M3),
            ..Scale::default()
        };
        let mut settings = Settings::default();
        settings.flow_meter.k_factor_per_m3 = Some(1.0 / PULSE_VOLUME_M3);
        let mut points = Points::new("soak".to_owned(), settings);
        points.set_notes(vec![Note {
            time: NoteTime::Logger { t_s: 1.0 },
            tip: Some("311".to_owned()),
            material: Some("hull primer".to_owned()),
            event: Some("setup".to_owned()),
            ..Note::default()
        }]);
        Self {
            bench: Bench::new(scale, Arc::new(Readings::default())),
            points,
            hub: Hub::new(Snapshot::default()),
            harvest_s: 0.0,
            show_s: 0.0,
            most_recent: 0,
        }
    }

    fn take(&mut self, bytes: &[u8], arrived_s: f64) {
        self.bench.feed(bytes, arrived_s);
    }

    fn look(&mut self, now_s: f64) {
        let mut update = Update::default();
        if now_s - self.harvest_s >= HARVEST_S {
            self.harvest_s = now_s;
            self.most_recent = self.most_recent.max(self.bench.recent_mut().n_kept());
            if self.points.harvest(self.bench.recent_mut()) > 0 {
                self.points.set_start(self.bench.host_time_of(0.0));
                let views = self.points.conclude();
                update.bursts = Some(views.bursts);
                update.curves = Some(views.curves);
                update.words = Some(views.words);
                update.setting = Some(views.setting);
            }
        }
        if update.bursts.is_some() || now_s - self.show_s >= SHOW_S {
            self.show_s = now_s;
            let live = self.bench.take_update();
            self.hub.publish(Update {
                figures: live.figures,
                trace: live.trace,
                arrived_ms: live.arrived_ms,
                ..update
            });
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "hours of a soak"
    )]
    fn held(&mut self, now_s: f64) -> Held {
        Held {
            milli_hours: (now_s / 3.6).round() as u64,
            most_recent: std::mem::take(&mut self.most_recent),
            trace_bins: self.hub.snapshot().trace.low_pa.len(),
            bursts: self.points.n_bursts(),
            peak_rss_kib: status_kib("VmHWM:"),
            rss_kib: status_kib("VmRSS:"),
        }
    }
}

/// A line of the process's own status, where the system has it.
fn status_kib(name: &str) -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix(name))?;
    line.split_whitespace().next()?.parse().ok()
}
