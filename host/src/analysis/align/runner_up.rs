//! The best assignment that gives a note something else, and what would be concluded otherwise by it.
//!
//! In a long recording only the notes around the one in question may change with it. All notes of one burst are
//! inside or outside of that window together: cut between them, the inner one would lose its burst, the chosen
//! assignment would look dear and every other one close.

use std::ops::Range;

use super::assign::{self, Costs, Path, solve};
use super::{AlignNote, Dials, Problem, Solution};

/// Observations beyond which the runner-up of a note is looked for among its neighbours alone.
const LONG_NOTES: usize = 120;
/// Bursts beyond which not every one is tried as the one without a note: each try solves the whole again.
const LONG_BURSTS: usize = 120;
/// Observations on each side that may change with one then. A chain of more that all move by one
/// burst would have to be free of any time.
const AROUND_NOTES: usize = 50;

impl Problem<'_> {
    /// Tries every burst as the one without a note: the settling above can be caught in a minimum
    /// where everything is shifted by one.
    /// Then tries to give each note something else, as long as that makes the whole cheaper.
    pub(super) fn polish(&self, mut best: Solution) -> Solution {
        if self.bursts.len() > LONG_BURSTS {
            return best;
        }
        if self.bursts.len() > self.observations.len() + self.sync_bursts.len() {
            for j in 0..self.bursts.len() {
                let other = self.solve_at(best.offset_s, best.prior_cost, Some(j));
                if other.cost < best.cost {
                    best = other;
                }
            }
        }
        for _ in 0..6 {
            let times = self.time_costs(best.offset_s);
            let better = (0..self.observations.len())
                .map(|k| self.runner_up(&best, &times, k))
                .min_by(|a, b| a.0.cost.total_cmp(&b.0.cost))
                .filter(|(path, _)| path.cost < best.path.cost - 1e-9);
            let Some((path, dials)) = better else { break };
            best = Solution {
                cost: path.cost + best.prior_cost,
                path,
                dials,
                ..best
            };
        }
        best
    }

    /// The runner-up of note `k`, and what it costs more. In a long recording only the notes around `k`
    /// may change with it; the others keep their bursts.
    pub(super) fn other_assignment(&self, best: &Solution, times: &Costs, k: usize) -> (Path, f64) {
        let n = self.observations.len();
        if n <= LONG_NOTES {
            let (other, _) = self.runner_up(best, times, k);
            let extra = other.cost - best.path.cost;
            return (other, extra);
        }
        let chosen = &best.path.burst_of_note;
        let around = window(chosen, k);
        let first = chosen[..around.start].iter().rev().find_map(|b| *b);
        let first = first.map_or(0, |j| j + 1);
        let end = chosen[around.end..].iter().find_map(|b| *b);
        let end = end.unwrap_or(self.bursts.len());
        let within = |b: Option<usize>| b.filter(|j| (first..end).contains(j)).map(|j| j - first);
        let sync_bursts: Vec<usize> = self
            .sync_bursts
            .iter()
            .filter_map(|j| within(Some(*j)))
            .collect();
        let part = Problem::new(
            self.notes,
            &self.bursts[first..end],
            &self.observations[around.clone()],
            &sync_bursts,
        );
        let times = part.time_costs(best.offset_s);
        let mut path = Path {
            burst_of_note: chosen[around.clone()].iter().map(|b| within(*b)).collect(),
            cost: 0.0,
        };
        let dials = part.dial_pressures(&path);
        path.cost = assign::cost_of(&part.with_dials(&times, &dials), &path);
        let chosen_part = Solution {
            cost: path.cost,
            path,
            dials,
            ..best.clone()
        };
        let (other, _) = part.runner_up(&chosen_part, &times, k - around.start);
        let extra = other.cost - chosen_part.cost;
        let mut whole = best.path.clone();
        for (to, from) in whole.burst_of_note[around]
            .iter_mut()
            .zip(&other.burst_of_note)
        {
            *to = from.map(|j| j + first);
        }
        whole.cost += extra;
        (whole, extra)
    }

    /// Best assignment that gives note `k` something else, its control positions settled anew: from
    /// the pressures of the chosen one, and from none.
    fn runner_up(&self, best: &Solution, times: &Costs, k: usize) -> (Path, Dials) {
        let mut times = times.clone();
        times.forbid_pair(k, best.path.burst_of_note[k]);
        let mut least: Option<(Path, Dials)> = None;
        // Settled from the chosen pressures, and from none at all.
        for start in [&best.dials, &Dials::new()] {
            let mut path = solve(&self.with_dials(&times, start));
            for _ in 0..5 {
                let dials = self.dial_pressures(&path);
                let settled = solve(&self.with_dials(&times, &dials));
                let is_settled = settled.burst_of_note == path.burst_of_note;
                path = settled;
                if least.as_ref().is_none_or(|(l, _)| path.cost < l.cost) {
                    least = Some((path.clone(), dials));
                }
                if is_settled {
                    break;
                }
            }
        }
        least.unwrap_or_else(|| (solve(&times), Dials::new()))
    }
}

