//! Repeatability and reproducibility of a class, and who stands out (ISO 5725-2).
//!
//! Components of variance over students and, where the data can tell them apart, benches, by restricted
//! likelihood, so that unequal numbers, missing benches and students who stayed at one bench are all
//! allowed. Intervals of standard deviations by the chi-square distribution with the degrees of freedom
//! that the variance's own doubt implies (Satterthwaite, Biometrics Bulletin 2 (1946) 110).

use serde::{Deserialize, Serialize};
use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, StudentsT};

use super::Person;
use crate::analysis::fit::anova::one_way;
use crate::analysis::fit::reml::{Components, RemlError, fit_components};
use crate::estimate::Interval;
use crate::estimate::bracketed::Bracketed;

/// Repeatability and reproducibility limits are this many standard deviations: 1.96 times the square
/// root of two (ISO 5725-6).
const LIMIT_FACTOR: f64 = 2.8;
/// Level of significance of the critical values of h and k (ISO 5725-2 uses 1 % and 5 %).
const SIGNIFICANCE: f64 = 0.05;

/// How well a class repeats and agrees; relative standard deviations.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Precision {
    /// One student, one bench, one burst after another.
    pub repeatability_sd: Bracketed,
    /// Degrees of freedom of the repeatability.
    pub repeatability_dof: f64,
    /// Another student at another bench.
    pub reproducibility_sd: Bracketed,
    /// Difference of two bursts of one student that is exceeded one time in twenty.
    pub repeatability_limit: f64,
    /// Difference of two bursts of different students and benches that is exceeded one time in twenty.
    pub reproducibility_limit: f64,
    /// Component between students (with their benches when those cannot be told apart), as a standard
    /// deviation.
    pub student_sd: f64,
    /// Component between benches; `None` when it cannot be told apart from the students'.
    pub bench_sd: Option<f64>,
    /// Probability of so large differences between students by chance alone.
    pub p_value: f64,
    /// Students with data.
    pub n_students: usize,
    /// Bursts.
    pub n_bursts: usize,
    /// Beyond this, h stands out at the 5 % level; `None` below three students.
    pub h_critical: Option<f64>,
    /// Beyond this, k stands out at the 5 % level.
    pub k_critical: Option<f64>,
}

impl Precision {
    /// Standard deviation of the mean of so many bursts between students.
    #[must_use]
    pub fn sd_of_mean(&self, n_bursts: usize) -> f64 {
        let within = self.repeatability_sd.value.powi(2) / n_bursts.max(1) as f64;
        let between = self.student_sd.powi(2) + self.bench_sd.unwrap_or(0.0).powi(2);
        (between + within).sqrt()
    }
}

/// Why the class has no precision; each names what is missing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PrecisionRefusal {
    /// Fewer than two students have data: record another student.
    OneStudent,
    /// No student has a second burst: record two bursts or more a student.
    NoReplicates,
    /// More bursts than can be analysed at once: score a part of the class.
    TooMany,
    /// The numbers allow no fit.
    NotFitted,
}

pub(super) fn find_precision(people: &[Person]) -> Result<Precision, PrecisionRefusal> {
    let filled: Vec<&Person> = people.iter().filter(|p| !p.bursts.is_empty()).collect();
    if filled.len() < 2 {
        return Err(PrecisionRefusal::OneStudent);
    }
    if filled.iter().all(|p| p.bursts.len() < 2) {
        return Err(PrecisionRefusal::NoReplicates);
    }
    let (components, has_bench) = fit(&filled)?;
    let groups: Vec<Vec<f64>> = filled.iter().map(|p| p.values()).collect();
    let table = one_way(&groups).map_err(|_| PrecisionRefusal::NotFitted)?;
    let last = components.variances.len() - 1;
    let within = components.variances[last];
    let total: f64 = components.variances.iter().sum();
    let variance_of_within = components.covariance[last][last];
    let variance_of_total: f64 = components.covariance.iter().flatten().sum();
    let (repeatability_sd, repeatability_dof) = sd_with_interval(within, variance_of_within);
    let (reproducibility_sd, _) = sd_with_interval(total, variance_of_total);
    let sizes: Vec<usize> = filled.iter().map(|p| p.bursts.len()).collect();
    Ok(Precision {
        repeatability_limit: LIMIT_FACTOR * repeatability_sd.value,
        reproducibility_limit: LIMIT_FACTOR * reproducibility_sd.value,
        repeatability_sd,
        repeatability_dof,
        reproducibility_sd,
        student_sd: components.variances[0].sqrt(),
        bench_sd: has_bench.then(|| components.variances[1].sqrt()),
        p_value: table.p_value,
        n_students: filled.len(),
        n_bursts: sizes.iter().sum(),
        h_critical: h_critical(filled.len()),
        k_critical: k_critical(filled.len(), &sizes),
    })
}

