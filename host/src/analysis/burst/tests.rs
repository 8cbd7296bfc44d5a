use super::*;
use crate::analysis::signal::FlowSignal;

/// Stalled at 100 bar, spraying at `spray_bar` with 3 Hz ripple, 100 Hz, edges every
/// `interval_s` seconds from the first pulse after opening.
fn rig(pulls: &[(f64, f64)], spray_bar: f64, interval_s: f64) -> Signal {
    let t_s: Vec<f64> = (0..3000).map(|i| f64::from(i) * 0.01).collect();
    let is_open = |t: f64| pulls.iter().any(|(a, b)| t >= *a && t < *b);
    let pressure_pa = t_s
        .iter()
        .enumerate()
        .map(|(i, t)| {
            let noise = 0.02 * f64::from(u32::try_from(i * 7919 % 13).unwrap()) - 0.12;
            let bar = if *t < 1.0 {
                0.0
            } else if is_open(*t) {
                spray_bar + 3.0 * (18.85 * t).sin()
            } else {
                100.0
            };
            (bar + noise) * 1e5
        })
        .collect();
    let mut edge_t_s = vec![1.0, 1.05];
    for (a, b) in pulls {
        let mut t = a + 0.7 * interval_s;
        while t < *b {
            edge_t_s.push(t);
            t += interval_s;
        }
    }
    Signal {
        t_s,
        pressure_pa,
        flow: FlowSignal::Edges {
            u_t_s: vec![1e-6; edge_t_s.len()],
            t_s: edge_t_s,
        },
        ..Signal::default()
    }
}

#[track_caller]
fn check(signal: &Signal, expected: &[(f64, f64)]) {
    let found = detect_bursts(signal);
    assert_eq!(found.len(), expected.len(), "{found:?}");
    for (f, (a, b)) in found.iter().zip(expected) {
        assert!((f.start_s - a).abs() < 0.05, "start {} for {a}", f.start_s);
        assert!((f.end_s - b).abs() < 0.05, "end {} for {b}", f.end_s);
    }
}

#[test]
fn a_fast_meter_and_deep_drops_give_the_pulls() {
    let pulls = [(5.0, 9.0), (12.0, 15.0)];
    check(&rig(&pulls, 80.0, 0.02), &pulls);
}

#[test]
fn a_slow_meter_does_not_delay_the_start() {
    let pulls = [(5.0, 11.0), (15.0, 22.0)];
    check(&rig(&pulls, 92.0, 0.5), &pulls);
}

#[test]
fn a_pause_shorter_than_a_slow_meters_pulse_still_parts_two_pulls() {
    let pulls = [(5.0, 9.0), (9.8, 14.0)];
    check(&rig(&pulls, 80.0, 0.8), &pulls);
}

#[test]
fn pulls_too_short_for_an_edge_are_found_by_pressure() {
    let pulls = [(5.0, 5.5), (6.2, 6.7), (7.4, 7.9)];
    check(&rig(&pulls, 80.0, 2.0), &pulls);
}

#[test]
fn filling_the_line_is_no_burst() {
    check(&rig(&[], 80.0, 0.02), &[]);
}

#[test]
fn a_stuck_sensor_leaves_the_edges() {
    let mut signal = rig(&[(5.0, 9.0)], 80.0, 0.02);
    signal.pressure_pa.fill(50e5);
    let found = detect_bursts(&signal);
    // The fill is no longer told apart, the burst is there.
    assert!(
        found
            .iter()
            .any(|b| (b.start_s - 5.0).abs() < 0.05 && (b.end_s - 9.0).abs() < 0.05)
    );
}

/// Pressure of a signal bent by `shape`, bar at a time, wherever that gives one.
fn bend(signal: &mut Signal, shape: impl Fn(f64) -> Option<f64>) {
    for (t, p) in signal.t_s.iter().zip(&mut signal.pressure_pa) {
        if let Some(bar) = shape(*t) {
            *p = bar * 1e5;
        }
    }
}

/// The hose's stored volume sprays first and a starved pump takes over later: the meter stands still meanwhile.
#[test]
fn a_starved_pump_whose_meter_stands_still_gives_one_pull() {
    let mut signal = rig(&[(5.0, 11.0)], 40.0, 0.02);
    if let FlowSignal::Edges { t_s, u_t_s } = &mut signal.flow {
        t_s.retain(|t| !(5.16..5.7).contains(t));
        u_t_s.truncate(t_s.len());
    }
    bend(&mut signal, |t| {
        (5.0..6.0)
            .contains(&t)
            .then(|| 40.0 + 60.0 * (-(t - 5.0) / 0.25).exp())
    });
    let found = detect_bursts(&signal);
    assert_eq!(found.len(), 1, "{found:?}");
    // No edge of pressure marks the opening: it bends.
    assert!((found[0].start_s - 5.0).abs() < 0.2 && (found[0].end_s - 11.0).abs() < 0.05);
}

/// A weak pump has not brought the line back when the next pull comes: still two pulls, for it was rising.
#[test]
fn a_line_that_comes_back_slowly_parts_two_pulls() {
    let mut signal = rig(&[(5.0, 9.0), (9.8, 14.0)], 60.0, 0.02);
    bend(&mut signal, |t| {
        (9.0..9.8)
            .contains(&t)
            .then(|| 60.0 + 40.0 * (1.0 - (-(t - 9.0) / 1.2).exp()))
    });
    assert_eq!(detect_bursts(&signal).len(), 2);
}

/// A control with a dead band brings the line back to less than it stood at before: the line stands between the pulls.
#[test]
fn a_line_that_comes_back_to_less_parts_two_pulls() {
    let mut signal = rig(&[(5.0, 9.0), (9.8, 14.0)], 60.0, 0.02);
    bend(&mut signal, |t| (9.0..9.8).contains(&t).then_some(80.0));
    assert_eq!(detect_bursts(&signal).len(), 2);
}

#[test]
fn nothing_gives_nothing() {
    assert!(detect_bursts(&Signal::default()).is_empty());
}
