//! An hour of recording in virtual time, and a whole day of it: nothing grows, no sample goes astray, no clock drifts.
//!
//! The day, with its figures:
//!
//! ```text
//! cargo test --release --no-default-features -p tipcurve-tests --test soak -- --ignored --nocapture
//! ```
#![allow(clippy::unwrap_used, clippy::print_stdout)] // Unwrapping is how a test fails.

use tipcurve::analysis::clock::{ClockModel, Link, fit_clock};
use tipcurve::recording::load::load;
use tipcurve::recording::{Data, DeviceLog, folder};
use tipcurve_tests::scratch::Scratch;
use tipcurve_tests::soak::{BEGAN_UNIX_S, DEVICE_FAST, SAMPLE_RATE_HZ, Soaked, soak};

/// Numbers of the recent signal that may be kept: 225 s of samples, edges and slow readings.
const MOST_RECENT: usize = 225 * (SAMPLE_RATE_HZ as usize + 60 + 5);

/// Memory that the live side may gain between the two looks, KiB. Bursts are kept, and they are few.
const MOST_GAINED_KIB: u64 = 24 * 1024;

/// Uncertainties that an error may come to: 99.9 % of the clock model's distribution (t with 16 degrees of freedom).
const K: f64 = 4.0;

/// How much later the quickest frame may come at the end than at the beginning, s: as numbers and ticks grow, a frame
/// gets up to four bytes longer, and the clock model's drift takes that for the clock's.
const FRAMES_GROW_S: f64 = 4.0 / 11_520.0;

fn check(name: &str, hours: f64, looks_h: [f64; 2]) {
    let scratch = Scratch::new(name);
    scratch.write(folder::NOTES, "time\n");
    scratch.write(folder::SESSION, "");
    let soaked = soak(scratch.path(), hours, &looks_h);
    println!("{soaked:#?}");
    check_memory(&soaked);
    let recording = load(scratch.path()).unwrap();
    assert!(recording.defects.is_empty(), "{:?}", recording.defects);
    let Data::Device(log) = &recording.data else {
        panic!("a log must load as one");
    };
    check_samples(&soaked, log, hours);
    check_clock(log, hours);
}

fn check_memory(soaked: &Soaked) {
    for held in &soaked.held {
        assert!(held.most_recent <= MOST_RECENT, "{held:?}");
        assert!(held.trace_bins <= 6_000, "{held:?}");
    }
    let [early, late] = soaked.held[..] else {
        panic!("two looks");
    };
    assert!(late.bursts > 2 * early.bursts, "{early:?} {late:?}");
    if let (Some(early_kib), Some(late_kib)) = (early.peak_rss_kib, late.peak_rss_kib) {
        println!("peak {early_kib} KiB, then {late_kib} KiB");
        assert!(late_kib - early_kib < MOST_GAINED_KIB, "{early:?} {late:?}");
    }
}

/// Samples times period is device time, on the line, in the recorder's counts and in the log.
fn check_samples(soaked: &Soaked, log: &DeviceLog, hours: f64) {
    let taken = usize::try_from(soaked.samples_taken).unwrap();
    assert_eq!(soaked.counts.samples, soaked.samples_taken);
    assert_eq!(
        (soaked.counts.samples_lost, soaked.counts.edges_lost),
        (0, 0)
    );
    assert_eq!((soaked.counts.damaged, soaked.counts.restarts), (0, 0));
    assert_eq!(log.t_s.len(), taken);
    assert_eq!(log.edge_t_s.len() as u64, soaked.edges);
    let period_s = f64::from(soaked.period_ticks) * 1.0e-6;
    let t_s = log.t_s.to_vec();
    let span_s = t_s[taken - 1] - t_s[0] + period_s;
    assert!(
        (taken as f64 * period_s - span_s).abs() < 1.0e-6,
        "{span_s}"
    );
    assert!((span_s - hours * 3600.0).abs() < 1.0e-6, "{span_s}");
    let uneven = t_s
        .windows(2)
        .find(|w| ((w[1] - w[0]) - period_s).abs() > 1.0e-9);
    assert_eq!(uneven, None);
}

/// Host time by the clock model against true time: no further off at either end than in the middle, by more than the
/// model itself says and the frames' growth explains.
fn check_clock(log: &DeviceLog, hours: f64) {
    let model = fit_clock(&log.arrivals, &Link::default()).unwrap();
    assert!(model.jumps.is_empty(), "{:?}", model.jumps);
    assert_eq!(model.segments.len(), 1);
    let drift = model.segments[0].drift;
    let true_drift = 1.0 / (1.0 + DEVICE_FAST) - 1.0;
    println!("drift {drift:?}, true {true_drift}");
    let allowed = K * drift.u_independent + FRAMES_GROW_S / (hours * 3600.0);
    assert!((drift.value - true_drift).abs() < allowed);
    let (middle, u_middle) = error_s(&model, log, hours * 1800.0);
    for t_s in [0.0, hours * 900.0, hours * 2700.0, hours * 3600.0] {
        let (error, u) = error_s(&model, log, t_s);
        println!("at {t_s} s: {error} s, u {u} s");
        let allowed_s = K * u.hypot(u_middle) + FRAMES_GROW_S;
        assert!((error - middle).abs() < allowed_s, "at {t_s} s");
        // Not known of any link: how long its quickest frame takes.
        assert!(error.abs() < 0.02, "at {t_s} s: {error} s");
    }
}

/// Host time of a logger time minus the true one, s, with the independent part of its uncertainty.
fn error_s(model: &ClockModel, log: &DeviceLog, t_s: f64) -> (f64, f64) {
    // By the line alone: the emulated crystal has no temperature.
    let host = model.segments[0].line_at(t_s);
    let true_s = BEGAN_UNIX_S + t_s / (1.0 + DEVICE_FAST) - log.host_epoch_unix_s;
    (host.value - true_s, host.u_independent)
}

#[test]
fn an_hour_keeps_its_samples_its_time_and_its_memory() {
    check("soak-hour", 1.0, [0.25, 1.0]);
}

#[test]
#[ignore = "a day of recording takes minutes; see the command above"]
fn a_day_keeps_its_samples_its_time_and_its_memory() {
    check("soak-day", 24.0, [1.0, 24.0]);
}
