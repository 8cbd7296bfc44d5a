use super::*;
use crate::analysis::signal::PressureSensor;

fn noisy(bar: impl Fn(f64) -> f64) -> Signal {
    let t_s: Vec<f64> = (0..4000).map(|i| f64::from(i) * 0.01).collect();
    let pressure_pa = t_s
        .iter()
        .enumerate()
        .map(|(i, t)| (bar(*t) + 0.01 * f64::from(u32::try_from(i * 7919 % 13).unwrap())) * 1e5)
        .collect();
    Signal {
        t_s,
        pressure_pa,
        pressure_sensor: PressureSensor {
            full_scale_pa: Some(250e5),
            u_zero_pa: 1e5,
            ..PressureSensor::default()
        },
        ..Signal::default()
    }
}

const BURST: Burst = Burst {
    start_s: 10.0,
    end_s: 15.0,
    u_time_s: 0.01,
};

fn kinds(signal: &Signal) -> Vec<DefectKind> {
    let zero = read_zero(signal);
    let mut kinds: Vec<DefectKind> = find_defects(signal, &[BURST], &zero)
        .iter()
        .map(|d| d.kind)
        .filter(|k| *k != DefectKind::NominalMeter)
        .collect();
    kinds.dedup();
    kinds
}

fn trial(t: f64) -> f64 {
    match t {
        t if !(3.0..38.0).contains(&t) => 0.7,
        t if (10.0..15.0).contains(&t) => 80.0 + (19.0 * t).sin(),
        _ => 100.0,
    }
}

#[test]
fn a_sound_recording_has_no_defect_and_its_zero_is_the_relieved_reading() {
    let signal = noisy(trial);
    assert_eq!(kinds(&signal), vec![]);
    let zero = read_zero(&signal).zero_pa;
    assert!((zero.value - 0.76e5).abs() < 0.03e5, "{zero:?}");
    assert!(zero.u_common < 0.1e5);
}

#[test]
fn psi_in_a_column_of_bar_lie_beyond_the_sensor_and_a_sound_rig_does_not() {
    let psi = noisy(|t| 14.5 * trial(t));
    assert!(kinds(&psi).contains(&DefectKind::PressureBeyondSensor));
    // Of a sensor without a stated range, only what no rig makes is told.
    let bare = |factor: f64| {
        let mut signal = noisy(|t| factor * trial(t));
        signal.pressure_sensor.full_scale_pa = None;
        kinds(&signal)
    };
    assert!(bare(14.5).contains(&DefectKind::PressureBeyondSensor));
    assert!(!bare(9.0).contains(&DefectKind::PressureBeyondSensor));
    // An overload, and a spike in a thousand.
    assert!(!kinds(&noisy(|t| 3.5 * trial(t))).contains(&DefectKind::PressureBeyondSensor));
    let mut spiked = noisy(trial);
    for p in spiked.pressure_pa.iter_mut().step_by(1000) {
        *p *= 100.0;
    }
    assert!(!kinds(&spiked).contains(&DefectKind::PressureBeyondSensor));
}

#[test]
fn a_clipped_sensor_is_saturated() {
    let mut signal = noisy(trial);
    for p in &mut signal.pressure_pa {
        *p = p.min(70e5);
    }
    assert_eq!(kinds(&signal), vec![DefectKind::PressureSaturated]);
}

#[test]
fn a_frozen_reading_across_a_trigger_pull_is_stuck() {
    let mut signal = noisy(trial);
    for (t, p) in signal.t_s.iter().zip(&mut signal.pressure_pa) {
        if (8.0..30.0).contains(t) {
            *p = 99.9e5;
        }
    }
    assert!(kinds(&signal).contains(&DefectKind::PressureStuck));
}

#[test]
fn a_moved_zero_is_reported_and_widens_the_zero() {
    let signal = noisy(|t| if t > 38.0 { 3.7 } else { trial(t) });
    assert_eq!(kinds(&signal), vec![DefectKind::ZeroDrift]);
    assert!(read_zero(&signal).zero_pa.u_common > 0.8e5);
}

#[test]
fn a_recording_that_never_was_relieved_says_so() {
    let signal = noisy(|t| trial(t).max(60.0));
    assert_eq!(kinds(&signal), vec![DefectKind::ZeroUnknown]);
    assert_eq!(read_zero(&signal).zero_pa.u_common, 1e5);
}
