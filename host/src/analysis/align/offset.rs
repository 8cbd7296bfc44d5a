//! The offset between the note taker's clock and the logger: what is believed of it before looking, which offsets are
//! worth a try, and how well the notes tie it once they are on their bursts.

use super::assign::HOPELESS_COST;
use super::lag::{PROMPT_LAG_S, match_cost};
use super::{AlignBurst, AlignNote, ClockPrior, NoteClock, NoteRole};

/// Standard deviation of a watch set by another clock than the session's, s.
const U_WATCH_S: f64 = 4.0;
/// Standard deviation of the time of a sync note about its pulls, s.
const U_SYNC_S: f64 = 2.5;
/// A watch that is minutes off is rare, not impossible.
const STRAY_COST: f64 = 18.0;
/// How far such a watch may be off, s.
const MOST_STRAY_S: f64 = 600.0;

/// What is believed of the offset before looking.
///
/// A sync mark ties the clocks within seconds wherever they stand. Without one, a session that says
/// when it started allows a watch to be off by seconds; a session that does not allows any
/// offset that puts the first or the last clock time near some burst.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct OffsetPrior {
    /// Offsets that something speaks for, each with its standard deviation, s.
    ties: Vec<(f64, f64)>,
    /// Cost of any other offset.
    stray_cost: f64,
}

impl OffsetPrior {
    pub(super) fn new(
        notes: &[AlignNote],
        bursts: &[AlignBurst],
        sync_bursts: &[usize],
        start: ClockPrior,
    ) -> Self {
        let mut ties: Vec<(f64, f64)> = sync_offsets(notes, bursts, sync_bursts)
            .into_iter()
            .map(|centre_s| (centre_s, U_SYNC_S))
            .collect();
        let stray_cost = match start {
            ClockPrior::Started => {
                ties.push((0.0, U_WATCH_S));
                STRAY_COST
            }
            ClockPrior::Unknown if ties.is_empty() => 0.0,
            ClockPrior::Unknown => f64::INFINITY,
        };
        Self { ties, stray_cost }
    }

    /// Minus twice the logarithm of how far an offset is believed, against the most believed.
    pub(super) fn cost(&self, offset_s: f64) -> f64 {
        let tied = |&(centre_s, u_s): &(f64, f64)| ((offset_s - centre_s) / u_s).powi(2);
        self.ties.iter().map(tied).fold(self.stray_cost, f64::min)
    }

    /// Offsets to try, each with its cost.
    pub(super) fn candidates(&self, notes: &[AlignNote], bursts: &[AlignBurst]) -> Vec<(f64, f64)> {
        let mut candidates = Vec::new();
        for (centre_s, u_s) in &self.ties {
            candidates.extend(steps(0.5, 2.5 * u_s).map(|d| centre_s + d));
        }
        if self.ties.is_empty() {
            candidates = anchored(notes, bursts);
        } else if self.stray_cost.is_finite() {
            candidates.extend(steps(10.0, MOST_STRAY_S));
        }
        candidates
            .into_iter()
            .map(|offset_s| (offset_s, self.cost(offset_s)))
            .collect()
    }
}

/// Evenly spaced differences on both sides of zero, s.
fn steps(step_s: f64, reach_s: f64) -> impl Iterator<Item = f64> {
    #[allow(clippy::cast_possible_truncation)]
    let half = (reach_s / step_s).round() as i32;
    (-half..=half).map(move |k| step_s * f64::from(k))
}

/// Standard deviation of one person's usual lag about that of all, s. No number of notes tells a person who writes
/// two seconds sooner from a watch that is two seconds behind. Common practice, no source.
const U_HABIT_S: f64 = 1.5;
/// What the interval of twice the uncertainty holds.
const HELD: f64 = 0.95;
/// Near the offset belief is looked at so closely, s, and so far, s.
const NEAR_STEP_S: f64 = 0.5;
const NEAR_S: f64 = 20.0;
/// Further out, where a habit of seconds is nothing, s.
const FAR_STEP_S: f64 = 10.0;

