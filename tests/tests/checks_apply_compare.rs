//! How often the words of a comparison are wrong, counted over simulated days.
#![allow(
    clippy::unwrap_used,
    reason = "a test fails by unwrapping, its helpers too"
)]

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use tipcurve::analysis::answer::Change;
use tipcurve::analysis::compare::{Calibration, CurveComparison, Margins, compare_curves};
use tipcurve::analysis::nozzle_curve::{CurveForm, NozzleCurve, PowerLaw};
use tipcurve::estimate::{Estimate, Interval};

const RUNS: u32 = 2000;

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// One day's curve of a tip: independent noise of its own, calibration as handed in.
fn day(rng: &mut ChaCha8Rng, q_true: f64, n_true: f64, calibration: f64, u: f64) -> NozzleCurve {
    let q = q_true * (1.0 + u * normal(rng) + calibration);
    NozzleCurve {
        points: vec![],
        outliers: vec![],
        power_law: PowerLaw {
            p_ref_pa: 9.0e6,
            q_ref_m3_per_s: Estimate::new(q, u * q, 0.02 * q),
            n: Estimate::new(n_true + 2.0 * u * normal(rng), 2.0 * u, 0.0),
            cov_ln_q_ref_n: 0.0,
            cov_ln_q_ref_n_common: 0.0,
            burst_scatter_ratio: 0.01,
            reduced_chi_square: 1.0,
        },
        two_term: None,
        preferred: CurveForm::PowerLaw,
        delta_aicc: None,
        forms_disagree: false,
        lack_of_fit: None,
        residual_lag_1: None,
        distinct_pa: vec![],
        range_pa: Interval {
            low: 5.0e6,
            high: 1.6e7,
        },
    }
}

/// Shares over the runs: interval holds the true ratio, moved, did not move.
fn shares(true_ratio: f64, u: f64, calibration: Calibration) -> [f64; 3] {
    let mut rng = ChaCha8Rng::seed_from_u64(99);
    let mut counts = [0u32; 3];
    for _ in 0..RUNS {
        let first = 0.02 * normal(&mut rng);
        let second = match calibration {
            Calibration::Shared => first,
            _ => 0.02 * normal(&mut rng),
        };
        let before = day(&mut rng, 1.0e-5, 0.56, first, u);
        let after = day(&mut rng, 1.0e-5 * true_ratio, 0.56, second, u);
        let found: CurveComparison =
            compare_curves(&before, &after, calibration, &Margins::default()).unwrap();
        counts[0] += u32::from(found.flow.ratio.interval_95.contains(true_ratio));
        counts[1] += u32::from(found.flow.change.has_moved());
        counts[2] += u32::from(found.flow.change == Change::DidNotMove);
    }
    counts.map(|c| f64::from(c) / f64::from(RUNS))
}

/// Bounds: 95 % within three binomial standard deviations (0.5 % each); "moved" of a curve that did not
/// move at most 5 %, "did not move" of one that moved by the margin at most 5 %, each plus three
/// standard deviations.
#[test]
fn intervals_cover_and_wrong_words_are_rare() {
    let room = 0.015;
    for (u, calibration) in [
        (0.005, Calibration::Shared),
        (0.02, Calibration::Shared),
        (0.005, Calibration::Separate),
    ] {
        for true_ratio in [0.80, 0.952, 1.0, 1.05, 1.25] {
            let [covers, moved, stayed] = shares(true_ratio, u, calibration);
            println!("{calibration:?} u {u} ratio {true_ratio}: {covers} {moved} {stayed}");
            assert!(
                (covers - 0.95).abs() <= room,
                "{calibration:?} {u} {true_ratio}: {covers}"
            );
            if true_ratio == 1.0 {
                assert!(moved <= 0.05 + room, "{calibration:?} {u}: {moved} moved");
            } else {
                // 0.952 and 1.05 lie at the margin itself.
                assert!(
                    stayed <= 0.05 + room,
                    "{calibration:?} {u} {true_ratio}: {stayed} stayed"
                );
            }
        }
    }
    // And with a good meter the right words are said, not only the wrong ones avoided.
    assert!(shares(1.0, 0.005, Calibration::Shared)[2] > 0.95);
    assert!(shares(0.80, 0.005, Calibration::Shared)[1] > 0.99);
}
