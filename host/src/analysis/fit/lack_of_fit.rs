//! Does the form miss the points by more than replicates miss each other?
//!
//! In: weighted residuals of a fit and the cluster each point belongs to. Out: the F ratio of lack of fit
//! to pure error with its probability. Replicates are *near* replicates (one setting is never met
//! twice exactly), so their residuals are compared, not their ordinates: the slope inside a cluster is taken from the
//! fit. Source: N. R. Draper and H. Smith, "Applied Regression Analysis" (1998), section 2.1.

use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// One residual: which cluster, how far off, how certain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Running number of the cluster of near replicates.
    pub cluster: usize,
    /// Measured minus fitted.
    pub value: f64,
    /// Inverse variance.
    pub weight: f64,
}

/// Result of the test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FTest {
    /// Mean square of lack of fit over that of pure error.
    pub f: f64,
    /// Degrees of freedom of lack of fit.
    pub dof_lack: f64,
    /// Degrees of freedom of pure error.
    pub dof_pure: f64,
    /// Probability of a larger ratio when the form is right.
    pub p_value: f64,
}

/// Test for lack of fit.
///
/// *Shape*: clusters are numbered from zero without gaps, in any order. `None` when the clusters are no more
/// than the parameters, when no cluster has a replicate, or when replicates agree exactly.
#[must_use]
pub fn test_lack_of_fit(residuals: &[Residual], n_parameters: usize) -> Option<FTest> {
    let n_clusters = residuals.iter().map(|r| r.cluster + 1).max()?;
    if n_clusters <= n_parameters || residuals.len() <= n_clusters {
        return None;
    }
    let mut sums = vec![(0.0, 0.0); n_clusters];
    for r in residuals {
        sums[r.cluster].0 += r.weight;
        sums[r.cluster].1 += r.weight * r.value;
    }
    let lack: f64 = sums
        .iter()
        .filter(|(w, _)| *w > 0.0)
        .map(|(w, wr)| wr * wr / w)
        .sum();
    let pure: f64 = residuals
        .iter()
        .map(|r| r.weight * (r.value - sums[r.cluster].1 / sums[r.cluster].0).powi(2))
        .sum();
    let dof_lack = (n_clusters - n_parameters) as f64;
    let dof_pure = (residuals.len() - n_clusters) as f64;
    let f = (lack / dof_lack) / (pure / dof_pure);
    if !f.is_finite() {
        return None;
    }
    let law = FisherSnedecor::new(dof_lack, dof_pure).ok()?;
    Some(FTest {
        f,
        dof_lack,
        dof_pure,
        p_value: law.sf(f),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn residuals(values: &[(usize, f64)]) -> Vec<Residual> {
        let make = |&(cluster, value): &(usize, f64)| Residual {
            cluster,
            value,
            weight: 1.0,
        };
        values.iter().map(make).collect()
    }

    /// By hand: lack 4 * (0.5)^2 * 2 / 2 = 1, pure 8 * 0.1^2 / 4 = 0.02, so F(2, 4) = 50; its tail is
    /// (1 + 2 * 50 / 4)^(-2) by the closed form for two numerator degrees.
    #[test]
    fn a_bent_curve_with_close_replicates_lacks_fit() {
        let r = residuals(&[
            (0, 0.6),
            (0, 0.4),
            (1, -0.4),
            (1, -0.6),
            (2, -0.6),
            (2, -0.4),
            (3, 0.4),
            (3, 0.6),
        ]);
        let t = test_lack_of_fit(&r, 2).unwrap();
        assert!(
            (t.f - 50.0).abs() < 1e-9 && (t.dof_lack, t.dof_pure) == (2.0, 4.0),
            "{t:?}"
        );
        assert!((t.p_value - 26.0f64.powi(-2)).abs() < 1e-9, "{t:?}");
    }

    #[test]
    fn without_replicates_spare_clusters_or_disagreement_there_is_no_test() {
        assert!(test_lack_of_fit(&[], 2).is_none());
        assert!(test_lack_of_fit(&residuals(&[(0, 0.1), (1, 0.2), (2, 0.1)]), 2).is_none());
        assert!(test_lack_of_fit(&residuals(&[(0, 0.1), (1, 0.2), (1, 0.1)]), 2).is_none());
        assert!(
            test_lack_of_fit(&residuals(&[(0, 0.0), (1, 0.0), (2, 0.0), (2, 0.0)]), 2).is_none()
        );
    }
}
