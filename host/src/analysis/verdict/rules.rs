//! The rule table: which results make which verdict.

use super::case::{Case, RunEvidence};
use super::draft::{draft, sag_ratio};
use super::{Advice, NextTrial, Verdict, VerdictKind};
use crate::analysis::health::DefectKind;
use crate::analysis::nozzle_curve::CurveRefusal;
use crate::analysis::tail_threshold::TailThreshold;
use crate::analysis::thresholds as limit;
use crate::analysis::wear::worn_probability;
use crate::estimate::Estimate;
use statrs::distribution::{ContinuousCDF, Normal};

/// What a rule says: nothing, or a draft verdict.
type Rule = fn(&Case) -> Option<Verdict>;

/// The rules in order; the first that speaks decides. The names are stable words of the JSON.
pub const RULES: &[(&str, Rule)] = &[
    ("readings_not_sound", readings_not_sound),
    ("notes_not_placed", notes_not_placed),
    ("curve_not_possible", curve_not_possible),
    ("temperature_moved_it", temperature_moved_it),
    ("nozzle_curve_fell", nozzle_curve_fell),
    ("supply_fell", supply_fell),
    ("tip_is_worn", tip_is_worn),
    ("tails_not_graded", tails_not_graded),
    ("coat_runs", coat_runs),
    ("window_is_open", window_is_open),
    ("tails_at_full_pressure", tails_at_full_pressure),
];

/// Decides the verdict of one setting.
#[must_use]
pub fn decide_verdict(case: &Case) -> Verdict {
    RULES
        .iter()
        .find_map(|(_, rule)| rule(case))
        .unwrap_or_else(|| draft(case, VerdictKind::Undetermined, 0.5).because("no_rule_applies"))
}

fn readings_not_sound(case: &Case) -> Option<Verdict> {
    let worst = case.fatal_defects.first()?;
    let (code, trial, advice) = match worst {
        DefectKind::PressureScaleChanged => (
            "pressure_scale_changed",
            NextTrial::RecordInOneUnit,
            [Advice::CheckUnits, Advice::CollectMoreData],
        ),
        DefectKind::PressureBeyondSensor => (
            "pressure_beyond_sensor",
            NextTrial::RecordInOneUnit,
            [Advice::CheckUnits, Advice::CollectMoreData],
        ),
        DefectKind::PressureSaturated => (
            "pressure_saturated",
            NextTrial::RecordWithSoundSensor,
            [Advice::CheckSensor, Advice::CollectMoreData],
        ),
        DefectKind::PressureStuck => (
            "pressure_stuck",
            NextTrial::RecordWithSoundSensor,
            [Advice::CheckSensor, Advice::CollectMoreData],
        ),
        _ => (
            "readings_not_sound",
            NextTrial::RecordWithSoundSensor,
            [Advice::CheckSensor, Advice::CollectMoreData],
        ),
    };
    Some(
        draft(case, VerdictKind::InsufficientData, 0.99)
            .because(code)
            .next(trial)
            .advise(&advice),
    )
}

fn notes_not_placed(case: &Case) -> Option<Verdict> {
    case.is_alignment_ambiguous.then(|| {
        draft(case, VerdictKind::InsufficientData, 0.95)
            .because("notes_not_placed")
            .next(NextTrial::TimeTheNotes)
            .advise(&[Advice::FixNotes, Advice::CollectMoreData])
    })
}

fn curve_not_possible(case: &Case) -> Option<Verdict> {
    let refusal = case.curve.err()?;
    let (code, trial) = match refusal {
        CurveRefusal::TooFewPressures { suggest_pa, .. } => (
            "too_few_pressures",
            Some(NextTrial::BurstAtPressure {
                pressure_pa: *suggest_pa,
            }),
        ),
        CurveRefusal::NarrowRange { suggest_pa, .. } => (
            "narrow_range",
            Some(NextTrial::BurstAtPressure {
                pressure_pa: *suggest_pa,
            }),
        ),
        CurveRefusal::TemperatureChanged { low_k, .. } => (
            "temperature_changed",
            Some(NextTrial::RepeatAtTemperature {
                temperature_k: *low_k,
            }),
        ),
        CurveRefusal::NoPoints => ("no_points", None),
        CurveRefusal::Inconsistent { .. } => ("points_inconsistent", Some(NextTrial::TimeTheNotes)),
        _ => ("curve_not_fitted", None),
    };
    let verdict = draft(case, VerdictKind::InsufficientData, 0.95).because(code);
    let advice: &[Advice] = if matches!(refusal, CurveRefusal::Inconsistent { .. }) {
        &[
            Advice::FixNotes,
            Advice::CheckSensor,
            Advice::CollectMoreData,
        ]
    } else {
        &[Advice::CollectMoreData]
    };
    let verdict = verdict.advise(advice);
    Some(match trial {
        Some(trial) => verdict.next(trial),
        None => verdict,
    })
}

