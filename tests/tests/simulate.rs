//! The simulated rig as a whole: what it records is what truly happened, within what its sensors do wrong.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use std::path::Path;

use tipcurve::recording::load::load;
use tipcurve::recording::{Data, FlowColumn, Recording, SampleTable};
use tipcurve::simulate::scenario::clear::is_clear;
use tipcurve::simulate::scenario::{Logging, Scenario, TrialKind, trial};
use tipcurve::simulate::truth::{Truth, TruthBurst};
use tipcurve::simulate::{run, to_recording};
use tipcurve_tests::scratch::Scratch;

/// A trial logged by the firmware instead of a box.
fn logged_by_firmware(kind: TrialKind, seed: u64) -> Scenario {
    let mut scenario = trial(kind, seed);
    scenario.logging = Logging::Device {
        sample_rate_hz: 500,
    };
    scenario
}

fn sprays(truth: &Truth) -> impl Iterator<Item = &TruthBurst> {
    truth.bursts.iter().filter(|burst| burst.kind == "spray")
}

/// Mean over a stretch of the samples of either form, Pa.
fn mean_pressure_pa(recording: &Recording, from_s: f64, to_s: f64) -> f64 {
    let mean = |t_s: &[f64], value: &dyn Fn(usize) -> f64| {
        let from = t_s.partition_point(|t| *t < from_s);
        let to = t_s.partition_point(|t| *t <= to_s);
        (from..to).map(value).sum::<f64>() / (to - from) as f64
    };
    match &recording.data {
        Data::Samples(table) => mean(&table.t_s, &|i| table.pressure_pa[i]),
        Data::Device(log) => {
            let scale = log.pressure_scale;
            mean(&log.t_s.to_vec(), &|i| {
                scale.zero_pa + scale.pa_per_code * f64::from(log.pressure_code[i])
            })
        }
    }
}

#[test]
fn every_kind_of_trial_is_clear_under_several_seeds() {
    for kind in TrialKind::ALL {
        for seed in 100..103 {
            let scenario = trial(kind, seed);
            assert!(is_clear(kind, &scenario), "{}", scenario.name);
        }
    }
}

/// The truth files of the plain-text fixtures come from a simulator of somebody else.
#[test]
fn truth_has_the_keys_of_the_fixtures() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    let mut n_read = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.to_string_lossy().ends_with(".truth.json") {
            let text = std::fs::read_to_string(&path).unwrap();
            let theirs: serde_json::Value = serde_json::from_str(&text).unwrap();
            let truth: Truth = serde_json::from_str(&text)
                .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
            let ours = serde_json::to_value(&truth).unwrap();
            assert_eq!(keys(&theirs), keys(&ours), "{}", path.display());
            n_read += 1;
        }
    }
    assert!(n_read >= 5, "{n_read} truth files");
}

/// All keys of a JSON value, dotted, lists by their first entry; a key without value is left out.
fn keys(value: &serde_json::Value) -> Vec<String> {
    let mut list = Vec::new();
    collect_keys(value, "", &mut list);
    list.sort();
    list
}

fn collect_keys(value: &serde_json::Value, at: &str, list: &mut Vec<String>) {
    match value {
        serde_json::Value::Object(map) => {
            for (key, inner) in map {
                collect_keys(inner, &format!("{at}.{key}"), list);
            }
        }
        serde_json::Value::Array(entries) if !entries.is_empty() => {
            collect_keys(&entries[0], at, list);
        }
        _ => list.push(at.to_owned()),
    }
}

/// The same seed gives the same files, to the last byte, with the firmware and with a box.
#[test]
fn same_seed_same_folder_to_the_byte() {
    let scratch = Scratch::new("simulate-same-seed");
    for (name, scenario) in [
        ("rows", trial(TrialKind::RestrictionTip, 3)),
        ("device", logged_by_firmware(TrialKind::RestrictionTip, 3)),
    ] {
        let folders = ["a", "b"].map(|n| scratch.path().join(format!("{name}-{n}")));
        for folder in &folders {
            run(&scenario, folder).unwrap();
        }
        let mut n_files = 0;
        for entry in std::fs::read_dir(&folders[0]).unwrap() {
            let file = entry.unwrap().file_name();
            let [first, second] = folders
                .each_ref()
                .map(|f| std::fs::read(f.join(&file)).unwrap());
            assert_eq!(first, second, "{name}/{}", file.to_string_lossy());
            n_files += 1;
        }
        assert!(n_files >= 4, "{n_files}");
    }
}

