//! Device ticks to logger time, and logger time to host time, as far as a live page needs them.
//!
//! Logger time is that of `recording::timeline`, by which a recording is loaded. Arrival is never early, so the offset
//! to host time is the smallest one of the last minute.

use std::collections::VecDeque;

use crate::recording::timeline;

/// Arrivals that the offset to host time is taken from, s.
const ARRIVALS_S: f64 = 60.0;

/// The time line of one bench.
#[derive(Debug, Default)]
pub struct Timeline {
    ticks: timeline::Timeline,
    /// Logger time and offset (host time minus logger time) of recent arrivals, offsets rising.
    offsets: VecDeque<(f64, f64)>,
}

impl Timeline {
    /// Takes the newest tick of a frame and its arrival; gives its logger time.
    pub fn observe(&mut self, device_ticks: u64, arrived_unix_s: f64) -> f64 {
        let t_s = self.ticks.hear(device_ticks, Some(arrived_unix_s));
        self.note_offset(t_s, arrived_unix_s - t_s);
        t_s
    }

    /// Logger time of a tick of the present stretch.
    #[must_use]
    pub fn time_of(&self, device_ticks: u64) -> f64 {
        self.ticks.t_s(device_ticks)
    }

    /// The device started again.
    pub fn restart(&mut self) {
        self.ticks.restart();
        self.offsets.clear();
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
        // Logger time is 5 at the first tick (see `recording::timeline`).
        let offset = line.host_time_of(75.0).unwrap() - 75.0;
        assert!((offset - 995.002).abs() < 1e-9, "{offset}");
        assert!((line.logger_time_of(1070.002).unwrap() - 75.0).abs() < 1e-9);
        assert!(line.offsets.len() < 300);
    }
}