/// How well the offset is known: half of the distance on both sides of it that holds 95 % of the belief, s; the
/// standard uncertainty, where belief is normal.
///
/// Belief is what the prior and the notes on their bursts leave, where each person may write sooner or later than
/// others by a habit. The bursts of the notes stay what they are: whether other ones could be meant
/// is the question of the runner-up.
///
/// *Shape*: `pairs` of a note's time and the end of its burst, s; may be empty.
pub(super) fn uncertainty(prior: &OffsetPrior, pairs: &[(NoteClock, f64)], offset_s: f64) -> f64 {
    let cost = |d: f64| {
        let one = |(clock, end_s): &(NoteClock, f64)| {
            match_cost(*clock, *end_s, offset_s + d).min(HOPELESS_COST)
        };
        pairs.iter().map(one).sum::<f64>()
    };
    let chosen = cost(0.0);
    // No offset that is far better than the chosen one may overflow.
    let seen = |d: f64| (-0.5 * (cost(d) - chosen)).min(300.0).exp();
    let believed = |d: f64| (-0.5 * (prior.cost(offset_s + d) - prior.cost(offset_s))).exp();

    // One cell on both sides of the chosen offset; `sides` are what the notes say there.
    let cell = |from_s: f64, to_s: f64, sides: [f64; 2]| {
        let d_s = 0.5 * (from_s + to_s);
        Cell {
            from_s,
            to_s,
            belief: (to_s - from_s) * (sides[0] * believed(d_s) + sides[1] * believed(-d_s)),
        }
    };
    let near = after_habit(seen);
    let middle = near.len() / 2;
    let near = near[middle..].iter().zip(near[..=middle].iter().rev());
    let near = near.enumerate().map(|(k, (above, below))| {
        let d_s = NEAR_STEP_S * k as f64;
        let from_s = (d_s - 0.5 * NEAR_STEP_S).max(0.0);
        cell(from_s, d_s + 0.5 * NEAR_STEP_S, [*above, *below])
    });
    let far = (0..60).map(|k| {
        let from_s = NEAR_S + 0.5 * NEAR_STEP_S + FAR_STEP_S * f64::from(k);
        let d_s = from_s + 0.5 * FAR_STEP_S;
        cell(from_s, from_s + FAR_STEP_S, [seen(d_s), seen(-d_s)])
    });
    let cells: Vec<Cell> = near.chain(far).collect();
    0.5 * distance_holding(HELD, &cells)
}

/// A piece of the time line on both sides of the chosen offset, by its distance, s.
struct Cell {
    from_s: f64,
    to_s: f64,
    belief: f64,
}

/// How far to go to both sides to hold a share of the belief, s.
///
/// *Shape*: cells in order of distance, without gaps.
fn distance_holding(share: f64, cells: &[Cell]) -> f64 {
    let mut left = share * cells.iter().map(|cell| cell.belief).sum::<f64>();
    for cell in cells {
        if cell.belief >= left {
            let share = if cell.belief > 0.0 {
                left / cell.belief
            } else {
                0.0
            };
            return cell.from_s + (cell.to_s - cell.from_s) * share;
        }
        left -= cell.belief;
    }
    cells.last().map_or(0.0, |cell| cell.to_s)
}

