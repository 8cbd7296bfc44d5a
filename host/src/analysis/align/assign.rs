//! The monotone assignment of least cost.

use std::ops::Range;

/// Cost of a burst that no note describes: one in sixteen.
pub(super) const UNNOTED_BURST_COST: f64 = 5.5;
/// Cost of an observation that describes no burst: rare, a note is written because something was seen.
pub(super) const LOST_NOTE_COST: f64 = 22.0;
/// Cost of a second note to the same burst.
const SECOND_NOTE_COST: f64 = 10.0;
/// A pair that costs this much is never worth it: to lose the note and leave the burst without one is
/// cheaper, whatever stands around.
pub(super) const HOPELESS_COST: f64 = LOST_NOTE_COST + UNNOTED_BURST_COST;

/// What one note costs with each burst that is not hopeless for it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row {
    /// The first of those bursts.
    pub(super) first: usize,
    /// One cost a burst from there on.
    pub(super) cost: Vec<f64>,
}

impl Row {
    /// The bursts that the note may describe.
    pub(super) fn bursts(&self) -> Range<usize> {
        self.first..self.first + self.cost.len()
    }

    fn with(&self, burst: usize) -> f64 {
        let index = burst.checked_sub(self.first);
        let cost = index.and_then(|i| self.cost.get(i));
        cost.copied().unwrap_or(f64::INFINITY)
    }

    fn forbid(&mut self, burst: usize) {
        let index = burst.checked_sub(self.first);
        if let Some(cost) = index.and_then(|i| self.cost.get_mut(i)) {
            *cost = f64::INFINITY;
        }
    }
}

/// What everything costs.
#[derive(Debug, Clone)]
pub(super) struct Costs {
    /// One row a note.
    pub(super) pair: Vec<Row>,
    /// Cost of leaving a burst without a note.
    pub(super) skip_burst: Vec<f64>,
}

impl Costs {
    /// Makes a burst impossible for every note.
    pub(super) fn forbid_burst(&mut self, burst: usize) {
        for row in &mut self.pair {
            row.forbid(burst);
        }
    }

    /// Makes one pair impossible.
    pub(super) fn forbid_pair(&mut self, note: usize, burst: Option<usize>) {
        if let Some(j) = burst {
            self.pair[note].forbid(j);
        }
    }
}

/// An assignment: one entry a note.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Path {
    pub(super) burst_of_note: Vec<Option<usize>>,
    pub(super) cost: f64,
}

#[derive(Clone, Copy)]
enum Step {
    Start,
    SkipBurst,
    LoseNote,
    Pair,
    SecondNote,
}

/// Best costs and last steps of (notes done, bursts done), only where the best assignment can pass: a
/// day of notes with times is a band about the diagonal, not a square.
struct Table {
    /// For each number of notes done, the numbers of bursts done that are kept.
    kept: Vec<Range<usize>>,
    /// Where each of these begins in the two lists.
    at: Vec<usize>,
    best: Vec<f64>,
    step: Vec<Step>,
}

impl Table {
    fn new(costs: &Costs) -> Self {
        let kept = kept_cells(costs);
        let mut at = Vec::with_capacity(kept.len());
        let mut n_cells = 0;
        for row in &kept {
            at.push(n_cells);
            n_cells += row.len();
        }
        Self {
            kept,
            at,
            best: vec![f64::INFINITY; n_cells],
            step: vec![Step::Start; n_cells],
        }
    }

    fn index(&self, i: usize, j: usize) -> Option<usize> {
        let row = &self.kept[i];
        row.contains(&j).then(|| self.at[i] + j - row.start)
    }

    fn best(&self, i: usize, j: usize) -> f64 {
        self.index(i, j).map_or(f64::INFINITY, |at| self.best[at])
    }

    fn step(&self, i: usize, j: usize) -> Step {
        self.index(i, j).map_or(Step::Start, |at| self.step[at])
    }
}

/// The cells that are needed. With `i` notes done, bursts before all those that the notes still to come
/// may describe are certain to be skipped: to skip them at once costs the same, so that one cell stands for
/// all below. Bursts after all those that the notes so far and the next may describe need not be
/// skipped yet.
fn kept_cells(costs: &Costs) -> Vec<Range<usize>> {
    let (n, m) = (costs.pair.len(), costs.skip_burst.len());
    let mut lowest = vec![m; n + 1];
    for i in (0..n).rev() {
        let row = costs.pair[i].bursts();
        let own = if row.is_empty() { m } else { row.start };
        lowest[i] = lowest[i + 1].min(own);
    }
    let mut highest = 0;
    let mut kept: Vec<Range<usize>> = Vec::with_capacity(n + 1);
    for i in 0..=n {
        let reach = costs.pair.get(i).map_or(m, |row| row.bursts().end);
        // A row must begin where the one before has cells, or nothing leads to it.
        let begin = lowest[i.saturating_sub(1)];
        let begin = kept.last().map_or(begin, |above| begin.min(above.end - 1));
        highest = reach.max(highest).max(begin);
        kept.push(begin..highest + 1);
    }
    kept
}

