//! An uncertainty budget: one row a source, and what the rows make together.
//!
//! The table that JCGM 100:2008 asks for (8, 4.3.7, annex H): for every input quantity its value,
//! standard uncertainty, kind of evaluation, degrees of freedom and sensitivity. Correlations
//! between inputs are rows of their own. What is independent and what is common stays marked,
//! so that a budget becomes an [`Estimate`] without loss. No words of the trade here. Checked
//! against the examples H.1 to H.3 of the guide in `tests/tests/checks_apply_gum.rs`.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use super::Estimate;

/// How a standard uncertainty was found (JCGM 100:2008, 4.2 and 4.3).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Evaluation {
    /// From the scatter of repeated observations.
    A,
    /// By other means: a certificate, a resolution, experience.
    B,
}

/// One source of uncertainty.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BudgetRow {
    /// A stable code, for example `mass_scale`.
    pub code: String,
    /// Value of the input quantity, in `unit`.
    pub value: f64,
    /// Standard uncertainty of the input quantity, in `unit`.
    pub u: f64,
    /// SI unit of the input quantity, as text.
    pub unit: String,
    /// Change of the result for one unit of the input.
    pub sensitivity: f64,
    /// How `u` was found.
    pub evaluation: Evaluation,
    /// Degrees of freedom of `u`; `None` when unlimited.
    pub dof: Option<f64>,
    /// True when the same deviation acts on every result that this input enters.
    pub is_common: bool,
}

impl BudgetRow {
    /// Contribution to the standard uncertainty of the result, in the result's unit.
    #[must_use]
    pub fn contribution(&self) -> f64 {
        (self.sensitivity * self.u).abs()
    }
}

/// Correlation of two rows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RowCorrelation {
    /// Indices of the two rows.
    pub rows: (usize, usize),
    /// Correlation coefficient, -1 to 1.
    pub r: f64,
}

/// A result with every source of its uncertainty.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Budget {
    /// A stable code of the measurand, for example `k_factor_per_m3`.
    pub measurand: String,
    /// SI unit of the result, as text.
    pub unit: String,
    /// The result.
    pub value: f64,
    /// The sources.
    pub rows: Vec<BudgetRow>,
    /// Correlations between rows; a pair that is not listed is uncorrelated.
    pub correlations: Vec<RowCorrelation>,
}

impl Budget {
    /// Combined standard uncertainty (JCGM 100:2008, equation 16).
    #[must_use]
    pub fn u_combined(&self) -> f64 {
        self.variance(|_| true).max(0.0).sqrt()
    }

    /// Effective degrees of freedom (Welch-Satterthwaite, JCGM 100:2008, G.2b); infinite when no
    /// row limits them.
    #[must_use]
    pub fn effective_dof(&self) -> f64 {
        self.dof_of(|_| true)
    }

    /// Expanded uncertainty for a two-sided level of confidence such as 0.95 or 0.99.
    ///
    /// The degrees of freedom are cut to the next lower whole number as JCGM 100:2008, G.4.1
    /// advises.
    #[must_use]
    pub fn expanded(&self, level: f64) -> f64 {
        coverage_factor(level, self.effective_dof().floor()) * self.u_combined()
    }

    /// Share of a row in the combined variance, 0 to 1, correlations left out.
    #[must_use]
    pub fn share_of(&self, row_index: usize) -> f64 {
        let total: f64 = self.rows.iter().map(|r| r.contribution().powi(2)).sum();
        let own = self
            .rows
            .get(row_index)
            .map_or(0.0, BudgetRow::contribution);
        if total > 0.0 {
            own.powi(2) / total
        } else {
            0.0
        }
    }

    /// The result as an estimate: common rows make its common part, the others the independent one.
    #[must_use]
    pub fn to_estimate(&self) -> Estimate {
        let independent = self.variance(|row| !row.is_common).max(0.0).sqrt();
        let common = self.variance(|row| row.is_common).max(0.0).sqrt();
        Estimate::new(self.value, independent, common).with_dof(self.dof_of(|row| !row.is_common))
    }

