//! A value whose 95 % interval is lopsided, and the quotient as the commonest case of one.
//!
//! When a denominator's uncertainty is not small, the quotient's interval is neither symmetric nor
//! what a linear propagation says; Fieller's theorem gives it. No words of the trade here.

use serde::{Deserialize, Serialize};

use super::{Estimate, Interval, coverage_factor_95};

/// A number with a 95 % interval that need not be symmetric.
///
/// *Units*: those of the value; the field that holds it names them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bracketed {
    /// Best value.
    pub value: f64,
    /// Interval of 95 % coverage.
    pub interval_95: Interval,
}

impl Bracketed {
    /// The number whose natural logarithm is estimated.
    #[must_use]
    pub fn from_ln(ln: &Estimate) -> Self {
        Self {
            value: ln.value.exp(),
            interval_95: ln.interval_95().map(f64::exp),
        }
    }

    /// The number times an exact factor.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            interval_95: self.interval_95.map(|x| x * factor),
        }
    }

    /// The quotient of two uncorrelated estimates.
    ///
    /// *Errors*: `None` when the denominator's own 95 % interval holds zero (then no interval of the
    /// quotient is bounded), or when anything is not a number.
    ///
    /// *Source*: Fieller, J. R. Stat. Soc. B 16 (1954) 175, without correlation; coverage factor from
    /// the lower of the two effective degrees of freedom.
    #[must_use]
    pub fn quotient(numerator: &Estimate, denominator: &Estimate) -> Option<Self> {
        let dof = numerator.effective_dof().min(denominator.effective_dof());
        let k = coverage_factor_95(dof);
        let (a, b) = (numerator.value, denominator.value);
        let (va, vb) = (
            numerator.u_combined().powi(2),
            denominator.u_combined().powi(2),
        );
        let g = k * k * vb / (b * b);
        let is_bounded = g < 1.0;
        if !is_bounded {
            return None;
        }
        let value = a / b;
        let middle = value / (1.0 - g);
        let under_root = va - g * va + value * value * vb;
        let half = k / b.abs() * under_root.max(0.0).sqrt() / (1.0 - g);
        let interval_95 = Interval {
            low: middle - half,
            high: middle + half,
        };
        (value.is_finite() && half.is_finite()).then_some(Self { value, interval_95 })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_uncertainties_give_the_linear_interval() {
        let q = Bracketed::quotient(
            &Estimate::new(10.0, 0.01, 0.0),
            &Estimate::new(5.0, 0.0, 0.01),
        )
        .unwrap();
        let linear = 2.0 * 1.96 * (0.001f64.powi(2) + 0.002f64.powi(2)).sqrt();
        assert_eq!(q.value, 2.0);
        assert!((q.interval_95.high - 2.0 - linear).abs() < 1e-4 * linear.max(1.0));
    }

    /// Each end of the interval is a ratio r for which a - r b is just 1.96 of its own standard
    /// uncertainties away from zero: that is what Fieller's theorem solves.
    #[test]
    fn the_ends_are_where_the_difference_is_just_not_zero() {
        let (a, b) = (Estimate::new(8.0, 1.0, 0.5), Estimate::new(3.0, 0.4, 0.3));
        let q = Bracketed::quotient(&a, &b).unwrap();
        for r in [q.interval_95.low, q.interval_95.high] {
            let u = (a.u_combined().powi(2) + (r * b.u_combined()).powi(2)).sqrt();
            let distance = (a.value - r * b.value).abs() / u;
            assert!(
                (distance - coverage_factor_95(f64::INFINITY)).abs() < 1e-9,
                "{distance}"
            );
        }
        assert!(q.interval_95.high - q.value > q.value - q.interval_95.low);
    }

    #[test]
    fn a_denominator_that_may_be_zero_has_no_interval() {
        let one = Estimate::exact(1.0);
        assert_eq!(
            Bracketed::quotient(&one, &Estimate::new(1.0, 0.6, 0.0)),
            None
        );
        assert_eq!(Bracketed::quotient(&one, &Estimate::exact(0.0)), None);
        assert_eq!(Bracketed::quotient(&Estimate::exact(f64::NAN), &one), None);
        assert_eq!(Bracketed::quotient(&one, &Estimate::exact(f64::NAN)), None);
    }
}
