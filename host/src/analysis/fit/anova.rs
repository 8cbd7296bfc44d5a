//! One-way analysis of variance, accurate for values that agree in many leading digits.
//!
//! In go groups of values; out come the sums of squares, the F test and the components of variance
//! between and within groups. Every value is first taken relative to one of them, which is exact for
//! neighbouring numbers, and sums carry their rounding error along, so that the result is as good as the values
//! themselves. Checked against the certified NIST data sets in `tests/tests/checks_anova.rs`.
//!
//! | symbol | meaning |
//! | --- | --- |
//! | `k`, `n` | groups, values |
//! | `n_0` | effective size of a group, the plain size when all are equal |

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, FisherSnedecor};
use thiserror::Error;

/// The table of a one-way analysis of variance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OneWay {
    /// Mean of all values.
    pub grand_mean: f64,
    /// Sum of squares between groups.
    pub ss_between: f64,
    /// Sum of squares within groups.
    pub ss_within: f64,
    /// Degrees of freedom between groups.
    pub dof_between: f64,
    /// Degrees of freedom within groups.
    pub dof_within: f64,
    /// Mean square between over mean square within; infinite when nothing scatters within.
    pub f: f64,
    /// Probability of a larger F when the groups do not differ.
    pub p_value: f64,
    /// Share of the total sum of squares that lies between groups.
    pub r_squared: f64,
    /// Variance within groups.
    pub variance_within: f64,
    /// Component of variance between groups; zero when the estimate is negative.
    pub variance_between: f64,
    /// Effective size of a group.
    pub effective_size: f64,
}

impl OneWay {
    /// Standard deviation within groups.
    #[must_use]
    pub fn residual_sd(&self) -> f64 {
        self.variance_within.sqrt()
    }
}

/// Why there is no analysis of variance.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum AnovaError {
    /// A value is not finite.
    #[error("value {value_index} of group {group_index} is {value}; it must be finite")]
    NotFinite {
        /// Group, from 0.
        group_index: usize,
        /// Value within it, from 0.
        value_index: usize,
        /// The value.
        value: f64,
    },
    /// Fewer than two groups with values.
    #[error("{n_groups} groups have values, 2 are needed")]
    TooFewGroups {
        /// Groups with values.
        n_groups: usize,
    },
    /// No group has a second value.
    #[error("no group has a second value, so the scatter within groups is not known")]
    NoReplicates,
}

/// Analyse groups of values; empty groups are passed over.
///
/// *Shape*: one slice a group, of any lengths; two groups with values, and one with two.
///
/// *Errors*: [`AnovaError`], each case named there.
///
/// *Source*: NIST/SEMATECH e-Handbook 7.4.3; component between groups with the effective size of
/// unequal groups as in ISO 5725-2:2019, 7.4.5.
pub fn one_way<G: AsRef<[f64]>>(groups: &[G]) -> Result<OneWay, AnovaError> {
    let groups: Vec<&[f64]> = groups.iter().map(AsRef::as_ref).collect();
    check(&groups)?;
    let filled: Vec<&[f64]> = groups.into_iter().filter(|g| !g.is_empty()).collect();
    if filled.len() < 2 {
        return Err(AnovaError::TooFewGroups {
            n_groups: filled.len(),
        });
    }
    let n: usize = filled.iter().map(|g| g.len()).sum();
    let k = filled.len();
    if n == k {
        return Err(AnovaError::NoReplicates);
    }
    let pivot = filled[0][0];
    // Means relative to the pivot.
    let means: Vec<f64> = filled
        .iter()
        .map(|g| mean_of(g.iter().map(|y| y - pivot), g.len()))
        .collect();
    let all = filled.iter().flat_map(|g| g.iter().map(|y| y - pivot));
    let grand = mean_of(all, n);
    let ss_between = sum(filled
        .iter()
        .zip(&means)
        .map(|(g, m)| g.len() as f64 * (m - grand).powi(2)));
    let ss_within = sum(filled
        .iter()
        .zip(&means)
        .flat_map(|(g, m)| g.iter().map(move |y| ((y - pivot) - m).powi(2))));
    let (dof_between, dof_within) = ((k - 1) as f64, (n - k) as f64);
    let variance_within = ss_within / dof_within;
    let ms_between = ss_between / dof_between;
    let squares = sum(filled.iter().map(|g| (g.len() as f64).powi(2)));
    let effective_size = (n as f64 - squares / n as f64) / dof_between;
    let f = match (ms_between > 0.0, variance_within > 0.0) {
        (_, true) => ms_between / variance_within,
        (true, false) => f64::INFINITY,
        (false, false) => 0.0,
    };
    let total = ss_between + ss_within;
    Ok(OneWay {
        grand_mean: pivot + grand,
        ss_between,
        ss_within,
        dof_between,
        dof_within,
        f,
        p_value: upper_tail(f, dof_between, dof_within),
        r_squared: if total > 0.0 { ss_between / total } else { 0.0 },
        variance_within,
        variance_between: ((ms_between - variance_within) / effective_size).max(0.0),
        effective_size,
    })
}

