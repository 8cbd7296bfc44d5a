//! Trials in which something moves: temperature, inlet, tip, battery.

use super::super::super::performance::perform;
use super::super::super::random::RandomStream;
use super::super::super::restriction::{Restriction, RestrictionPlace};
use super::super::super::rig::Supply;
use super::super::plan::PlanBuilder;
use super::super::size::{inlet_openness_for, size_rig};
use super::super::{Action, Logging, Scenario, advice};
use super::limits::begin;
use super::{Draft, expected};

/// The same set-up at two temperatures of the coating.
pub(super) fn cold(random: &mut RandomStream) -> Scenario {
    let mut draft = Draft::new(5, random);
    let warm_k = 273.15 + random.uniform(22.0, 29.0);
    let cold_k = 273.15 + random.uniform(3.0, 9.0);
    draft.material_k = warm_k;
    if let Logging::Rows(form) = &mut draft.logging {
        form.has_material = true;
    }
    let held_pa = draft.held_tap_pa();
    draft.set_thresholds(
        held_pa * random.uniform(0.5, 0.68),
        held_pa * random.uniform(1.3, 2.2),
    );
    let phases = if random.chance(0.5) {
        [("warm", warm_k), ("cold", cold_k)]
    } else {
        [("cold", cold_k), ("warm", warm_k)]
    };
    draft.material_k = phases[0].1;
    let marks: Vec<usize> = (0..draft.rig.control.marks.len()).collect();
    let mut plan = PlanBuilder::new(random, draft.pull_s(), (2.0, 7.0));
    plan.act(Action::Phase(phases[0].0));
    plan.open(0);
    begin(&mut plan);
    plan.rounds(&marks, 2);
    plan.relieve();
    plan.act(Action::Phase(phases[1].0));
    plan.act(Action::Temper(phases[1].1));
    let wait_s = plan.random().uniform(40.0, 80.0);
    plan.act(Action::Wait(wait_s));
    plan.press(0);
    plan.rounds(&marks, 1);
    plan.close();
    let plan = plan.finish();
    let expected = expected("cold_material", advice::COLD, draft.thinner_ratio);
    let tips = vec![draft.tip.clone()];
    draft.into_scenario(tips, plan, expected, random)
}

/// The inlet lets in less and less: the supply falls, the nozzle curve stays.
pub(super) fn inlet(random: &mut RandomStream) -> Scenario {
    let mut draft = Draft::new(random.whole(4, 5), random);
    let held_pa = draft.held_tap_pa();
    draft.set_thresholds(
        held_pa * random.uniform(0.5, 0.78),
        held_pa * random.uniform(1.3, 2.2),
    );
    let path = draft.path();
    let full_pa = draft.rig.control.full_set_pa;
    let after_pa = full_pa * random.uniform(0.36, 0.72);
    let openness = inlet_openness_for(&draft.rig, &path, after_pa);
    let builds_over_s = random.uniform(4.0, 12.0);
    let restriction = Restriction::new(RestrictionPlace::Inlet, openness, builds_over_s);
    let marks: Vec<usize> = (0..draft.rig.control.marks.len()).collect();
    let full = marks.len() - 1;
    let mut plan = PlanBuilder::new(random, draft.pull_s(), (2.0, 7.0));
    plan.open(0);
    begin(&mut plan);
    plan.rounds(&marks, 1);
    plan.spray(full);
    plan.spray(marks[1]);
    plan.spray(full);
    plan.block(restriction);
    plan.rounds(&marks, 1);
    plan.spray(full);
    plan.spray(full);
    plan.close();
    let plan = plan.finish();
    let expected = expected("restriction_inlet", advice::INLET, draft.thinner_ratio);
    let tips = vec![draft.tip.clone()];
    draft.into_scenario(tips, plan, expected, random)
}