    /// Variance from the rows that `chosen` picks, with the correlations among them.
    fn variance(&self, chosen: impl Fn(&BudgetRow) -> bool) -> f64 {
        let signed = |row: &BudgetRow| row.sensitivity * row.u;
        let own: f64 = self
            .rows
            .iter()
            .filter(|row| chosen(row))
            .map(|row| signed(row).powi(2))
            .sum();
        let mutual: f64 = self
            .correlations
            .iter()
            .filter_map(|c| Some((self.rows.get(c.rows.0)?, self.rows.get(c.rows.1)?, c.r)))
            .filter(|(a, b, _)| chosen(a) && chosen(b))
            .map(|(a, b, r)| 2.0 * r * signed(a) * signed(b))
            .sum();
        own + mutual
    }

    fn dof_of(&self, chosen: impl Fn(&BudgetRow) -> bool) -> f64 {
        let freedom: f64 = self
            .rows
            .iter()
            .filter(|row| chosen(row))
            .filter_map(|row| Some(row.contribution().powi(4) / row.dof.filter(|d| *d > 0.0)?))
            .sum();
        let variance = self.variance(&chosen).max(0.0);
        if freedom > 0.0 {
            variance.powi(2) / freedom
        } else {
            f64::INFINITY
        }
    }
}

/// Coverage factor of a two-sided interval at a level of confidence: Student's t, or the normal
/// value when the degrees of freedom are unlimited (JCGM 100:2008, table G.2).
///
/// A level outside 0 to 1 is taken as 0.95; degrees of freedom below 1 as 1.
#[must_use]
pub fn coverage_factor(level: f64, dof: f64) -> f64 {
    let level = if level > 0.0 && level < 1.0 {
        level
    } else {
        0.95
    };
    let p = 0.5 * (1.0 + level);
    if dof.is_finite()
        && dof < 1.0e6
        && let Ok(t) = StudentsT::new(0.0, 1.0, dof.max(1.0))
    {
        return t.inverse_cdf(p);
    }
    Normal::standard().inverse_cdf(p)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(code: &str, u: f64, sensitivity: f64, is_common: bool) -> BudgetRow {
        BudgetRow {
            code: code.into(),
            value: 1.0,
            u,
            unit: "1".into(),
            sensitivity,
            evaluation: Evaluation::B,
            dof: None,
            is_common,
        }
    }

    fn budget(rows: Vec<BudgetRow>, correlations: Vec<RowCorrelation>) -> Budget {
        Budget {
            measurand: "y".into(),
            unit: "1".into(),
            value: 7.0,
            rows,
            correlations,
        }
    }

    #[test]
    fn full_correlation_adds_contributions_and_opposite_ones_cancel() {
        let rows = vec![row("a", 3.0, 1.0, false), row("b", 4.0, 1.0, false)];
        let r = |r| vec![RowCorrelation { rows: (0, 1), r }];
        assert!((budget(rows.clone(), vec![]).u_combined() - 5.0).abs() < 1e-12);
        assert!((budget(rows.clone(), r(1.0)).u_combined() - 7.0).abs() < 1e-12);
        assert!((budget(rows, r(-1.0)).u_combined() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_budget_becomes_an_estimate_with_its_parts_apart() {
        let e = budget(
            vec![row("a", 3.0, 1.0, false), row("b", 2.0, -2.0, true)],
            vec![],
        )
        .to_estimate();
        assert_eq!((e.value, e.u_independent, e.u_common), (7.0, 3.0, 4.0));
        assert_eq!(e.dof, f64::INFINITY);
    }

    #[test]
    fn shares_add_to_one_and_an_empty_budget_has_none() {
        let b = budget(
            vec![row("a", 3.0, 1.0, false), row("b", 4.0, 1.0, true)],
            vec![],
        );
        assert!((b.share_of(0) + b.share_of(1) - 1.0).abs() < 1e-12);
        assert_eq!(budget(vec![], vec![]).share_of(0), 0.0);
        assert_eq!(budget(vec![], vec![]).u_combined(), 0.0);
    }

    /// JCGM 100:2008, table G.2, columns 95 % and 99 %.
    #[test]
    fn coverage_factors_match_gum_table_g2() {
        for (level, dof, k) in [(0.95, 16.0, 2.12), (0.99, 16.0, 2.92), (0.99, 2.0, 9.92)] {
            assert!((coverage_factor(level, dof) - k).abs() < 0.006);
        }
        assert!((coverage_factor(0.99, f64::INFINITY) - 2.576).abs() < 5e-4);
    }
}
