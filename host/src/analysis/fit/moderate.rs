//! Variances that are themselves estimates, drawn together as far as they deserve.
//!
//! Each point of a curve brings a variance estimated from a few batches, so that the smallest of a group
//! is small mostly by luck and would get too much weight. In: variances of like quantities with their
//! degrees of freedom. Out: the same, each moved toward the group's typical value by an amount that
//! the group itself decides (empirical Bayes). Variances known from the instrument (infinite degrees of
//! freedom) are left as they are.
//!
//! Source: G. K. Smyth, "Linear models and empirical Bayes methods for assessing differential
//! expression", Stat. Appl. Genet. Mol. Biol. 3 (2004), article 3, section 6.2.

use statrs::function::gamma::digamma;

/// Draw variances together.
///
/// *Shape*: `variances` and `dofs` agree in length; variances that are not positive, and those of
/// infinite freedom, neither take part nor change. Fewer than two that take part change nothing.
#[must_use]
pub fn moderate_variances(variances: &[f64], dofs: &[f64]) -> Vec<f64> {
    let takes_part = |v: f64, d: f64| v > 0.0 && v.is_finite() && d.is_finite() && d > 0.0;
    let pairs: Vec<(f64, f64)> = variances
        .iter()
        .zip(dofs)
        .map(|(&v, &d)| (v, d))
        .filter(|&(v, d)| takes_part(v, d))
        .collect();
    let Some(prior) = Prior::from_group(&pairs) else {
        return variances.to_vec();
    };
    variances
        .iter()
        .zip(dofs)
        .map(|(&v, &d)| {
            if takes_part(v, d) {
                prior.moderate(v, d)
            } else {
                v
            }
        })
        .collect()
}

struct Prior {
    variance: f64,
    dof: f64,
}

impl Prior {
    /// Smyth 2004, section 6.2: match mean and variance of the logarithms.
    fn from_group(pairs: &[(f64, f64)]) -> Option<Self> {
        let n = pairs.len() as f64;
        if pairs.len() < 2 {
            return None;
        }
        let e: Vec<f64> = pairs
            .iter()
            .map(|&(v, d)| v.ln() - digamma(d / 2.0) + (d / 2.0).ln())
            .collect();
        let mean = e.iter().sum::<f64>() / n;
        let spread = e.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let by_chance = pairs.iter().map(|&(_, d)| trigamma(d / 2.0)).sum::<f64>() / n;
        let excess = spread - by_chance;
        if excess <= 1e-9 {
            return Some(Self {
                variance: mean.exp(),
                dof: f64::INFINITY,
            });
        }
        let half = inverse_trigamma(excess);
        Some(Self {
            variance: (mean + digamma(half) - half.ln()).exp(),
            dof: 2.0 * half,
        })
    }

    fn moderate(&self, variance: f64, dof: f64) -> f64 {
        if self.dof.is_infinite() {
            return self.variance;
        }
        (self.dof * self.variance + dof * variance) / (self.dof + dof)
    }
}

/// Derivative of the digamma function for positive arguments: recurrence up to 10, then the asymptotic
/// series (NIST Digital Library of Mathematical Functions, 5.15.8).
fn trigamma(x: f64) -> f64 {
    let mut x = x;
    let mut sum = 0.0;
    while x < 10.0 {
        sum += 1.0 / (x * x);
        x += 1.0;
    }
    let i = 1.0 / x;
    let i2 = i * i;
    sum + i + i2 / 2.0 + i * i2 * (1.0 / 6.0 - i2 * (1.0 / 30.0 - i2 * (1.0 / 42.0 - i2 / 30.0)))
}

/// Argument whose trigamma is `value`: bisection on its logarithm (trigamma falls from infinity to zero).
fn inverse_trigamma(value: f64) -> f64 {
    let (mut low, mut high) = (-20.0f64, 25.0f64);
    for _ in 0..100 {
        let mid = 0.5 * (low + high);
        if trigamma(mid.exp()) > value {
            low = mid;
        } else {
            high = mid;
        }
    }
    (0.5 * (low + high)).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DLMF 5.15.1 and 5.4.16: trigamma(1) = pi^2/6, trigamma(1/2) = pi^2/2.
    #[test]
    fn trigamma_has_its_closed_form_values() {
        let pi2 = std::f64::consts::PI.powi(2);
        assert!((trigamma(1.0) - pi2 / 6.0).abs() < 1e-12);
        assert!((trigamma(0.5) - pi2 / 2.0).abs() < 1e-11);
        assert!((trigamma(inverse_trigamma(0.3)) - 0.3).abs() < 1e-12);
    }

    #[test]
    fn variances_that_differ_by_chance_only_become_one() {
        let out = moderate_variances(&[1.0, 1.2, 0.9, 1.1], &[8.0; 4]);
        assert!(
            out.windows(2).all(|w| (w[0] - w[1]).abs() < 1e-12),
            "{out:?}"
        );
    }

    #[test]
    fn variances_that_truly_differ_keep_their_order_and_move_inward() {
        let v = [1.0, 50.0, 0.02, 3.0];
        let out = moderate_variances(&v, &[8.0; 4]);
        assert!(out[1] < 50.0 && out[2] > 0.02);
        assert!(out[2] < out[0] && out[0] < out[3] && out[3] < out[1]);
    }

    #[test]
    fn known_zero_and_single_variances_stay() {
        let inf = f64::INFINITY;
        assert_eq!(moderate_variances(&[1.0, 9.0], &[inf, inf]), vec![1.0, 9.0]);
        assert_eq!(moderate_variances(&[0.0, 9.0], &[5.0, 5.0]), vec![0.0, 9.0]);
        assert!(moderate_variances(&[], &[]).is_empty());
    }
}
