//! Components of variance with any crossing, nesting and unequal numbers: restricted likelihood.
//!
//! `y = mean + (effect of level of factor 1) + (effect of level of factor 2) + ... + residual`, all
//! effects random. Restricted maximum likelihood needs no balance, and for balanced data with positive
//! estimates it is the analysis of variance. In go values and, for each factor, the level of each
//! value; out come the components with the covariance of their estimates. Compared with `statsmodels` and with the
//! certified NIST data in `tests/tests/checks_anova.rs`.
//!
//! | symbol | meaning |
//! | --- | --- |
//! | `theta` | variances: one a factor, then the residual |
//! | `Z` | which level each value has in a factor; the residual has one level a value |
//! | `V` | covariance of the values: the sum of `theta Z Z'` |
//! | `P` | `V^-1` with the mean projected out |

use nalgebra::{DMatrix, DVector};
use thiserror::Error;

/// Most values; the cost goes with their cube.
const VALUES_MAX: usize = 1000;
/// Most iterations; Fisher scoring needs about ten.
const ITERATIONS_MAX: usize = 200;
/// Converged when no relative variance moves by more.
const TOLERANCE: f64 = 1e-10;
/// A component below this share of the total is on its boundary, zero.
const BOUNDARY: f64 = 1e-9;
/// Condition of the information below which two factors cannot be told apart.
const CONFOUNDED: f64 = 1e-8;

/// Fitted components of variance.
#[derive(Debug, Clone, PartialEq)]
pub struct Components {
    /// Mean.
    pub mean: f64,
    /// Standard uncertainty of the mean.
    pub u_mean: f64,
    /// Variance of each factor, then of the residual; none negative.
    pub variances: Vec<f64>,
    /// Covariance of those estimates, in the same order; zero rows for a component on its boundary.
    pub covariance: Vec<Vec<f64>>,
}

/// Why there are no components.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum RemlError {
    /// Lengths do not agree.
    #[error(
        "factor {factor} has {n_levels} entries for {n_values} values; they must agree in number"
    )]
    Lengths {
        /// Factor, from 0.
        factor: usize,
        /// Entries.
        n_levels: usize,
        /// Values.
        n_values: usize,
    },
    /// A value is not finite.
    #[error("value {index} is {value}; it must be finite")]
    NotFinite {
        /// Position.
        index: usize,
        /// The value.
        value: f64,
    },
    /// A factor has one level only.
    #[error("factor {factor} has one level; two are needed")]
    OneLevel {
        /// Factor, from 0.
        factor: usize,
    },
    /// The factors cannot be told from each other or from the residual.
    #[error("the factors cannot be told apart with these data")]
    Confounded,
    /// Too many values.
    #[error("{n_values} values; at most {most} can be analysed at once")]
    TooMany {
        /// Values.
        n_values: usize,
        /// Most.
        most: usize,
    },
    /// The iteration did not settle.
    #[error("the components did not settle")]
    NotSettled,
}

/// Fit the components.
///
/// *Shape*: `levels[f][i]` is the level of value `i` in factor `f`; any labels, any numbers of each.
///
/// *Errors*: [`RemlError`], each case named there.
///
/// *Source*: Patterson and Thompson, Biometrika 58 (1971) 545; Fisher scoring as in Searle, Casella and
/// McCulloch, Variance Components (1992), 8.3. *Cost*: cubic in the number of values.
pub fn fit_components(values: &[f64], levels: &[Vec<usize>]) -> Result<Components, RemlError> {
    check(values, levels)?;
    let n = values.len();
    // Relative to the first value and to the spread, so that nothing depends on the unit.
    let centred: Vec<f64> = values.iter().map(|v| v - values[0]).collect();
    let mean = centred.iter().sum::<f64>() / n as f64;
    let spread = centred.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n as f64 - 1.0);
    if spread == 0.0 {
        return Ok(constant(values[0], levels.len() + 1));
    }
    let y = DVector::from_iterator(n, centred.iter().map(|v| (v - mean) / spread.sqrt()));
    let mut parts: Vec<Factor> = levels.iter().map(|l| Factor::new(l)).collect();
    parts.push(Factor::new(&(0..n).collect::<Vec<_>>()));
    check_identifiable(&parts, n)?;
    let theta = search(&y, &parts)?;
    let state = State::at(&y, &parts, &theta).ok_or(RemlError::NotSettled)?;
    let free: Vec<bool> = theta.iter().map(|t| *t > BOUNDARY).collect();
    let covariance = covariance_of(&state.information, &free).ok_or(RemlError::Confounded)?;
    Ok(Components {
        mean: values[0] + mean + spread.sqrt() * state.mean,
        u_mean: spread.sqrt() * state.u_mean,
        variances: theta
            .iter()
            .zip(&free)
            .map(|(t, free)| if *free { t * spread } else { 0.0 })
            .collect(),
        covariance: (0..parts.len())
            .map(|i| {
                (0..parts.len())
                    .map(|k| covariance[(i, k)] * spread * spread)
                    .collect()
            })
            .collect(),
    })
}