/// The folder read back is the recording in memory.
#[test]
fn folder_reads_back_as_the_recording_in_memory() {
    let scratch = Scratch::new("simulate-folder");
    let scenario = logged_by_firmware(TrialKind::HealthyWindow, 4);
    let (recording, truth) = to_recording(&scenario);
    let folder = scratch.path().join("device");
    let truths = run(&scenario, &folder).unwrap();
    let read = load(&folder).unwrap();
    assert!(read.is_simulated && read.settings.is_simulated);
    assert_eq!(truths, [truth]);
    let (Data::Device(ours), Data::Device(theirs)) = (&recording.data, &read.data) else {
        panic!("both are a logger's");
    };
    assert_eq!(ours.t_s, theirs.t_s);
    assert_eq!(ours.pressure_code, theirs.pressure_code);
    assert_eq!(ours.edge_t_s, theirs.edge_t_s);
    assert_eq!(ours.slow, theirs.slow);
    assert_eq!(ours.arrivals.len(), theirs.arrivals.len());
    assert_eq!(recording.notes.len(), read.notes.len());
    for (a, b) in recording.notes.iter().zip(&read.notes) {
        assert_eq!((&a.tip, &a.dial, a.tails), (&b.tip, &b.dial, b.tails));
    }
    assert_eq!(recording.settings.tips.len(), read.settings.tips.len());
    for (ours, theirs) in recording.settings.tips.iter().zip(&read.settings.tips) {
        assert_eq!((&ours.code, &ours.family), (&theirs.code, &theirs.family));
        // The file has the orifice in its own unit: one rounding of the last bit.
        let (a, b) = (
            ours.orifice_diameter_m.unwrap(),
            theirs.orifice_diameter_m.unwrap(),
        );
        assert!((a - b).abs() < 1e-15, "{a} {b}");
    }
}

#[test]
fn rows_read_back_as_the_table_in_memory() {
    let scratch = Scratch::new("simulate-rows");
    for seed in 0..4 {
        let scenario = trial(TrialKind::HealthyWindow, seed);
        let (recording, _) = to_recording(&scenario);
        let folder = scratch.path().join(format!("rows-{seed}"));
        run(&scenario, &folder).unwrap();
        let read = load(&folder).unwrap();
        let (Data::Samples(ours), Data::Samples(theirs)) = (&recording.data, &read.data) else {
            panic!("both are rows");
        };
        check_rows(ours, theirs);
    }
}

#[track_caller]
fn check_rows(ours: &SampleTable, theirs: &SampleTable) {
    let near = |a: &[f64], b: &[f64], allowed: f64| {
        assert_eq!(a.len(), b.len());
        for (x, y) in a.iter().zip(b) {
            assert!(
                (x - y).abs() <= allowed || (x.is_nan() && y.is_nan()),
                "{x} {y}"
            );
        }
    };
    near(&ours.t_s, &theirs.t_s, 1e-9);
    near(&ours.pressure_pa, &theirs.pressure_pa, 1e-3);
    near(&ours.pulse_t_s, &theirs.pulse_t_s, 1e-9);
    match (&ours.flow, &theirs.flow) {
        (FlowColumn::Pulses(a), FlowColumn::Pulses(b)) => assert_eq!(a, b),
        (FlowColumn::Rate(a), FlowColumn::Rate(b)) => near(a, b, 1e-12),
        _ => panic!("one counts pulses, the other does not"),
    }
}

