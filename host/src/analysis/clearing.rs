//! Would a given pressure clear the tails? The probability, from graded tails.
//!
//! The lowest tail-free pressure is reported by `tail_threshold` and never extrapolated. A verdict needs
//! something weaker beyond the grades: when every burst had tails, would the pressure that the
//! rig stalls at have cleared them, had it been held? Grades answer, for they are graded: a
//! faint tail is close to none, a heavy one is far.
//!
//! Model: a grader sees `ln(p / p_clear)` with a normal error and cuts it at three places. Cuts and
//! errors are below; they are common practice, no source, and wide. The posterior of `ln p_clear`
//! with a flat prior is summed on a grid.

use statrs::distribution::{ContinuousCDF, Normal};

use super::tail_threshold::Grade;

/// Cuts in `ln(p / p_clear)`: none from 0 up, faint down to -0.12 (11 % below), clear down to
/// -0.31 (27 % below), heavy below that.
const CUTS: [f64; 3] = [0.0, -0.12, -0.31];
/// Standard deviation of a grader's error at each cut, the doubt about the cut included.
const U_CUTS: [f64; 3] = [0.055, 0.075, 0.10];
/// Share of grades that are plain slips.
const SLIP_RATIO: f64 = 0.02;
/// Grid of `ln p_clear`: this far beyond the graded pressures on both sides.
const BEYOND: f64 = 1.2;
const STEP: f64 = 0.004;

/// Posterior of `ln p_clear` on a grid.
#[derive(Debug, Clone, PartialEq)]
pub struct ClearingPosterior {
    ln_p: Vec<f64>,
    weight: Vec<f64>,
}

/// Posterior from grades, or `None` without any usable grade.
///
/// *Shape*: grades in any order; grades with a pressure that is not positive are left out.
#[must_use]
pub fn clearing_posterior(grades: &[Grade]) -> Option<ClearingPosterior> {
    let usable: Vec<(f64, u8)> = grades
        .iter()
        .filter(|g| g.pressure_pa.is_finite() && g.pressure_pa > 0.0 && g.tails <= 3)
        .map(|g| (g.pressure_pa.ln(), g.tails))
        .collect();
    let low = usable.iter().map(|g| g.0).fold(f64::INFINITY, f64::min) - BEYOND;
    let high = usable.iter().map(|g| g.0).fold(f64::NEG_INFINITY, f64::max) + BEYOND;
    if usable.is_empty() {
        return None;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let n = ((high - low) / STEP) as u32;
    let ln_p: Vec<f64> = (0..=n).map(|i| low + STEP * f64::from(i)).collect();
    let ln_likelihood: Vec<f64> = ln_p
        .iter()
        .map(|theta| {
            usable
                .iter()
                .map(|(x, g)| grade_likelihood(x - theta, *g).ln())
                .sum()
        })
        .collect();
    let top = ln_likelihood
        .iter()
        .copied()
        .fold(f64::NEG_INFINITY, f64::max);
    let mut weight: Vec<f64> = ln_likelihood.iter().map(|l| (l - top).exp()).collect();
    let total: f64 = weight.iter().sum();
    for w in &mut weight {
        *w /= total;
    }
    Some(ClearingPosterior { ln_p, weight })
}

fn grade_likelihood(x: f64, grade: u8) -> f64 {
    let Ok(normal) = Normal::standard_checked() else {
        return 1.0;
    };
    // Probability that the grader's view lies above cut k.
    let above = |k: usize| normal.cdf((x - CUTS[k]) / U_CUTS[k]);
    let p = match grade {
        0 => above(0),
        1 => above(1) - above(0),
        2 => above(2) - above(1),
        _ => 1.0 - above(2),
    };
    SLIP_RATIO / 4.0 + (1.0 - SLIP_RATIO) * p.max(0.0)
}

/// `Normal::standard` without its panic.
trait StandardChecked: Sized {
    fn standard_checked() -> Result<Self, statrs::distribution::NormalError>;
}

impl StandardChecked for Normal {
    fn standard_checked() -> Result<Self, statrs::distribution::NormalError> {
        Self::new(0.0, 1.0)
    }
}

impl ClearingPosterior {
    /// Probability that a pressure clears the tails, the pressure's own relative standard
    /// uncertainty included.
    #[must_use]
    pub fn probability_cleared_at(&self, pressure_pa: f64, u_ratio: f64) -> f64 {
        let x = pressure_pa.max(1.0).ln();
        let Ok(normal) = Normal::new(0.0, u_ratio.max(1e-4)) else {
            return 0.5;
        };
        self.ln_p
            .iter()
            .zip(&self.weight)
            .map(|(theta, w)| w * normal.cdf(x - theta))
            .sum()
    }

    /// Median of the pressure that clears the tails, Pa. Meaningless far beyond the grades: use it
    /// only beside the probability.
    #[must_use]
    pub fn median_pa(&self) -> f64 {
        let mut sum = 0.0;
        for (theta, w) in self.ln_p.iter().zip(&self.weight) {
            sum += w;
            if sum >= 0.5 {
                return theta.exp();
            }
        }
        f64::NAN
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grades(list: &[(f64, u8)]) -> Vec<Grade> {
        list.iter()
            .map(|(bar, tails)| Grade {
                burst_index: 0,
                pressure_pa: bar * 1e5,
                tails: *tails,
            })
            .collect()
    }

    #[test]
    fn heavy_tails_at_the_top_mean_that_a_little_more_does_not_help() {
        let post = clearing_posterior(&grades(&[(80.0, 3), (110.0, 3), (140.0, 3)])).unwrap();
        assert!(post.probability_cleared_at(150e5, 0.01) < 0.05);
        assert!(post.probability_cleared_at(140e5, 0.01) < 0.02);
    }

    #[test]
    fn faint_tails_at_the_top_mean_that_a_fifth_more_would_do() {
        let post = clearing_posterior(&grades(&[(80.0, 3), (110.0, 2), (140.0, 1), (141.0, 1)]));
        let post = post.unwrap();
        assert!(post.probability_cleared_at(170e5, 0.01) > 0.95);
        assert!(post.probability_cleared_at(140e5, 0.01) < 0.2);
    }

    #[test]
    fn one_contradicting_grade_does_not_turn_the_answer() {
        let mut list = vec![
            (80.0, 3),
            (100.0, 1),
            (120.0, 0),
            (121.0, 0),
            (140.0, 0),
            (141.0, 0),
        ];
        list.push((140.0, 2));
        let post = clearing_posterior(&grades(&list)).unwrap();
        assert!(post.probability_cleared_at(140e5, 0.01) > 0.9);
        assert!((post.median_pa() / 1e5 - 110.0).abs() < 8.0);
    }

    #[test]
    fn no_grade_has_no_posterior() {
        assert!(clearing_posterior(&[]).is_none());
        assert!(clearing_posterior(&grades(&[(f64::NAN, 1), (-1.0, 0)])).is_none());
    }
}
