//! Trials in which nothing changes: one limit closes the window, or none does.

use super::super::super::random::RandomStream;
use super::super::draw::draw_box;
use super::super::plan::PlanBuilder;
use super::super::size::{size_rig, weaken_until};
use super::super::{Action, Scenario, TipPiece, advice};
use super::{Draft, expected};

/// A session of all marks in random order, twice or so, sometimes begun with three short pulls.
pub(super) fn usual_plan(draft: &Draft, random: &mut RandomStream) -> Vec<Action> {
    let marks: Vec<usize> = (0..draft.rig.control.marks.len()).collect();
    let mut plan = PlanBuilder::new(random, draft.pull_s(), (2.0, 8.0));
    plan.open(marks[0]);
    begin(&mut plan);
    plan.rounds(&marks, if marks.len() > 4 { 2 } else { 3 });
    if plan.random().chance(0.15) {
        plan.test_pull();
    }
    plan.close();
    plan.finish()
}

/// What comes first: three short pulls, or a row with the set-up, or neither.
pub(super) fn begin(plan: &mut PlanBuilder<'_>) {
    if plan.random().chance(0.45) {
        plan.sync();
    }
    if plan.random().chance(0.2) {
        plan.act(Action::Write {
            event: "setup",
            text: "",
            states_setting: true,
        });
    }
}

/// No tails from a low pressure on, but the coat runs before they vanish.
pub(super) fn application(random: &mut RandomStream) -> Scenario {
    let mut draft = Draft::new(random.whole(4, 5), random);
    let held_pa = draft.held_tap_pa();
    let clear_pa = held_pa * random.uniform(0.58, 0.78);
    draft.set_thresholds(clear_pa, clear_pa * random.uniform(0.5, 0.82));
    finish(draft, "application_limit", advice::APPLICATION, random)
}

/// Tails at every pressure although the pressure holds.
pub(super) fn atomisation(random: &mut RandomStream) -> Scenario {
    let mut draft = Draft::new(random.whole(4, 6), random);
    let held_pa = draft.held_tap_pa();
    let clear_pa = held_pa * random.uniform(1.12, 1.5);
    draft.set_thresholds(clear_pa, held_pa * random.uniform(1.5, 3.0));
    if random.chance(0.5) {
        return finish(draft, "atomisation_limit", advice::ATOMISATION, random);
    }
    with_second_tip(draft, "atomisation_limit", advice::ATOMISATION, random)
}

/// Tails vanish below what the rig holds, and the coat does not run there.
pub(super) fn healthy(random: &mut RandomStream) -> Scenario {
    let mut draft = Draft::new(random.whole(4, 6), random);
    let held_pa = draft.held_tap_pa();
    let clear_pa = held_pa * random.uniform(0.52, 0.8);
    draft.set_thresholds(clear_pa, held_pa * random.uniform(1.2, 2.2));
    finish(draft, "healthy_window", advice::HEALTHY, random)
}

/// The pressure sags under the tip, and would have been enough without that.
pub(super) fn supply(random: &mut RandomStream, by_power: bool) -> Scenario {
    let mut draft = Draft::new(5, random);
    let held_before_pa = draft.held_tap_pa();
    let path = draft.path();
    let pump_pa = draft.rig.control.full_set_pa * random.uniform(0.55, 0.78);
    weaken_until(&mut draft.rig, &path, pump_pa, |rig| {
        if by_power {
            &mut rig.motor.power_limit_w
        } else {
            &mut rig.motor.top_rate_hz
        }
    });
    let held_pa = draft.held_tap_pa();
    let clear_pa = held_pa + (held_before_pa - held_pa) * random.uniform(0.3, 0.75);
    draft.set_thresholds(clear_pa, held_before_pa * random.uniform(1.2, 2.0));
    let mut scenario = if random.chance(0.6) {
        finish(draft, "supply_limit", advice::SUPPLY, random)
    } else {
        with_second_tip(draft, "supply_limit", advice::SUPPLY, random)
    };
    scenario.expected.limit_kind = if by_power { "power" } else { "stroke" };
    scenario
}

/// The tip's opening has grown.
pub(super) fn worn(random: &mut RandomStream) -> Scenario {
    let mut draft = Draft::new(random.whole(4, 5), random);
    draft.tip.orifice.diameter_m = draft.tip.stamped_thou * 2.54e-5 * random.uniform(1.18, 1.33);
    draft.tip.used_h = random.uniform(50.0, 140.0).round();
    // The pump was bought for the tip as it was, with something over.
    draft.wanted.flow_m3_per_s *= 1.5;
    draft.rig = size_rig(&draft.wanted);
    let held_pa = draft.held_tap_pa();
    draft.set_thresholds(
        held_pa * random.uniform(0.45, 0.75),
        held_pa * random.uniform(1.2, 2.0),
    );
    finish(draft, "worn_tip", advice::WORN, random)
}

