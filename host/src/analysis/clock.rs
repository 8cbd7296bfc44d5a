//! Logger time against host time by the lower envelope of arrivals.
//!
//! A frame arrives at the host some delay after the logger stamped it: late by a little, sometimes
//! by a lot, never early. So the clocks' relation is not the mean line through the arrivals but the
//! line under all of them (Moon, Skelly and Towsley, INFOCOM 1999, pose it as a linear programme;
//! [`envelope`] solves it on the lower convex hull and adds the uncertainty). In go pairs of
//! logger time and host time; out come offset and drift with uncertainty, one pair for each
//! stretch between clock jumps, and the jumps.
//!
//! The least delay of the link cannot be seen in arrivals: it is an argument, and its doubt is the
//! common part of the offset. Away from the arrivals that fixed the line the rates may have changed with the
//! temperature: see [`crystal`]. A clock that jumps stays shifted; a stall of the host, which comes
//! back, is not a jump. No notes here: they are lined up in `align`. The intervals are counted over
//! simulated links in `tests/tests/checks_apply_clock.rs`.
//!
//! For a growing recording: the last [`JUMP_WINDOW_S`] before and after a moment are needed to know
//! whether a clock jumped there; a fit costs `n log n` and can be repeated at every refresh.

mod crystal;
mod envelope;
mod jumps;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::estimate::{Estimate, Interval};

/// Logger time that a shift must last, before and after, to be a jump and not a stall.
pub const JUMP_WINDOW_S: f64 = 20.0;
/// Smallest shift that is reported as a jump: a tenth of the second to which the best notes are written.
pub const LEAST_JUMP_S: f64 = 0.1;
/// Fewest arrivals of a stretch that a line is drawn under: fewer leave no freedom for its doubt.
pub const ARRIVALS_MIN: usize = 8;

/// Degrees of freedom stated with offset and drift. The posterior of the line under the points falls off
/// like a Laplace distribution, 95 % of which lies within 2.12 standard deviations: Student's t with
/// 16 degrees of freedom. `envelope` chooses the uncertainties so that this factor gives its interval.
const ENVELOPE_DOF: f64 = 16.0;

/// What is known of the link beforehand.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Link {
    /// Shortest delay from the logger's stamp to the host's, s: the frame's time on the wire and half
    /// the polling interval, for example. Its uncertainty becomes the offset's common part.
    pub least_delay_s: Estimate,
    /// Resolution of the host's stamps, s; zero when it is far below a millisecond.
    pub resolution_s: f64,
}

impl Default for Link {
    /// A serial link over USB: 0 to 4 ms, rectangular (frame time and polling; common practice, no
    /// source).
    fn default() -> Self {
        Self {
            least_delay_s: Estimate::new(0.002, 0.0, 0.002 / 3f64.sqrt()),
            resolution_s: 0.0,
        }
    }
}

/// The relation of the two clocks in one stretch without a jump.
///
/// `host = logger + offset + drift * (logger - mid)`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ClockSegment {
    /// Logger time of the first and last arrival of the stretch.
    pub range_s: Interval,
    /// Arrivals in it.
    pub n_arrivals: usize,
    /// Logger time at which the offset is stated.
    pub mid_s: f64,
    /// Logger times of the first and last arrival that the line touches: there it holds by observation.
    pub touches_s: Interval,
    /// Host time minus logger time at `mid_s`, s.
    pub offset_s: Estimate,
    /// Excess of the host's rate over the logger's, 1 (1e-6 is one part in a million).
    pub drift: Estimate,
    /// Covariance of the independent parts of offset and drift, s.
    pub covariance_s: f64,
    /// Median delay beyond the least one, s.
    pub median_delay_s: f64,
    /// Greatest delay beyond the least one, s.
    pub greatest_delay_s: f64,
}

impl ClockSegment {
    /// Host time at a logger time, s, with what the rates may have changed since the nearest arrival that the line
    /// touches.
    #[must_use]
    pub fn host_time(&self, logger_time_s: f64) -> Estimate {
        let line = self.line_at(logger_time_s);
        let (first, last) = (self.touches_s.low, self.touches_s.high);
        let away_s = (logger_time_s - first)
            .abs()
            .min((logger_time_s - last).abs());
        Estimate {
            u_independent: line
                .u_independent
                .hypot(crystal::u_wander_s(away_s, last - first)),
            ..line
        }
    }

    /// Host time at a logger time by the line alone, s: as if both clocks ran evenly.
    #[must_use]
    pub fn line_at(&self, logger_time_s: f64) -> Estimate {
        let dt = logger_time_s - self.mid_s;
        let variance = self.offset_s.u_independent.powi(2)
            + (dt * self.drift.u_independent).powi(2)
            + 2.0 * dt * self.covariance_s;
        let value = logger_time_s + self.offset_s.value + self.drift.value * dt;
        Estimate::new(value, variance.max(0.0).sqrt(), self.offset_s.u_common)
            .with_dof(ENVELOPE_DOF)
    }

