//! Bytes of the wire to a [`DeviceLog`], with everything that is missing by count and time.
//!
//! Goes in: the log in portions of any size, and when they arrived. Comes out: codes and edge times
//! on one logger time, and one [`LoadDefect`] for each kind of thing that went wrong. Nothing is filled in
//! and nothing is smoothed. A frame that repeats the one before it is dropped and counted.

mod arrivals;
mod defects;
mod heard;
mod read_log;
mod scale;
mod slow;

use tipcurve_protocol::sequence::Run;
use tipcurve_protocol::{Continuity, Damage, Health, Hello, Mark, Quantity, Refusal, Tracker};

use super::log::Arrival;
use super::timeline::Timeline;
use super::{DeviceLog, Gap, LoadDefect};
use arrivals::Arrivals;
use defects::Tally;
use heard::{EdgeBlock, Frame, Heard, Listener, SampleBlock};
pub use read_log::read_log;
use scale::{Rescale, pressure_scale};
use slow::SlowDecoder;

/// Takes a log apart, portion by portion, on one processor: the plain way, which [`read_log`] is held against.
#[derive(Debug, Default)]
pub struct Decoder {
    listener: Listener,
    heard: Heard,
    state: State,
}

impl Decoder {
    /// A decoder that has seen nothing.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Says when bytes had arrived. To be called before those bytes are pushed.
    pub fn push_arrival(&mut self, arrival: Arrival) {
        self.state.arrivals.push(arrival);
    }

    /// Takes the next bytes of the log.
    pub fn push(&mut self, bytes: &[u8]) {
        self.listener.listen(bytes, &mut self.heard);
        self.state.take(&self.heard);
    }

    /// Ends the log: what was decoded, and what was not.
    #[must_use]
    pub fn finish(mut self) -> Decoded {
        self.state.torn(self.listener.finish());
        self.state.finish(self.listener.end_byte())
    }
}

/// A whole log, decoded.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Decoded {
    /// What was logged.
    pub log: DeviceLog,
    /// What was lost, torn or not understood.
    pub defects: Vec<LoadDefect>,
    /// False when no hello came, so that codes have no unit.
    pub has_scale: bool,
    /// Identity of the device, where it said so.
    pub device_id: Option<u64>,
    /// A frame of another major version, where one came.
    pub refused: Option<Refusal>,
    /// Length of the log, bytes.
    pub n_bytes: u64,
}

#[derive(Debug, Default)]
struct State {
    log: DeviceLog,
    arrivals: Arrivals,
    timeline: Timeline,
    hello: Option<Hello>,
    boot_id: Option<u32>,
    numbers: Numbers,
    latest: Latest,
    rescale: Option<Rescale>,
    slow: SlowDecoder,
    /// Logger time of the last thing heard before a restart that is not over yet.
    restarted_from_s: Option<f64>,
    tally: Tally,
}

/// Number, tick and length of the latest frame of each stream, to know a repeated one.
#[derive(Debug, Default)]
struct Latest {
    samples: Option<(u32, u64, usize)>,
    edges: Option<(u32, u64, usize)>,
    mark: Option<(u32, u64, usize)>,
}

/// One tracker a stream.
#[derive(Debug, Default)]
struct Numbers {
    samples: Tracker,
    edges: Tracker,
    marks: Tracker,
}

/// Which stream of numbers noticed something.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stream {
    Samples,
    Edges,
    Marks,
}

impl State {
    fn take(&mut self, heard: &Heard) {
        let mut codes = &heard.codes[..];
        let mut edge_ticks = &heard.edge_ticks[..];
        for (end_byte, frame) in &heard.frames {
            let host_unix_s = self.arrivals.host_unix_s_of(*end_byte);
            match frame {
                Frame::Samples(block) => {
                    let (own, rest) = codes.split_at(if block.is_sound { block.n } else { 0 });
                    self.samples(block, own, host_unix_s);
                    codes = rest;
                }
                Frame::Edges(block) => {
                    let (own, rest) = edge_ticks.split_at(if block.is_sound { block.n } else { 0 });
                    self.edges(block, own, host_unix_s);
                    edge_ticks = rest;
                }
                Frame::Slow(slow) => {
                    let t_s = self.hear(slow.device_ticks, host_unix_s);
                    self.slow.push(slow, t_s, &mut self.log.slow);
                }
                Frame::Mark(mark) => self.mark(*mark, host_unix_s),
                Frame::Health(health) => self.health(health, host_unix_s),
                Frame::Hello(hello) => self.hello(hello),
                Frame::Unknown => self.tally.n_unknown += 1,
                Frame::Refused(refusal) => {
                    self.tally.refused.get_or_insert((*refusal, 0)).1 += 1;
                }
                Frame::Damaged(damage) => self.damaged(*damage),
            }
        }
    }

