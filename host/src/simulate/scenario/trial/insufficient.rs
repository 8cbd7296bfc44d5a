//! Trials whose data cannot carry an answer.

use super::super::super::random::RandomStream;
use super::super::super::transducer::PressureFault;
use super::super::plan::PlanBuilder;
use super::super::{Action, Expected, Scenario, Setting, TimeStyle, advice};
use super::limits::{begin, usual_plan};
use super::{Draft, expected};

/// What is expected where no verdict can be given.
fn refused(subkind: &'static str, thinner_ratio: f64) -> Expected {
    Expected {
        subkind,
        labels: vec!["insufficient_data", "ambiguous", "undetermined"],
        refusal: Some(subkind),
        ..expected("insufficient_data", advice::INSUFFICIENT, thinner_ratio)
    }
}

/// A draft that would have had an open window.
fn ordinary(n_marks: usize, random: &mut RandomStream) -> Draft {
    let mut draft = Draft::new(n_marks, random);
    let held_pa = draft.held_tap_pa();
    draft.set_thresholds(
        held_pa * random.uniform(0.55, 0.85),
        held_pa * random.uniform(1.2, 2.2),
    );
    draft
}

fn finish(
    draft: Draft,
    plan: Vec<Action>,
    subkind: &'static str,
    random: &mut RandomStream,
) -> Scenario {
    let expected = refused(subkind, draft.thinner_ratio);
    let tips = vec![draft.tip.clone()];
    draft.into_scenario(tips, plan, expected, random)
}

/// One mark, or two close to each other.
pub(super) fn too_few(random: &mut RandomStream) -> Scenario {
    let draft = ordinary(6, random);
    let marks = if random.chance(0.5) {
        vec![5]
    } else {
        vec![4, 5]
    };
    let mut plan = PlanBuilder::new(random, draft.pull_s(), (4.0, 9.0));
    plan.open(marks[0]);
    begin(&mut plan);
    let rounds = plan.random().whole(3, 5);
    plan.rounds(&marks, rounds);
    plan.close();
    let plan = plan.finish();
    finish(draft, plan, "too_few_pressures", random)
}

/// True time at which about half of a plan's pulls are done, s.
fn middle_s(plan: &[Action]) -> f64 {
    let pulls = plan
        .iter()
        .filter(|a| matches!(a, Action::Pull { .. }))
        .count();
    let (mut t_s, mut done) = (0.0, 0);
    for action in plan {
        match action {
            Action::Wait(s) | Action::Pressurise(s) | Action::Relieve(s) => t_s += s,
            Action::Pull { duration_s, .. } => {
                if 2 * done >= pulls {
                    break;
                }
                t_s += duration_s;
                done += 1;
            }
            _ => {}
        }
    }
    t_s
}

/// The pressure's number is in another unit from the middle on.
pub(super) fn unit_mix(random: &mut RandomStream) -> Scenario {
    let mut draft = ordinary(random.whole(4, 6), random);
    let plan = usual_plan(&draft, random);
    draft.instruments.transducer.fault = PressureFault::UnitFrom {
        t_s: middle_s(&plan) - 1.0,
        factor: random.pick(&[14.503_8, 0.1]),
    };
    finish(draft, plan, "unit_mix", random)
}

/// The sensor's full scale lies below nearly everything that is sprayed.
pub(super) fn saturated(random: &mut RandomStream) -> Scenario {
    let mut draft = ordinary(4, random);
    let lowest_pa = draft.rig.control.set_pa(0);
    let bar = (lowest_pa * random.uniform(0.9, 1.15) / 1e5).round();
    let transducer = &mut draft.instruments.transducer;
    let shrink = bar * 1e5 / transducer.full_scale_pa;
    transducer.full_scale_pa = bar * 1e5;
    transducer.zero_pa *= shrink;
    transducer.noise_pa *= shrink;
    let plan = usual_plan(&draft, random);
    finish(draft, plan, "sensor_saturated", random)
}

/// The reading stays where it was from the second spray on.
pub(super) fn stuck(random: &mut RandomStream) -> Scenario {
    let mut draft = ordinary(4, random);
    let plan = usual_plan(&draft, random);
    draft.instruments.transducer.fault = PressureFault::StuckFrom {
        t_s: middle_s(&plan) * random.uniform(0.35, 0.6),
    };
    finish(draft, plan, "sensor_stuck", random)
}

/// Notes without times or dial, fewer than bursts.
pub(super) fn ambiguous(random: &mut RandomStream) -> Scenario {
    let mut draft = ordinary(5, random);
    draft.person.style = TimeStyle::Empty;
    draft.person.writes_dial = false;
    draft.person.blank_ratio = 0.0;
    let marks: Vec<usize> = (0..5).collect();
    let mut plan = PlanBuilder::new(random, draft.pull_s(), (3.0, 8.0));
    plan.open(0);
    let mut order: Vec<usize> = marks.iter().chain(&marks).copied().collect();
    plan.random().shuffle(&mut order);
    let mut noted = [
        true, true, true, true, true, true, false, false, false, false,
    ];
    plan.random().shuffle(&mut noted);
    for (mark, is_noted) in order.into_iter().zip(noted) {
        plan.spray_noted(mark, is_noted);
    }
    plan.close();
    let plan = plan.finish();
    let mut scenario = finish(draft, plan, "ambiguous_alignment", random);
    scenario.expected.is_alignment_clear = false;
    scenario.start.is_told = true;
    scenario
}

/// Two tips, close in size, and notes that do not tell when the one came for the other.
pub(super) fn unknown_tip(random: &mut RandomStream) -> Scenario {
    let mut draft = ordinary(4, random);
    draft.person.style = TimeStyle::Empty;
    draft.person.writes_dial = false;
    draft.person.repeats_setting = false;
    let mut other = draft.tip.clone();
    let larger = random.pick(&[1.0, 2.0]);
    other.stamped_thou += larger;
    other.orifice.diameter_m += larger * 2.54e-5;
    let fan_digit = other.code.chars().next().unwrap_or('4');
    other.code = format!("{fan_digit}{:02.0}", other.stamped_thou);
    let mut plan = PlanBuilder::new(random, draft.pull_s(), (3.0, 8.0));
    plan.open(1);
    // The line is relieved three times; only one of them was for the tip.
    let change_at = plan.random().whole(1, 3);
    for part in 0..4 {
        for pull in 0..3 {
            let mark = plan.random().whole(0, 3);
            plan.spray_noted(mark, pull == 1);
        }
        if part + 1 == change_at {
            plan.change_tip(1, 1, true);
        } else if part < 3 {
            plan.relieve();
            plan.act(Action::Wait(12.0));
            plan.press(1);
        }
    }
    plan.close();
    let plan = plan.finish();
    let expected = Expected {
        is_alignment_clear: false,
        subject: Setting {
            tip: 1,
            ..expected("", advice::INSUFFICIENT, draft.thinner_ratio).subject
        },
        ..refused("unknown_tip_change", draft.thinner_ratio)
    };
    let tips = vec![draft.tip.clone(), other];
    let mut scenario = draft.into_scenario(tips, plan, expected, random);
    // Of the rows that describe a burst only some survive; the change itself has no time either.
    scenario.start.is_told = true;
    scenario
}
