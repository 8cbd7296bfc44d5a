//! Notes to bursts by one monotone assignment; runner-up and ambiguity. Reads no curve.
//!
//! A note describes the burst that it follows. Each possible pair has a cost, minus twice the
//! logarithm of a likelihood, from the lag between the end of the burst and the time of the note
//! (see `lag`), and from how well the control position of the note goes with the spraying pressure
//! of the burst: the same position with the same tip gives the same pressure. (The stalled pressure
//! around a burst would not do: it often belongs to the position before or after.) Bursts
//! without a note and notes without a burst have costs of their own. The assignment of least total
//! cost is found by dynamic programming; order is never violated. The offset between the note
//! taker's clock and the logger is part of the minimum.
//!
//! The runner-up of each note is the best assignment that gives it another burst. A note is ambiguous
//! when that costs little more *and* would change what is concluded. All times are arguments; what is
//! absent on purpose: flow, and any curve, so that an alignment can never be bent to fit one.

mod assign;
mod lag;
mod offset;
mod runner_up;
mod sync;

use std::collections::HashMap;

use serde::{Deserialize, Serialize};

use super::burst::Burst;
use assign::{Costs, Path, Row, solve};
use lag::match_cost;
use offset::OffsetPrior;
use runner_up::Consequences;

/// What one note was matched to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct NoteMatch {
    /// Index of the note in the recording.
    pub note_index: usize,
    /// Index of the burst; `None` for a note that describes none (an event, or nothing near).
    pub burst_index: Option<usize>,
    /// Best time of the note in logger time, where it has one.
    pub t_s: Option<f64>,
    /// The burst of the runner-up assignment, where it is another.
    pub other_burst_index: Option<usize>,
    /// True when the runner-up is close and leads to a different group: not used.
    pub is_ambiguous: bool,
}

/// The whole assignment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
pub struct Alignment {
    /// One entry a note, in the order of the notes.
    pub matches: Vec<NoteMatch>,
    /// Cost of the chosen assignment (twice a negative log-likelihood, dimensionless).
    pub cost: f64,
    /// Cost of the best assignment that differs, where there is one.
    pub runner_up_cost: Option<f64>,
    /// Offset between note clock and logger clock: logger time = note time + offset.
    pub clock_offset_s: Option<f64>,
    /// Standard uncertainty of that offset: half of the distance on both sides that holds 95 %.
    pub u_clock_offset_s: Option<f64>,
    /// Whether the recording said when it began, so that the offset is how much the note clock is behind
    /// its clock; otherwise it counts from where the caller put the notes' zero.
    #[serde(default)]
    pub is_start_known: bool,
    /// Bursts that are the short pulls of a sync mark.
    pub sync_bursts: Vec<usize>,
    /// Bursts whose tip or coating differs between the chosen assignment and a close runner-up.
    #[serde(default)]
    pub uncertain_bursts: Vec<usize>,
    /// True when the assignment as a whole cannot be known: the uncertain bursts are too many.
    pub is_ambiguous: bool,
}

/// When a note was written, on the logger's time line but for the clock offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoteClock {
    /// Logger time itself: no offset applies.
    Logger {
        /// Logger time.
        t_s: f64,
    },
    /// A clock time, written down to `resolution_s`: the moment lies in
    /// `nominal_s .. nominal_s + resolution_s` on the note taker's clock.
    Clock {
        /// Clock time minus the time at which logger time was zero, as far as that is known.
        nominal_s: f64,
        /// 1 for seconds, 60 for minutes.
        resolution_s: f64,
    },
    /// "About" a clock time.
    About {
        /// As for `Clock`.
        nominal_s: f64,
    },
    /// Only its place in the order is known.
    Unknown,
}

/// What a note is, as far as its place is concerned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoteRole {
    /// Describes a burst.
    Observation,
    /// Three short pulls in a row.
    Sync,
    /// Something done between bursts; describes none.
    Event,
}

/// One note as the alignment sees it, settings already carried forward.
#[derive(Debug, Clone, PartialEq)]
pub struct AlignNote {
    /// Role.
    pub role: NoteRole,
    /// Time.
    pub clock: NoteClock,
    /// Control position in force.
    pub dial: Option<String>,
    /// What tells one group from another (tip, coating, thinner), as one text.
    pub group_key: String,
    /// The rest of what would be concluded from it (tail grade, runs), as one text.
    pub observed: String,
}

/// What the alignment needs to know of the bursts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AlignBurst {
    /// When.
    pub burst: Burst,
    /// Spraying pressure, Pa, where it is known.
    pub spraying_pa: Option<f64>,
}

/// What is known of the note taker's clock before looking.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ClockPrior {
    /// The session says when logger time was zero: clocks differ by seconds.
    Started,
    /// It does not: only the notes and a sync mark can tell.
    Unknown,
}