/// Probability that an estimate lies below a limit.
fn probability_below(e: &Estimate, limit: f64) -> f64 {
    let u = e.u_combined().max(1e-9);
    Normal::new(0.0, 1.0).map_or(0.5, |n| n.cdf((limit - e.value) / u))
}

fn temperature_moved_it(case: &Case) -> Option<Verdict> {
    let change_k = case.temperature_change_k?;
    if change_k.abs() < limit::TEMPERATURE_STEP_K {
        return None;
    }
    // Seen from the colder state, whichever came first.
    let ratio = case.flow_ratio_to_baseline.map(|r| {
        if change_k < 0.0 {
            r
        } else {
            Estimate::new(
                1.0 / r.value,
                r.u_independent / r.value.powi(2),
                r.u_common / r.value.powi(2),
            )
        }
    });
    let flow_fell = ratio.map_or(0.0, |r| probability_below(&r, 1.0));
    let (cold, warm) = if change_k < 0.0 {
        (case.clearing, case.baseline_clearing)
    } else {
        (case.baseline_clearing, case.clearing)
    };
    let tails_rose = cold.zip(warm).map_or(0.0, |(c, w)| {
        1.0 - c.probability_cleared_at(w.median_pa() * 1.03, 0.05)
    });
    let confidence = flow_fell.max(tails_rose);
    if confidence < limit::DECIDE_PROBABILITY {
        return None;
    }
    let mut verdict = draft(case, VerdictKind::ColdMaterial, confidence).with(
        "temperature_change_k",
        -change_k.abs(),
        Some(limit::TEMPERATURE_STEP_K),
    );
    if let Some(r) = ratio {
        verdict = verdict.with_estimate("cold_over_warm_flow_ratio", &r, 1.0);
    }
    if let Some(k) = case.baseline_temperature_k {
        verdict = verdict.next(NextTrial::RepeatAtTemperature {
            temperature_k: k.max(k + change_k),
        });
    }
    Some(verdict)
}

fn nozzle_curve_fell(case: &Case) -> Option<Verdict> {
    let ratio = case.flow_ratio_to_baseline?;
    if ratio.value >= limit::RISEN_FLOW_RATIO {
        let p = 1.0 - probability_below(&ratio, 1.0);
        return (p > limit::DECIDE_PROBABILITY).then(|| {
            draft(case, VerdictKind::Undetermined, 1.0 - p)
                .because("nozzle_curve_rose")
                .with_estimate("flow_ratio_to_baseline", &ratio, limit::RISEN_FLOW_RATIO)
                .next(NextTrial::RepeatWithNewTip)
        });
    }
    let p = probability_below(&ratio, 1.0);
    if ratio.value > limit::RESTRICTED_FLOW_RATIO || p < limit::DECIDE_PROBABILITY {
        return None;
    }
    Some(
        draft(case, VerdictKind::RestrictionTip, p)
            .with_estimate(
                "flow_ratio_to_baseline",
                &ratio,
                limit::RESTRICTED_FLOW_RATIO,
            )
            .next(NextTrial::RepeatAfterCleaning),
    )
}

fn supply_fell(case: &Case) -> Option<Verdict> {
    let change = case.supply_change?;
    if change.held_ratio.value > limit::SUPPLY_FELL_RATIO || change.p_value > 0.02 {
        return None;
    }
    let evidence = |v: Verdict| {
        let v = v.with_estimate(
            "held_pressure_ratio",
            &change.held_ratio,
            limit::SUPPLY_FELL_RATIO,
        );
        match change.voltage_ratio {
            Some(r) => v.with("supply_voltage_ratio", r, Some(limit::WEAK_BATTERY_RATIO)),
            None => v,
        }
    };
    let confidence = 1.0 - change.p_value;
    let verdict = match change.voltage_ratio {
        Some(r) if r < limit::WEAK_BATTERY_RATIO => {
            draft(case, VerdictKind::WeakBattery, confidence).next(NextTrial::RepeatWithFullBattery)
        }
        Some(r) if r > limit::SOUND_SUPPLY_RATIO => {
            draft(case, VerdictKind::RestrictionInlet, confidence)
                .next(NextTrial::RepeatAfterCleaning)
        }
        Some(_) => draft(case, VerdictKind::Undetermined, 0.5)
            .because("battery_or_inlet")
            .next(NextTrial::RepeatWithFullBattery),
        None if !change.has_battery => draft(case, VerdictKind::RestrictionInlet, confidence)
            .next(NextTrial::RepeatAfterCleaning),
        None => draft(case, VerdictKind::Undetermined, 0.5)
            .because("supply_voltage_not_logged")
            .next(NextTrial::RepeatWithFullBattery),
    };
    Some(evidence(verdict))
}

