//! How long after a burst a person writes the note, and what a written time says about that.

use std::ops::Range;

use super::assign::HOPELESS_COST;
use super::{AlignBurst, AlignNote, ClockPrior, NoteClock, NoteRole};

/// Share of notes written at once; the rest are written in a batch later.
const PROMPT_SHARE: f64 = 0.88;
/// Prompt notes: a logistic distribution about this lag after the burst's end, s.
const PROMPT_LAG_S: f64 = 4.5;
/// Its scale, s: nine in ten prompt notes lie between 0 and 9 s.
const PROMPT_SCALE_S: f64 = 1.5;
/// Standard deviation of one person's usual lag about that of all, s. No number of notes tells a person who writes
/// two seconds sooner from a watch that is two seconds behind. Common practice, no source.
pub(super) const U_HABIT_S: f64 = 1.5;
/// Mean lag of the late ones, s.
const LATE_LAG_S: f64 = 40.0;
/// Standard deviation of an "about" time, s: people say a round number.
const U_ABOUT_S: f64 = 110.0;
/// Standard deviation of a watch set by another clock than the session's, s.
const U_WATCH_S: f64 = 4.0;
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

/// Offsets to try, each with the cost of believing it.
///
/// A sync mark ties the clocks within seconds wherever they stand. Without one, a session that says
/// when it started allows a watch to be off by seconds; a session that does not allows any
/// offset that puts the first clock time near some burst.
pub(super) fn offset_candidates(
    notes: &[AlignNote],
    bursts: &[AlignBurst],
    sync_bursts: &[usize],
    prior: ClockPrior,
    has_clock: bool,
) -> Vec<(f64, f64)> {
    if !has_clock {
        return vec![(0.0, 0.0)];
    }
    let mut candidates = Vec::new();
    for centre_s in sync_offsets(notes, bursts, sync_bursts) {
        candidates.extend(fan(centre_s, 0.5, 10, 2.5));
    }
    if prior == ClockPrior::Started {
        candidates.extend(fan(0.0, 0.5, 20, U_WATCH_S));
        // A watch that is minutes off is rare, not impossible.
        candidates.extend((-60..=60).map(|k| (10.0 * f64::from(k), 18.0)));
    } else if candidates.is_empty() {
        candidates.extend(anchored(notes, bursts));
    }
    candidates
}

/// Offsets about a centre with a normal prior.
fn fan(centre_s: f64, step_s: f64, half: i32, u_s: f64) -> Vec<(f64, f64)> {
    (-half..=half)
        .map(|k| {
            let d = f64::from(k) * step_s;
            (centre_s + d, (d / u_s).powi(2))
        })
        .collect()
}

/// Offsets that put each sync note just behind each third short pull.
fn sync_offsets(notes: &[AlignNote], bursts: &[AlignBurst], sync_bursts: &[usize]) -> Vec<f64> {
    let ends = sync_bursts.chunks(3).filter_map(|trio| {
        trio.last()
            .and_then(|j| bursts.get(*j))
            .map(|b| b.burst.end_s)
    });
    let times: Vec<f64> = notes
        .iter()
        .filter(|n| n.role == NoteRole::Sync)
        .filter_map(|n| match n.clock {
            NoteClock::Clock {
                nominal_s,
                resolution_s,
            } if resolution_s <= 1.0 => Some(nominal_s + 0.5),
            _ => None,
        })
        .collect();
    ends.flat_map(|end_s| times.iter().map(move |t| end_s + 1.5 - t))
        .collect()
}

/// Without any anchor: every offset that ties the first or the last clock time to some burst.
fn anchored(notes: &[AlignNote], bursts: &[AlignBurst]) -> Vec<(f64, f64)> {
    let nominal = |n: &AlignNote| match n.clock {
        NoteClock::Clock {
            nominal_s,
            resolution_s,
        } => Some((nominal_s, resolution_s)),
        NoteClock::About { nominal_s } => Some((nominal_s, 60.0)),
        _ => None,
    };
    let observed = || notes.iter().filter(|n| n.role == NoteRole::Observation);
    let ends = [
        observed().find_map(nominal),
        observed().rev().find_map(nominal),
    ];
    let mut candidates = Vec::new();
    for (nominal_s, resolution_s) in ends.into_iter().flatten() {
        for b in bursts {
            let centre_s = b.burst.end_s + PROMPT_LAG_S - nominal_s;
            let steps = if resolution_s > 1.0 { 12 } else { 4 };
            candidates.extend((0..=steps).map(|k| {
                let share = f64::from(k) / f64::from(steps);
                (centre_s - share * resolution_s.max(6.0) + 1.0, 0.0)
            }));
        }
    }
    candidates
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