    /// Logger time at a host time, s.
    #[must_use]
    pub fn logger_time(&self, host_time_s: f64) -> Estimate {
        let since_mid = host_time_s - self.offset_s.value - self.mid_s;
        let logger = self.mid_s + since_mid / (1.0 + self.drift.value);
        // The rate differs from one by parts in a thousand at most: the doubt carries over as it is.
        Estimate {
            value: logger,
            ..self.host_time(logger)
        }
    }
}

/// One jump of either clock.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ClockJump {
    /// Between these logger times.
    pub between_s: Interval,
    /// Change of host time minus logger time, s: positive when the host's clock was put forward or the
    /// logger's fell back.
    pub size_s: Estimate,
}

/// The relation of the two clocks over a recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClockModel {
    /// Stretches in order of logger time; at least one.
    pub segments: Vec<ClockSegment>,
    /// Jumps between them.
    pub jumps: Vec<ClockJump>,
    /// Stretches with too few arrivals for a line, as ranges of logger time: no host time there.
    pub unknown_s: Vec<Interval>,
}

impl ClockModel {
    /// Host time at a logger time, s; outside the arrivals the nearest stretch is carried on.
    ///
    /// `None` inside a stretch with too few arrivals, and for a time that is not finite.
    #[must_use]
    pub fn host_time(&self, logger_time_s: f64) -> Option<Estimate> {
        if !logger_time_s.is_finite() || self.unknown_s.iter().any(|r| r.contains(logger_time_s)) {
            return None;
        }
        let nearest = self.segments.iter().min_by(|a, b| {
            distance(a.range_s, logger_time_s).total_cmp(&distance(b.range_s, logger_time_s))
        })?;
        Some(nearest.host_time(logger_time_s))
    }

    /// Logger times at a host time, s, ascending.
    ///
    /// *Shape*: one as a rule; none when the host's clock skipped that time; two when it was put back
    /// across it. Before the first and after the last arrival the outer stretches are carried on.
    #[must_use]
    pub fn logger_times(&self, host_time_s: f64) -> Vec<Estimate> {
        if !host_time_s.is_finite() {
            return Vec::new();
        }
        let last = self.segments.len().saturating_sub(1);
        let candidates = self.segments.iter().enumerate().map(|(i, segment)| {
            let logger = segment.logger_time(host_time_s);
            let (from, to) = (segment.range_s.low, segment.range_s.high);
            let is_inside = (i == 0 || logger.value >= from) && (i == last || logger.value <= to);
            is_inside.then_some(logger)
        });
        candidates.flatten().collect()
    }
}

fn distance(range: Interval, t: f64) -> f64 {
    (range.low - t).max(t - range.high).max(0.0)
}

/// Why there is no clock model.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ClockError {
    /// Too few arrivals, or all at one logger time.
    #[error(
        "{n_arrivals} frames arrived over {span_s:.1} s, {needed} at different times are needed to \
         set the clocks against each other; record for longer, or mark three short pulls as sync"
    )]
    TooFewArrivals {
        /// Arrivals there are.
        n_arrivals: usize,
        /// Logger time between the first and the last.
        span_s: f64,
        /// Arrivals needed.
        needed: usize,
    },
    /// A time is not a finite number.
    #[error("arrival {index}: logger time {logger_time_s}, host time {host_time_s}; not finite")]
    NotFinite {
        /// Position in the slice.
        index: usize,
        /// Logger time.
        logger_time_s: f64,
        /// Host time.
        host_time_s: f64,
    },
    /// Logger time runs backwards.
    #[error(
        "arrival {index}: logger time falls from {before_s} s to {after_s} s; a restart begins a new \
         stretch when the recording is loaded, load it again"
    )]
    LoggerRunsBack {
        /// Position in the slice.
        index: usize,
        /// Logger time before.
        before_s: f64,
        /// Logger time after.
        after_s: f64,
    },
    /// The link's least delay or resolution is no usable number.
    #[error(
        "least delay {least_delay_s} s with resolution {resolution_s} s; both must be 0 or above"
    )]
    BadLink {
        /// Least delay.
        least_delay_s: f64,
        /// Resolution.
        resolution_s: f64,
    },
}

