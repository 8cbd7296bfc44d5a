//! Whether a trial is clear enough to be asked about.
//!
//! A trial near the border between two kinds has no right answer. What truly happened must lie well
//! inside its kind; nobody would ask a person to tell a sag of 9 % from one of 11 % either.

use super::super::answer::answers;
use super::super::performance::perform;
use super::super::scenario::Scenario;
use super::super::truth::{Truth, TruthBurst, TruthGroup};
use super::TrialKind;

/// Carries the scenario out and judges the truth.
#[must_use]
pub fn is_clear(kind: TrialKind, scenario: &Scenario) -> bool {
    let truth = answers(scenario, &perform(scenario), &[], 0).swap_remove(0);
    let Some(subject) = subject_group(&truth) else {
        return false;
    };
    let lasts_s = truth.bursts.last().map_or(0.0, |burst| burst.end_s);
    if lasts_s > 900.0 || (has_curve(kind) && !carries_a_curve(subject)) {
        return false;
    }
    match kind {
        TrialKind::ApplicationLimit => {
            holds(&truth)
                && subject.p_run_bar < 0.93 * subject.p_clear_bar
                && highest(subject) > 1.15 * subject.p_clear_bar
                && lowest(subject) < 0.9 * subject.p_clear_bar
        }
        TrialKind::AtomisationLimit => {
            holds(&truth) && subject.p_clear_bar > 1.1 * highest(subject)
        }
        TrialKind::HealthyWindow => holds(&truth) && is_open(subject),
        TrialKind::ColdMaterial => is_cold_clear(&truth),
        TrialKind::RestrictionInlet => {
            is_open(subject) && falls_at_full_dial(&truth, 0.8) && truth.groups.len() == 1
        }
        TrialKind::RestrictionTip => is_blockage_clear(&truth),
        TrialKind::SupplyLimitPower | TrialKind::SupplyLimitStroke => {
            !sags_less(&truth, 0.18)
                && subject.p_clear_bar > 1.05 * highest(subject)
                && subject.distinct_pressures >= 4
        }
        TrialKind::WeakBattery => {
            is_open(subject) && holds(&truth) && falls_at_full_dial(&truth, 0.8)
        }
        TrialKind::WornTip => holds(&truth) && is_open(subject),
        TrialKind::PumpPrediction => truth.groups.iter().all(carries_a_curve),
        TrialKind::TooFewPressures
        | TrialKind::UnitMix
        | TrialKind::SensorSaturated
        | TrialKind::SensorStuck
        | TrialKind::AmbiguousAlignment
        | TrialKind::UnknownTipChange => true,
    }
}

/// Whether a kind needs a nozzle curve.
const fn has_curve(kind: TrialKind) -> bool {
    !matches!(
        kind,
        TrialKind::TooFewPressures
            | TrialKind::UnitMix
            | TrialKind::SensorSaturated
            | TrialKind::SensorStuck
            | TrialKind::AmbiguousAlignment
            | TrialKind::UnknownTipChange
    )
}

/// The latest state of the subject.
fn subject_group(truth: &Truth) -> Option<&TruthGroup> {
    truth
        .groups
        .iter()
        .rfind(|group| group.tip == truth.subject.tip && group.material == truth.subject.material)
}

fn carries_a_curve(group: &TruthGroup) -> bool {
    group.distinct_pressures >= 3 && highest(group) > 1.4 * lowest(group)
}

const fn highest(group: &TruthGroup) -> f64 {
    group.p_range_bar.1
}

const fn lowest(group: &TruthGroup) -> f64 {
    group.p_range_bar.0
}

/// Whether pressures on both sides of the clearing one were sprayed, well apart.
fn is_open(group: &TruthGroup) -> bool {
    highest(group) > 1.12 * group.p_clear_bar && lowest(group) < 0.92 * group.p_clear_bar
}

/// Whether the pump gives its set pressure at full dial under the subject, but for the control's band.
fn holds(truth: &Truth) -> bool {
    sags_less(truth, 0.07)
}

fn sags_less(truth: &Truth, ratio: f64) -> bool {
    first_at_full_dial(truth)
        .is_some_and(|burst| burst.pressure_pump_bar > (1.0 - ratio) * truth.hold.p_max_bar)
}

fn at_full_dial(truth: &Truth) -> impl DoubleEndedIterator<Item = &TruthBurst> {
    truth.bursts.iter().filter(|burst| {
        burst.kind == "spray" && burst.dial == truth.hold.dial && burst.tip == truth.subject.tip
    })
}

fn first_at_full_dial(truth: &Truth) -> Option<&TruthBurst> {
    at_full_dial(truth).next()
}

/// Whether the last burst at full dial has less than a part of the first one's pressure.
fn falls_at_full_dial(truth: &Truth, part: f64) -> bool {
    let last = at_full_dial(truth).next_back();
    match (first_at_full_dial(truth), last) {
        (Some(first), Some(last)) => last.pressure_tap_bar < part * first.pressure_tap_bar,
        _ => false,
    }
}

/// Both temperatures measured, and far enough apart to see in flow and tails.
fn is_cold_clear(truth: &Truth) -> bool {
    let phase = |name: &str| truth.groups.iter().find(|group| group.phase == name);
    let (Some(warm), Some(cold)) = (phase("warm"), phase("cold")) else {
        return false;
    };
    carries_a_curve(warm)
        && carries_a_curve(cold)
        && cold.p_clear_bar > 1.25 * warm.p_clear_bar
        && flow_ratio(cold, warm) < 0.955
        && is_open(warm)
}

/// Both states measured, and far enough apart.
fn is_blockage_clear(truth: &Truth) -> bool {
    let phase = |name: &str| truth.groups.iter().find(|group| group.phase == name);
    let (Some(before), Some(after)) = (phase("before"), phase("after")) else {
        return false;
    };
    carries_a_curve(before)
        && carries_a_curve(after)
        && is_open(before)
        && holds(truth)
        && flow_ratio(after, before) < 0.88
}

/// Flow of one state over that of another at the other's reference pressure.
fn flow_ratio(group: &TruthGroup, other: &TruthGroup) -> f64 {
    group.k * other.p_ref_bar.powf(group.n) / other.q_ref_l_min
}