/// The notes that may change with note `k`: [`AROUND_NOTES`] on each side, and whatever shares a burst with the outermost.
fn window(chosen: &[Option<usize>], k: usize) -> Range<usize> {
    let share = |a: usize, b: usize| chosen[a].is_some() && chosen[a] == chosen[b];
    let mut from = k.saturating_sub(AROUND_NOTES);
    while from > 0 && share(from - 1, from) {
        from -= 1;
    }
    let mut to = (k + AROUND_NOTES + 1).min(chosen.len());
    while to < chosen.len() && share(to - 1, to) {
        to += 1;
    }
    from..to
}

/// What another assignment would change, against the chosen one. *Cost*: notes and bursts, once an assignment.
pub(super) struct Consequences<'a> {
    problem: &'a Problem<'a>,
    chosen: Vec<Option<&'a AlignNote>>,
}

impl<'a> Consequences<'a> {
    pub(super) fn new(problem: &'a Problem<'a>, chosen: &Path) -> Self {
        Self {
            problem,
            chosen: noted(problem, chosen),
        }
    }

    /// Bursts that another path puts into another group, and whether any burst gets another reading.
    pub(super) fn of(&self, other: &Path) -> (Vec<usize>, bool) {
        let other = noted(self.problem, other);
        let mut regrouped = Vec::new();
        let mut changes_reading = false;
        for (j, (a, b)) in self.chosen.iter().zip(&other).enumerate() {
            let is_regrouped = match (a, b) {
                (Some(a), Some(b)) => {
                    changes_reading |= a.observed != b.observed || a.dial != b.dial;
                    a.group_key != b.group_key
                }
                // Left without a note, a burst takes the setting of its neighbours.
                (Some(noted), None) => {
                    changes_reading = true;
                    neighbours_differ(&other, j, &noted.group_key)
                }
                (None, Some(noted)) => {
                    changes_reading = true;
                    neighbours_differ(&self.chosen, j, &noted.group_key)
                }
                (None, None) => false,
            };
            if is_regrouped {
                regrouped.push(j);
            }
        }
        (regrouped, changes_reading)
    }
}

/// The first note of each burst. *Shape*: one entry a burst.
fn noted<'a>(problem: &Problem<'a>, path: &Path) -> Vec<Option<&'a AlignNote>> {
    let mut noted = vec![None; problem.bursts.len()];
    for (burst, note) in path.burst_of_note.iter().zip(problem.observations) {
        if let Some(j) = burst {
            noted[*j].get_or_insert(&problem.notes[*note]);
        }
    }
    noted
}

fn neighbours_differ(noted: &[Option<&AlignNote>], j: usize, key: &str) -> bool {
    let before = noted[..j].iter().rev().find_map(|note| *note);
    let after = noted[j + 1..].iter().find_map(|note| *note);
    [before, after]
        .into_iter()
        .flatten()
        .any(|n| n.group_key != key)
}
