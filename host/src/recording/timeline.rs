//! Device ticks to logger time: one line through every restart of the device.
//!
//! Logger time is zero when the device started, or [`HEADROOM_TICKS`] before the first tick heard
//! of a device that had been running longer. A device that starts again counts its ticks from
//! zero; logger time goes on to that start by as much host time as passed since the last thing
//! heard before it. Shared by loading and by the live page, so that both show the same `t+` seconds.

/// Ticks in one second. Dividing by it gives the double nearest to the decimal time, multiplying by its
/// inverse does not.
const TICKS_PER_S: f64 = tipcurve_protocol::ticks::TICKS_PER_SECOND as f64;

/// What is heard first may be this much younger than what is heard next: blocks wait for up to 3 s in
/// the device's queue while a heartbeat overtakes them, and a block is half a second long.
pub const HEADROOM_TICKS: u64 = 5 * tipcurve_protocol::ticks::TICKS_PER_SECOND as u64;

/// Least logger time that a restart takes when nobody knows how long it took, s: a tenth of what
/// any board needs to start.
const LEAST_RESTART_S: f64 = 0.01;

/// Carries ticks to logger time.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Timeline {
    stretch: Option<Stretch>,
    latest: Option<Latest>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Stretch {
    base_ticks: u64,
    zero_s: f64,
}

/// The latest thing heard.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Latest {
    t_s: f64,
    host_unix_s: Option<f64>,
}

impl Timeline {
    /// The device started again: the next tick begins a new stretch.
    pub fn restart(&mut self) {
        self.stretch = None;
    }

    /// Logger time of a tick that was heard at `host_unix_s`, where that is known.
    pub fn hear(&mut self, ticks: u64, host_unix_s: Option<f64>) -> f64 {
        if self.stretch.is_none() {
            self.begin(ticks, host_unix_s);
        }
        let t_s = self.t_s(ticks);
        if self.latest.is_none_or(|l| t_s >= l.t_s) {
            self.latest = Some(Latest { t_s, host_unix_s });
        }
        t_s
    }

    fn begin(&mut self, ticks: u64, host_unix_s: Option<f64>) {
        let stretch = match self.latest {
            None => Stretch {
                base_ticks: ticks.saturating_sub(HEADROOM_TICKS),
                zero_s: 0.0,
            },
            Some(latest) => {
                let silent_s = host_unix_s
                    .zip(latest.host_unix_s)
                    .map_or(0.0, |(now, then)| now - then);
                let down_s = silent_s - ticks_to_s(ticks);
                Stretch {
                    base_ticks: 0,
                    zero_s: latest.t_s + down_s.max(LEAST_RESTART_S),
                }
            }
        };
        self.stretch = Some(stretch);
    }

    /// Logger time of a tick of the present stretch.
    #[must_use]
    pub fn t_s(&self, ticks: u64) -> f64 {
        let Some(stretch) = self.stretch else {
            return 0.0;
        };
        let since_s = match ticks.checked_sub(stretch.base_ticks) {
            Some(since) => ticks_to_s(since),
            None => -ticks_to_s(stretch.base_ticks - ticks),
        };
        stretch.zero_s + since_s
    }

    /// The line on from a tick, for many ticks after it.
    #[must_use]
    pub fn line(&self, ticks: u64) -> Line {
        let stretch = self.stretch.unwrap_or(Stretch {
            base_ticks: ticks,
            zero_s: 0.0,
        });
        Line {
            zero_s: stretch.zero_s,
            since_base: ticks_to_f64(ticks) - ticks_to_f64(stretch.base_ticks),
        }
    }

    /// Latest logger time heard.
    #[must_use]
    pub fn latest_t_s(&self) -> Option<f64> {
        self.latest.map(|l| l.t_s)
    }
}

/// A stretch of logger time on from one tick.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    zero_s: f64,
    since_base: f64,
}

impl Line {
    /// A line that begins at this logger time.
    pub(super) fn from_t_s(t_s: f64) -> Self {
        Self {
            zero_s: t_s,
            since_base: 0.0,
        }
    }

    /// The same line, begun so many ticks on.
    #[must_use]
    pub fn ahead(self, ticks: f64) -> Self {
        Self {
            since_base: self.since_base + ticks,
            ..self
        }
    }

    /// Logger time so many ticks on. Whole ticks add up exactly; only the last step rounds.
    #[must_use]
    pub fn ahead_s(self, ticks: f64) -> f64 {
        self.zero_s + (self.since_base + ticks) / TICKS_PER_S
    }
}

fn ticks_to_s(ticks: u64) -> f64 {
    ticks_to_f64(ticks) / TICKS_PER_S
}

#[expect(
    clippy::cast_precision_loss,
    reason = "2^53 microseconds are 285 years"
)]
fn ticks_to_f64(ticks: u64) -> f64 {
    ticks as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logger_time_counts_from_the_start_of_the_device() {
        let mut line = Timeline::default();
        assert_eq!(line.hear(2_000, None), 0.002);
        assert_eq!(line.hear(7_500_000, None), 7.5);
    }

    #[test]
    fn a_device_that_ran_for_days_begins_near_zero_and_nothing_is_before() {
        let mut line = Timeline::default();
        let days = 300_000_000_000;
        assert_eq!(line.hear(days, None), 5.0);
        assert_eq!(
            line.hear(days - 2_500_000, None),
            2.5,
            "a block that had waited"
        );
    }

    #[test]
    fn restart_takes_as_long_as_the_host_says() {
        let mut line = Timeline::default();
        line.hear(0, Some(1_000.0));
        line.hear(10_000_000, Some(1_010.0));
        line.restart();
        assert_eq!(line.hear(1_500_000, Some(1_013.5)), 13.5);
        assert_eq!(line.hear(500_000, Some(1_013.6)), 12.5);
    }

    #[test]
    fn restart_never_turns_time_back() {
        let mut line = Timeline::default();
        line.hear(0, Some(1_000.0));
        line.hear(10_000_000, Some(1_010.0));
        line.restart();
        let set_back = line.hear(0, Some(900.0));
        assert_eq!(set_back, 10.01, "the host's clock was set back");
        line.restart();
        assert!(line.hear(0, None) > set_back, "no arrival is known");
    }
}
