//! What went wrong in a log, counted on the way and told at the end.

use tipcurve_protocol::{Damage, Fault, Health, Refusal, ResetReason};

use super::arrivals::Arrivals;
use crate::recording::{DeviceLog, Gap, LoadDefect};

/// Counts of what went wrong.
#[derive(Debug, Default)]
pub(super) struct Tally {
    pub(super) n_unknown: u64,
    pub(super) n_repeated: u64,
    pub(super) n_unsound: u64,
    pub(super) n_marks_lost: u64,
    pub(super) refused: Option<(Refusal, u64)>,
    pub(super) other_device: Option<u64>,
    pub(super) scale_changed_s: Option<f64>,
    restarts: Vec<Restart>,
    torn: Option<Damage>,
    n_damaged: u64,
    damaged_bytes: u64,
    damaged_s: Option<(f64, f64)>,
    counters: Counters,
}

/// One start of the device after the first.
#[derive(Debug)]
struct Restart {
    /// From the last thing heard to the first thing heard after.
    range_s: (f64, f64),
    reason: Option<ResetReason>,
}

/// The device's own counters, summed over its starts.
#[derive(Debug, Default)]
struct Counters {
    before: Option<Health>,
    latest: Option<Health>,
    dropped_samples: u64,
    dropped_edges: u64,
    missed_samples: u64,
    over_captures: u64,
}

impl Counters {
    fn take(&mut self, health: &Health) {
        // A recording that begins in the middle of a run has no part in what was counted before.
        let is_mid_run = self.before.is_none() && health.heartbeat > 0;
        if is_mid_run {
            self.before = Some(*health);
        }
        self.latest = Some(*health);
    }

    /// Adds up what was counted since the device's start.
    fn settle(&mut self) {
        let before = self.before.unwrap_or_default();
        if let Some(latest) = self.latest.take() {
            let since = |now: u32, then: u32| u64::from(now.wrapping_sub(then));
            self.dropped_samples += since(latest.dropped_samples, before.dropped_samples);
            self.dropped_edges += since(latest.dropped_edges, before.dropped_edges);
            self.missed_samples += since(latest.missed_samples, before.missed_samples);
            self.over_captures += since(latest.over_captures, before.over_captures);
        }
        self.before = Some(Health::default());
    }
}

impl Tally {
    pub(super) fn damaged(&mut self, damage: Damage, t_s: Option<f64>) {
        if damage.fault == Fault::Torn {
            self.torn = Some(damage);
            return;
        }
        // A recording that begins in the middle of a frame has lost nothing of its own.
        if damage.offset == 0 && damage.bytes <= tipcurve_protocol::frame::MAX_FRAME_BYTES as u64 {
            return;
        }
        self.n_damaged += 1;
        self.damaged_bytes += damage.bytes;
        let t_s = t_s.unwrap_or(0.0);
        let (from_s, _) = self.damaged_s.unwrap_or((t_s, t_s));
        self.damaged_s = Some((from_s, t_s));
    }

    pub(super) fn restart(&mut self) {
        self.counters.settle();
    }

    /// The first thing was heard after a restart.
    pub(super) fn restarted(&mut self, from_s: f64, to_s: f64) {
        self.restarts.push(Restart {
            range_s: (from_s, to_s),
            reason: None,
        });
    }

    pub(super) fn health(&mut self, health: &Health) {
        if let Some(restart) = self.restarts.last_mut() {
            restart.reason.get_or_insert(health.reset_reason);
        }
        self.counters.take(health);
    }

    /// One defect for each kind of thing.
    pub(super) fn defects(mut self, log: &DeviceLog, arrivals: &Arrivals) -> Vec<LoadDefect> {
        self.counters.settle();
        let end_s = log.t_s.last().unwrap_or(0.0);
        let mut defects = Vec::new();
        defects.extend(self.torn.map(|torn| torn_tail(torn, end_s)));
        defects.extend(self.corrupt_frames());
        defects.extend(self.lost_samples(log));
        defects.extend(self.lost_edges(log));
        defects.extend(self.restarts());
        defects.extend(self.foreign());
        if arrivals.is_empty() && !log.t_s.is_empty() {
            defects.push(defect(
                "no_arrivals",
                None,
                "no arrival times stand beside the log, so logger time has no clock time; notes with \
                 clock times are placed by their order; keep arrivals.csv with the log"
                    .to_owned(),
            ));
        }
        defects
    }

    fn corrupt_frames(&self) -> Option<LoadDefect> {
        let range_s = self.damaged_s?;
        let message = format!(
            "{} damaged {} ({} bytes) between {:.1} and {:.1} s {} passed over, what was in them is \
             counted as lost; check the cable and its ground",
            self.n_damaged,
            if self.n_damaged == 1 {
                "stretch"
            } else {
                "stretches"
            },
            self.damaged_bytes,
            range_s.0,
            range_s.1,
            if self.n_damaged == 1 { "was" } else { "were" },
        );
        Some(defect("corrupt_frames", Some(range_s), message))
    }