/// Set the clocks against each other from frame arrivals.
///
/// *Shape*: pairs (logger time, host time) in s, logger time not decreasing; at least
/// [`ARRIVALS_MIN`].
///
/// *Errors*: [`ClockError`], each case named there.
///
/// *Source*: lower envelope after Moon, Skelly and Towsley, INFOCOM 1999; uncertainty derived in
/// [`envelope`]. *Cost*: `n log n`.
pub fn fit_clock(arrivals: &[(f64, f64)], link: &Link) -> Result<ClockModel, ClockError> {
    check(arrivals, link)?;
    let times: Vec<f64> = arrivals.iter().map(|a| a.0).collect();
    // Host minus logger keeps its digits even when host time counts from 1970.
    let origin = arrivals[0].1 - arrivals[0].0;
    let shift: Vec<f64> = arrivals.iter().map(|(l, h)| (h - origin) - l).collect();
    let cuts = jumps::find_jumps(&times, &shift);
    let mut model = ClockModel {
        segments: Vec::new(),
        jumps: Vec::new(),
        unknown_s: Vec::new(),
    };
    let mut edges = vec![0];
    edges.extend(&cuts);
    edges.push(arrivals.len());
    for pair in edges.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        match fit_segment(&times[from..to], &shift[from..to], link) {
            Some(mut segment) => {
                segment.offset_s.value += origin;
                push_jump(&mut model, &segment);
                model.segments.push(segment);
            }
            None => model.unknown_s.push(Interval {
                low: times[from],
                high: times[to - 1],
            }),
        }
    }
    if model.segments.is_empty() {
        return Err(too_few(arrivals));
    }
    Ok(model)
}

/// Record the jump from the last fitted stretch to this one.
fn push_jump(model: &mut ClockModel, next: &ClockSegment) {
    let Some(last) = model.segments.last() else {
        return;
    };
    let between_s = Interval {
        low: last.range_s.high,
        high: next.range_s.low,
    };
    let at = 0.5 * (between_s.low + between_s.high);
    let (before, after) = (last.host_time(at), next.host_time(at));
    model.jumps.push(ClockJump {
        between_s,
        // The least delay is the same on both sides: its doubt cancels.
        size_s: Estimate::new(
            after.value - before.value,
            before.u_independent.hypot(after.u_independent),
            0.0,
        )
        .with_dof(ENVELOPE_DOF),
    });
}

fn fit_segment(times: &[f64], shift: &[f64], link: &Link) -> Option<ClockSegment> {
    let line = envelope::fit_under(times, shift)?;
    // Stamps cut to a resolution are early by half of it on average; rectangular (GUM 4.3.7).
    let (mean_cut, u_cut) = (0.5 * link.resolution_s, link.resolution_s / 12f64.sqrt());
    let mut delays: Vec<f64> = times
        .iter()
        .zip(shift)
        .map(|(t, y)| y - line.offset_s - line.drift * (t - line.mid_s))
        .collect();
    delays.sort_by(f64::total_cmp);
    let span = times[times.len() - 1] - times[0];
    let least = link.least_delay_s;
    Some(ClockSegment {
        range_s: Interval {
            low: times[0],
            high: times[times.len() - 1],
        },
        n_arrivals: times.len(),
        mid_s: line.mid_s,
        touches_s: Interval {
            low: line.touches_s.0,
            high: line.touches_s.1,
        },
        offset_s: Estimate::new(
            line.offset_s - least.value + mean_cut,
            line.u_offset_s.hypot(u_cut),
            least.u_combined(),
        )
        .with_dof(ENVELOPE_DOF),
        drift: Estimate::new(line.drift, line.u_drift.hypot(u_cut / span), 0.0)
            .with_dof(ENVELOPE_DOF),
        covariance_s: line.covariance_s,
        median_delay_s: delays[delays.len() / 2].max(0.0),
        greatest_delay_s: delays[delays.len() - 1].max(0.0),
    })
}

fn check(arrivals: &[(f64, f64)], link: &Link) -> Result<(), ClockError> {
    let least = link.least_delay_s;
    let is_usable = |x: f64| x.is_finite() && x >= 0.0;
    if !(is_usable(least.value) && is_usable(least.u_combined()) && is_usable(link.resolution_s)) {
        return Err(ClockError::BadLink {
            least_delay_s: least.value,
            resolution_s: link.resolution_s,
        });
    }
    for (index, (logger_time_s, host_time_s)) in arrivals.iter().copied().enumerate() {
        if !(logger_time_s.is_finite() && host_time_s.is_finite()) {
            return Err(ClockError::NotFinite {
                index,
                logger_time_s,
                host_time_s,
            });
        }
    }
    if let Some(i) = arrivals.windows(2).position(|w| w[1].0 < w[0].0) {
        return Err(ClockError::LoggerRunsBack {
            index: i + 1,
            before_s: arrivals[i].0,
            after_s: arrivals[i + 1].0,
        });
    }
    if arrivals.len() < ARRIVALS_MIN {
        return Err(too_few(arrivals));
    }
    Ok(())
}

fn too_few(arrivals: &[(f64, f64)]) -> ClockError {
    let span_s = match (arrivals.first(), arrivals.last()) {
        (Some(first), Some(last)) => last.0 - first.0,
        _ => 0.0,
    };
    ClockError::TooFewArrivals {
        n_arrivals: arrivals.len(),
        span_s,
        needed: ARRIVALS_MIN,
    }
}

#[cfg(test)]
mod tests;