/// Finds the assignment of least cost by dynamic programming over (notes done, bursts done).
pub(super) fn solve(costs: &Costs) -> Path {
    let (n, m) = (costs.pair.len(), costs.skip_burst.len());
    let mut table = Table::new(costs);
    for i in 0..=n {
        for j in table.kept[i].clone() {
            let here = table.at[i] + j - table.kept[i].start;
            if i == 0 && j == table.kept[0].start {
                table.best[here] = costs.skip_burst[..j].iter().sum();
                continue;
            }
            let (mut skip, mut lose, mut pair, mut second) =
                (f64::INFINITY, f64::INFINITY, f64::INFINITY, f64::INFINITY);
            if j > 0 {
                skip = table.best(i, j - 1) + costs.skip_burst[j - 1];
            }
            if i > 0 {
                lose = table.best(i - 1, j) + LOST_NOTE_COST;
            }
            if i > 0 && j > 0 {
                let c = costs.pair[i - 1].with(j - 1);
                pair = table.best(i - 1, j - 1) + c;
                // The note before sits on the same burst.
                if matches!(table.step(i - 1, j), Step::Pair | Step::SecondNote) {
                    second = table.best(i - 1, j) + c + SECOND_NOTE_COST;
                }
            }
            for (cost, with) in [
                (skip, Step::SkipBurst),
                (lose, Step::LoseNote),
                (pair, Step::Pair),
                (second, Step::SecondNote),
            ] {
                if cost < table.best[here] {
                    table.best[here] = cost;
                    table.step[here] = with;
                }
            }
        }
    }
    trace_back(&table, n, m)
}

fn trace_back(table: &Table, n: usize, m: usize) -> Path {
    let mut burst_of_note = vec![None; n];
    let (mut i, mut j) = (n, m);
    loop {
        match table.step(i, j) {
            Step::Start => break,
            Step::SkipBurst => j -= 1,
            Step::LoseNote => i -= 1,
            Step::Pair => {
                i -= 1;
                j -= 1;
                burst_of_note[i] = Some(j);
            }
            Step::SecondNote => {
                i -= 1;
                burst_of_note[i] = Some(j - 1);
            }
        }
    }
    Path {
        burst_of_note,
        cost: table.best(n, m),
    }
}

/// Cost of a given assignment under other costs.
pub(super) fn cost_of(costs: &Costs, path: &Path) -> f64 {
    let mut total = 0.0;
    let mut previous = None;
    let mut is_noted = vec![false; costs.skip_burst.len()];
    for (note, burst) in path.burst_of_note.iter().enumerate() {
        match burst {
            Some(j) => {
                // Beyond its row a pair is hopeless, not impossible.
                total += costs.pair[note].with(*j).min(HOPELESS_COST);
                if previous == Some(*j) {
                    total += SECOND_NOTE_COST;
                }
                previous = Some(*j);
                is_noted[*j] = true;
            }
            None => total += LOST_NOTE_COST,
        }
    }
    let skipped = costs.skip_burst.iter().zip(&is_noted);
    total
        + skipped
            .filter(|(_, noted)| !**noted)
            .map(|(c, _)| c)
            .sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::{Strategy, prop, prop_assert, proptest};

    /// The same costs with every burst in every row: nothing is left out of the table.
    fn full(costs: &Costs) -> Costs {
        let m = costs.skip_burst.len();
        let row = |row: &Row| Row {
            first: 0,
            cost: (0..m).map(|j| row.with(j)).collect(),
        };
        Costs {
            pair: costs.pair.iter().map(row).collect(),
            skip_burst: costs.skip_burst.clone(),
        }
    }

    fn any_costs() -> impl Strategy<Value = Costs> {
        let row = (0..12_usize, prop::collection::vec(0.0..30.0_f64, 0..5));
        (
            prop::collection::vec(row, 0..9),
            prop::collection::vec(prop::sample::select(vec![0.0, 2.0, 5.5]), 0..12),
        )
            .prop_map(|(rows, skip_burst)| {
                let m = skip_burst.len();
                let pair = rows.into_iter().map(|(first, mut cost)| {
                    let first = first.min(m);
                    cost.truncate(m - first);
                    Row { first, cost }
                });
                Costs {
                    pair: pair.collect(),
                    skip_burst,
                }
            })
    }

    proptest! {
        #[test]
        fn the_band_holds_the_best_of_the_whole_table(costs in any_costs()) {
            let (banded, whole) = (solve(&costs), solve(&full(&costs)));
            prop_assert!((banded.cost - whole.cost).abs() < 1e-9, "{banded:?} {whole:?}");
            let again = cost_of(&costs, &banded);
            prop_assert!((again - banded.cost).abs() < 1e-9, "{again} {banded:?}");
            let full_cells = (costs.pair.len() + 1) * (costs.skip_burst.len() + 1);
            prop_assert!(Table::new(&costs).best.len() <= full_cells);
        }
    }

    #[test]
    fn a_day_of_timed_notes_is_a_band() {
        let row = |i: usize| Row {
            first: i,
            cost: vec![1.0, 8.0],
        };
        let costs = Costs {
            pair: (0..500).map(row).collect(),
            skip_burst: vec![UNNOTED_BURST_COST; 501],
        };
        assert!(Table::new(&costs).best.len() < 500 * 6);
        let path = solve(&costs);
        assert!(
            path.burst_of_note
                .iter()
                .enumerate()
                .all(|(i, j)| *j == Some(i))
        );
    }
}
