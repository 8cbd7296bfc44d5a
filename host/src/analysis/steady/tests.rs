use super::*;
use crate::analysis::signal::FlowMeter;

/// 60 bar with ripple after a first-order opening transient, 20 edges a second of 1 mL each.
fn signal(drift_ratio: f64) -> (Signal, Burst) {
    let t_s: Vec<f64> = (0..1200).map(|i| f64::from(i) * 0.01).collect();
    let pressure_pa = t_s
        .iter()
        .map(|t| {
            if *t < 2.0 || *t > 10.0 {
                return 70.5e5;
            }
            let since = t - 2.0;
            let opening = 10.0 * (-since / 0.1).exp();
            (60.5 + opening + 60.0 * drift_ratio * (since - 4.0) / 8.0 + (19.0 * t).sin()) * 1e5
        })
        .collect();
    let edges: Vec<f64> = (0..160).map(|i| 2.01 + f64::from(i) * 0.05).collect();
    let signal = Signal {
        t_s,
        pressure_pa,
        flow: FlowSignal::Edges {
            u_t_s: vec![1e-6; edges.len()],
            t_s: edges,
        },
        flow_meter: FlowMeter {
            pulse_volume_m3: 1e-6,
            ..FlowMeter::default()
        },
        ..Signal::default()
    };
    let burst = Burst {
        start_s: 2.0,
        end_s: 10.0,
        u_time_s: 0.01,
    };
    (signal, burst)
}

#[test]
fn steady_means_are_right_within_their_uncertainty_and_the_zero_is_taken_off() {
    let (signal, burst) = signal(0.0);
    let m = measure_burst(&signal, &burst, 0.5e5);
    let p = m.pressure_pa.unwrap();
    assert!((p.value - 60e5).abs() < 0.05e5, "{p:?}");
    assert!(p.u_independent < 0.1e5);
    let q = m.flow_m3_per_s.unwrap();
    assert!(
        (q.value - 20e-6).abs() < 1e-9 && q.u_independent < 1e-9,
        "{q:?}"
    );
    assert!((m.sag_ratio.unwrap() - (1.0 - 60.0 / 70.0)).abs() < 2e-3);
    assert!((m.stroke_rate_hz.unwrap() - 19.0 / std::f64::consts::TAU).abs() < 0.05);
    assert_eq!(m.exclusion, None);
}

#[test]
fn a_burst_that_drifts_to_its_end_is_kept_in_the_list_and_out_of_the_fit() {
    let (signal, burst) = signal(0.9);
    assert!(matches!(
        measure_burst(&signal, &burst, 0.0).exclusion,
        Some(Exclusion::NotSteady { .. })
    ));
}

#[test]
fn a_short_pull_is_too_short() {
    let (signal, mut burst) = signal(0.0);
    burst.end_s = 2.6;
    assert!(matches!(
        measure_burst(&signal, &burst, 0.0).exclusion,
        Some(Exclusion::TooShort { .. })
    ));
}

#[test]
fn no_flow_at_all_names_the_missing_edges() {
    let (mut signal, burst) = signal(0.0);
    signal.flow = FlowSignal::default();
    assert_eq!(
        measure_burst(&signal, &burst, 0.0).exclusion,
        Some(Exclusion::TooFewEdges { n_edges: 0 })
    );
}

#[test]
fn row_counts_widen_the_uncertainty_of_the_flow() {
    let t: Vec<f64> = (0..5).map(|i| f64::from(i) * 1.0).collect();
    let exact = edge_mean(&t, &[1e-6; 5], 1e-6).unwrap().flow_m3_per_s;
    let coarse = edge_mean(&t, &[0.006; 5], 1e-6).unwrap().flow_m3_per_s;
    assert!((coarse.u_independent / coarse.value - 0.006 * 2f64.sqrt() / 4.0).abs() < 1e-9);
    assert!(exact.u_independent < coarse.u_independent / 100.0);
}
