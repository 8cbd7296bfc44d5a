//! Which of two forms the data prefer.
//!
//! In: weighted sums of squares of two fits to the same points with the same stated variances. Out: their
//! difference by Akaike's criterion with the correction for few points. The common factor on the variances is
//! not known exactly, so it is integrated out with the same belief as in [`super::scatter`]; the
//! likelihood is then Student's and a misfit counts by its logarithm.
//!
//! Source: C. M. Hurvich and C.-L. Tsai, Biometrika 76 (1989), 297-307; K. P. Burnham and
//! D. R. Anderson, "Model Selection and Multimodel Inference" (2002), section 2.6: below 2 apart, both forms
//! have support.

use super::scatter::PRIOR_DOF;

/// Differences smaller than this leave both forms standing (Burnham and Anderson 2002, section 2.6): the
/// simpler reading is then kept.
pub const SUPPORT_DIFFERENCE: f64 = 2.0;

/// Akaike's criterion with the small-sample correction.
///
/// `minus_two_log_likelihood` of the fit, `n_parameters` of the form, `n_points`. `None` when there are too
/// few points for the correction: `n_points` must exceed `n_parameters + 1`.
#[must_use]
pub fn aicc(minus_two_log_likelihood: f64, n_parameters: usize, n_points: usize) -> Option<f64> {
    if n_points <= n_parameters + 1 {
        return None;
    }
    let (k, n) = (n_parameters as f64, n_points as f64);
    let value = minus_two_log_likelihood + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0);
    value.is_finite().then_some(value)
}

/// Minus twice the log likelihood of a weighted sum of squares, up to a constant of the data, with the
/// common variance factor integrated out.
#[must_use]
pub fn minus_two_log_likelihood(chi_square: f64, n_points: usize) -> f64 {
    (PRIOR_DOF + n_points as f64) * (chi_square / PRIOR_DOF).ln_1p()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand from the definition.
    #[test]
    fn aicc_adds_its_correction_and_refuses_without_freedom() {
        assert_eq!(aicc(10.0, 2, 5), Some(10.0 + 4.0 + 6.0));
        assert_eq!(aicc(10.0, 2, 3), None);
        assert_eq!(aicc(f64::NAN, 2, 9), None);
    }

    #[test]
    fn a_smaller_misfit_is_preferred_and_large_samples_count_it_by_its_size() {
        assert!(minus_two_log_likelihood(3.0, 5) < minus_two_log_likelihood(4.0, 5));
        // Many points, small misfit per prior freedom: the usual chi-square difference comes back.
        let d = minus_two_log_likelihood(0.02, 1) - minus_two_log_likelihood(0.01, 1);
        assert!((d - 0.01 * 7.0 / 6.0).abs() < 1e-4);
    }
}
