//! Device ticks to logger time, and logger time to host time, as far as a live page needs them.
//!
//! Logger time counts from the first tick that was heard. A restart of the device goes on where host
//! time says: the same rule by which a recording is loaded. Arrival is never early, so the offset
//! to host time is the smallest one of the last minute.

use std::collections::VecDeque;

/// Ticks in a second.
const TICK_S: f64 = 1.0e-6;

/// Arrivals that the offset to host time is taken from, s.
const ARRIVALS_S: f64 = 60.0;

/// The time line of one bench.
#[derive(Debug, Default)]
pub struct Timeline {
    stretch: Option<Stretch>,
    /// Logger time and host time at which the stretch before ended.
    ended: Option<(f64, f64)>,
    /// Logger time and offset (host time minus logger time) of recent arrivals, offsets rising.
    offsets: VecDeque<(f64, f64)>,
    last: Option<(f64, f64)>,
}

#[derive(Debug, Clone, Copy)]
struct Stretch {
    first_ticks: u64,
    from_s: f64,
}

impl Timeline {
    /// Takes the newest tick of a frame and its arrival; gives its logger time.
    pub fn observe(&mut self, device_ticks: u64, arrived_unix_s: f64) -> f64 {
        if self.stretch.is_none() {
            let from_s = self.ended.map_or(0.0, |(t_s, unix_s)| {
                t_s + (arrived_unix_s - unix_s).max(0.0)
            });
            self.stretch = Some(Stretch {
                first_ticks: device_ticks,
                from_s,
            });
            self.offsets.clear();
        }
        let t_s = self.time_of(device_ticks);
        self.last = Some((t_s, arrived_unix_s));
        self.note_offset(t_s, arrived_unix_s - t_s);
        t_s
    }

    /// Logger time of a tick; ticks before the first that was heard give a time before it.
    #[must_use]
    pub fn time_of(&self, device_ticks: u64) -> f64 {
        let Some(stretch) = self.stretch else {
            return 0.0;
        };
        let seconds = if device_ticks >= stretch.first_ticks {
            to_seconds(device_ticks - stretch.first_ticks)
        } else {
            -to_seconds(stretch.first_ticks - device_ticks)
        };
        stretch.from_s + seconds
    }

    /// The device started again.
    pub fn restart(&mut self) {
        if self.stretch.take().is_some() {
            self.ended = self.last;
        }
    }

    /// Host time of a logger time, Unix seconds; `None` before the first arrival.
    #[must_use]
    pub fn host_time_of(&self, t_s: f64) -> Option<f64> {
        Some(t_s + self.offsets.front()?.1)
    }

    /// Logger time of a host time; `None` before the first arrival.
    #[must_use]
    pub fn logger_time_of(&self, unix_s: f64) -> Option<f64> {
        Some(unix_s - self.offsets.front()?.1)
    }

    /// Keeps the smallest offset of the last minute at the front (a monotone queue).
    fn note_offset(&mut self, t_s: f64, offset_s: f64) {
        while self.offsets.back().is_some_and(|(_, o)| *o >= offset_s) {
            self.offsets.pop_back();
        }
        self.offsets.push_back((t_s, offset_s));
        while self
            .offsets
            .front()
            .is_some_and(|(at, _)| *at < t_s - ARRIVALS_S)
        {
            self.offsets.pop_front();
        }
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "2^53 microseconds are 285 years"
)]
fn to_seconds(ticks: u64) -> f64 {
    ticks as f64 * TICK_S
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_earliest_arrival_of_the_last_minute_gives_the_offset() {
        let mut line = Timeline::default();
        for k in 0..300u32 {
            let late = if k % 7 == 0 { 0.002 } else { 0.080 };
            line.observe(
                5_000_000 + u64::from(k) * 250_000,
                1000.0 + f64::from(k) * 0.25 + late,
            );
        }
        let offset = line.host_time_of(70.0).unwrap() - 70.0;
        assert!((offset - 1000.002).abs() < 1e-9, "{offset}");
        assert!((line.logger_time_of(1070.002).unwrap() - 70.0).abs() < 1e-9);
        assert!(line.offsets.len() < 300);
    }

    #[test]
    fn a_restart_goes_on_where_host_time_says() {
        let mut line = Timeline::default();
        assert_eq!(line.observe(7_000_000, 100.0), 0.0);
        assert_eq!(line.observe(9_000_000, 102.0), 2.0);
        line.restart();
        assert_eq!(line.observe(40_000, 110.0), 10.0);
        assert_eq!(line.observe(1_040_000, 111.0), 11.0);
    }
}