/// A runner-up that costs less than this much more is close: its likelihood is a twentieth or more
/// of the chosen one's.
const CLOSE_COST: f64 = 6.0;
/// Relative standard deviation of the spraying pressure at one control position with one tip.
const U_DIAL_RATIO: f64 = 0.03;
/// Most that a mismatch of control position may cost: a wrongly noted position, a restriction or a
/// battery that gives out must not outweigh every time.
const MOST_DIAL_COST: f64 = 9.0;
/// Cost of an observation about a pull of a sync mark: nobody sees tails or writes within a second.
const NOTED_PULL_COST: f64 = 12.0;
/// Share of the noted bursts whose tip or coating may be uncertain before nothing is concluded: below
/// it the uncertain ones are left out by name and the rest is sound.
const MOST_UNCERTAIN_RATIO: f64 = 0.2;

/// Matches notes to bursts.
///
/// *Shape*: notes in their true order, bursts in order of time; either may be empty.
/// *Cost*: with times, notes * bursts that each may describe * offsets tried; without, notes * bursts
/// * notes, where more than 120 count as so many (see `runner_up`).
#[must_use]
pub fn align_notes(notes: &[AlignNote], bursts: &[AlignBurst], prior: ClockPrior) -> Alignment {
    let sync_bursts = sync::find_pulls(bursts);
    let observations: Vec<usize> = (0..notes.len())
        .filter(|i| notes[*i].role == NoteRole::Observation)
        .collect();
    let has_clock = notes
        .iter()
        .any(|n| matches!(n.clock, NoteClock::Clock { .. } | NoteClock::About { .. }));
    let problem = Problem::new(notes, bursts, &observations, &sync_bursts);
    let offset_prior = OffsetPrior::new(notes, bursts, &sync_bursts, prior);
    let candidates = if has_clock {
        offset_prior.candidates(notes, bursts)
    } else {
        vec![(0.0, 0.0)]
    };
    let mut best: Option<Solution> = None;
    for (offset_s, prior_cost) in candidates {
        let solution = problem.solve_at(offset_s, prior_cost, None);
        if best.as_ref().is_none_or(|b| solution.cost < b.cost) {
            best = Some(solution);
        }
    }
    let Some(best) = best else {
        return Alignment::default();
    };
    let best = problem.polish(best);
    let mut alignment = problem.describe(&best);
    if has_clock {
        alignment.clock_offset_s = Some(best.offset_s);
        alignment.u_clock_offset_s = Some(problem.offset_uncertainty(&best, &offset_prior));
    }
    alignment.is_start_known = prior == ClockPrior::Started;
    alignment
}

/// Everything that stays the same while offsets and starts are tried.
struct Problem<'a> {
    notes: &'a [AlignNote],
    bursts: &'a [AlignBurst],
    observations: &'a [usize],
    sync_bursts: &'a [usize],
    /// What has one spraying pressure, one number an observation.
    dial_of: Vec<Option<usize>>,
    n_dials: usize,
    /// Logarithm of the spraying pressure of each burst.
    ln_pa: Vec<Option<f64>>,
    /// Cost of leaving a burst without a note, and of giving it one.
    skip_burst: Vec<f64>,
    noted_cost: Vec<f64>,
}

/// Logarithm of the spraying pressure of each control position, where it is known.
type Dials = Vec<Option<f64>>;

/// One assignment with the clock offset and the pressures per control position it rests on.
#[derive(Debug, Clone)]
struct Solution {
    offset_s: f64,
    prior_cost: f64,
    path: Path,
    cost: f64,
    dials: Dials,
}

impl<'a> Problem<'a> {
    fn new(
        notes: &'a [AlignNote],
        bursts: &'a [AlignBurst],
        observations: &'a [usize],
        sync_bursts: &'a [usize],
    ) -> Self {
        let mut keys: HashMap<(&str, &str), usize> = HashMap::new();
        let dial_of = observations.iter().map(|i| {
            let key = (notes[*i].dial.as_deref()?, notes[*i].group_key.as_str());
            let next = keys.len();
            Some(*keys.entry(key).or_insert(next))
        });
        let dial_of = dial_of.collect();
        let skip_burst = bursts.iter().enumerate().map(|(j, b)| {
            if sync_bursts.contains(&j) {
                0.0
            } else if b.burst.duration_s() < 1.2 {
                2.0
            } else {
                assign::UNNOTED_BURST_COST
            }
        });
        let noted_cost = (0..bursts.len()).map(|j| {
            if sync_bursts.contains(&j) {
                NOTED_PULL_COST
            } else {
                0.0
            }
        });
        Self {
            n_dials: keys.len(),
            dial_of,
            ln_pa: bursts
                .iter()
                .map(|b| b.spraying_pa.filter(|p| *p > 0.0).map(f64::ln))
                .collect(),
            skip_burst: skip_burst.collect(),
            noted_cost: noted_cost.collect(),
            notes,
            bursts,
            observations,
            sync_bursts,
        }
    }

