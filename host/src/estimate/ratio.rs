//! The interval of a quotient whose denominator is itself in doubt.
//!
//! When the denominator's uncertainty is not small, the quotient's interval is neither symmetric nor
//! what a linear propagation says; Fieller's theorem gives it. No words of the trade here.

use serde::{Deserialize, Serialize};

use super::{Estimate, Interval, coverage_factor_95};

/// A quotient with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Quotient {
    /// Best value.
    pub value: f64,
    /// Interval of 95 % coverage; not symmetric about the value.
    pub interval_95: Interval,
}

impl Quotient {
    /// The quotient of two uncorrelated estimates.
    ///
    /// *Errors*: `None` when the denominator's own 95 % interval holds zero (then no interval of the
    /// quotient is bounded), or when anything is not a number.
    ///
    /// *Source*: Fieller, J. R. Stat. Soc. B 16 (1954) 175, without correlation; coverage factor from
    /// the lower of the two effective degrees of freedom.
    #[must_use]
    pub fn of(numerator: &Estimate, denominator: &Estimate) -> Option<Self> {
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
        let q = Quotient::of(
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
        let q = Quotient::of(&a, &b).unwrap();
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
        assert_eq!(Quotient::of(&one, &Estimate::new(1.0, 0.6, 0.0)), None);
        assert_eq!(Quotient::of(&one, &Estimate::exact(0.0)), None);
        assert_eq!(Quotient::of(&Estimate::exact(f64::NAN), &one), None);
        assert_eq!(Quotient::of(&one, &Estimate::exact(f64::NAN)), None);
    }
}