    fn samples(&mut self, samples: &SampleBlock, codes: &[i32], host_unix_s: Option<f64>) {
        let identity = (samples.first_sample, samples.base_ticks, samples.n);
        if self.latest.samples == Some(identity) {
            self.tally.n_repeated += 1;
            return;
        }
        if !samples.is_sound || samples.period_ticks == 0 {
            self.tally.n_unsound += 1;
            return;
        }
        self.latest.samples = Some(identity);
        let run = Run {
            first: samples.first_sample,
            count: u32::try_from(samples.n).unwrap_or(u32::MAX),
            start_ticks: samples.base_ticks,
            end_ticks: samples.end_ticks,
        };
        let continuity = self.numbers.samples.observe(run);
        if matches!(continuity, Continuity::Restart { .. }) {
            self.restart(Some(Stream::Samples));
        }
        let first_s = self.hear(samples.base_ticks, host_unix_s);
        let from_s = self.log.t_s.last();
        if from_s.is_some_and(|from_s| first_s <= from_s) {
            self.tally.n_unsound += 1;
            return;
        }
        if let Some((lost, from_ticks)) = missing(continuity) {
            let from_s = from_s.unwrap_or_else(|| self.timeline.t_s(from_ticks));
            self.lose(from_s, first_s, Some(lost), None);
        }
        let at = self.log.pressure_code.len();
        self.log.pressure_code.extend_from_slice(codes);
        if let Some(rescale) = self.rescale {
            rescale.apply(&mut self.log.pressure_code[at..]);
        }
        let line = self.timeline.line(samples.base_ticks);
        self.log.t_s.push(line, samples.period_ticks, samples.n);
        self.arrived(samples.last_ticks, host_unix_s);
    }

    fn edges(&mut self, edges: &EdgeBlock, ticks: &[u64], host_unix_s: Option<f64>) {
        let identity = (edges.first_edge, edges.base_ticks, edges.n);
        if self.latest.edges.replace(identity) == Some(identity) {
            self.tally.n_repeated += 1;
            return;
        }
        if !edges.is_sound {
            self.tally.n_unsound += 1;
            return;
        }
        let run = Run {
            first: edges.first_edge,
            count: u32::try_from(edges.n).unwrap_or(u32::MAX),
            start_ticks: edges.base_ticks,
            end_ticks: ticks.last().copied().unwrap_or(edges.base_ticks),
        };
        let continuity = self.numbers.edges.observe(run);
        if matches!(continuity, Continuity::Restart { .. }) {
            self.restart(Some(Stream::Edges));
        }
        let first_s = self.hear(edges.base_ticks, host_unix_s);
        let from_s = self.log.edge_t_s.last().copied();
        if let Some((lost, from_ticks)) = missing(continuity) {
            let from_s = from_s.unwrap_or_else(|| self.timeline.t_s(from_ticks));
            self.lose(from_s, first_s, None, Some(lost));
        }
        let line = self.timeline;
        self.log.edge_t_s.extend(ticks.iter().map(|t| line.t_s(*t)));
    }

    fn mark(&mut self, mark: Mark, host_unix_s: Option<f64>) {
        let identity = (mark.first_mark, mark.device_ticks, 1);
        if self.latest.mark.replace(identity) == Some(identity) {
            self.tally.n_repeated += 1;
            return;
        }
        let run = Run {
            first: mark.first_mark,
            count: 1,
            start_ticks: mark.device_ticks,
            end_ticks: mark.device_ticks,
        };
        let continuity = self.numbers.marks.observe(run);
        if matches!(continuity, Continuity::Restart { .. }) {
            self.restart(Some(Stream::Marks));
        }
        self.tally.n_marks_lost += missing(continuity).map_or(0, |(lost, _)| u64::from(lost));
        let t_s = self.hear(mark.device_ticks, host_unix_s);
        self.log.mark_t_s.push(t_s);
        self.arrived(mark.device_ticks, host_unix_s);
    }

    fn health(&mut self, health: &Health, host_unix_s: Option<f64>) {
        self.boot(health.boot_id);
        let t_s = self.hear(health.device_ticks, host_unix_s);
        let lost =
            |tracker: &mut Tracker, sent| match tracker.observe_sent(sent, health.device_ticks) {
                Continuity::Gap(gap) => Some(gap.lost),
                _ => None,
            };
        let samples = lost(&mut self.numbers.samples, health.sent_samples);
        let edges = lost(&mut self.numbers.edges, health.sent_edges);
        let marks = lost(&mut self.numbers.marks, health.sent_marks);
        if let Some(n) = samples {
            self.lose(self.log.t_s.last().unwrap_or(t_s), t_s, Some(n), None);
        }
        if let Some(n) = edges {
            self.lose(
                self.log.edge_t_s.last().copied().unwrap_or(t_s),
                t_s,
                None,
                Some(n),
            );
        }
        self.tally.n_marks_lost += u64::from(marks.unwrap_or(0));
        self.tally.health(health);
        self.arrived(health.device_ticks, host_unix_s);
    }