/// What the transducer recorded is the truth but for its zero, span and noise.
#[test]
fn recorded_pressure_is_the_true_one_within_zero_and_span() {
    for seed in 0..6 {
        for scenario in [
            trial(TrialKind::HealthyWindow, seed),
            logged_by_firmware(TrialKind::HealthyWindow, seed),
        ] {
            let (recording, truth) = to_recording(&scenario);
            let noise = truth.errors.noise_bar + 0.002 * truth.hold.p_max_bar;
            for burst in sprays(&truth) {
                let got = mean_pressure_pa(&recording, burst.steady_from_s, burst.end_s) / 1e5;
                let expected =
                    burst.pressure_tap_bar * (1.0 + truth.errors.span) + truth.errors.zero_bar;
                assert!(
                    (got - expected).abs() < noise,
                    "{}: {got} {expected}",
                    recording.name
                );
            }
        }
    }
}

/// Pulses of a burst are its true volume times the stated constant, within constant error, slip and
/// one pulse at each end.
#[test]
fn recorded_pulses_are_the_true_volume_within_constant_and_slip() {
    for seed in 0..6 {
        let scenario = logged_by_firmware(TrialKind::AtomisationLimit, seed);
        let (recording, truth) = to_recording(&scenario);
        let Data::Device(log) = &recording.data else {
            panic!("a logger's");
        };
        let k_per_l = scenario.instruments.meter.nominal_k_per_m3 * 1e-3;
        for burst in sprays(&truth) {
            let (from, to) = (burst.steady_from_s, burst.end_s);
            let counted = log
                .edge_t_s
                .iter()
                .filter(|t| **t >= from && **t < to)
                .count();
            let expected = burst.flow_l_min / 60.0 * (to - from) * k_per_l;
            let allowed = 1.5 + expected * (truth.errors.meter_bias.abs() + 0.03);
            assert!(
                (counted as f64 - expected).abs() < allowed,
                "{}: {counted} {expected}",
                recording.name
            );
        }
    }
}

/// Nothing is lost on a line of 115 200 baud, and nobody counts an edge twice.
#[test]
fn the_firmware_loses_nothing_and_rejects_the_bounce() {
    let mut scenario = logged_by_firmware(TrialKind::HealthyWindow, 9);
    scenario.instruments.meter.bounce_ratio = 0.05;
    let (bouncing, truth) = to_recording(&scenario);
    scenario.instruments.meter.bounce_ratio = 0.0;
    let (clean, _) = to_recording(&scenario);
    let (Data::Device(a), Data::Device(b)) = (&bouncing.data, &clean.data) else {
        panic!("both are a logger's");
    };
    assert_eq!(a.t_s.len(), truth.errors.rows);
    assert!(a.gaps.is_empty() && b.gaps.is_empty());
    // The draws for bounce shift where the rotor stands at the start by nothing: same edges.
    assert_eq!(a.edge_t_s.len(), b.edge_t_s.len());
    assert!(clean.defects.is_empty(), "{:?}", clean.defects);
}

/// Grades lie on the side of the true threshold that a grader of that spread would put them.
#[test]
fn grades_follow_the_true_threshold() {
    let (mut right, mut total) = (0u32, 0u32);
    for seed in 0..20 {
        let (recording, truth) = to_recording(&trial(TrialKind::HealthyWindow, seed));
        for row in &truth.notes {
            let (Some(burst), Some(tails)) = (row.burst, recording.notes[row.row].tails) else {
                continue;
            };
            let ratio = truth.bursts[burst].pressure_tap_bar / truth.groups[0].p_clear_bar;
            // Beyond two spreads of the widest grader.
            if !(0.86..1.16).contains(&ratio) {
                total += 1;
                right += u32::from((tails == 0) == (ratio > 1.0));
            }
        }
    }
    assert!(total > 100, "{total}");
    assert!(
        f64::from(right) / f64::from(total) > 0.97,
        "{right} of {total}"
    );
}

/// The simulated rig shares nothing with the analysis that it is there to test.
#[test]
fn simulated_rig_names_no_analysis() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host/src");
    let mut folders = vec![root.join("simulate")];
    let mut files = vec![root.join("simulate.rs")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                files.push(path);
            }
        }
    }
    assert!(files.len() > 25);
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        for word in [
            "analysis::",
            "pipeline::",
            "findings::",
            "estimate::",
            "report::",
        ] {
            assert!(!text.contains(word), "{}: {word}", file.display());
        }
    }
}
