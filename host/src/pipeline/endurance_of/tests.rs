use super::*;
use crate::analysis::answer::Answer;
use crate::energy_findings::{CompareRefusal, ComparedWhat, TipHeld};
use crate::pipeline::analyse;
use crate::simulate::scenario::{Scenario, lesson};
use crate::simulate::{performance::perform, to_recording};
use std::sync::OnceLock;

pub(crate) struct Lesson {
    scenarios: [Scenario; 2],
    pub(crate) findings: [Findings; 2],
}

/// The lesson's batteries, analysed once for all tests.
pub(crate) fn batteries() -> &'static Lesson {
    static LESSON: OnceLock<Lesson> = OnceLock::new();
    LESSON.get_or_init(|| {
        let scenarios = lesson::batteries(7);
        let findings = scenarios.each_ref().map(|s| analyse(to_recording(s).0));
        Lesson {
            scenarios,
            findings,
        }
    })
}

fn sound() -> Findings {
    batteries().findings[0].clone()
}

#[test]
fn charge_drawn_is_what_the_battery_lost() {
    for (scenario, findings) in batteries().scenarios.iter().zip(&batteries().findings) {
        let crate::simulate::rig::Supply::Battery { pack, charge_ratio } = &scenario.rig.supply
        else {
            panic!("a cordless pump")
        };
        let left = perform(scenario).battery_at_end.charge_ratio;
        let truth = (charge_ratio - left) * pack.capacity_a_s;
        let (drawn, unknown) = findings.energy.as_ref().unwrap().drawn.unwrap();
        assert!((drawn / truth - 1.0).abs() < 0.03, "{drawn} {truth}");
        assert!(unknown < 1.0);
    }
}

#[test]
fn the_sound_battery_has_supply_tips_efficiency_and_run_time() {
    let found = judge_endurance(&[sound()], &[], 0.5);
    let b = &found.first;
    assert!(b.energy.missing.is_empty(), "{:?}", b.energy.missing);
    let main = &b.energy.settings[b.main.unwrap()];
    assert_eq!((main.tip.as_str(), main.is_full), ("415", true));
    let efficiency = main.efficiency.as_ref().unwrap();
    assert!((0.2..0.95).contains(&efficiency.value), "{efficiency:?}");
    let held: Vec<&TipHeld> = b
        .tips
        .iter()
        .filter(|t| t.held.as_ref().is_ok_and(|p| p.answer == Answer::Yes))
        .collect();
    assert!(
        held.iter().any(|t| t.tip == "415" && t.is_measured),
        "{:?}",
        b.tips
    );
    assert!(held.iter().all(|t| t.tip != "521"));
    let time = b.run_times[b.main.unwrap()].run_time.as_ref().unwrap();
    let i = time.elapsed_s.interval_95;
    assert!(i.low > 60.0 && i.high < 3600.0 && i.low < time.elapsed_s.value);
    assert!((time.spraying_s.value - 0.5 * time.elapsed_s.value).abs() < 1e-9);
}

/// The truth is the simulated pump's own: it sprays with the same setting until the battery is flat.
#[test]
fn the_run_time_interval_holds_the_time_that_the_simulated_battery_lasts() {
    let found = judge_endurance(&[sound()], &[], 1.0);
    let b = &found.first;
    let time = b.run_times[b.main.unwrap()].run_time.as_ref().unwrap();
    let main = &b.energy.settings[b.main.unwrap()];
    let scenario = &batteries().scenarios[0];
    let crate::simulate::rig::Supply::Battery { pack, .. } = &scenario.rig.supply else {
        panic!("a cordless pump")
    };
    // Energy behind the terminals less what the resistance turns to heat at the mean current.
    let mean_a = main.electric_w.value / b.mean_v.unwrap().0.value;
    let loss_v = mean_a * (pack.resistance_ohm + pack.polarisation_ohm);
    let steps = 200;
    let mean_open_v = (0..steps)
        .map(|i| pack.open_circuit_v(0.1 + 0.9 * (f64::from(i) + 0.5) / f64::from(steps)))
        .sum::<f64>()
        / f64::from(steps);
    let truth_s = 0.9 * pack.capacity_a_s * (mean_open_v - loss_v) / main.electric_w.value;
    assert!(
        time.elapsed_s.interval_95.contains(truth_s),
        "{truth_s} {time:?}"
    );
}

