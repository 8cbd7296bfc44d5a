//! Is this tip worn? The probability, from its equivalent orifice and the hours it has sprayed.
//!
//! A single recording knows the orifice no better than the discharge coefficient, a tenth of the area or so. One tip
//! in a hundred that is sound then looks worn, and the advice would be to throw it away. So the hours speak
//! too: two hypotheses (sound: as stamped; worn: larger by [`WORN_RATIO`] with [`U_WORN_RATIO`] about it), prior
//! odds by the hours, Bayes' rule. A tip of few hours needs more than one of many. A baseline of the same tip says far
//! more and does not come through here (see `verdict::rules`).

use statrs::distribution::{Continuous, Normal};

use crate::estimate::Estimate;

/// Diameter of tips that are replaced as worn, over their stamp, and its spread (common practice, no source: the
/// flow is up by a third to two thirds).
const WORN_RATIO: f64 = 1.22;
/// Standard deviation of [`WORN_RATIO`].
const U_WORN_RATIO: f64 = 0.07;
/// Hours below which wear would be a surprise, and those from which on it is no wonder (common practice, no
/// source: tips are spoken of as good for some tens of hours with ordinary coatings).
const FEW_HOURS: f64 = 20.0;
const MANY_HOURS: f64 = 50.0;
/// Prior probability of wear with few hours, with hours between or not known, and with many.
const PRIOR_FEW: f64 = 0.002;
const PRIOR_BETWEEN: f64 = 0.05;
const PRIOR_MANY: f64 = 0.3;

/// Probability that a tip is worn.
///
/// *Shape*: `orifice_ratio` equivalent over stamped diameter, 1, stamping and discharge coefficient in its
/// uncertainty; `used_s` seconds sprayed with the tip, where known. 0 for a ratio that is no usable number.
#[must_use]
pub fn worn_probability(orifice_ratio: &Estimate, used_s: Option<f64>) -> f64 {
    let (ratio, u) = (orifice_ratio.value, orifice_ratio.u_combined().max(1e-3));
    let density = |mean: f64, u: f64| Normal::new(mean, u).map_or(0.0, |law| law.ln_pdf(ratio));
    // Smaller than stamped is no wear at all.
    if !(ratio.is_finite() && u.is_finite() && ratio > 1.0) {
        return 0.0;
    }
    let prior = match used_s.map(|s| s / 3600.0) {
        Some(hours) if hours < FEW_HOURS => PRIOR_FEW,
        Some(hours) if hours >= MANY_HOURS => PRIOR_MANY,
        _ => PRIOR_BETWEEN,
    };
    let log_odds =
        (prior / (1.0 - prior)).ln() + density(WORN_RATIO, u.hypot(U_WORN_RATIO)) - density(1.0, u);
    1.0 / (1.0 + (-log_odds).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ratio: f64, hours: Option<f64>) -> f64 {
        worn_probability(&Estimate::new(ratio, 0.01, 0.05), hours.map(|h| h * 3600.0))
    }

    #[test]
    fn more_orifice_and_more_hours_make_wear_likelier() {
        assert!(at(1.16, Some(80.0)) > 0.9);
        assert!(at(1.16, None) < 0.9 && at(1.20, None) > 0.9);
        assert!(at(1.16, Some(5.0)) < 0.2 && at(1.30, Some(5.0)) > 0.9);
        for hours in [Some(1.0), None, Some(100.0)] {
            let mut last = 0.0;
            for percent in 0..40 {
                let p = at(1.0 + f64::from(percent) * 0.01, hours);
                assert!((0.0..=1.0).contains(&p) && p >= last, "{percent} {p}");
                last = p;
            }
        }
    }

    #[test]
    fn what_is_no_number_is_no_wear() {
        for ratio in [f64::NAN, f64::INFINITY, 0.9, -1.0] {
            assert_eq!(at(ratio, None), 0.0, "{ratio}");
        }
        let vague = Estimate::new(1.3, f64::NAN, 0.0);
        assert!((0.0..=1.0).contains(&worn_probability(&vague, Some(f64::NAN))));
    }
}
