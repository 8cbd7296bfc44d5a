//! Mean, standard deviation and lag-1 autocorrelation of a sequence.
//!
//! In: finite numbers in their order. Out: `None` where the quantity does not exist. The mean is taken twice, the
//! second time of the distances from the first, so that a large offset costs no digits; the others are sums about it.
//! Checked against certified values (NIST StRD) in `tests/tests/checks_fit_moments.rs`.

/// Arithmetic mean; `None` for an empty sequence.
#[must_use]
pub fn mean(values: &[f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let n = values.len() as f64;
    let first = values.iter().sum::<f64>() / n;
    let correction = values.iter().map(|v| v - first).sum::<f64>() / n;
    Some(first + correction)
}

/// Standard deviation with `n - 1` in the denominator; `None` below two values.
#[must_use]
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let (distances, squares) = distances(values)?;
    Some((squares / (distances.len() as f64 - 1.0)).sqrt())
}

/// Lag-1 autocorrelation: products of neighbours' distances from the mean over their sum of squares.
///
/// `None` below two values, and when all are equal. *Source*: NIST/SEMATECH e-Handbook, 1.3.5.12.
#[must_use]
pub fn lag_1_autocorrelation(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let (distances, squares) = distances(values)?;
    let products: f64 = distances.windows(2).map(|w| w[0] * w[1]).sum();
    (squares > 0.0).then_some(products / squares)
}

/// Distances from the mean and their sum of squares.
fn distances(values: &[f64]) -> Option<(Vec<f64>, f64)> {
    let mean = mean(values)?;
    let distances: Vec<f64> = values.iter().map(|v| v - mean).collect();
    let squares = distances.iter().map(|d| d * d).sum();
    Some((distances, squares))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_sequences_by_hand() {
        assert_eq!(mean(&[1.0, 2.0, 6.0]), Some(3.0));
        assert_eq!(standard_deviation(&[1.0, 2.0, 6.0]), Some(7f64.sqrt()));
        let r1 = lag_1_autocorrelation(&[1.0, 2.0, 6.0]).unwrap();
        assert!((r1 - (2.0 - 3.0) / 14.0).abs() < 1e-15);
    }

    #[test]
    fn what_does_not_exist_is_none() {
        assert_eq!(mean(&[]), None);
        assert_eq!(standard_deviation(&[5.0]), None);
        assert_eq!(lag_1_autocorrelation(&[5.0]), None);
        assert_eq!(lag_1_autocorrelation(&[5.0, 5.0]), None);
    }
}