/// The tip, or the gun filter, becomes narrow: the nozzle curve falls.
pub(super) fn tip(random: &mut RandomStream) -> Scenario {
    let mut draft = Draft::new(random.whole(4, 5), random);
    let held_pa = draft.held_tap_pa();
    draft.set_thresholds(
        held_pa * random.uniform(0.5, 0.7),
        held_pa * random.uniform(1.3, 2.2),
    );
    let builds_over_s = random.uniform(3.0, 10.0);
    let place = if random.chance(0.75) {
        RestrictionPlace::Tip
    } else {
        RestrictionPlace::GunFilter
    };
    let openness = match place {
        RestrictionPlace::Tip => random.uniform(0.64, 0.86),
        _ => filter_openness_for(&draft, random.uniform(0.66, 0.86)),
    };
    let marks: Vec<usize> = (0..draft.rig.control.marks.len()).collect();
    let mut plan = PlanBuilder::new(random, draft.pull_s(), (2.0, 7.0));
    plan.act(Action::Phase("before"));
    plan.open(0);
    begin(&mut plan);
    plan.rounds(&marks, 2);
    plan.block(Restriction::new(place, openness, builds_over_s));
    plan.act(Action::Phase("after"));
    plan.rounds(&marks, 2);
    plan.close();
    let plan = plan.finish();
    let expected = expected("restriction_tip", advice::BLOCKED_TIP, draft.thinner_ratio);
    let tips = vec![draft.tip.clone()];
    draft.into_scenario(tips, plan, expected, random)
}

/// Openness of the gun filter that leaves `flow_ratio` of the flow at the middle of the dial.
fn filter_openness_for(draft: &Draft, flow_ratio: f64) -> f64 {
    let clean = draft.path();
    let middle_pa = 0.7 * draft.rig.control.full_set_pa;
    let aim = flow_ratio * clean.at_pump(middle_pa).flow_m3_per_s;
    let (mut low, mut high) = (1.0e-4f64.ln(), 0.0);
    for _ in 0..40 {
        let middle: f64 = 0.5 * (low + high);
        let mut path = clean;
        path.filter_per_m3 = draft.rig.filter_per_m3 / middle.exp();
        if path.at_pump(middle_pa).flow_m3_per_s < aim {
            low = middle;
        } else {
            high = middle;
        }
    }
    high.exp()
}

/// The battery runs down: at first the pressure holds, at the end it does not.
pub(super) fn battery(random: &mut RandomStream) -> Scenario {
    let mut draft = Draft::new(5, random);
    draft.wanted.cells = Some(random.pick(&[5, 7, 10]));
    draft.wanted.reserve = random.uniform(1.08, 1.25);
    draft.wanted.name = "cordless pump".into();
    draft.rig = size_rig(&draft.wanted);
    if let Logging::Rows(form) = &mut draft.logging {
        form.has_supply = true;
    }
    let held_pa = draft.held_tap_pa();
    draft.set_thresholds(
        held_pa * random.uniform(0.55, 0.8),
        held_pa * random.uniform(1.3, 2.2),
    );
    let marks: Vec<usize> = (0..draft.rig.control.marks.len()).collect();
    let full = marks.len() - 1;
    let pull_s = draft.pull_s();
    let mut plan = PlanBuilder::new(random, pull_s, (2.0, 6.0));
    plan.open(0);
    begin(&mut plan);
    plan.rounds(&marks, 1);
    for mark in [full, full - 1, full, full, full, full, full] {
        plan.spray(mark);
    }
    plan.close();
    let plan = plan.finish();
    let expected = expected("weak_battery", advice::BATTERY, draft.thinner_ratio);
    let tips = vec![draft.tip.clone()];
    let scenario = draft.into_scenario(tips, plan, expected, random);
    let empties_at = random.uniform(0.8, 0.95);
    with_weak_pack(scenario, random.uniform(0.2, 0.4), empties_at)
}

/// The scenario with a pack that begins at a charge ratio and is empty after a part of the plan.
fn with_weak_pack(mut scenario: Scenario, from_ratio: f64, empties_at: f64) -> Scenario {
    // What the plan draws is seen on a pack that hardly notices it.
    let mut tireless = scenario.clone();
    if let Supply::Battery { pack, charge_ratio } = &mut tireless.rig.supply {
        pack.capacity_a_s = 1.0e6;
        *charge_ratio = from_ratio;
    }
    let used_ratio = from_ratio - perform(&tireless).battery_at_end.charge_ratio;
    if let Supply::Battery { pack, charge_ratio } = &mut scenario.rig.supply {
        pack.capacity_a_s = empties_at * used_ratio * 1.0e6 / from_ratio;
        *charge_ratio = from_ratio;
    }
    scenario
}