fn tip_is_worn(case: &Case) -> Option<Verdict> {
    let ratio = case.orifice_ratio?;
    let worn = worn_probability(&ratio, case.tip_used_s);
    if ratio.value < limit::WORN_ORIFICE_RATIO || worn < limit::DECIDE_PROBABILITY {
        return None;
    }
    Some(
        draft(case, VerdictKind::WornTip, worn)
            .with_estimate("orifice_ratio", &ratio, limit::WORN_ORIFICE_RATIO)
            .next(NextTrial::RepeatWithNewTip),
    )
}

fn tails_not_graded(case: &Case) -> Option<Verdict> {
    matches!(case.threshold, TailThreshold::NoGrades).then(|| {
        draft(case, VerdictKind::Undetermined, 0.5)
            .because("tails_not_graded")
            .next(NextTrial::GradeTails)
    })
}

fn coat_runs(case: &Case) -> Option<Verdict> {
    let RunEvidence { n_tail_free, n_ran } = case.runs;
    if n_ran < 2 || 2 * n_ran < n_tail_free {
        return None;
    }
    #[allow(clippy::cast_precision_loss)]
    let share = n_ran as f64 / n_tail_free as f64;
    // Laplace's rule of succession: a share seen in few bursts is not certain.
    #[allow(clippy::cast_precision_loss)]
    let confidence = (n_ran as f64 + 1.0) / (n_tail_free as f64 + 2.0);
    Some(draft(case, VerdictKind::ApplicationLimit, confidence).with(
        "tail_free_bursts_that_ran_ratio",
        share,
        Some(0.5),
    ))
}

fn window_is_open(case: &Case) -> Option<Verdict> {
    let window = case.window?;
    if window.open_probability < limit::DECIDE_PROBABILITY {
        return None;
    }
    // Nobody saw a tail-free fan, and the pressure that might give one was not sprayed.
    let is_seen = !matches!(case.threshold, TailThreshold::Above { .. });
    if !is_seen && case.crossing.is_none_or(|c| !c.is_measured) {
        return None;
    }
    let verdict = draft(case, VerdictKind::HealthyWindow, window.open_probability);
    Some(match window.recommended_pa {
        Some(pressure_pa) => verdict
            .with("recommended_pa", pressure_pa, None)
            .next(NextTrial::ConfirmRecommended { pressure_pa }),
        None => verdict,
    })
}

/// Tails up to the highest pressure held: which of two opposite limits?
fn tails_at_full_pressure(case: &Case) -> Option<Verdict> {
    let window = case.window?;
    let clearing = case.clearing?;
    let is_computed = case.crossing.is_some_and(|c| !c.is_measured);
    if !is_computed && window.open_probability > 1.0 - limit::DECIDE_PROBABILITY {
        return Some(
            draft(
                case,
                VerdictKind::Undetermined,
                window.open_probability.max(0.5),
            )
            .because("window_edge_within_uncertainty")
            .next(NextTrial::BurstAtFullDial),
        );
    }
    if !case.is_full_known || case.crossing.is_none() || is_computed {
        return Some(
            draft(case, VerdictKind::Undetermined, 0.5)
                .because("full_dial_not_tried")
                .next(NextTrial::BurstAtFullDial),
        );
    }
    let (Some(sag), Some(stalled)) = (sag_ratio(case), case.stalled_full_pa) else {
        return Some(
            draft(case, VerdictKind::Undetermined, 0.5)
                .because("stalled_pressure_not_seen")
                .next(NextTrial::BurstAtFullDial),
        );
    };
    let tails = 1.0 - window.open_probability;
    if sag < limit::SAG_HOLDS_RATIO {
        return Some(draft(case, VerdictKind::AtomisationLimit, tails));
    }
    // The control would hold a little less than it stalls at even on an ample pump.
    let would_clear = clearing.probability_cleared_at(stalled * 0.985, 0.015);
    let verdict = if would_clear >= limit::DECIDE_PROBABILITY {
        draft(case, VerdictKind::SupplyLimit, would_clear.min(tails))
    } else if would_clear <= 1.0 - limit::DECIDE_PROBABILITY {
        draft(
            case,
            VerdictKind::AtomisationLimit,
            (1.0 - would_clear).min(tails),
        )
    } else if sag < limit::SAG_FAILS_RATIO && would_clear < 0.35 {
        draft(case, VerdictKind::AtomisationLimit, 1.0 - would_clear)
    } else if sag > limit::SAG_FAILS_RATIO && would_clear > 0.65 {
        draft(case, VerdictKind::SupplyLimit, would_clear)
    } else {
        draft(case, VerdictKind::Undetermined, 0.5)
            .because("atomisation_or_supply")
            .next(NextTrial::OtherTipAtFullDial { smaller: true })
    };
    Some(verdict.with(
        "stalled_would_clear_probability",
        would_clear,
        Some(limit::DECIDE_PROBABILITY),
    ))
}