    /// Costs of the times at an offset.
    fn time_costs(&self, offset_s: f64) -> Costs {
        let row = |note: &usize| {
            let clock = self.notes[*note].clock;
            let bursts = lag::possible_bursts(clock, self.bursts, offset_s);
            Row {
                first: bursts.start,
                cost: bursts
                    .map(|j| {
                        let end_s = self.bursts[j].burst.end_s;
                        self.noted_cost[j] + match_cost(clock, end_s, offset_s)
                    })
                    .collect(),
            }
        };
        Costs {
            pair: self.observations.iter().map(row).collect(),
            skip_burst: self.skip_burst.clone(),
        }
    }

    /// The same costs with the mismatch of control positions.
    fn with_dials(&self, times: &Costs, dials: &Dials) -> Costs {
        let mut costs = times.clone();
        for (row, dial) in costs.pair.iter_mut().zip(&self.dial_of) {
            let Some(dial_ln_pa) = dial.and_then(|d| dials.get(d).copied().flatten()) else {
                continue;
            };
            let bursts = row.bursts();
            for (cost, ln_pa) in row.cost.iter_mut().zip(&self.ln_pa[bursts]) {
                *cost += ln_pa.map_or(0.0, |ln_pa| {
                    ((ln_pa - dial_ln_pa) / U_DIAL_RATIO)
                        .powi(2)
                        .min(MOST_DIAL_COST)
                });
            }
        }
        costs
    }

    /// Solves at one offset, then lets the pressures per control position and the assignment settle.
    fn solve_at(&self, offset_s: f64, prior_cost: f64, without: Option<usize>) -> Solution {
        let times = self.time_costs(offset_s);
        let mut dials = Dials::new();
        let mut first = times.clone();
        if let Some(j) = without {
            first.forbid_burst(j);
        }
        let mut path = solve(&first);
        for _ in 0..6 {
            dials = self.dial_pressures(&path);
            let next = solve(&self.with_dials(&times, &dials));
            let is_settled = next.burst_of_note == path.burst_of_note;
            path = next;
            if is_settled {
                break;
            }
        }
        Solution {
            offset_s,
            prior_cost,
            cost: path.cost + prior_cost,
            path,
            dials,
        }
    }

    /// Median logarithm of the spraying pressure of each control position.
    fn dial_pressures(&self, path: &Path) -> Dials {
        let mut seen: Vec<Vec<f64>> = vec![Vec::new(); self.n_dials];
        for (burst, dial) in path.burst_of_note.iter().zip(&self.dial_of) {
            let ln_pa = burst.and_then(|j| self.ln_pa[j]);
            if let (Some(dial), Some(ln_pa)) = (dial, ln_pa) {
                seen[*dial].push(ln_pa);
            }
        }
        let median = |mut values: Vec<f64>| {
            let middle = values.len() / 2;
            (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
        };
        seen.into_iter().map(median).collect()
    }

    /// All but what is known of the clock.
    fn describe(&self, best: &Solution) -> Alignment {
        let mut matches: Vec<NoteMatch> = self
            .notes
            .iter()
            .enumerate()
            .map(|(note_index, note)| NoteMatch {
                note_index,
                burst_index: None,
                t_s: lag::best_time(note.clock, best.offset_s),
                other_burst_index: None,
                is_ambiguous: false,
            })
            .collect();
        let mut runner_up_cost: Option<f64> = None;
        let mut uncertain_bursts: Vec<usize> = Vec::new();
        let times = self.time_costs(best.offset_s);
        let consequences = Consequences::new(self, &best.path);
        for (k, burst) in best.path.burst_of_note.iter().enumerate() {
            let note_index = self.observations[k];
            matches[note_index].burst_index = *burst;
            let (other, extra) = self.other_assignment(best, &times, k);
            runner_up_cost =
                Some(runner_up_cost.map_or(best.cost + extra, |c| c.min(best.cost + extra)));
            if extra >= CLOSE_COST {
                continue;
            }
            matches[note_index].other_burst_index = other.burst_of_note[k];
            let (regrouped, changes_reading) = consequences.of(&other);
            matches[note_index].is_ambiguous = changes_reading || !regrouped.is_empty();
            uncertain_bursts.extend(regrouped);
        }
        uncertain_bursts.sort_unstable();
        uncertain_bursts.dedup();
        let noted = best.path.burst_of_note.iter().flatten().count();
        #[allow(clippy::cast_precision_loss)]
        let is_ambiguous =
            uncertain_bursts.len() as f64 > MOST_UNCERTAIN_RATIO * (noted as f64).max(1.0);
        Alignment {
            matches,
            cost: best.cost,
            runner_up_cost,
            sync_bursts: self.sync_bursts.to_vec(),
            uncertain_bursts,
            is_ambiguous,
            ..Alignment::default()
        }
    }

    fn offset_uncertainty(&self, best: &Solution, prior: &OffsetPrior) -> f64 {
        let noted = self.observations.iter().zip(&best.path.burst_of_note);
        let pairs: Vec<(NoteClock, f64)> = noted
            .filter_map(|(note, burst)| {
                Some((self.notes[*note].clock, self.bursts[(*burst)?].burst.end_s))
            })
            .collect();
        offset::uncertainty(prior, &pairs, best.offset_s)
    }
}

#[cfg(test)]
mod tests;
