//! The day at the yard: what the demo promises is physically there, whatever the seed.

use tipcurve::recording::{Data, Recording};
use tipcurve::simulate::scenario::demo;
use tipcurve::simulate::to_recording_with_all;
use tipcurve::simulate::truth::{Truth, TruthBurst, TruthGroup};

fn day(seed: u64) -> Vec<(Recording, Vec<Truth>)> {
    demo(seed).iter().map(to_recording_with_all).collect()
}

/// Truth of a label, anywhere in the day.
fn truth_of<'a>(day: &'a [(Recording, Vec<Truth>)], label: &str) -> &'a Truth {
    day.iter()
        .flat_map(|(_, truths)| truths)
        .find(|truth| truth.label == label)
        .unwrap_or_else(|| panic!("no {label} in the demo"))
}

fn groups(truth: &Truth) -> Vec<&TruthGroup> {
    let subject = &truth.subject;
    let is_subject = |g: &&TruthGroup| g.tip == subject.tip && g.material == subject.material;
    truth.groups.iter().filter(is_subject).collect()
}

fn at_full_dial(truth: &Truth) -> Vec<&TruthBurst> {
    let subject = &truth.subject;
    truth
        .bursts
        .iter()
        .filter(|b| b.kind == "spray" && b.dial == truth.hold.dial)
        .filter(|b| b.tip == subject.tip && b.material == subject.material)
        .collect()
}

#[test]
fn all_tips_coatings_and_rigs_of_the_yard_appear_and_everything_says_it_is_simulated() {
    let day = day(1);
    let mut tips: Vec<&str> = Vec::new();
    let mut coatings: Vec<&str> = Vec::new();
    for (recording, truths) in &day {
        assert!(recording.is_simulated && recording.settings.is_simulated);
        assert!(matches!(recording.data, Data::Device(_)));
        for group in &truths[0].groups {
            tips.push(&group.tip);
            coatings.push(&group.material);
        }
    }
    for list in [&mut tips, &mut coatings] {
        list.sort_unstable();
        list.dedup();
    }
    assert_eq!(tips, ["209", "311", "313", "415", "521"]);
    assert_eq!(coatings, ["cabin enamel", "hull primer", "locker stain"]);
    let rigs: Vec<_> = day.iter().map(|(r, _)| r.settings.rig.clone()).collect();
    assert!(rigs[0] != rigs[1] && rigs[1] == rigs[2]);
}

#[test]
fn one_window_is_open() {
    let day = day(2);
    let truth = truth_of(&day, "healthy_window");
    let group = groups(truth)[0];
    assert!(group.p_clear_bar < 0.75 * truth.hold.pressure_tap_bar);
    assert!(group.p_range_bar.0 < 0.93 * group.p_clear_bar);
    assert!(group.p_run_bar > 1.1 * truth.hold.pressure_tap_bar);
    assert!(truth.hold.pressure_tap_bar > 0.93 * truth.hold.p_max_bar);
}

/// Thick primer through a fine tip keeps its tails at the full 138 bar of a small cordless pump (common
/// practice, no source).
#[test]
fn primer_through_a_fine_tip_is_at_the_atomisation_limit() {
    let day = day(3);
    let truth = truth_of(&day, "atomisation_limit");
    let group = groups(truth)[0];
    assert!((truth.hold.p_max_bar - 138.0).abs() < 0.5);
    assert!(truth.hold.pressure_tap_bar > 0.95 * truth.hold.p_max_bar);
    assert!(group.p_clear_bar > 1.15 * group.p_range_bar.1);
}

/// A small pump sized for 16 thou pushes a larger tip, but the edges do not atomise (common practice, no
/// source).
#[test]
fn a_tip_too_large_for_the_cordless_pump_is_at_the_supply_limit() {
    let day = day(4);
    let truth = truth_of(&day, "supply_limit");
    let group = groups(truth)[0];
    assert!(truth.hold.pressure_tap_bar < 0.75 * truth.hold.p_max_bar);
    assert!(group.p_clear_bar > 1.05 * group.p_range_bar.1);
    assert!(group.p_clear_bar < 0.95 * truth.hold.p_max_bar);
    assert!(
        group.distinct_pressures >= 3,
        "{}",
        group.distinct_pressures
    );
}

#[test]
fn a_restriction_develops_in_the_tip() {
    let day = day(5);
    let truth = truth_of(&day, "restriction_tip");
    let states = groups(truth);
    let phases: Vec<&str> = states.iter().map(|g| g.phase.as_str()).collect();
    assert_eq!(phases, ["before", "after"]);
    assert!(states[1].k < 0.85 * states[0].k);
    assert!(truth.bursts.iter().any(|b| b.phase == "transition"));
    assert!(states.iter().all(|g| g.distinct_pressures >= 3));
}

#[test]
fn a_battery_gives_in_and_a_tip_is_worn() {
    let day = day(6);
    let weak = truth_of(&day, "weak_battery");
    let full = at_full_dial(weak);
    let (first, last) = (full[0], full[full.len() - 1]);
    assert!(first.pressure_tap_bar > 1.05 * groups(weak)[0].p_clear_bar);
    assert!(last.pressure_tap_bar < 0.8 * first.pressure_tap_bar);
    let worn = truth_of(&day, "worn_tip");
    let group = groups(worn)[0];
    assert!(group.equivalent_orifice_mm > 1.2 * group.nominal_orifice_mm);
    assert!(group.p_clear_bar < 0.9 * worn.hold.pressure_tap_bar);
}

/// The demo is short enough to watch: under a quarter of an hour of spraying time each.
#[test]
fn recordings_are_of_a_bearable_length() {
    for (recording, truths) in day(7) {
        let end_s = truths[0].bursts.last().map_or(0.0, |b| b.end_s);
        assert!(
            (200.0..900.0).contains(&end_s),
            "{}: {end_s} s",
            recording.name
        );
        assert!(recording.notes.len() >= 15);
    }
}