fn check(values: &[f64], levels: &[Vec<usize>]) -> Result<(), RemlError> {
    if values.len() > VALUES_MAX {
        return Err(RemlError::TooMany {
            n_values: values.len(),
            most: VALUES_MAX,
        });
    }
    if let Some(index) = values.iter().position(|v| !v.is_finite()) {
        return Err(RemlError::NotFinite {
            index,
            value: values[index],
        });
    }
    for (factor, level) in levels.iter().enumerate() {
        if level.len() != values.len() {
            return Err(RemlError::Lengths {
                factor,
                n_levels: level.len(),
                n_values: values.len(),
            });
        }
        if level.windows(2).all(|w| w[0] == w[1]) {
            return Err(RemlError::OneLevel { factor });
        }
    }
    if values.len() < levels.len() + 2 {
        return Err(RemlError::Confounded);
    }
    Ok(())
}

fn constant(value: f64, n_parts: usize) -> Components {
    Components {
        mean: value,
        u_mean: 0.0,
        variances: vec![0.0; n_parts],
        covariance: vec![vec![0.0; n_parts]; n_parts],
    }
}

/// One factor: the level of each value, levels numbered from 0.
struct Factor {
    level_of: Vec<usize>,
    n_levels: usize,
}

impl Factor {
    fn new(labels: &[usize]) -> Self {
        let mut numbers = std::collections::HashMap::new();
        let level_of = labels
            .iter()
            .map(|label| {
                let next = numbers.len();
                *numbers.entry(*label).or_insert(next)
            })
            .collect();
        Self {
            level_of,
            n_levels: numbers.len(),
        }
    }

    /// `Z' p`: sums of a vector over each level.
    fn gather(&self, p: &DVector<f64>) -> DVector<f64> {
        let mut sums = DVector::zeros(self.n_levels);
        for (level, value) in self.level_of.iter().zip(p.iter()) {
            sums[*level] += value;
        }
        sums
    }

    /// `Z' P Z_other`: sums of a matrix over each pair of levels.
    fn gather_with(&self, other: &Self, p: &DMatrix<f64>) -> DMatrix<f64> {
        let mut sums = DMatrix::zeros(self.n_levels, other.n_levels);
        for (column, to) in other.level_of.iter().enumerate() {
            for (row, from) in self.level_of.iter().enumerate() {
                sums[(*from, *to)] += p[(row, column)];
            }
        }
        sums
    }
}

/// The matrices `Z Z'`, with the mean projected out, must be linearly independent.
fn check_identifiable(parts: &[Factor], n: usize) -> Result<(), RemlError> {
    let projector = DMatrix::identity(n, n) - DMatrix::from_element(n, n, 1.0 / n as f64);
    let inner = products(parts, &projector);
    let norms: Vec<f64> = (0..parts.len()).map(|i| inner[(i, i)].sqrt()).collect();
    if norms.iter().any(|norm| *norm < CONFOUNDED) {
        return Err(RemlError::Confounded);
    }
    let gram = DMatrix::from_fn(parts.len(), parts.len(), |i, k| {
        inner[(i, k)] / (norms[i] * norms[k])
    });
    let least = gram.symmetric_eigenvalues().min();
    if least < CONFOUNDED {
        return Err(RemlError::Confounded);
    }
    Ok(())
}