/// Four tips measured, a fifth to be predicted at full dial.
pub(super) fn prediction(random: &mut RandomStream) -> Scenario {
    let mut tips = draw_box(5, random);
    let asked_tip = tips.pop();
    let largest = tips
        .iter()
        .chain(&asked_tip)
        .max_by(|a, b| a.stamped_thou.total_cmp(&b.stamped_thou))
        .cloned();
    let Some(largest) = largest else {
        return healthy(random);
    };
    let mut draft = Draft::with_tip(largest, 4, random);
    // Half of the rigs sag under the largest tip.
    let path = draft.path();
    let sag = random.uniform(0.0, 0.35);
    let pump_pa = draft.rig.control.full_set_pa * (0.96 - sag);
    let by_power = random.chance(0.6);
    weaken_until(&mut draft.rig, &path, pump_pa, |rig| {
        if by_power {
            &mut rig.motor.power_limit_w
        } else {
            &mut rig.motor.top_rate_hz
        }
    });
    draft.tip = tips[0].clone();
    draft.person.catch_ratio = 0.2;
    let held_pa = draft.held_tap_pa();
    draft.set_thresholds(
        held_pa * random.uniform(0.6, 0.8),
        held_pa * random.uniform(1.3, 2.0),
    );
    let marks: Vec<usize> = (0..draft.rig.control.marks.len()).collect();
    let full = marks.len() - 1;
    let pull_s = draft.pull_s();
    let mut plan = PlanBuilder::new(random, pull_s, (2.0, 7.0));
    plan.open(0);
    begin(&mut plan);
    for tip in 0..tips.len() {
        if tip > 0 {
            plan.change_tip(tip, 0, true);
        }
        plan.rounds(&marks, 1);
        plan.spray(full);
    }
    plan.close();
    let plan = plan.finish();
    let words = if sag > 0.12 {
        advice::PREDICTION_OF_SAG
    } else {
        advice::PREDICTION
    };
    let mut expected = expected("pump_prediction", words, draft.thinner_ratio);
    expected.asked_tip = asked_tip;
    draft.into_scenario(tips, plan, expected, random)
}

/// The usual session with one tip.
fn finish(
    draft: Draft,
    family: &'static str,
    words: advice::AdviceWords,
    random: &mut RandomStream,
) -> Scenario {
    let plan = usual_plan(&draft, random);
    let expected = expected(family, words, draft.thinner_ratio);
    let tips = vec![draft.tip.clone()];
    draft.into_scenario(tips, plan, expected, random)
}

/// A session in which a smaller tip of the same make is sprayed first; the subject is the second.
fn with_second_tip(
    draft: Draft,
    family: &'static str,
    words: advice::AdviceWords,
    random: &mut RandomStream,
) -> Scenario {
    let smaller_thou = (draft.tip.stamped_thou - random.pick(&[2.0, 4.0])).max(6.0);
    if smaller_thou >= draft.tip.stamped_thou {
        return finish(draft, family, words, random);
    }
    let smaller = smaller_sister(&draft.tip, smaller_thou, random);
    let marks: Vec<usize> = (0..draft.rig.control.marks.len()).collect();
    let mut plan = PlanBuilder::new(random, draft.pull_s(), (2.0, 7.0));
    plan.open(0);
    begin(&mut plan);
    plan.rounds(&marks, 1);
    plan.change_tip(1, 0, true);
    plan.rounds(&marks, 2);
    plan.close();
    let plan = plan.finish();
    let mut expected = expected(family, words, draft.thinner_ratio);
    expected.subject.tip = 1;
    let tips = vec![smaller, draft.tip.clone()];
    draft.into_scenario(tips, plan, expected, random)
}

/// A tip of the same fan and make with a smaller opening.
fn smaller_sister(tip: &TipPiece, thou: f64, random: &mut RandomStream) -> TipPiece {
    let area_error: f64 = random.normal(0.018).clamp(-0.04, 0.04);
    let mut sister = tip.clone();
    let fan_digit = tip.code.chars().next().unwrap_or('4');
    sister.code = format!("{fan_digit}{thou:02.0}");
    sister.stamped_thou = thou;
    sister.orifice.diameter_m = thou * 2.54e-5 * (1.0 + area_error).sqrt();
    sister
}
