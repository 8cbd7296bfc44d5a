//! Host time that does not jump: the system's clock read once, carried on by a steady one.

use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// A difference of this much between the system's clock and the steady one is told.
pub const STEP_S: f64 = 2.0;

/// Host time of one recording.
#[derive(Debug, Clone, Copy)]
pub struct HostClock {
    begun_unix_s: f64,
    begun: Instant,
}

impl HostClock {
    /// Begins now.
    #[must_use]
    pub fn start() -> Self {
        Self::start_at(system_unix_s())
    }

    /// Begins now, with the system's clock standing at `begun_unix_s` for all that is known: what it shows
    /// otherwise is a step.
    #[must_use]
    pub fn start_at(begun_unix_s: f64) -> Self {
        Self {
            begun_unix_s,
            begun: Instant::now(),
        }
    }

    /// Host time now, Unix seconds.
    #[must_use]
    pub fn now_unix_s(&self) -> f64 {
        self.begun_unix_s + self.elapsed_s()
    }

    /// Time since the start, s.
    #[must_use]
    pub fn elapsed_s(&self) -> f64 {
        self.begun.elapsed().as_secs_f64()
    }

    /// Time since the start.
    #[must_use]
    pub fn elapsed(&self) -> Duration {
        self.begun.elapsed()
    }

    /// How far the system's clock was set ahead (or back, negative) since the start, s. The
    /// computer's sleep shows the same way.
    #[must_use]
    pub fn system_step_s(&self) -> f64 {
        system_unix_s() - self.now_unix_s()
    }
}

/// The system's clock, Unix seconds.
#[must_use]
pub fn system_unix_s() -> f64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0.0, |since| since.as_secs_f64())
}