fn check(groups: &[&[f64]]) -> Result<(), AnovaError> {
    for (group_index, group) in groups.iter().enumerate() {
        if let Some(value_index) = group.iter().position(|y| !y.is_finite()) {
            return Err(AnovaError::NotFinite {
                group_index,
                value_index,
                value: group[value_index],
            });
        }
    }
    Ok(())
}

fn upper_tail(f: f64, dof_1: f64, dof_2: f64) -> f64 {
    if f.is_infinite() {
        return 0.0;
    }
    FisherSnedecor::new(dof_1, dof_2).map_or(1.0, |d| d.sf(f.max(0.0)))
}

/// Mean in two passes: the second gathers what rounding left over in the first.
fn mean_of(values: impl Iterator<Item = f64> + Clone, n: usize) -> f64 {
    let first = sum(values.clone()) / n as f64;
    first + sum(values.map(|y| y - first)) / n as f64
}

/// Sum with its rounding error carried along (Neumaier, Z. Angew. Math. Mech. 54 (1974) 39).
fn sum(values: impl Iterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0f64, 0.0f64);
    for value in values {
        let next = total + value;
        lost += if total.abs() >= value.abs() {
            (total - next) + value
        } else {
            (value - next) + total
        };
        total = next;
    }
    total + lost
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_without_scatter_or_without_difference_have_their_plain_f() {
        let apart = one_way(&[[1.0, 1.0], [2.0, 2.0]]).unwrap();
        assert_eq!(
            (apart.f, apart.p_value, apart.variance_within),
            (f64::INFINITY, 0.0, 0.0)
        );
        let alike = one_way(&[[1.0, 3.0], [1.0, 3.0]]).unwrap();
        assert_eq!((alike.f, alike.variance_between), (0.0, 0.0));
        let same = one_way(&[[5.0, 5.0], [5.0, 5.0]]).unwrap();
        assert_eq!((same.f, same.r_squared, same.p_value), (0.0, 0.0, 1.0));
    }

    #[test]
    fn unequal_groups_use_the_effective_size_and_empty_ones_are_passed_over() {
        let table = one_way(&[vec![1.0, 2.0, 3.0], vec![], vec![4.0]]).unwrap();
        // (4 - (9 + 1) / 4) / 1
        assert!((table.effective_size - 1.5).abs() < 1e-12);
        assert_eq!((table.dof_between, table.dof_within), (1.0, 2.0));
    }

    #[test]
    fn a_shift_of_all_values_changes_no_variance() {
        let near = one_way(&[[1.25, 2.5], [3.0, 4.75]]).unwrap();
        let far = one_way(&[[1e9 + 1.25, 1e9 + 2.5], [1e9 + 3.0, 1e9 + 4.75]]).unwrap();
        assert_eq!(
            (near.ss_between, near.ss_within),
            (far.ss_between, far.ss_within)
        );
    }

    #[test]
    fn unusable_groups_are_refused_by_name() {
        #[track_caller]
        fn check(groups: &[Vec<f64>], message: &str) {
            assert_eq!(one_way(groups).unwrap_err().to_string(), message);
        }
        check(&[], "0 groups have values, 2 are needed");
        check(
            &[vec![1.0, 2.0], vec![]],
            "1 groups have values, 2 are needed",
        );
        check(
            &[vec![1.0], vec![2.0]],
            "no group has a second value, so the scatter within groups is not known",
        );
        check(
            &[vec![1.0], vec![2.0, f64::NAN]],
            "value 1 of group 1 is NaN; it must be finite",
        );
    }
}