    fn lost_samples(&self, log: &DeviceLog) -> Option<LoadDefect> {
        let gaps = || log.gaps.iter().filter(|g| g.samples_lost.is_some());
        let lost: u64 = gaps().filter_map(|g| g.samples_lost).sum();
        let (range_s, n_gaps) = extent(gaps())?;
        let due = log.t_s.len() as u64 + lost;
        let dropped = self.counters.dropped_samples;
        let missed = self.counters.missed_samples;
        let mut causes = Vec::new();
        if dropped > 0 {
            causes.push(format!(
                "{dropped} were dropped by the logger, whose line was too slow"
            ));
        }
        if missed > 0 {
            causes.push(format!("{missed} the pressure sensor failed to give"));
        }
        let cause = if causes.is_empty() {
            "check the cable".to_owned()
        } else {
            format!(
                "{}; record at a lower rate or check the sensor's wiring",
                causes.join(", ")
            )
        };
        let message = format!(
            "{lost} of {due} samples were lost in {} from {:.1} to {:.1} s; bursts there are \
             not used; {cause}",
            plural(n_gaps, "gap"),
            range_s.0,
            range_s.1,
        );
        Some(defect("lost_samples", Some(range_s), message))
    }

    fn lost_edges(&self, log: &DeviceLog) -> Option<LoadDefect> {
        let gaps = || log.gaps.iter().filter(|g| g.edges_lost.is_some());
        let lost: u64 = gaps().filter_map(|g| g.edges_lost).sum();
        let (range_s, n_gaps) = extent(gaps())?;
        let dropped = self.counters.dropped_edges;
        let overwritten = self.counters.over_captures;
        let message = format!(
            "{lost} flow edges were lost in {} from {:.1} to {:.1} s ({dropped} dropped by the \
             logger, {overwritten} overwritten in its capture); flow there is not used; check the cable",
            plural(n_gaps, "gap"),
            range_s.0,
            range_s.1,
        );
        Some(defect("lost_edges", Some(range_s), message))
    }

    fn restarts(&self) -> Vec<LoadDefect> {
        self.restarts
            .iter()
            .map(|restart| {
                let reason = restart.reason.unwrap_or_default();
                let (from_s, to_s) = restart.range_s;
                let message = format!(
                    "the logger started again ({}) and nothing was recorded from {from_s:.1} to {to_s:.1} s; {}",
                    reason_words(reason),
                    reason_advice(reason),
                );
                defect("device_restart", Some(restart.range_s), message)
            })
            .collect()
    }

    /// What is not from this logger, or not in words that this program knows.
    fn foreign(&self) -> Vec<LoadDefect> {
        let mut defects = Vec::new();
        let mut push = |code: &str, message: String| defects.push(defect(code, None, message));
        if let Some((refusal, n)) = &self.refused {
            push(
                "other_wire_version",
                format!("{n} frames were not read: {refusal}"),
            );
        }
        if self.n_unknown > 0 {
            let n = self.n_unknown;
            push(
                "unknown_frames",
                format!(
                    "{n} frames are of a newer kind and were passed over; update this program to read them"
                ),
            );
        }
        if self.n_repeated > 0 {
            let n = self.n_repeated;
            push(
                "repeated_frames",
                format!("{n} frames came twice and were read once; check the serial adapter"),
            );
        }
        if self.n_unsound > 0 {
            let n = self.n_unsound;
            push(
                "unsound_frames",
                format!(
                    "{n} frames passed their check but hold no sense and were passed over; update the firmware"
                ),
            );
        }
        if self.n_marks_lost > 0 {
            let n = self.n_marks_lost;
            push(
                "lost_marks",
                format!("{n} presses of the button were lost; compare the notes"),
            );
        }
        if let Some(id) = self.other_device {
            push(
                "other_device",
                format!(
                    "frames of another logger ({id:04X}) stand in the same log and were read as one; record each logger into its own folder"
                ),
            );
        }
        if let Some(t_s) = self.scale_changed_s {
            push(
                "scale_changed",
                format!(
                    "the logger changed its scales at {t_s:.1} s; later codes were carried to the first scale; record anew after changing a sensor"
                ),
            );
        }
        defects
    }
}

fn torn_tail(torn: Damage, end_s: f64) -> LoadDefect {
    let message = format!(
        "the last {} bytes of the log are half a frame and were ignored; everything up to {end_s:.1} s \
         is intact; nothing to do",
        torn.bytes
    );
    defect("torn_tail", Some((end_s, end_s)), message)
}

/// From the first gap's begin to the last gap's end, and how many there are.
fn extent<'g>(gaps: impl Iterator<Item = &'g Gap>) -> Option<((f64, f64), usize)> {
    gaps.fold(None, |extent: Option<((f64, f64), usize)>, gap| {
        let ((from_s, to_s), n) = extent.unwrap_or(((gap.from_s, gap.to_s), 0));
        Some(((from_s.min(gap.from_s), to_s.max(gap.to_s)), n + 1))
    })
}

fn defect(code: &str, range_s: Option<(f64, f64)>, message: String) -> LoadDefect {
    LoadDefect {
        code: code.to_owned(),
        range_s,
        message,
    }
}

/// A count with its noun.
fn plural(n: usize, noun: &str) -> String {
    format!("{n} {noun}{}", if n == 1 { "" } else { "s" })
}

fn reason_words(reason: ResetReason) -> &'static str {
    match reason {
        ResetReason::PowerOn => "power came back",
        ResetReason::BrownOut => "its supply broke down",
        ResetReason::Watchdog => "its watchdog was not fed",
        ResetReason::Software => "its firmware asked for it",
        ResetReason::Pin => "its reset pin was pulled",
        ResetReason::NotKnown | ResetReason::Other(_) => "it does not know why",
    }
}

fn reason_advice(reason: ResetReason) -> &'static str {
    match reason {
        ResetReason::PowerOn | ResetReason::BrownOut => "check its supply and plug",
        ResetReason::Watchdog | ResetReason::Software => "report it as a fault of the firmware",
        ResetReason::Pin => "check the reset button",
        ResetReason::NotKnown | ResetReason::Other(_) => "check its supply and cable",
    }
}
