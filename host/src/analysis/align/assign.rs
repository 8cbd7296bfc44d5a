//! The monotone assignment of least cost.

/// Cost of a burst that no note describes: one in sixteen.
pub(super) const UNNOTED_BURST_COST: f64 = 5.5;
/// Cost of an observation that describes no burst: rare, a note is written because something was seen.
const LOST_NOTE_COST: f64 = 22.0;
/// Cost of a second note to the same burst.
const SECOND_NOTE_COST: f64 = 10.0;

/// What everything costs.
#[derive(Debug, Clone)]
pub(super) struct Costs {
    /// Cost of a pair, one row a note, one column a burst.
    pub(super) pair: Vec<Vec<f64>>,
    /// Cost of leaving a burst without a note.
    pub(super) skip_burst: Vec<f64>,
}

impl Costs {
    /// Makes a burst impossible for every note.
    pub(super) fn forbid_burst(&mut self, burst: usize) {
        for row in &mut self.pair {
            row[burst] = f64::INFINITY;
        }
    }

    /// Makes one pair impossible; with no burst, makes leaving that note out impossible by a large
    /// reward for any pair.
    pub(super) fn forbid_pair(&mut self, note: usize, burst: Option<usize>) {
        if let Some(j) = burst {
            self.pair[note][j] = f64::INFINITY;
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

/// Finds the assignment of least cost by dynamic programming over (notes done, bursts done).
pub(super) fn solve(costs: &Costs) -> Path {
    let (n, m) = (costs.pair.len(), costs.skip_burst.len());
    let width = m + 1;
    let mut best = vec![f64::INFINITY; (n + 1) * width];
    let mut step = vec![Step::Start; (n + 1) * width];
    best[0] = 0.0;
    for i in 0..=n {
        for j in 0..=m {
            let here = i * width + j;
            let (mut skip, mut lose, mut pair, mut second) =
                (f64::INFINITY, f64::INFINITY, f64::INFINITY, f64::INFINITY);
            if j > 0 {
                skip = best[i * width + j - 1] + costs.skip_burst[j - 1];
            }
            if i > 0 {
                lose = best[(i - 1) * width + j] + LOST_NOTE_COST;
            }
            if i > 0 && j > 0 {
                let c = costs.pair[i - 1][j - 1];
                pair = best[(i - 1) * width + j - 1] + c;
                // The note before sits on the same burst.
                second = best[(i - 1) * width + j] + c + SECOND_NOTE_COST;
                if !matches!(step[(i - 1) * width + j], Step::Pair | Step::SecondNote) {
                    second = f64::INFINITY;
                }
            }
            for (cost, with) in [
                (skip, Step::SkipBurst),
                (lose, Step::LoseNote),
                (pair, Step::Pair),
                (second, Step::SecondNote),
            ] {
                if cost < best[here] {
                    best[here] = cost;
                    step[here] = with;
                }
            }
        }
    }
    trace_back(&step, n, m, best[n * width + m])
}

fn trace_back(step: &[Step], n: usize, m: usize, cost: f64) -> Path {
    let width = m + 1;
    let mut burst_of_note = vec![None; n];
    let (mut i, mut j) = (n, m);
    loop {
        match step[i * width + j] {
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
        cost,
    }
}

/// Cost of a given assignment under other costs.
pub(super) fn cost_of(costs: &Costs, path: &Path) -> f64 {
    let mut total = 0.0;
    let mut previous = None;
    for (note, burst) in path.burst_of_note.iter().enumerate() {
        match burst {
            Some(j) => {
                total += costs.pair[note][*j];
                if previous == Some(*j) {
                    total += SECOND_NOTE_COST;
                }
                previous = Some(*j);
            }
            None => total += LOST_NOTE_COST,
        }
    }
    for (j, cost) in costs.skip_burst.iter().enumerate() {
        if !path.burst_of_note.contains(&Some(j)) {
            total += cost;
        }
    }
    total
}
