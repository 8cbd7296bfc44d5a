//! How long after a burst a person writes the note, and what a written time says about that.

use std::ops::Range;

use super::assign::HOPELESS_COST;
use super::{AlignBurst, NoteClock};

/// Share of notes written at once; the rest are written in a batch later.
const PROMPT_SHARE: f64 = 0.88;
/// Prompt notes: a logistic distribution about this lag after the burst's end, s.
pub(super) const PROMPT_LAG_S: f64 = 4.5;
/// Its scale, s: nine in ten prompt notes lie between 0 and 9 s.
const PROMPT_SCALE_S: f64 = 1.5;
/// Mean lag of the late ones, s.
const LATE_LAG_S: f64 = 40.0;
/// Standard deviation of an "about" time, s: people say a round number.
const U_ABOUT_S: f64 = 110.0;
/// A note follows its burst by less than this: a late one after it costs [`HOPELESS_COST`] or more, s.
const LONGEST_LAG_S: f64 = 470.0;
/// A note comes before the end of its burst by less than this, for the same reason, s.
const LONGEST_LEAD_S: f64 = 17.0;
/// Likelihood below which a pair is no worse: keeps one impossible time from outweighing all else.
const LEAST_LIKELIHOOD: f64 = 1.0e-9;

/// Probability that the lag is below `lag_s`.
fn lag_cdf(lag_s: f64) -> f64 {
    let prompt = 1.0 / (1.0 + (-(lag_s - PROMPT_LAG_S) / PROMPT_SCALE_S).exp());
    let late = if lag_s > 0.0 {
        1.0 - (-lag_s / LATE_LAG_S).exp()
    } else {
        0.0
    };
    PROMPT_SHARE * prompt + (1.0 - PROMPT_SHARE) * late
}

/// Minus twice the log-likelihood that a note with this time follows a burst with this end.
///
/// Exact times are held against the lag to a second; times to the minute only against the
/// probability that the lag falls into that minute.
pub(super) fn match_cost(clock: NoteClock, burst_end_s: f64, offset_s: f64) -> f64 {
    let likelihood = match clock {
        NoteClock::Logger { t_s } => {
            let lag = t_s - burst_end_s;
            lag_cdf(lag + 0.5) - lag_cdf(lag - 0.5)
        }
        NoteClock::Clock {
            nominal_s,
            resolution_s,
        } => {
            let lag = nominal_s + offset_s - burst_end_s;
            lag_cdf(lag + resolution_s.max(1.0)) - lag_cdf(lag)
        }
        NoteClock::About { nominal_s } => {
            let lag = nominal_s + offset_s - burst_end_s - PROMPT_LAG_S;
            (-0.5 * (lag / U_ABOUT_S).powi(2)).exp()
        }
        NoteClock::Unknown => 1.0,
    };
    -2.0 * likelihood.max(LEAST_LIKELIHOOD).ln()
}

/// The bursts that a note with this time may describe at all; every other pair costs
/// [`HOPELESS_COST`] or more.
///
/// *Shape*: `bursts` in order of time.
pub(super) fn possible_bursts(
    clock: NoteClock,
    bursts: &[AlignBurst],
    offset_s: f64,
) -> Range<usize> {
    let ends_within = |from_s: f64, to_s: f64| {
        let first = bursts.partition_point(|b| b.burst.end_s < from_s);
        first..bursts.partition_point(|b| b.burst.end_s <= to_s).max(first)
    };
    match clock {
        NoteClock::Logger { t_s } => ends_within(t_s - LONGEST_LAG_S, t_s + LONGEST_LEAD_S),
        NoteClock::Clock {
            nominal_s,
            resolution_s,
        } => {
            let t_s = nominal_s + offset_s;
            let last_s = t_s + resolution_s.max(1.0);
            ends_within(t_s - LONGEST_LAG_S, last_s + LONGEST_LEAD_S)
        }
        NoteClock::About { nominal_s } => {
            let t_s = nominal_s + offset_s - PROMPT_LAG_S;
            let reach_s = U_ABOUT_S * HOPELESS_COST.sqrt();
            ends_within(t_s - reach_s, t_s + reach_s)
        }
        NoteClock::Unknown => 0..bursts.len(),
    }
}

/// Best logger time of a note.
pub(super) fn best_time(clock: NoteClock, offset_s: f64) -> Option<f64> {
    match clock {
        NoteClock::Logger { t_s } => Some(t_s),
        NoteClock::Clock {
            nominal_s,
            resolution_s,
        } => Some(nominal_s + offset_s + 0.5 * resolution_s),
        NoteClock::About { nominal_s } => Some(nominal_s + offset_s),
        NoteClock::Unknown => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::burst::Burst;

    /// Bursts of a second every second, from long before any note to long after.
    fn bursts() -> Vec<AlignBurst> {
        (-900..900)
            .map(|end_s| AlignBurst {
                burst: Burst {
                    start_s: f64::from(end_s) - 1.0,
                    end_s: f64::from(end_s),
                    u_time_s: 0.0,
                },
                spraying_pa: None,
            })
            .collect()
    }

    #[track_caller]
    fn check(clock: NoteClock) {
        let bursts = bursts();
        let possible = possible_bursts(clock, &bursts, 3.0);
        assert!(possible.start > 0 && possible.end < bursts.len());
        for (j, b) in bursts.iter().enumerate() {
            let cost = match_cost(clock, b.burst.end_s, 3.0);
            let is_left_out = !possible.contains(&j);
            assert!(
                !is_left_out || cost >= HOPELESS_COST,
                "{} s: {cost}",
                b.burst.end_s
            );
        }
    }

    #[test]
    fn only_hopeless_bursts_are_left_out() {
        check(NoteClock::Logger { t_s: 20.0 });
        for resolution_s in [0.001, 1.0, 60.0] {
            check(NoteClock::Clock {
                nominal_s: 20.0,
                resolution_s,
            });
        }
        check(NoteClock::About { nominal_s: 20.0 });
    }
}