#[test]
fn the_tired_battery_has_the_higher_resistance_and_the_shorter_run() {
    let [a, b] = batteries().findings.clone();
    let found = judge_endurance(&[a], &[b], 0.5);
    let (tip, _, lines) = found.comparison.unwrap().unwrap();
    assert_eq!(tip, "415");
    let line = |what| lines.iter().find(|l| l.what == what).unwrap();
    let resistance = line(ComparedWhat::Resistance);
    assert_eq!(resistance.change, Change::MovedUp);
    assert!(resistance.ratio.value > 1.4, "{resistance:?}");
    assert_eq!(line(ComparedWhat::RunTime).change, Change::MovedDown);
    assert!(line(ComparedWhat::Pressure).ratio.value < 1.02);
}

#[test]
fn a_battery_that_was_never_logged_is_said_to_be_so_and_gets_no_number() {
    let mut f = sound();
    f.energy = None;
    f.signal.slow.supply_a = crate::analysis::signal::Series::default();
    f.settings.limits.battery_v = None;
    let found = judge_endurance(&[f], &[], 0.5);
    let b = &found.first;
    for missing in [Missing::Voltage, Missing::Current, Missing::Battery] {
        assert!(b.energy.missing.contains(&missing), "{missing:?}");
    }
    assert!(b.run_times.is_empty() && b.charge.is_none() && b.main.is_none());
    assert!(b.supply.is_some(), "what the pump pushes is still known");
}

#[test]
fn a_voltage_without_a_current_names_the_current() {
    let mut recording = to_recording(&batteries().scenarios[0]).0;
    let crate::recording::Data::Device(log) = &mut recording.data else {
        panic!("a logger's recording")
    };
    log.slow.supply_a = crate::recording::SlowSeries::default();
    let found = judge_endurance(&[analyse(recording)], &[], 0.5);
    assert_eq!(found.first.energy.missing, [Missing::Current]);
    assert!(found.first.run_times.is_empty());
}

#[test]
fn two_rigs_are_not_compared_as_two_batteries() {
    let mut other = sound();
    other.settings.rig = Some("another pump".to_owned());
    let found = judge_endurance(&[sound()], &[other], 0.5);
    assert!(matches!(
        found.comparison,
        Some(Err(CompareRefusal::Rigs { .. }))
    ));
    let mut other = sound();
    for s in other.energy.iter_mut().flat_map(|e| &mut e.points) {
        s.tip = "209".to_owned();
    }
    let found = judge_endurance(&[sound()], &[other], 0.5);
    assert_eq!(found.comparison, Some(Err(CompareRefusal::NoCommonSetting)));
}

#[test]
fn charge_runs_on_from_one_recording_to_the_next() {
    let found = judge_endurance(&[sound(), sound()], &[], 0.5);
    let energy = &found.first.energy;
    let single = sound().energy.unwrap().drawn.unwrap().0;
    assert!((energy.drawn.unwrap().0 - 2.0 * single).abs() < 1e-6);
    let second = energy
        .points
        .iter()
        .find(|p| p.recording_index == 1)
        .unwrap();
    assert!(second.drawn_a_s >= single);
}

#[test]
fn only_a_pressure_that_falls_reaches_the_need_and_one_above_it_has_not() {
    let held = |from: f64, to: f64| {
        let points = [0.1, 0.3, 0.5, 0.7].map(|x| ChargePoint {
            used_ratio: x,
            value: Estimate::new(from + (to - from) * (x - 0.1) / 0.6, 0.5, 0.0),
        });
        fit_against_charge(&points).unwrap()
    };
    let word = |from, to| falls_to(&held(from, to), 100.0).unwrap();
    assert!(matches!(word(120.0, 80.0), ReachesLimit::At { .. }));
    for (from, to) in [(130.0, 125.0), (125.0, 130.0)] {
        let found = word(from, to);
        assert_eq!(found, ReachesLimit::NotWithin { used_ratio: 0.7 }, "{from}");
    }
    for (from, to) in [(90.0, 80.0), (80.0, 90.0)] {
        assert!(
            matches!(word(from, to), ReachesLimit::Already { .. }),
            "{from}"
        );
    }
    assert_eq!(word(90.0, 110.0), ReachesLimit::CannotTell);
}
