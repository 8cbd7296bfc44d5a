//! Sequence numbers to counted gaps: what never arrived, by number and by time.
//!
//! One [`Tracker`] follows one stream of numbered items (samples, edges or marks). It has no opinion
//! on what a gap means or who lost it.

/// Consecutive numbered items that arrived together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// Sequence number of the first.
    pub first: u32,
    /// How many.
    pub count: u32,
    /// Device tick of the first.
    pub start_ticks: u64,
    /// Device tick at which the next is due; for events without a rate, tick of the last.
    pub end_ticks: u64,
}

/// Items that never arrived.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gap {
    /// Sequence number of the first one missing.
    pub first: u32,
    /// How many.
    pub lost: u32,
    /// End of what arrived before.
    pub from_ticks: u64,
    /// Start of what arrived after.
    pub to_ticks: u64,
}

/// How a run follows what came before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Continuity {
    /// The first run seen. What came before it is not known and not counted.
    First,
    /// The next number. Time may still have passed in between, as after a stop.
    Next,
    /// Numbers are missing.
    Gap(Gap),
    /// Numbers or time went back: the device started again, and with it the numbers from 0.
    Restart {
        /// Items since that start that are missing before this run.
        lost: u32,
    },
}

/// Follows one stream.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tracker {
    position: Option<Position>,
    totals: Totals,
}

/// What a tracker has counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Totals {
    /// Items that arrived.
    pub received: u64,
    /// Items that did not.
    pub lost: u64,
    /// Gaps they are in.
    pub gaps: u64,
    /// Starts of the device after the first.
    pub restarts: u64,
}

#[derive(Clone, Copy, Debug)]
struct Position {
    next: u32,
    start_ticks: u64,
    end_ticks: u64,
}

impl Position {
    /// Where a device begins.
    const ORIGIN: Self = Self {
        next: 0,
        start_ticks: 0,
        end_ticks: 0,
    };
}

/// A step of the numbers of at least this much forward is a step back: more than 24 days of
/// samples at 1 kHz.
const HALF_RANGE: u32 = 1 << 31;

impl Tracker {
    /// A tracker that has seen nothing.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            position: None,
            totals: Totals {
                received: 0,
                lost: 0,
                gaps: 0,
                restarts: 0,
            },
        }
    }

    /// Takes the next run that arrived.
    ///
    /// A restart is seen by numbers or time going back. One that hides behind a long loss shows only
    /// in the boot id of hello and health: call [`restart`](Self::restart) when that changes.
    pub fn observe(&mut self, run: Run) -> Continuity {
        let continuity = self.advance(run.first, run.start_ticks);
        self.totals.received += u64::from(run.count);
        self.position = Some(Position {
            next: run.first.wrapping_add(run.count),
            start_ticks: run.start_ticks,
            end_ticks: run.end_ticks,
        });
        continuity
    }

    /// Takes the sender's word that everything below `next` was sent before `device_ticks` (as in
    /// [`Health`](crate::Health)): shows a loss at the end of a stream, where no later item would.
    pub fn observe_sent(&mut self, next: u32, device_ticks: u64) -> Continuity {
        let continuity = self.advance(next, device_ticks);
        // The report is later than the items, so its time says nothing about the next run's.
        let before = self.position.unwrap_or(Position::ORIGIN);
        let before = match continuity {
            Continuity::Restart { .. } => Position::ORIGIN,
            _ => before,
        };
        self.position = Some(Position { next, ..before });
        continuity
    }

    /// The device is known to have started again (another boot id): what follows begins afresh.
    /// Does nothing before the first run.
    pub fn restart(&mut self) {
        if let Some(position) = &mut self.position {
            *position = Position::ORIGIN;
            self.totals.restarts += 1;
        }
    }

    /// What has been counted.
    #[must_use]
    pub const fn totals(&self) -> Totals {
        self.totals
    }

    fn advance(&mut self, first: u32, start_ticks: u64) -> Continuity {
        let Some(before) = self.position else {
            return Continuity::First;
        };
        let lost = first.wrapping_sub(before.next);
        if lost >= HALF_RANGE || start_ticks < before.start_ticks {
            self.totals.restarts += 1;
            self.count_lost(first);
            return Continuity::Restart { lost: first };
        }
        if lost == 0 {
            return Continuity::Next;
        }
        self.count_lost(lost);
        Continuity::Gap(Gap {
            first: before.next,
            lost,
            from_ticks: before.end_ticks,
            to_ticks: start_ticks,
        })
    }

    fn count_lost(&mut self, lost: u32) {
        if lost > 0 {
            self.totals.lost += u64::from(lost);
            self.totals.gaps += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(first: u32, count: u32, start_ticks: u64) -> Run {
        Run {
            first,
            count,
            start_ticks,
            end_ticks: start_ticks + u64::from(count) * 10,
        }
    }

    #[test]
    fn gap_is_counted_and_placed_in_time() {
        let mut tracker = Tracker::new();
        assert_eq!(tracker.observe(run(500, 10, 1_000)), Continuity::First);
        assert_eq!(tracker.observe(run(510, 10, 1_100)), Continuity::Next);
        let gap = Gap {
            first: 520,
            lost: 7,
            from_ticks: 1_200,
            to_ticks: 1_270,
        };
        assert_eq!(tracker.observe(run(527, 3, 1_270)), Continuity::Gap(gap));
        let totals = Totals {
            received: 23,
            lost: 7,
            gaps: 1,
            restarts: 0,
        };
        assert_eq!(tracker.totals(), totals);
    }

    #[test]
    fn numbers_wrap_without_a_gap() {
        let mut tracker = Tracker::new();
        tracker.observe(run(u32::MAX - 4, 10, 0));
        assert_eq!(tracker.observe(run(5, 1, 100)), Continuity::Next);
    }

    #[test]
    fn faster_rate_is_not_a_restart() {
        let mut tracker = Tracker::new();
        tracker.observe(run(0, 10, 0));
        assert_eq!(tracker.observe(run(10, 1, 91)), Continuity::Next);
    }

    #[test]
    fn time_or_number_going_back_is_a_restart_with_its_own_loss() {
        let mut tracker = Tracker::new();
        tracker.observe(run(0, 10, 5_000));
        assert_eq!(
            tracker.observe(run(12, 10, 40)),
            Continuity::Restart { lost: 12 }
        );
        assert_eq!(
            tracker.observe(run(3, 1, 9_000)),
            Continuity::Restart { lost: 3 }
        );
        assert_eq!(tracker.totals().restarts, 2);
        assert_eq!(tracker.totals().lost, 15);
    }

    #[test]
    fn announced_restart_counts_what_never_came() {
        let mut tracker = Tracker::new();
        tracker.restart();
        assert_eq!(tracker.totals().restarts, 0);
        tracker.observe(run(0, 10, 0));
        tracker.restart();
        assert!(matches!(
            tracker.observe(run(20, 10, 200)),
            Continuity::Gap(Gap {
                first: 0,
                lost: 20,
                ..
            })
        ));
        assert_eq!(tracker.totals().restarts, 1);
    }

    #[test]
    fn loss_at_the_end_shows_in_the_senders_count() {
        let mut tracker = Tracker::new();
        tracker.observe(run(0, 10, 0));
        assert_eq!(tracker.observe_sent(10, 500), Continuity::Next);
        assert!(matches!(
            tracker.observe_sent(14, 900),
            Continuity::Gap(Gap { lost: 4, .. })
        ));
        assert_eq!(tracker.observe(run(14, 1, 400)), Continuity::Next);
        assert_eq!(tracker.totals().lost, 4);
    }
}