/// Traces of `P Z_i Z_i' P Z_k Z_k'` for each pair: the squared norm of `Z_i' P Z_k`.
fn products(parts: &[Factor], p: &DMatrix<f64>) -> DMatrix<f64> {
    let mut traces = DMatrix::zeros(parts.len(), parts.len());
    for i in 0..parts.len() {
        for k in 0..=i {
            let trace = parts[i].gather_with(&parts[k], p).norm_squared();
            traces[(i, k)] = trace;
            traces[(k, i)] = trace;
        }
    }
    traces
}

/// Everything at one point of the search.
struct State {
    log_likelihood: f64,
    score: DVector<f64>,
    information: DMatrix<f64>,
    mean: f64,
    u_mean: f64,
}

impl State {
    fn at(y: &DVector<f64>, parts: &[Factor], theta: &[f64]) -> Option<Self> {
        let n = y.len();
        let v = DMatrix::from_fn(n, n, |i, k| {
            let shared = parts
                .iter()
                .zip(theta)
                .filter(|(p, _)| p.level_of[i] == p.level_of[k]);
            shared.map(|(_, t)| t).sum::<f64>()
        });
        let factor = v.cholesky()?;
        let log_det = 2.0 * factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
        let inverse = factor.inverse();
        let ones = DVector::from_element(n, 1.0);
        let weighted = &inverse * &ones;
        let weight = ones.dot(&weighted);
        let p = &inverse - &weighted * weighted.transpose() / weight;
        let py = &p * y;
        let score = DVector::from_iterator(
            parts.len(),
            parts.iter().map(|part| {
                let trace = part.gather_with(part, &p).trace();
                0.5 * (part.gather(&py).norm_squared() - trace)
            }),
        );
        let information = 0.5 * products(parts, &p);
        let log_likelihood = -0.5 * (log_det + weight.ln() + y.dot(&py));
        let state = Self {
            log_likelihood,
            score,
            information,
            mean: weighted.dot(y) / weight,
            u_mean: weight.recip().sqrt(),
        };
        state.log_likelihood.is_finite().then_some(state)
    }
}

/// Fisher scoring with halved steps; a component that wants to be negative rests at zero.
fn search(y: &DVector<f64>, parts: &[Factor]) -> Result<Vec<f64>, RemlError> {
    let k = parts.len();
    let mut theta = vec![1.0 / k as f64; k];
    let mut state = State::at(y, parts, &theta).ok_or(RemlError::NotSettled)?;
    for _ in 0..ITERATIONS_MAX {
        let free: Vec<bool> = (0..k)
            .map(|i| theta[i] > 0.0 || state.score[i] > 0.0)
            .collect();
        let covariance = covariance_of(&state.information, &free).ok_or(RemlError::Confounded)?;
        let step = covariance * &state.score;
        let mut scale = 1.0;
        let next = loop {
            let trial: Vec<f64> = (0..k)
                .map(|i| {
                    let moved = if free[i] {
                        theta[i] + scale * step[i]
                    } else {
                        0.0
                    };
                    // The residual stays above zero so that V keeps its inverse.
                    moved.max(if i + 1 == k { 1e-12 } else { 0.0 })
                })
                .collect();
            match State::at(y, parts, &trial) {
                Some(new) if new.log_likelihood >= state.log_likelihood - 1e-12 => {
                    break Some((trial, new));
                }
                _ if scale < 1e-6 => break None,
                _ => scale *= 0.5,
            }
        };
        let Some((trial, new)) = next else {
            return Ok(theta);
        };
        let moved = trial
            .iter()
            .zip(&theta)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        theta = trial;
        state = new;
        if moved < TOLERANCE {
            return Ok(theta);
        }
    }
    Err(RemlError::NotSettled)
}