/// What the notes say of each near offset when the person who wrote them may have any habit.
fn after_habit(seen: impl Fn(f64) -> f64) -> Vec<f64> {
    let reach_s = 3.0 * U_HABIT_S;
    let weights: Vec<f64> = steps(NEAR_STEP_S, reach_s)
        .map(|h| (-0.5 * (h / U_HABIT_S).powi(2)).exp())
        .collect();
    let sum: f64 = weights.iter().sum();
    let seen: Vec<f64> = steps(NEAR_STEP_S, NEAR_S + reach_s).map(seen).collect();
    let windows = seen.windows(weights.len());
    windows
        .map(|window| window.iter().zip(&weights).map(|(s, w)| s * w).sum::<f64>() / sum)
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
fn anchored(notes: &[AlignNote], bursts: &[AlignBurst]) -> Vec<f64> {
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
            let parts = if resolution_s > 1.0 { 12 } else { 4 };
            candidates.extend((0..=parts).map(|k| {
                let share = f64::from(k) / f64::from(parts);
                centre_s - share * resolution_s.max(6.0) + 1.0
            }));
        }
    }
    candidates
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal};

    use super::super::align_notes;
    use super::*;
    use crate::analysis::burst::Burst;

    /// How a person writes a time down.
    #[derive(Debug, Clone, Copy)]
    enum Written {
        ToTheSecond,
        ToTheMinute,
        About,
    }

    fn pulls(rng: &mut ChaCha8Rng) -> Vec<AlignBurst> {
        let mut t_s = 5.0;
        let mut pull = |_| {
            t_s += rng.random_range(15.0..60.0);
            let burst = Burst {
                start_s: t_s,
                end_s: t_s + 5.0,
                u_time_s: 0.02,
            };
            AlignBurst {
                burst,
                spraying_pa: None,
            }
        };
        (0..6).map(&mut pull).collect()
    }

    /// A session by a person with a habit and a watch, as wrong as the trade's are: the offset, what was found, and how
    /// uncertain that is said to be. Times of notes, s: a lag about 4.5, written down in its way.
    fn session(rng: &mut ChaCha8Rng, written: Written) -> (f64, f64, f64) {
        let bursts = pulls(rng);
        let draw = |rng: &mut ChaCha8Rng, u: f64| Normal::new(0.0, u).unwrap().sample(rng);
        let (offset_s, habit_s) = (draw(rng, U_WATCH_S), draw(rng, U_HABIT_S));
        let mut note = |pull: &AlignBurst| {
            let share: f64 = rng.random_range(0.001..0.999);
            let lag_s = 4.5 + habit_s + 1.5 * (share / (1.0 - share)).ln();
            let t_s = pull.burst.end_s + lag_s - offset_s;
            let clock = match written {
                Written::ToTheSecond => NoteClock::Clock {
                    nominal_s: t_s.floor(),
                    resolution_s: 1.0,
                },
                Written::ToTheMinute => NoteClock::Clock {
                    nominal_s: (t_s / 60.0).floor() * 60.0,
                    resolution_s: 60.0,
                },
                Written::About => NoteClock::About {
                    nominal_s: t_s + draw(rng, 110.0),
                },
            };
            AlignNote {
                role: NoteRole::Observation,
                clock,
                dial: None,
                group_key: String::new(),
                observed: String::new(),
            }
        };
        let notes: Vec<AlignNote> = bursts.iter().map(&mut note).collect();
        let found = align_notes(&notes, &bursts, ClockPrior::Started);
        (
            offset_s,
            found.clock_offset_s.unwrap(),
            found.u_clock_offset_s.unwrap(),
        )
    }

    /// Of 300 sessions 285 intervals should hold the truth, give or take 4; and they are no wider than such times leave
    /// open.
    #[track_caller]
    fn check(written: Written, widest_s: f64) {
        let mut rng = ChaCha8Rng::seed_from_u64(7);
        let (mut held, mut widths) = (0, Vec::new());
        for _ in 0..300 {
            let (offset_s, found_s, u_s) = session(&mut rng, written);
            held += u32::from((found_s - offset_s).abs() <= 2.0 * u_s);
            widths.push(u_s);
        }
        widths.sort_by(f64::total_cmp);
        assert!(held >= 270, "{written:?}: {held} of 300");
        assert!(widths[150] < widest_s, "{written:?}: {}", widths[150]);
    }

    #[test]
    fn intervals_of_the_offset_hold_it() {
        check(Written::ToTheSecond, 2.0);
        check(Written::ToTheMinute, 4.5);
        check(Written::About, 5.0);
    }

    /// A normal belief in cells of half a standard deviation: 1.96 of it on each side hold 95 %, and more hold more.
    #[test]
    fn the_distance_that_holds_a_share_rises_with_it() {
        let density = |d: f64| (-0.5 * d * d).exp();
        let cells: Vec<Cell> = (0..20)
            .map(|k| 0.25 * f64::from(k))
            .map(|from_s| Cell {
                from_s,
                to_s: from_s + 0.25,
                belief: density(from_s + 0.125),
            })
            .collect();
        assert!((distance_holding(0.95, &cells) - 1.96).abs() < 0.02);
        let all = (0..=100).map(|k| distance_holding(0.01 * f64::from(k), &cells));
        assert!(all.collect::<Vec<_>>().is_sorted());
        assert_eq!(distance_holding(0.95, &[]), 0.0);
    }

    #[test]
    fn without_notes_a_watch_is_as_good_as_watches_are() {
        let prior = OffsetPrior::new(&[], &[], &[], ClockPrior::Started);
        let u_s = uncertainty(&prior, &[], 0.0);
        assert!((u_s - U_WATCH_S).abs() < 0.5, "{u_s}");
        let prior = OffsetPrior::new(&[], &[], &[], ClockPrior::Unknown);
        assert!(uncertainty(&prior, &[], 0.0) > 200.0);
    }
}
