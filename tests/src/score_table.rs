//! Scores of many recordings as one table, a row a family of situations.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::score::Score;
use crate::truth::Truth;

/// Scores of one family.
#[derive(Debug, Clone, Default)]
struct Family {
    cases: usize,
    right: usize,
    /// Cases that can be decided and were answered with "undetermined" or "insufficient data".
    undecided: usize,
    decidable: usize,
    to_refuse: usize,
    refused: usize,
    forbidden: usize,
    missing: usize,
    q_errors: Vec<f64>,
    n_errors: Vec<f64>,
    q_covered: usize,
    n_covered: usize,
    clear: (usize, usize),
    /// Scored, right, set aside.
    notes: (usize, usize, usize),
}

/// Scores by family.
#[derive(Debug, Clone, Default)]
pub struct ScoreTable {
    families: BTreeMap<String, Family>,
}

impl ScoreTable {
    /// Takes one recording's score.
    pub fn push(&mut self, truth: &Truth, score: &Score) {
        let family = self.families.entry(truth.family.clone()).or_default();
        family.take(truth, score);
    }

    /// The table in Markdown, with a row for all.
    #[must_use]
    pub fn to_markdown(&self) -> String {
        let mut out = String::from(
            "| family | cases | right | decidable, left undecided | to refuse, refused | forbidden advice | curves | none | \
             q_ref: median error | covered | n: median error | covered | tail-free covered | notes | right | set aside | wrong |\n\
             | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
        );
        let mut all = Family::default();
        for (name, family) in &self.families {
            out.push_str(&family.row(name));
            all.add(family);
        }
        out.push_str(&all.row("**all**"));
        out
    }
}

impl Family {
    fn take(&mut self, truth: &Truth, score: &Score) {
        self.cases += 1;
        self.right += usize::from(score.is_right);
        if truth.refusal_expected {
            self.to_refuse += 1;
            self.refused += usize::from(score.is_undecided);
        } else if truth.family != "pump_prediction" {
            self.decidable += 1;
            self.undecided += usize::from(score.is_undecided);
        }
        self.forbidden += score.forbidden.len();
        self.missing += score.curves_missing;
        for c in &score.curves {
            self.q_errors.push(c.q_error.abs());
            self.n_errors.push(c.n_error.abs());
            self.q_covered += usize::from(c.q_covered);
            self.n_covered += usize::from(c.n_covered);
            if let Some(covered) = c.clear_covered {
                self.clear.0 += usize::from(covered);
                self.clear.1 += 1;
            }
        }
        self.notes.0 += score.notes.0;
        self.notes.1 += score.notes.1;
        self.notes.2 += score.notes.2;
    }

    fn add(&mut self, other: &Self) {
        self.cases += other.cases;
        self.right += other.right;
        self.undecided += other.undecided;
        self.decidable += other.decidable;
        self.to_refuse += other.to_refuse;
        self.refused += other.refused;
        self.forbidden += other.forbidden;
        self.missing += other.missing;
        self.q_errors.extend(&other.q_errors);
        self.n_errors.extend(&other.n_errors);
        self.q_covered += other.q_covered;
        self.n_covered += other.n_covered;
        self.clear.0 += other.clear.0;
        self.clear.1 += other.clear.1;
        self.notes.0 += other.notes.0;
        self.notes.1 += other.notes.1;
        self.notes.2 += other.notes.2;
    }

    fn row(&self, name: &str) -> String {
        let mut row = format!(
            "| {name} | {} | {} | {}, {} | {}, {} | {} | {} | {} |",
            self.cases,
            self.right,
            self.decidable,
            self.undecided,
            self.to_refuse,
            self.refused,
            self.forbidden,
            self.q_errors.len(),
            self.missing,
        );
        let n = self.q_errors.len();
        if n == 0 {
            row.push_str(" | | | | |");
        } else {
            let _ = write!(
                row,
                " {:.2} % | {} | {:.4} | {} | {} of {} |",
                100.0 * median(&self.q_errors),
                share(self.q_covered, n),
                median(&self.n_errors),
                share(self.n_covered, n),
                self.clear.0,
                self.clear.1,
            );
        }
        let (scored, right, aside) = self.notes;
        let _ = writeln!(
            row,
            " {scored} | {right} | {aside} | {} |",
            scored - right - aside
        );
        row
    }
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN)
}

#[allow(clippy::cast_precision_loss)]
fn share(part: usize, whole: usize) -> String {
    format!("{:.1} %", 100.0 * part as f64 / whole as f64)
}