    fn hello(&mut self, hello: &Hello) {
        self.boot(hello.boot_id);
        self.log.sample_rate_hz = f64::from(hello.sample_rate_hz);
        let pressure = hello.channel(Quantity::Pressure).map(pressure_scale);
        match &self.hello {
            None => self.log.pressure_scale = pressure.unwrap_or_default(),
            Some(before) => {
                if before.device_id != hello.device_id {
                    self.tally.other_device.get_or_insert(hello.device_id);
                }
                if before.channels != hello.channels {
                    let now_s = self.timeline.latest_t_s().unwrap_or(0.0);
                    self.tally.scale_changed_s.get_or_insert(now_s);
                }
                self.rescale = pressure
                    .filter(|p| *p != self.log.pressure_scale)
                    .map(|p| Rescale::between(p, self.log.pressure_scale));
            }
        }
        self.slow.scale(hello, &mut self.log.slow);
        self.hello.get_or_insert_with(|| hello.clone());
    }

    /// A boot id: another one than before means that the device started again.
    fn boot(&mut self, boot_id: u32) {
        if self.boot_id.is_some_and(|before| before != boot_id) {
            self.restart(None);
        }
        self.boot_id = Some(boot_id);
    }

    /// The device started again. `seen_by` has noticed it in its own numbers already; the boot id
    /// that follows is then news of the same restart.
    fn restart(&mut self, seen_by: Option<Stream>) {
        // The first frame of every start looks alike: it is no repetition of the one before.
        if seen_by != Some(Stream::Samples) {
            self.numbers.samples.restart();
            self.latest.samples = None;
        }
        if seen_by != Some(Stream::Edges) {
            self.numbers.edges.restart();
            self.latest.edges = None;
        }
        if seen_by != Some(Stream::Marks) {
            self.numbers.marks.restart();
            self.latest.mark = None;
        }
        self.boot_id = None;
        self.tally.restart();
        self.restarted_from_s = self.restarted_from_s.or(self.timeline.latest_t_s());
        self.timeline.restart();
    }

    fn hear(&mut self, ticks: u64, host_unix_s: Option<f64>) -> f64 {
        let t_s = self.timeline.hear(ticks, host_unix_s);
        if let Some(from_s) = self.restarted_from_s.take() {
            self.tally.restarted(from_s, t_s);
            self.lose(from_s, t_s, None, None);
        }
        t_s
    }

    fn arrived(&mut self, ticks: u64, host_unix_s: Option<f64>) {
        let t_s = self.hear(ticks, host_unix_s);
        self.arrivals.pair(t_s, &mut self.log.arrivals);
    }

    fn lose(&mut self, from_s: f64, to_s: f64, samples: Option<u32>, edges: Option<u32>) {
        self.log.gaps.push(Gap {
            from_s,
            to_s,
            samples_lost: samples.map(u64::from),
            edges_lost: edges.map(u64::from),
        });
    }

    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "an estimate of a length; being wrong costs a reallocation"
    )]
    fn reserve(&mut self, bytes_seen: u64, bytes_to_come: u64) {
        let per_byte = self.log.pressure_code.len() as f64 / bytes_seen.max(1) as f64;
        // A log holds at most 8 samples a byte (a still sensor); more than twice the present rate is
        // left to ordinary growth.
        let n = (1.02 * per_byte.min(8.0) * bytes_to_come as f64) as usize;
        self.log.pressure_code.reserve_exact(n);
    }

    fn damaged(&mut self, damage: Damage) {
        let latest_s = self.timeline.latest_t_s();
        self.tally.damaged(damage, latest_s);
    }

    /// The log may have broken off in a frame.
    fn torn(&mut self, damage: Option<Damage>) {
        damage.into_iter().for_each(|damage| self.damaged(damage));
    }

    fn finish(mut self, n_bytes: u64) -> Decoded {
        self.log.host_epoch_unix_s = self.arrivals.epoch_unix_s();
        self.log.gaps.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
        let refused = self.tally.refused.map(|(refusal, _)| refusal);
        let defects = self.tally.defects(&self.log, &self.arrivals);
        self.log.pressure_code.shrink_to_fit();
        Decoded {
            refused,
            defects,
            n_bytes,
            has_scale: self.hello.is_some(),
            device_id: self.hello.map(|h| h.device_id),
            log: self.log,
        }
    }
}

/// How many items are missing before a run, and since which tick: a device that started again counts from zero, so
/// what its first run does not begin with is missing too.
fn missing(continuity: Continuity) -> Option<(u32, u64)> {
    match continuity {
        Continuity::Gap(gap) => Some((gap.lost, gap.from_ticks)),
        Continuity::Restart { lost } => (lost > 0).then_some((lost, 0)),
        Continuity::First | Continuity::Next => None,
    }
}
