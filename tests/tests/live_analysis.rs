//! The page's analysis, fed as a recording grows, against the report's on the whole: same bursts, same means, same
//! words, and no more of the signal kept than it states.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use tipcurve::analysis::signal::FlowSignal;
use tipcurve::live::bench::Recent;
use tipcurve::live::points::Points;
use tipcurve::pipeline::analyse;
use tipcurve::recording::Recording;
use tipcurve::simulate::record::to_recording;
use tipcurve::simulate::scenario::{Logging, TrialKind, trial};

/// How often the page looks for finished bursts, s.
const LOOK_S: f64 = 0.5;
/// Longest stretch of signal that may be kept, s: a pull of 180 s and a quarter more.
const MOST_KEPT_S: f64 = 226.0;

fn recording(kind: TrialKind, seed: u64) -> Recording {
    let mut scenario = trial(kind, seed);
    scenario.logging = Logging::Device {
        sample_rate_hz: 500,
    };
    to_recording(&scenario).0
}

#[track_caller]
fn check(recording: &Recording) {
    let whole = analyse(recording.clone());
    let FlowSignal::Edges { t_s: edges_s, .. } = &whole.signal.flow else {
        panic!("a device sends edges");
    };
    let mut points = Points::new(recording.name.clone(), recording.settings.clone());
    points.set_start(recording.started_unix_s());
    let mut recent = Recent::default();
    let (mut next_edge, mut look_at_s, mut n_looks, mut most_kept_s) = (0, 0.0, 0, 0.0_f64);
    for (t_s, pressure_pa) in whole.signal.t_s.iter().zip(&whole.signal.pressure_pa) {
        while edges_s.get(next_edge).is_some_and(|e| e <= t_s) {
            recent.add_edge(edges_s[next_edge]);
            next_edge += 1;
        }
        recent.add_pressure(*t_s, *pressure_pa);
        if *t_s >= look_at_s {
            look_at_s = t_s + LOOK_S;
            points.harvest(&mut recent);
            n_looks += 1;
            if n_looks % 20 == 0 {
                let kept = recent.signal(whole.signal.flow_meter, whole.signal.pressure_sensor);
                most_kept_s = most_kept_s.max(t_s - kept.t_s[0]);
            }
        }
    }
    assert!(most_kept_s < MOST_KEPT_S, "{most_kept_s} s kept");
    points.set_notes(recording.notes.clone());
    let live = points.conclude();

    assert_eq!(live.bursts.len(), whole.bursts.len(), "{}", recording.name);
    for (view, found) in live.bursts.iter().zip(&whole.bursts) {
        assert!((view.from_s - found.burst.start_s).abs() < 0.05);
        assert!((view.to_s - found.burst.end_s).abs() < 0.05);
        let Some((p, q)) = view.pressure_pa.zip(view.flow_m3_per_s) else {
            continue;
        };
        let (p_whole, q_whole) = (
            found.steady.pressure_pa.unwrap().value,
            found.steady.flow_m3_per_s.unwrap().value,
        );
        // The zero behind the trial is not known yet: the page has the one before it alone.
        assert!(
            (p - p_whole).abs() < 0.5e5 + 0.002 * p_whole,
            "{p} {p_whole}"
        );
        assert!((q / q_whole - 1.0).abs() < 0.003, "{q} {q_whole}");
        assert_eq!(view.tails, found.tails);
    }
    let n_curves = whole.groups.iter().filter(|g| g.curve.is_ok()).count();
    assert_eq!(live.curves.len(), n_curves);
}

#[test]
fn a_growing_recording_comes_to_what_the_whole_one_says() {
    check(&recording(TrialKind::HealthyWindow, 3));
    check(&recording(TrialKind::SupplyLimitPower, 5));
    check(&recording(TrialKind::RestrictionTip, 2));
}
