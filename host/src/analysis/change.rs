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

/// Finds the clearest step of level in a sequence that also follows a line: `y = a + n x`, with
/// one slope and two levels.
///
/// Used on `ln flow` against `ln pressure`: a nozzle curve that fell keeps its exponent. The slope is
/// held inside `slope_range`, for a state with one pressure cannot tell it. F test with 1 and
/// n - 3 degrees of freedom, Bonferroni over the places.
///
/// *Shape*: all three of one length, in order of time; weights are inverse variances. `None` below
/// `2 * least_side` or 4 values, and for numbers that are not finite.
#[must_use]
pub fn find_level_step(
    x: &[f64],
    y: &[f64],
    weights: &[f64],
    least_side: usize,
    slope_range: (f64, f64),
) -> Option<Step> {
    let n = x.len();
    let is_bad = |v: &[f64]| v.len() != n || v.iter().any(|v| !v.is_finite());
    if least_side == 0 || n < (2 * least_side).max(4) || is_bad(x) || is_bad(y) || is_bad(weights) {
        return None;
    }
    let (rest_one, _) = rest_about(x, y, weights, std::slice::from_ref(&(0..n)), slope_range);
    #[allow(clippy::cast_precision_loss)]
    let (places, dof) = ((n - 2 * least_side + 1) as f64, (n as f64 - 3.0).max(1.0));
    let mut best: Option<Step> = None;
    for at in least_side..=n - least_side {
        let sides = [0..at, at..n];
        let (rest_two, slope) = rest_about(x, y, weights, &sides, slope_range);
        // Weights are variances as stated: the rest is not believed to be smaller than they say.
        let scale = (rest_two / dof).max(1.0);
        let f = (rest_one - rest_two).max(0.0) / scale;
        let tail = FisherSnedecor::new(1.0, dof).map_or(1.0, |d| 1.0 - d.cdf(f));
        let (a, b) = (centre(x, y, weights, 0..at), centre(x, y, weights, at..n));
        let step = Step {
            at,
            size: (b.1 - a.1) - slope * (b.0 - a.0),
            u_size: (scale * (1.0 / a.2 + 1.0 / b.2)).sqrt(),
            p_value: (tail * places).min(1.0),
        };
        if best.is_none_or(|b| step.p_value < b.p_value) {
            best = Some(step);
        }
    }
    best
}

/// Weighted centre of a stretch: mean of x, mean of y, sum of weights.
fn centre(x: &[f64], y: &[f64], w: &[f64], range: std::ops::Range<usize>) -> (f64, f64, f64) {
    let (mut sw, mut sx, mut sy) = (0.0, 0.0, 0.0);
    for i in range {
        sw += w[i];
        sx += w[i] * x[i];
        sy += w[i] * y[i];
    }
    (sx / sw, sy / sw, sw)
}

/// Weighted sum of squares about one slope and a level for each side, and that slope.
fn rest_about(
    x: &[f64],
    y: &[f64],
    w: &[f64],
    sides: &[std::ops::Range<usize>],
    slope_range: (f64, f64),
) -> (f64, f64) {
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    for side in sides {
        let (mx, my, _) = centre(x, y, w, side.clone());
        for i in side.clone() {
            sxx += w[i] * (x[i] - mx).powi(2);
            sxy += w[i] * (x[i] - mx) * (y[i] - my);
            syy += w[i] * (y[i] - my).powi(2);
        }
    }
    let free = if sxx > 0.0 { sxy / sxx } else { slope_range.0 };
    let slope = free.clamp(slope_range.0, slope_range.1);
    (
        (syy - 2.0 * slope * sxy + slope * slope * sxx).max(0.0),
        slope,
    )
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

    #[test]
    fn a_curve_that_fell_is_found_through_its_pressures() {
        let p = [50.0f64, 80.0, 110.0, 140.0, 60.0, 90.0, 120.0, 140.0];
        let x: Vec<f64> = p.iter().map(|p| p.ln()).collect();
        let y: Vec<f64> = p
            .iter()
            .enumerate()
            .map(|(i, p)| {
                0.55 * p.ln() + if i >= 5 { -0.2 } else { 0.0 } + 0.002 * (i as f64).sin()
            })
            .collect();
        let step = find_level_step(&x, &y, &[1e4; 8], 2, (0.45, 1.1)).unwrap();
        assert_eq!(step.at, 5);
        assert!(
            (step.size + 0.2).abs() < 0.01 && step.p_value < 1e-3,
            "{step:?}"
        );
    }

    #[test]
    fn a_sound_curve_has_no_level_step() {
        let p = [50.0f64, 80.0, 110.0, 140.0, 60.0, 90.0, 120.0, 140.0];
        let x: Vec<f64> = p.iter().map(|p| p.ln()).collect();
        let y: Vec<f64> = p
            .iter()
            .enumerate()
            .map(|(i, p)| 0.55 * p.ln() + 0.01 * (3.7 * i as f64).sin())
            .collect();
        let step = find_level_step(&x, &y, &[1e4; 8], 2, (0.45, 1.1)).unwrap();
        assert!(step.p_value > 0.05, "{step:?}");
    }
}
