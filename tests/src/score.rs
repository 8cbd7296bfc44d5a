//! Findings held against the truth: errors, coverage, labels, advice, alignment.

use std::fmt::{self, Display, Formatter};

use tipcurve::findings::{Findings, GroupFinding};

use crate::truth::{Truth, TruthGroup};

/// One curve against its truth.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveScore {
    /// Relative error of `q_ref` at the estimate's own reference pressure.
    pub q_error: f64,
    /// Error of `n`.
    pub n_error: f64,
    /// Whether the 95 % interval of `q_ref` holds the truth.
    pub q_covered: bool,
    /// Whether that of `n` does.
    pub n_covered: bool,
    /// Relative expanded uncertainty of `q_ref`.
    pub q_half: f64,
    /// Expanded uncertainty of `n`.
    pub n_half: f64,
    /// Whether the interval of the lowest tail-free pressure holds the truth, where there is one.
    pub clear_covered: Option<bool>,
}

/// One recording against its truth.
#[derive(Debug, Clone, PartialEq)]
pub struct Score {
    /// The verdict's word.
    pub label: String,
    /// Whether it is an accepted one.
    pub is_right: bool,
    /// Whether it is "undetermined" or "insufficient data".
    pub is_undecided: bool,
    /// Advice given that the truth forbids.
    pub forbidden: Vec<String>,
    /// Curves that could be matched to a state of the truth.
    pub curves: Vec<CurveScore>,
    /// Groups of the truth without a curve.
    pub curves_missing: usize,
    /// Scored notes, right ones, ones set aside as ambiguous.
    pub notes: (usize, usize, usize),
    /// Bursts of the truth, found, and found ones that are none.
    pub bursts: (usize, usize, usize),
    /// Error of the note taker's clock and its expanded uncertainty, s, where the recording says when it began.
    pub clock_s: Option<(f64, f64)>,
}

/// One line: verdict, notes right of scored (set aside), bursts found of true (and too many), then each curve with
/// its errors, marked `!` where the interval does not hold the truth.
impl Display for Score {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let is_right = if self.is_right { "ok  " } else { "BAD " };
        let ((scored, right, aside), (bursts, found, extra)) = (self.notes, self.bursts);
        write!(
            f,
            "{:18} {is_right} notes {right}/{scored}({aside}) bursts {found}/{bursts}+{extra}",
            self.label
        )?;
        let mark = |covered: bool| if covered { "" } else { "!" };
        for c in &self.curves {
            write!(
                f,
                " | q {:+.2}%{} (±{:.2}) n {:+.4}{} (±{:.4}) clear {}",
                100.0 * c.q_error,
                mark(c.q_covered),
                100.0 * c.q_half,
                c.n_error,
                mark(c.n_covered),
                c.n_half,
                c.clear_covered
                    .map_or("-", |held| if held { "in" } else { "OUT" }),
            )?;
        }
        write!(
            f,
            " missing {} FORBIDDEN {:?}",
            self.curves_missing, self.forbidden
        )
    }
}

/// The stable word of an enum value, as the JSON writes it.
#[must_use]
pub fn word_of(value: impl serde::Serialize) -> String {
    serde_json::to_value(value)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default()
}

/// Scores findings.
#[must_use]
pub fn score(findings: &Findings, truth: &Truth) -> Score {
    let verdict = findings.verdicts.first();
    let label = verdict.map_or_else(|| "none".to_owned(), |v| word_of(v.kind));
    let advice: Vec<String> = findings
        .verdicts
        .first()
        .map(|v| v.advice.iter().map(word_of).collect())
        .unwrap_or_default();
    let to_truth = burst_map(findings, truth);
    let curves: Vec<CurveScore> = findings
        .groups
        .iter()
        .filter_map(|g| {
            let state = matching_state(g, truth, &to_truth)?;
            score_curve(g, state)
        })
        .collect();
    let notes = score_notes(findings, truth, &to_truth);
    let found = to_truth.iter().flatten().count();
    Score {
        is_right: truth.accept_labels.contains(&label)
            // A case that only asks for a plan has no verdict of its own.
            || truth.family == "pump_prediction",
        is_undecided: label == "undetermined" || label == "insufficient_data",
        forbidden: advice
            .into_iter()
            .filter(|a| truth.forbidden.contains(a))
            .collect(),
        curves_missing: truth.groups.len().saturating_sub(curves.len()),
        curves,
        notes,
        bursts: (truth.bursts.len(), found, to_truth.len() - found),
        clock_s: score_clock(findings, truth),
        label,
    }
}

fn score_clock(findings: &Findings, truth: &Truth) -> Option<(f64, f64)> {
    let a = &findings.alignment;
    // Added to a note's time, the offset gives the logger's: the opposite of how far the watch is ahead.
    (a.clock_offset_s.zip(a.u_clock_offset_s))
        .filter(|_| a.is_start_known)
        .map(|(offset_s, u_s)| (offset_s + truth.watch_offset_s, 2.0 * u_s))
}

/// For each burst found, the truth's burst that it overlaps most.
fn burst_map(findings: &Findings, truth: &Truth) -> Vec<Option<usize>> {
    findings
        .bursts
        .iter()
        .map(|b| {
            let overlap = |i: &usize| {
                let t = &truth.bursts[*i];
                t.end_s.min(b.burst.end_s) - t.start_s.max(b.burst.start_s)
            };
            (0..truth.bursts.len())
                .max_by(|a, b| overlap(a).total_cmp(&overlap(b)))
                .filter(|i| overlap(i) > 0.0)
        })
        .collect()
}

fn matching_state<'a>(
    g: &GroupFinding,
    truth: &'a Truth,
    to_truth: &[Option<usize>],
) -> Option<&'a TruthGroup> {
    let shared = |t: &TruthGroup| {
        g.group
            .burst_indices
            .iter()
            .filter(|i| to_truth[**i].is_some_and(|b| t.bursts.contains(&b)))
            .count()
    };
    truth
        .groups
        .iter()
        .max_by_key(|t| shared(t))
        .filter(|t| shared(t) > 0)
}

fn score_curve(g: &GroupFinding, state: &TruthGroup) -> Option<CurveScore> {
    let law = g.curve.as_ref().ok()?.power_law;
    let q_true = state.k * (law.p_ref_pa / 1e5).powf(state.n) / 6e4;
    let clear_covered = match &g.tail_threshold {
        tipcurve::analysis::tail_threshold::TailThreshold::Between { interval_95_pa, .. } => {
            Some(interval_95_pa.contains(state.p_clear_bar * 1e5))
        }
        _ => None,
    };
    Some(CurveScore {
        q_error: law.q_ref_m3_per_s.value / q_true - 1.0,
        n_error: law.n.value - state.n,
        q_covered: law.q_ref_m3_per_s.interval_95().contains(q_true),
        n_covered: law.n.interval_95().contains(state.n),
        q_half: law.q_ref_m3_per_s.expanded_95() / q_true,
        n_half: law.n.expanded_95(),
        clear_covered,
    })
}

fn score_notes(
    findings: &Findings,
    truth: &Truth,
    to_truth: &[Option<usize>],
) -> (usize, usize, usize) {
    let mut counts = (0, 0, 0);
    for (row, burst) in &truth.notes {
        let Some(m) = findings.alignment.matches.get(*row) else {
            continue;
        };
        counts.0 += 1;
        if m.is_ambiguous {
            counts.2 += 1;
        } else if m.burst_index.and_then(|i| to_truth[i]) == *burst {
            counts.1 += 1;
        }
    }
    counts
}
