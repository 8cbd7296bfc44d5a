//! The clock model's intervals, counted over simulated links.
//!
//! Truth is known by construction: a host clock, a drifting logger clock and random delays. There is
//! no outside library for a lower envelope with uncertainty; the envelope itself is compared with
//! scipy's linear programme in `tests/reference/apply_clock.py`.
#![allow(
    clippy::unwrap_used,
    reason = "a test fails by unwrapping, its helpers too"
)]

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Exp, LogNormal, Uniform};

use tipcurve::analysis::clock::{Link, fit_clock};
use tipcurve::estimate::Estimate;
use tipcurve_tests::check_file::CheckFile;

fn draw(rng: &mut ChaCha8Rng, kind: &str) -> f64 {
    match kind {
        "exponential" => Exp::new(500.0).unwrap().sample(rng),
        // A polled bus, with now and then a busy host.
        "polled" => {
            let poll: f64 = Uniform::new(0.0, 0.001).unwrap().sample(rng);
            let busy: f64 = Uniform::new(0.0, 1.0).unwrap().sample(rng);
            let tail: f64 = LogNormal::new(-4.5, 1.0).unwrap().sample(rng);
            if busy < 0.1 { poll + tail } else { poll }
        }
        other => panic!("{other}"),
    }
}

/// Shares of runs in which the intervals of the host time at begin, middle and end, and of the drift,
/// hold the truth.
fn coverage(kind: &str, n_frames: u32, n_runs: u32) -> [f64; 4] {
    let mut rng = ChaCha8Rng::seed_from_u64(77);
    let (offset, drift, least) = (1234.5, 3.0e-5, 0.0015);
    let link = Link {
        least_delay_s: Estimate::exact(least),
        resolution_s: 0.0,
    };
    let mut hits = [0.0; 4];
    for _ in 0..n_runs {
        let arrivals: Vec<(f64, f64)> = (0..n_frames)
            .map(|i| {
                let logger = 0.1 * f64::from(i);
                let delay = least + draw(&mut rng, kind);
                (logger, logger * (1.0 + drift) + offset + delay)
            })
            .collect();
        let model = fit_clock(&arrivals, &link).unwrap();
        assert!(model.jumps.is_empty());
        let end = 0.1 * f64::from(n_frames);
        for (hit, logger) in hits.iter_mut().zip([0.0, 0.5 * end, end]) {
            // By the line alone: both clocks run evenly here.
            let interval = model.segments[0].line_at(logger).interval_95();
            *hit += f64::from(u8::from(interval.contains(logger * (1.0 + drift) + offset)));
        }
        let found = model.segments[0].drift.interval_95();
        hits[3] += f64::from(u8::from(found.contains(drift)));
    }
    hits.map(|h| h / f64::from(n_runs))
}

/// Bounds: three binomial standard deviations of the number of runs about 95 %, and half a percent
/// for combining height and slope as if they were normal.
#[test]
fn clock_intervals_cover_the_truth() {
    for (kind, n_frames, n_runs) in [
        ("exponential", 40, 2000),
        ("exponential", 600, 2000),
        ("exponential", 6000, 400),
        ("polled", 600, 2000),
        ("polled", 6000, 400),
    ] {
        let shares = coverage(kind, n_frames, n_runs);
        println!("{kind}, {n_frames} frames: begin, middle, end, drift {shares:?}");
        let room = 3.0 * (0.95 * 0.05 / f64::from(n_runs)).sqrt() + 0.005;
        for share in shares {
            assert!(
                (share - 0.95).abs() <= room,
                "{kind}, {n_frames} frames: {shares:?}"
            );
        }
    }
}

/// The estimate sits below the linear programme's line by the bias of a least value, within its own
/// doubt, and never above it.
#[test]
fn the_envelope_agrees_with_a_linear_programme() {
    let file = CheckFile::read("reference_clock.csv");
    for case in ["0", "1", "2"] {
        let rows: Vec<_> = file.rows_where("case", case).collect();
        let arrivals: Vec<(f64, f64)> = rows
            .iter()
            .map(|r| (r.number("t_s"), r.number("t_s") + r.number("shift_s")))
            .collect();
        let link = Link {
            least_delay_s: Estimate::exact(0.0),
            resolution_s: 0.0,
        };
        let model = fit_clock(&arrivals, &link).unwrap();
        let mean_t = rows.iter().map(|r| r.number("t_s")).sum::<f64>() / rows.len() as f64;
        let found = model.segments[0].line_at(mean_t);
        let below = rows[0].number("height_s") - (found.value - mean_t);
        assert!(
            below > 0.0 && below < 2.5 * found.u_independent,
            "{case}: {below} {found:?}"
        );
        let drift = model.segments[0].drift;
        let off = drift.value - rows[0].number("slope");
        assert!(
            off.abs() < 2.0 * drift.u_independent,
            "{case}: {off} {drift:?}"
        );
    }
}
