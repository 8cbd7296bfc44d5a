//! Any numbers into the calibrations: a typed refusal, or numbers that are finite.

use tipcurve::analysis::calibration::k_factor::{CatchConditions, TimedCatch, fit_k_factor};
use tipcurve::analysis::calibration::pressure::{SpanPoint, ZeroReading, find_zero, fit_span};
use tipcurve::estimate::Estimate;

/// Numbers of the text, in order; words that are none are passed over.
fn numbers(data: &[u8]) -> Vec<f64> {
    let text = String::from_utf8_lossy(data);
    text.split_whitespace()
        .filter_map(|word| word.parse().ok())
        .collect()
}

/// Numbers as a person could enter them for both calibrations.
pub fn check_calibration(data: &[u8]) {
    let all = numbers(data);
    let Some((&[density, u_density, u_scale], rest)) = all.split_first_chunk::<3>() else {
        return;
    };
    check_k_factor(density, u_density, u_scale, rest);
    check_pressure(&all);
}

fn check_k_factor(density: f64, u_density: f64, u_scale_ratio: f64, rest: &[f64]) {
    let catches: Vec<TimedCatch> = rest
        .as_chunks::<5>()
        .0
        .iter()
        .map(
            |&[caught_kg, u_caught_kg, duration_s, u_duration_s, n_edges]| TimedCatch {
                caught_kg,
                u_caught_kg,
                duration_s,
                u_duration_s,
                n_edges: format!("{n_edges:.0}").parse().unwrap_or(0),
            },
        )
        .collect();
    let conditions = CatchConditions {
        density_kg_per_m3: Estimate::new(density, 0.0, u_density),
        u_scale_ratio,
    };
    let Ok(k_factor) = fit_k_factor(&catches, &conditions) else {
        return;
    };
    let (low_hz, high_hz) = k_factor.range_hz;
    assert!(low_hz.is_finite() && high_hz.is_finite(), "{k_factor:?}");
    for frequency_hz in [low_hz, high_hz] {
        if let Ok(at) = k_factor.at(frequency_hz) {
            check_estimate(&at);
        }
    }
}

fn check_pressure(all: &[f64]) {
    let Some((
        &[
            indicated_pa,
            u_indicated_pa,
            full_scale_pa,
            u_reference_ratio,
        ],
        rest,
    )) = all.split_first_chunk::<4>()
    else {
        return;
    };
    let before = ZeroReading {
        indicated_pa,
        u_indicated_pa,
    };
    let Ok(zero) = find_zero(before, None) else {
        return;
    };
    let points: Vec<SpanPoint> = rest
        .as_chunks::<4>()
        .0
        .iter()
        .map(
            |&[indicated_pa, u_indicated_pa, reference_pa, u_reference_pa]| SpanPoint {
                indicated_pa,
                u_indicated_pa,
                reference_pa,
                u_reference_pa,
            },
        )
        .collect();
    if let Ok(span) = fit_span(zero, &points, u_reference_ratio, full_scale_pa) {
        check_estimate(&span.gain);
        assert!(span.greatest_residual_pa.is_finite(), "{span:?}");
    }
}

fn check_estimate(estimate: &Estimate) {
    assert!(
        estimate.value.is_finite() && !estimate.u_combined().is_nan(),
        "{estimate:?}"
    );
}