/// Components over students and benches, or over students alone when the data cannot tell them apart.
fn fit(filled: &[&Person]) -> Result<(Components, bool), PrecisionRefusal> {
    let mut values = Vec::new();
    let (mut students, mut benches) = (Vec::new(), Vec::new());
    let mut names: Vec<&str> = Vec::new();
    let mut all_have_benches = true;
    for (index, person) in filled.iter().enumerate() {
        for (bench, value) in &person.bursts {
            values.push(*value);
            students.push(index);
            let name = bench.as_deref().map(str::trim).unwrap_or_default();
            all_have_benches &= !name.is_empty();
            let level = names.iter().position(|n| *n == name).unwrap_or_else(|| {
                names.push(name);
                names.len() - 1
            });
            benches.push(level);
        }
    }
    if all_have_benches && names.len() > 1 {
        match fit_components(&values, &[students.clone(), benches]) {
            Ok(found) => return Ok((found, true)),
            Err(RemlError::TooMany { .. }) => return Err(PrecisionRefusal::TooMany),
            Err(_) => {}
        }
    }
    match fit_components(&values, &[students]) {
        Ok(found) => Ok((found, false)),
        Err(RemlError::TooMany { .. }) => Err(PrecisionRefusal::TooMany),
        Err(_) => Err(PrecisionRefusal::NotFitted),
    }
}

/// A standard deviation with its 95 % interval from a variance and the variance of that, and the
/// degrees of freedom that they imply.
fn sd_with_interval(variance: f64, variance_of_it: f64) -> (Bracketed, f64) {
    let value = variance.sqrt();
    let dof = 2.0 * variance * variance / variance_of_it;
    let limits = ChiSquared::new(dof)
        .ok()
        .filter(|_| dof.is_finite() && dof > 0.0)
        .map(|d| (d.inverse_cdf(0.975), d.inverse_cdf(0.025)));
    let interval_95 = match limits {
        Some((upper, lower)) if lower > 0.0 => Interval {
            low: (dof * variance / upper).sqrt(),
            high: (dof * variance / lower).sqrt(),
        },
        // Nothing scatters at all: there is nothing to be in doubt about.
        _ => Interval {
            low: value,
            high: value,
        },
    };
    (Bracketed { value, interval_95 }, dof)
}

/// h and k of every student, in order; `None` where the data do not carry them.
///
/// h: deviation of the student's mean from the mean of means over the standard deviation of means. k: the
/// student's standard deviation over the pooled one (ISO 5725-2:2019, 8.3.1).
pub(super) fn consistency(people: &[Person]) -> Vec<(Option<f64>, Option<f64>)> {
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
    let variance = |v: &[f64]| {
        let centre = mean(v);
        v.iter().map(|x| (x - centre).powi(2)).sum::<f64>() / (v.len() as f64 - 1.0)
    };
    let values: Vec<Vec<f64>> = people.iter().map(Person::values).collect();
    let means: Vec<f64> = values
        .iter()
        .filter(|v| !v.is_empty())
        .map(|v| mean(v))
        .collect();
    let pooled: Vec<f64> = values
        .iter()
        .filter(|v| v.len() > 1)
        .map(|v| variance(v))
        .collect();
    values
        .iter()
        .map(|v| {
            let spread = if means.len() > 2 {
                variance(&means).sqrt()
            } else {
                0.0
            };
            let h = (!v.is_empty() && spread > 0.0).then(|| (mean(v) - mean(&means)) / spread);
            let own =
                (v.len() > 1 && pooled.len() > 1).then(|| (variance(v) / mean(&pooled)).sqrt());
            (h, own.filter(|k| k.is_finite()))
        })
        .collect()
}

/// Critical h for `p` students (ISO 5725-2:2019, annex: from Student's t with p - 2).
fn h_critical(n_students: usize) -> Option<f64> {
    if n_students < 3 {
        return None;
    }
    let p = n_students as f64;
    let t = StudentsT::new(0.0, 1.0, p - 2.0)
        .ok()?
        .inverse_cdf(1.0 - SIGNIFICANCE / 2.0);
    Some((p - 1.0) * t / (p * (t * t + p - 2.0)).sqrt())
}

/// Critical k for `p` students with the median number of bursts (ISO 5725-2:2019, annex: from F).
fn k_critical(n_students: usize, sizes: &[usize]) -> Option<f64> {
    let mut sizes = sizes.to_vec();
    sizes.sort_unstable();
    let n = *sizes.get(sizes.len() / 2)? as f64;
    let p = n_students as f64;
    if n < 2.0 {
        return None;
    }
    let f = FisherSnedecor::new(n - 1.0, (p - 1.0) * (n - 1.0))
        .ok()?
        .inverse_cdf(1.0 - SIGNIFICANCE);
    Some((p * f / (f + p - 1.0)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 5725-2, table of indicators for Mandel's h and k at the 5 % level, from memory.
    #[test]
    fn critical_values_match_the_table_of_iso_5725_2() {
        for (p, h) in [(3, 1.15), (8, 1.75), (10, 1.80), (20, 1.89)] {
            assert!(
                (h_critical(p).unwrap() - h).abs() < 0.006,
                "{p}: {:?}",
                h_critical(p)
            );
        }
        for (p, n, k) in [(8, 2, 1.88), (8, 3, 1.67), (10, 4, 1.57)] {
            let found = k_critical(p, &vec![n; p]).unwrap();
            assert!((found - k).abs() < 0.012, "{p} {n}: {found}");
        }
        assert_eq!((h_critical(2), k_critical(5, &[1; 5])), (None, None));
    }

    #[test]
    fn a_standard_deviation_without_scatter_has_no_width() {
        let (sd, _) = sd_with_interval(0.0, 0.0);
        assert_eq!(
            (sd.value, sd.interval_95.low, sd.interval_95.high),
            (0.0, 0.0, 0.0)
        );
    }
}
