//! Repeatability and reproducibility of simulated classes: how often the intervals hold the truth.
#![allow(
    clippy::unwrap_used,
    reason = "a test fails by unwrapping, its helpers too"
)]

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use tipcurve::analysis::class::{Entry, Scale, score_class};

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// One class: students at benches, four bursts each, unequal where `is_unequal`.
fn class(rng: &mut ChaCha8Rng, n_students: usize, sds: [f64; 3], is_unequal: bool) -> Vec<Entry> {
    let [sd_student, sd_bench, sd_burst] = sds;
    let benches: Vec<f64> = (0..6).map(|_| sd_bench * normal(rng)).collect();
    (0..n_students)
        .map(|i| {
            let (bench, own) = (i % 6, sd_student * normal(rng));
            let n_bursts = if is_unequal { 2 + i % 4 } else { 4 };
            Entry {
                student: format!("student {i}"),
                roster_id: None,
                bench: (sd_bench > 0.0).then(|| format!("bench {bench}")),
                recording: format!("recording {i}"),
                deviations: (0..n_bursts)
                    .map(|_| own + benches[bench] + sd_burst * normal(rng))
                    .collect(),
            }
        })
        .collect()
}

/// 600 classes a case; three binomial standard deviations are 2.7 %. The repeatability's interval is
/// exact for one factor; the reproducibility's is Satterthwaite's approximation, which the literature
/// finds a little short where one small component dominates, so its lower bound is 90 %.
#[test]
fn repeatability_and_reproducibility_cover_the_truth() {
    let mut rng = ChaCha8Rng::seed_from_u64(2718);
    for (name, n_students, sds, is_unequal) in [
        ("students only", 12, [0.02, 0.0, 0.01], false),
        ("students only, unequal", 12, [0.02, 0.0, 0.01], true),
        ("students hardly differ", 12, [0.004, 0.0, 0.01], false),
        ("students and benches", 18, [0.02, 0.01, 0.01], true),
    ] {
        let (mut repeatability, mut reproducibility) = (0.0, 0.0);
        let n_runs = 600;
        let truth = sds.iter().map(|sd: &f64| sd * sd).sum::<f64>().sqrt();
        for _ in 0..n_runs {
            let entries = class(&mut rng, n_students, sds, is_unequal);
            let found = score_class(&entries, 0.0, Scale::Class)
                .unwrap()
                .precision
                .unwrap();
            assert_eq!(found.bench_sd.is_some(), sds[1] > 0.0);
            let holds = |interval: tipcurve::estimate::Interval, truth: f64| {
                f64::from(u8::from(interval.contains(truth)))
            };
            repeatability += holds(found.repeatability_sd.interval_95, sds[2]);
            reproducibility += holds(found.reproducibility_sd.interval_95, truth);
        }
        let shares = [repeatability, reproducibility].map(|c| c / f64::from(n_runs));
        println!(
            "{name}: repeatability {}, reproducibility {}",
            shares[0], shares[1]
        );
        assert!((shares[0] - 0.95).abs() <= 0.027, "{name}: {shares:?}");
        assert!((0.90..=0.98).contains(&shares[1]), "{name}: {shares:?}");
    }
}
