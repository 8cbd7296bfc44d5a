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
///
/// `believed_dof` is that of [`super::scatter::believed_dof`], one for all fits that are compared; at zero the
/// usual `n ln(sum of squares)` of an unknown variance is left.
#[must_use]
pub fn minus_two_log_likelihood(chi_square: f64, n_points: usize, believed_dof: f64) -> f64 {
    (believed_dof + n_points as f64) * (believed_dof + chi_square).ln()
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
    fn a_smaller_misfit_is_preferred_and_a_firm_belief_counts_it_by_its_size() {
        let at = |chi: f64, believed: f64| minus_two_log_likelihood(chi, 5, believed);
        assert!(at(3.0, 6.0) < at(4.0, 6.0));
        // Believed without doubt, the usual chi-square difference comes back.
        assert!((at(4.0, 1e9) - at(3.0, 1e9) - 1.0).abs() < 1e-4);
        // Not believed at all, only the ratio counts.
        assert!((at(4.0, 0.0) - at(2.0, 0.0) - 5.0 * 2f64.ln()).abs() < 1e-12);
    }
}
