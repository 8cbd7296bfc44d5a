//! Uncertainty of a result from the uncertainties of its inputs, both parts apart.
//!
//! The law of propagation of uncertainty with each derivative taken as half the difference of the
//! function one standard uncertainty either side (JCGM 100:2008, 5.1.2 and note 2 to 5.1.3). The
//! independent parts and the common parts run through it separately and are never mixed. Inputs
//! are taken as uncorrelated with each other: correlated ones belong into a [`super::budget`].
//! No words of the trade here. Checked against the examples H.1 and H.2 of the same guide in
//! `tests/tests/checks_apply_gum.rs`.

use super::Estimate;

/// The estimate of `f(inputs)`.
///
/// *Shape*: `f` sees one number an input, in order.
///
/// *Errors*: `None` when the function is not finite at the inputs or within one standard
/// uncertainty of them, or when an uncertainty is negative or not a number.
///
/// *Source*: JCGM 100:2008, equation 10 with note 2 to 5.1.3; degrees of freedom by G.2b. Four
/// evaluations of `f` an input.
#[must_use]
pub fn propagate<const N: usize>(
    inputs: &[Estimate; N],
    f: impl Fn(&[f64; N]) -> f64,
) -> Option<Estimate> {
    let centre: [f64; N] = std::array::from_fn(|i| inputs[i].value);
    let value = finite(f(&centre))?;
    let mut parts = Parts::default();
    for (i, input) in inputs.iter().enumerate() {
        let half_difference = |u: f64| -> Option<f64> {
            if u == 0.0 {
                return Some(0.0);
            }
            if u.is_nan() || u < 0.0 {
                return None;
            }
            let (mut above, mut below) = (centre, centre);
            above[i] += u;
            below[i] -= u;
            finite(0.5 * (f(&above) - f(&below)))
        };
        parts.add(
            half_difference(input.u_independent)?,
            half_difference(input.u_common)?,
            input.dof,
        );
    }
    Some(parts.into_estimate(value))
}

/// Running sums of the squared contributions.
#[derive(Default)]
struct Parts {
    independent: f64,
    common: f64,
    /// Sum of `u_i^4 / dof_i` (Welch-Satterthwaite).
    freedom: f64,
}

impl Parts {
    fn add(&mut self, independent: f64, common: f64, dof: f64) {
        self.independent += independent.powi(2);
        self.common += common.powi(2);
        if dof.is_finite() && dof > 0.0 {
            self.freedom += independent.powi(4) / dof;
        }
    }

    fn into_estimate(self, value: f64) -> Estimate {
        let dof = if self.freedom > 0.0 {
            self.independent.powi(2) / self.freedom
        } else {
            f64::INFINITY
        };
        Estimate::new(value, self.independent.sqrt(), self.common.sqrt()).with_dof(dof)
    }
}

fn finite(x: f64) -> Option<f64> {
    x.is_finite().then_some(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_product_of_powers_adds_relative_variances() {
        let a = Estimate::new(2.0, 0.002, 0.004);
        let b = Estimate::new(5.0, 0.01, 0.0);
        let r = propagate(&[a, b], |[a, b]| a * a / b).unwrap();
        assert!((r.value - 0.8).abs() < 1e-15);
        let independent = 0.8 * (0.002f64.powi(2) + 0.002f64.powi(2)).sqrt();
        assert!((r.u_independent - independent).abs() < 1e-8, "{r:?}");
        assert!((r.u_common - 0.8 * 0.004).abs() < 1e-8, "{r:?}");
    }

    #[test]
    fn degrees_of_freedom_follow_welch_satterthwaite() {
        let a = Estimate::new(1.0, 0.1, 0.0).with_dof(4.0);
        let b = Estimate::new(1.0, 0.1, 0.0).with_dof(4.0);
        let sum = propagate(&[a, b], |[a, b]| a + b).unwrap();
        assert!((sum.dof - 8.0).abs() < 1e-9);
        let exact = propagate(&[Estimate::exact(3.0)], |[a]| *a).unwrap();
        assert_eq!(exact.dof, f64::INFINITY);
    }

    #[test]
    fn leaving_the_domain_of_the_function_yields_none() {
        let near_zero = Estimate::new(0.1, 0.2, 0.0);
        assert_eq!(propagate(&[near_zero], |[x]| x.ln()), None);
        assert_eq!(propagate(&[Estimate::exact(f64::NAN)], |[x]| *x), None);
        let broken = Estimate::new(1.0, -0.1, 0.0);
        assert_eq!(propagate(&[broken], |[x]| *x), None);
    }
}
