//! When a state changed within a sequence of bursts: one step, located and tested.
//!
//! Goes in: values in order of time, each with its scatter. Comes out: the place of a step, its size
//! and its uncertainty, or nothing. Used for a nozzle curve that falls (a restriction), and for
//! a held pressure that falls (inlet, battery). A slope within a state is not looked for.

use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// A step in a sequence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Index of the first value behind the step.
    pub at: usize,
    /// Mean behind minus mean before, in the unit of the values.
    pub size: f64,
    /// Standard uncertainty of the size.
    pub u_size: f64,
    /// Probability of a step as clear as this by chance alone, all places considered.
    pub p_value: f64,
}

/// Finds the clearest single step of a sequence.
///
/// For each place with `least_side` values or more on both sides, the squares explained by
/// two means are held against the rest (F test with 1 and n - 2 degrees of freedom); the p-value
/// is multiplied by the number of places tried (Bonferroni). `known_u` is a floor for the scatter
/// of one value: replicates can agree better than the instrument by luck.
///
/// *Shape*: any length; `None` below `2 * least_side` values. *Source*: derived here from the
/// one-way analysis of variance; checked against NIST's in `tests/`.
#[must_use]
pub fn find_step(values: &[f64], least_side: usize, known_u: f64) -> Option<Step> {
    let n = values.len();
    if least_side == 0 || n < 2 * least_side || values.iter().any(|v| !v.is_finite()) {
        return None;
    }
    #[allow(clippy::cast_precision_loss)]
    let places = (n - 2 * least_side + 1) as f64;
    let mut best: Option<Step> = None;
    for at in least_side..=n - least_side {
        let step = step_at(values, at, known_u, places);
        if best.is_none_or(|b| step.p_value < b.p_value) {
            best = Some(step);
        }
    }
    best
}

fn step_at(values: &[f64], at: usize, known_u: f64, places: f64) -> Step {
    let (a, b) = values.split_at(at);
    let (mean_a, squares_a) = mean_and_squares(a);
    let (mean_b, squares_b) = mean_and_squares(b);
    #[allow(clippy::cast_precision_loss)]
    let (na, nb) = (a.len() as f64, b.len() as f64);
    let dof = (na + nb - 2.0).max(1.0);
    let variance = ((squares_a + squares_b) / dof)
        .max(known_u * known_u)
        .max(1e-18);
    let size = mean_b - mean_a;
    let u_size = (variance * (1.0 / na + 1.0 / nb)).sqrt();
    let f = (size / u_size).powi(2);
    let tail = FisherSnedecor::new(1.0, dof).map_or(1.0, |d| 1.0 - d.cdf(f));
    Step {
        at,
        size,
        u_size,
        p_value: (tail * places).min(1.0),
    }
}

fn mean_and_squares(values: &[f64]) -> (f64, f64) {
    #[allow(clippy::cast_precision_loss)]
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, values.iter().map(|v| (v - mean).powi(2)).sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_found_where_it_is() {
        let v = [0.0, 0.01, -0.01, 0.0, -0.2, -0.19, -0.21, -0.2];
        let step = find_step(&v, 2, 0.0).unwrap();
        assert_eq!(step.at, 4);
        assert!(
            (step.size + 0.2).abs() < 0.01 && step.p_value < 1e-4,
            "{step:?}"
        );
    }

    #[test]
    fn noise_alone_is_no_step() {
        let v = [0.01, -0.02, 0.015, -0.01, 0.02, -0.015, 0.005, -0.005];
        assert!(find_step(&v, 2, 0.0).unwrap().p_value > 0.2);
    }

    #[test]
    fn agreement_better_than_the_instrument_is_not_trusted() {
        let v = [0.0, 0.0, 0.0, 0.004, 0.004, 0.004];
        assert!(find_step(&v, 2, 0.0).unwrap().p_value < 1e-6);
        assert!(find_step(&v, 2, 0.01).unwrap().p_value > 0.5);
    }

    #[test]
    fn too_few_values_have_no_step() {
        assert!(find_step(&[1.0, 2.0, 3.0], 2, 0.0).is_none());
        assert!(find_step(&[1.0, f64::NAN, 3.0, 4.0], 2, 0.0).is_none());
    }
}
