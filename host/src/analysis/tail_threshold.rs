//! Ordinal tail grades against pressure to a bracket and an interval. Never extrapolates.
//!
//! The threshold is the pressure at which a grader is as likely to see tails (1 or more) as not. In: grades, a
//! few and human. Out: the bracket (always), the threshold with its interval where grades lie on both
//! sides, or a one-sided answer. The mathematics is [`crate::analysis::fit::logit`] on the logarithm of
//! pressure. The pressure's own calibration is not in here: it is common to curve and threshold.

use serde::{Deserialize, Serialize};

use crate::analysis::fit::logit::{Cell, LogitError, ScaleBelief, estimate_threshold};
use crate::estimate::Interval;

/// One grade: tails at a spraying pressure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Grade {
    /// Index of the burst in the recording.
    pub burst_index: usize,
    /// Spraying pressure, Pa.
    pub pressure_pa: f64,
    /// 0 none, 1 faint, 2 clear, 3 heavy.
    pub tails: u8,
}

/// The lowest tail-free pressure, as far as the grades carry it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum TailThreshold {
    /// Bracketed by grades on both sides.
    Between {
        /// Pressure at which tails are as likely seen as not, Pa.
        estimate_pa: f64,
        /// Standard uncertainty from the grades, Pa.
        u_pa: f64,
        /// 95 % interval, Pa.
        interval_95_pa: Interval,
        /// Highest pressure with tails, Pa.
        highest_with_tails_pa: f64,
        /// Lowest pressure without, Pa.
        lowest_without_pa: f64,
        /// True when grades overlap: some pressure with tails lies above one without.
        overlap: bool,
    },
    /// All grades have tails: the threshold lies above.
    Above {
        /// Highest pressure graded, Pa.
        highest_with_tails_pa: f64,
        /// Number of grades.
        n_grades: usize,
    },
    /// No grade has tails: the threshold lies below.
    Below {
        /// Lowest pressure graded, Pa.
        lowest_without_pa: f64,
        /// Number of grades.
        n_grades: usize,
    },
    /// No grade at all.
    NoGrades,
}

/// How sharply a grader's answer turns from "tails" to "none" along the logarithm of pressure.
///
/// Graders repeat to about 5 % of pressure, so that the turn takes about ten percent (common practice, no
/// source); the logistic scale of a spread `sd` is `sqrt(3) / pi * sd`. The spread is believed to a
/// factor of 1.5 (one standard deviation): a careful grader at 3 % and a hasty one at 8 % both lie
/// well inside. Sharper beliefs would cut the interval to the bracket, wider ones would let three
/// grades claim anything.
pub const GRADER_BELIEF: ScaleBelief = ScaleBelief {
    median: 0.027_566_444_771_089_6,
    sd_ln: 0.405_465_108_108_164_4,
};

/// Above this many grades, those at the same pressure to within a tenth of a percent are counted together.
const COUNT_TOGETHER_ABOVE: usize = 500;

/// Highest grade there is.
const HIGHEST_GRADE: u8 = 3;

/// Find the lowest tail-free pressure.
///
/// *Shape*: any order. A grade whose pressure is not positive and finite says nothing about the threshold
/// and is left out; a grade above 3 counts as 3. *Errors*: none; too little data gives a one-sided
/// answer. *Source*: see [`crate::analysis::fit::logit`]. *Cost*: linear in the grades.
#[must_use]
pub fn find_tail_threshold(grades: &[Grade]) -> TailThreshold {
    let is_usable = |g: &&Grade| g.pressure_pa.is_finite() && g.pressure_pa > 0.0;
    let grades: Vec<&Grade> = grades.iter().filter(is_usable).collect();
    let with_tails = || grades.iter().filter(|g| g.tails > 0).map(|g| g.pressure_pa);
    let without = || {
        grades
            .iter()
            .filter(|g| g.tails == 0)
            .map(|g| g.pressure_pa)
    };
    let highest_with_tails_pa = with_tails().fold(f64::NEG_INFINITY, f64::max);
    let lowest_without_pa = without().fold(f64::INFINITY, f64::min);
    let n_grades = grades.len();
    match estimate_threshold(&cells(&grades), GRADER_BELIEF) {
        Ok(ln) => TailThreshold::Between {
            estimate_pa: ln.median.exp(),
            u_pa: ln.median.exp() * ln.sd,
            interval_95_pa: Interval {
                low: ln.low.exp(),
                high: ln.high.exp(),
            },
            highest_with_tails_pa,
            lowest_without_pa,
            overlap: highest_with_tails_pa >= lowest_without_pa,
        },
        // The other errors cannot occur: cells are finite, the belief is a constant.
        Err(LogitError::OneSided | LogitError::BadCell { .. } | LogitError::BadBelief) => {
            if with_tails().next().is_some() {
                TailThreshold::Above {
                    highest_with_tails_pa,
                    n_grades,
                }
            } else if without().next().is_some() {
                TailThreshold::Below {
                    lowest_without_pa,
                    n_grades,
                }
            } else {
                TailThreshold::NoGrades
            }
        }
    }
}

fn cells(grades: &[&Grade]) -> Vec<Cell> {
    let together = grades.len() > COUNT_TOGETHER_ABOVE;
    let place = |g: &Grade| {
        let ln = g.pressure_pa.ln();
        if together {
            (ln * 1000.0).round() / 1000.0
        } else {
            ln
        }
    };
    let mut keys: Vec<(f64, u8)> = grades
        .iter()
        .map(|g| (place(g), g.tails.min(HIGHEST_GRADE)))
        .collect();
    keys.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    keys.chunk_by(|a, b| a == b)
        .map(|same| Cell {
            x: same[0].0,
            category: usize::from(same[0].1),
            count: same.len() as f64,
        })
        .collect()
}

#[cfg(test)]
mod tests;
