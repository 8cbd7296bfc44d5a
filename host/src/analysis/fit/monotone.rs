//! The weighted least-squares fit that never falls, or never rises.
//!
//! In: ordinates in the order of their abscissa, with weights. Out: fitted ordinates, constant over
//! pooled blocks. Pool adjacent violators, one pass with a stack of blocks (R. E. Barlow et al., "Statistical
//! Inference under Order Restrictions", 1972, chapter 1). Checked against
//! `scipy.optimize.isotonic_regression` in `tests/reference/`.

use thiserror::Error;

/// Which way the fit may go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Never falls.
    Increasing,
    /// Never rises.
    Decreasing,
}

/// Why there is no fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum MonotoneError {
    /// As many weights as ordinates are needed.
    #[error("{n_values} ordinates but {n_weights} weights")]
    LengthMismatch {
        /// Ordinates given.
        n_values: usize,
        /// Weights given.
        n_weights: usize,
    },
    /// An ordinate is not finite, or a weight not positive and finite.
    #[error("point {index} is not finite or its weight is not positive")]
    BadPoint {
        /// Which point.
        index: usize,
    },
}

#[derive(Clone, Copy)]
struct Block {
    mean: f64,
    weight: f64,
    n: usize,
}

impl Block {
    fn merged(self, other: Self) -> Self {
        let weight = self.weight + other.weight;
        Self {
            // From the mean outward: no cancellation when both are large and close.
            mean: self.mean + (other.mean - self.mean) * (other.weight / weight),
            weight,
            n: self.n + other.n,
        }
    }
}

/// The monotone weighted least-squares fit.
///
/// *Shape*: `values` and `weights` agree in length; empty gives empty. *Errors*: see [`MonotoneError`].
/// *Cost*: linear.
pub fn fit_monotone(
    values: &[f64],
    weights: &[f64],
    direction: Direction,
) -> Result<Vec<f64>, MonotoneError> {
    check(values, weights)?;
    let sign = match direction {
        Direction::Increasing => 1.0,
        Direction::Decreasing => -1.0,
    };
    let mut blocks: Vec<Block> = Vec::new();
    for (&value, &weight) in values.iter().zip(weights) {
        let mut block = Block {
            mean: sign * value,
            weight,
            n: 1,
        };
        while let Some(last) = blocks.pop_if(|last| last.mean >= block.mean) {
            block = last.merged(block);
        }
        blocks.push(block);
    }
    let spread = |b: &Block| std::iter::repeat_n(sign * b.mean, b.n);
    Ok(blocks.iter().flat_map(spread).collect())
}

fn check(values: &[f64], weights: &[f64]) -> Result<(), MonotoneError> {
    if values.len() != weights.len() {
        return Err(MonotoneError::LengthMismatch {
            n_values: values.len(),
            n_weights: weights.len(),
        });
    }
    let good = |(v, w): (&f64, &f64)| v.is_finite() && w.is_finite() && *w > 0.0;
    match values.iter().zip(weights).position(|p| !good(p)) {
        Some(index) => Err(MonotoneError::BadPoint { index }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn violators_are_pooled_to_their_weighted_mean() {
        let up = |v: &[f64], w: &[f64]| fit_monotone(v, w, Direction::Increasing).unwrap();
        assert_eq!(up(&[1.0, 3.0, 2.0, 4.0], &[1.0; 4]), [1.0, 2.5, 2.5, 4.0]);
        assert_eq!(up(&[1.0, 3.0, 2.0], &[1.0, 3.0, 1.0]), [1.0, 2.75, 2.75]);
        assert_eq!(up(&[3.0, 2.0, 1.0], &[1.0; 3]), [2.0; 3]);
        let down = fit_monotone(&[5.0, 6.0, 1.0], &[1.0; 3], Direction::Decreasing).unwrap();
        assert_eq!(down, [5.5, 5.5, 1.0]);
        assert!(up(&[], &[]).is_empty());
    }

    #[test]
    fn a_million_falling_points_become_one_block() {
        let n = 1_000_000;
        let v: Vec<f64> = (0..n).map(|i| -f64::from(i)).collect();
        let fit = fit_monotone(&v, &vec![1.0; v.len()], Direction::Increasing).unwrap();
        assert!((fit[0] + 499_999.5).abs() < 1e-6 && fit[0] == fit[v.len() - 1]);
    }

    #[test]
    fn bad_input_is_a_typed_error() {
        let f = |v: &[f64], w: &[f64]| fit_monotone(v, w, Direction::Increasing);
        let mismatch = MonotoneError::LengthMismatch {
            n_values: 1,
            n_weights: 2,
        };
        assert_eq!(f(&[1.0], &[1.0, 1.0]), Err(mismatch));
        assert_eq!(
            f(&[1.0, f64::NAN], &[1.0, 1.0]),
            Err(MonotoneError::BadPoint { index: 1 })
        );
        assert_eq!(
            f(&[1.0, 2.0], &[0.0, 1.0]),
            Err(MonotoneError::BadPoint { index: 0 })
        );
        assert_eq!(
            f(&[1.0, 2.0], &[1.0, f64::INFINITY]),
            Err(MonotoneError::BadPoint { index: 1 })
        );
    }

    proptest! {
        #[test]
        fn the_fit_is_monotone_keeps_the_mean_and_is_its_own_fit(
            pairs in prop::collection::vec((-1e3..1e3f64, 0.01..10.0f64), 1..60),
        ) {
            let (v, w): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
            let fit = fit_monotone(&v, &w, Direction::Increasing).unwrap();
            prop_assert!(fit.windows(2).all(|p| p[0] <= p[1]));
            let sum = |x: &[f64]| x.iter().zip(&w).map(|(x, w)| x * w).sum::<f64>();
            prop_assert!((sum(&fit) - sum(&v)).abs() < 1e-8);
            let again = fit_monotone(&fit, &w, Direction::Increasing).unwrap();
            prop_assert!(again.iter().zip(&fit).all(|(a, b)| (a - b).abs() < 1e-9));
        }
    }
}