/// Inverse of the information over the free components; zero for the others.
fn covariance_of(information: &DMatrix<f64>, free: &[bool]) -> Option<DMatrix<f64>> {
    let index: Vec<usize> = (0..free.len()).filter(|i| free[*i]).collect();
    let part = DMatrix::from_fn(index.len(), index.len(), |i, k| {
        information[(index[i], index[k])]
    });
    let inverse = part.try_inverse()?;
    let mut full = DMatrix::zeros(free.len(), free.len());
    for (i, row) in index.iter().enumerate() {
        for (k, column) in index.iter().enumerate() {
            full[(*row, *column)] = inverse[(i, k)];
        }
    }
    Some(full)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::fit::anova::one_way;

    fn flat(groups: &[Vec<f64>]) -> (Vec<f64>, Vec<usize>) {
        let values = groups.iter().flatten().copied().collect();
        let levels = groups
            .iter()
            .enumerate()
            .flat_map(|(i, g)| vec![i; g.len()])
            .collect();
        (values, levels)
    }

    #[test]
    fn balanced_one_way_data_give_the_components_of_the_analysis_of_variance() {
        let groups = [
            vec![1.0, 1.4, 0.9],
            vec![2.1, 2.6, 2.2],
            vec![1.6, 1.2, 1.9],
            vec![3.0, 2.7, 3.3],
        ];
        let table = one_way(&groups).unwrap();
        let (values, levels) = flat(&groups);
        let found = fit_components(&values, &[levels]).unwrap();
        assert!(
            (found.variances[0] / table.variance_between - 1.0).abs() < 1e-7,
            "{found:?}"
        );
        assert!(
            (found.variances[1] / table.variance_within - 1.0).abs() < 1e-7,
            "{found:?}"
        );
        assert!((found.mean - table.grand_mean).abs() < 1e-9);
    }

    #[test]
    fn a_component_that_would_be_negative_is_zero() {
        let groups = [vec![1.0, 3.0], vec![3.1, 1.1], vec![0.9, 3.2]];
        let (values, levels) = flat(&groups);
        let found = fit_components(&values, &[levels]).unwrap();
        assert_eq!(found.variances[0], 0.0);
        assert_eq!(found.covariance[0], vec![0.0, 0.0]);
        assert!(found.variances[1] > 0.5);
    }

    #[test]
    fn the_unit_of_the_values_does_not_matter() {
        let groups = [vec![1.0, 1.4], vec![2.1, 2.6, 2.2], vec![1.6, 1.2]];
        let (values, levels) = flat(&groups);
        let small: Vec<f64> = values.iter().map(|v| 1e6 + 1e-4 * v).collect();
        let a = fit_components(&values, std::slice::from_ref(&levels)).unwrap();
        let b = fit_components(&small, &[levels]).unwrap();
        for (a, b) in a.variances.iter().zip(&b.variances) {
            assert!((b * 1e8 / a - 1.0).abs() < 1e-4, "{a} {b}");
        }
    }

    #[test]
    fn unusable_data_are_refused_by_name() {
        #[track_caller]
        fn check(values: &[f64], levels: &[Vec<usize>], message: &str) {
            assert_eq!(
                fit_components(values, levels).unwrap_err().to_string(),
                message
            );
        }
        let four = [1.0, 2.0, 4.0, 3.0];
        check(
            &four,
            &[vec![0, 1]],
            "factor 0 has 2 entries for 4 values; they must agree in number",
        );
        check(
            &four,
            &[vec![7, 7, 7, 7]],
            "factor 0 has one level; two are needed",
        );
        check(
            &[1.0, f64::NAN, 2.0, 3.0],
            &[vec![0, 0, 1, 1]],
            "value 1 is NaN; it must be finite",
        );
        let confounded = "the factors cannot be told apart with these data";
        check(&four, &[vec![0, 0, 1, 1], vec![5, 5, 9, 9]], confounded);
        check(&four, &[vec![0, 1, 2, 3]], confounded);
        let same = fit_components(&[2.0; 4], &[vec![0, 0, 1, 1]]).unwrap();
        assert_eq!((same.mean, same.variances), (2.0, vec![0.0, 0.0]));
        let many = vec![0.5; 1001];
        check(
            &many,
            &[],
            "1001 values; at most 1000 can be analysed at once",
        );
    }
}
