//! Each row of the table, both sides of each limit, and the undetermined cases.

use super::*;
use crate::analysis::clearing::{ClearingPosterior, clearing_posterior};
use crate::analysis::health::DefectKind;
use crate::analysis::nozzle_curve::{
    CommonUncertainty, CurveConditions, CurvePoint, CurveRefusal, NozzleCurve, fit_nozzle_curve,
};
use crate::analysis::supply_curve::{Crossing, SupplyRegime};
use crate::analysis::tail_threshold::{Grade, TailThreshold, find_tail_threshold};
use crate::analysis::window::{UpperBounds, Window, find_window};
use crate::estimate::{Estimate, Interval};

/// Everything a case refers to.
struct Bench {
    curve: Result<NozzleCurve, CurveRefusal>,
    grades: Vec<Grade>,
    held_bar: f64,
    stalled_bar: f64,
    defects: Vec<DefectKind>,
    ambiguous: bool,
    is_full_known: bool,
    is_computed: bool,
    runs: RunEvidence,
    orifice_ratio: f64,
    tip_used_s: Option<f64>,
    flow_ratio: Option<f64>,
    temperature_change_k: Option<f64>,
    baseline_grades: Vec<Grade>,
    supply_change: Option<SupplyChange>,
    is_thinner_at_limit: bool,
}

fn grades(list: &[(f64, u8)]) -> Vec<Grade> {
    list.iter()
        .enumerate()
        .map(|(burst_index, (bar, tails))| Grade {
            burst_index,
            pressure_pa: bar * 1e5,
            tails: *tails,
        })
        .collect()
}

fn curve() -> NozzleCurve {
    let points: Vec<CurvePoint> = [50.0f64, 80.0, 110.0, 140.0, 81.0, 139.0]
        .iter()
        .enumerate()
        .map(|(burst_index, bar)| {
            let q = 1e-5 * (bar / 80.0).powf(0.55);
            CurvePoint {
                burst_index,
                pressure_pa: Estimate::new(bar * 1e5, bar * 100.0, 0.0),
                flow_m3_per_s: Estimate::new(q, q * 0.002, 0.0),
            }
        })
        .collect();
    fit_nozzle_curve(
        &points,
        &CommonUncertainty::default(),
        &CurveConditions::default(),
    )
    .unwrap()
}

/// A sound rig with an open window: tails vanish near 90 bar, 140 bar are held.
fn sound() -> Bench {
    Bench {
        curve: Ok(curve()),
        grades: grades(&[
            (50.0, 3),
            (80.0, 1),
            (81.0, 1),
            (110.0, 0),
            (139.0, 0),
            (140.0, 0),
        ]),
        held_bar: 140.0,
        stalled_bar: 146.0,
        defects: vec![],
        ambiguous: false,
        is_full_known: true,
        is_computed: false,
        runs: RunEvidence {
            n_tail_free: 3,
            n_ran: 0,
        },
        orifice_ratio: 1.0,
        tip_used_s: None,
        flow_ratio: None,
        temperature_change_k: None,
        baseline_grades: vec![],
        supply_change: None,
        is_thinner_at_limit: false,
    }
}

/// Tails everywhere, the last ones clear (grade 2).
fn tails_to_the_top() -> Bench {
    Bench {
        grades: grades(&[
            (50.0, 3),
            (80.0, 3),
            (81.0, 3),
            (110.0, 3),
            (139.0, 2),
            (140.0, 2),
        ]),
        ..sound()
    }
}

fn decide(bench: &Bench) -> Verdict {
    let threshold = find_tail_threshold(&bench.grades);
    let clearing = clearing_posterior(&bench.grades);
    let baseline: Option<ClearingPosterior> = clearing_posterior(&bench.baseline_grades);
    let crossing = Crossing {
        pressure_pa: Estimate::new(bench.held_bar * 1e5, bench.held_bar * 5e2, 0.0),
        flow_m3_per_s: 1.3e-5,
        regime: SupplyRegime::Pressure,
        interval_95_pa: Interval {
            low: bench.held_bar * 0.99e5,
            high: bench.held_bar * 1.01e5,
        },
        is_measured: !bench.is_computed,
    };
    let window: Option<Window> = find_window(
        &threshold,
        clearing.as_ref(),
        Some(&crossing),
        &UpperBounds::default(),
    );
    let estimate = |value: f64| Estimate::new(value, 0.01 * value, 0.0);
    decide_verdict(&Case {
        group_index: 0,
        curve: bench.curve.as_ref(),
        fatal_defects: &bench.defects,
        is_alignment_ambiguous: bench.ambiguous,
        threshold: &threshold,
        clearing: clearing.as_ref(),
        window: window.as_ref(),
        crossing: Some(&crossing),
        stalled_full_pa: Some(bench.stalled_bar * 1e5),
        is_full_known: bench.is_full_known,
        runs: bench.runs,
        orifice_ratio: Some(Estimate::new(bench.orifice_ratio, 0.01, 0.045)),
        tip_used_s: bench.tip_used_s,
        flow_ratio_to_baseline: bench.flow_ratio.map(estimate),
        temperature_change_k: bench.temperature_change_k,
        baseline_clearing: baseline.as_ref(),
        supply_change: bench.supply_change,
        is_thinner_at_limit: bench.is_thinner_at_limit,
        baseline_temperature_k: bench.temperature_change_k.map(|_| 298.0),
    })
}

#[track_caller]
fn check(bench: &Bench, kind: VerdictKind) -> Verdict {
    let verdict = decide(bench);
    assert_eq!(verdict.kind, kind, "{verdict:?}");
    assert!((0.0..=1.0).contains(&verdict.confidence), "{verdict:?}");
    let both: Vec<_> = verdict
        .advice
        .iter()
        .filter(|a| verdict.advice_against.contains(a))
        .collect();
    assert!(both.is_empty(), "advised and advised against: {both:?}");
    verdict
}

fn supply(held: f64, volts: Option<f64>) -> Option<SupplyChange> {
    Some(SupplyChange {
        held_ratio: Estimate::new(held, 0.02, 0.0),
        p_value: 1e-6,
        voltage_ratio: volts,
        has_battery: true,
    })
}

#[test]
fn tails_gone_below_the_held_pressure_is_an_open_window() {
    let v = check(&sound(), VerdictKind::HealthyWindow);
    assert!(v.advice_against.contains(&Advice::RaisePressure));
    assert!(matches!(
        v.next_trial,
        Some(NextTrial::ConfirmRecommended { .. })
    ));
}

#[test]
fn pressure_that_holds_with_tails_is_the_atomisation_limit() {
    let v = check(&tails_to_the_top(), VerdictKind::AtomisationLimit);
    assert!(v.advice.contains(&Advice::LargerOrificeSameFan));
    assert!(v.advice_against.contains(&Advice::SmallerOrificeSameFan));
}

#[test]
fn a_computed_crossing_opens_a_seen_window_and_decides_no_limit() {
    let bench = Bench {
        is_computed: true,
        ..sound()
    };
    let v = check(&bench, VerdictKind::HealthyWindow);
    let has = |code: &str| v.evidence.iter().any(|e| e.code == code);
    assert!(has("held_pressure_computed_pa") && !has("held_pressure_pa") && !has("sag_ratio"));
    // Tails at all that was sprayed, and a far higher pressure computed: nobody saw it.
    for held_bar in [140.0, 260.0] {
        let v = check(
            &Bench {
                is_computed: true,
                held_bar,
                ..tails_to_the_top()
            },
            VerdictKind::Undetermined,
        );
        assert_eq!(v.because, ["full_dial_not_tried"]);
        assert_eq!(v.next_trial, Some(NextTrial::BurstAtFullDial));
    }
}

#[test]
fn pressure_that_sags_where_the_stalled_one_would_clear_is_the_supply_limit() {
    let mut bench = tails_to_the_top();
    bench.stalled_bar = 215.0;
    let v = check(&bench, VerdictKind::SupplyLimit);
    assert!(v.advice.contains(&Advice::SmallerTip));
    assert!(v.advice_against.contains(&Advice::LargerTip));
    assert!(v.advice_against.contains(&Advice::LargerOrificeSameFan));
}

#[test]
fn pressure_that_sags_where_even_the_stalled_one_would_not_clear_is_the_atomisation_limit() {
    let mut bench = tails_to_the_top();
    bench.grades = grades(&[
        (50.0, 3),
        (80.0, 3),
        (110.0, 3),
        (139.0, 3),
        (140.0, 3),
        (141.0, 3),
    ]);
    bench.stalled_bar = 170.0;
    check(&bench, VerdictKind::AtomisationLimit);
}

#[test]
fn between_the_two_limits_nothing_is_guessed() {
    let mut bench = tails_to_the_top();
    bench.stalled_bar = 175.0;
    let v = check(&bench, VerdictKind::Undetermined);
    assert_eq!(v.because, ["atomisation_or_supply"]);
    assert_eq!(
        v.next_trial,
        Some(NextTrial::OtherTipAtFullDial { smaller: true })
    );
    assert_eq!(v.advice, [Advice::CollectMoreData]);
}

#[test]
fn a_sag_just_below_the_limit_holds() {
    let mut bench = tails_to_the_top();
    bench.stalled_bar = 140.0 / (1.0 - 0.099);
    check(&bench, VerdictKind::AtomisationLimit);
}

#[test]
fn a_threshold_at_the_held_pressure_is_undetermined() {
    let mut bench = sound();
    bench.grades = grades(&[
        (50.0, 3),
        (80.0, 2),
        (110.0, 2),
        (139.0, 1),
        (140.0, 0),
        (140.5, 1),
    ]);
    let v = check(&bench, VerdictKind::Undetermined);
    assert_eq!(v.because, ["window_edge_within_uncertainty"]);
}

#[test]
fn a_fallen_nozzle_curve_is_a_restriction_at_the_tip_and_just_above_the_limit_is_not() {
    let mut bench = sound();
    bench.flow_ratio = Some(0.93);
    let v = check(&bench, VerdictKind::RestrictionTip);
    assert_eq!(v.advice[0], Advice::CleanTip);
    assert!(v.advice_against.contains(&Advice::RaisePressure));
    bench.flow_ratio = Some(0.95);
    check(&bench, VerdictKind::HealthyWindow);
}

#[test]
fn a_curve_that_rose_within_a_recording_is_not_explained_away() {
    let mut bench = sound();
    bench.flow_ratio = Some(1.10);
    let v = check(&bench, VerdictKind::Undetermined);
    assert_eq!(v.because, ["nozzle_curve_rose"]);
}

#[test]
fn a_fallen_supply_with_a_sound_voltage_is_the_inlet() {
    let mut bench = sound();
    bench.supply_change = supply(0.6, Some(1.02));
    let v = check(&bench, VerdictKind::RestrictionInlet);
    assert!(v.advice_against.contains(&Advice::LargerTip));
    bench.supply_change = supply(0.91, Some(1.02));
    check(&bench, VerdictKind::HealthyWindow);
}

#[test]
fn a_fallen_supply_with_a_fallen_voltage_is_the_battery() {
    let mut bench = sound();
    bench.supply_change = supply(0.6, Some(0.9));
    let v = check(&bench, VerdictKind::WeakBattery);
    assert_eq!(v.advice, [Advice::ChargeBattery]);
    bench.supply_change = supply(0.6, Some(0.98));
    assert_eq!(decide(&bench).because, ["battery_or_inlet"]);
    bench.supply_change = supply(0.6, None);
    let v = check(&bench, VerdictKind::Undetermined);
    assert_eq!(v.because, ["supply_voltage_not_logged"]);
}

#[test]
fn an_orifice_well_above_its_stamp_is_worn_and_just_below_the_limit_is_not() {
    let mut bench = sound();
    bench.orifice_ratio = 1.22;
    let v = check(&bench, VerdictKind::WornTip);
    assert_eq!(v.advice, [Advice::ReplaceTip]);
    bench.orifice_ratio = 1.11;
    check(&bench, VerdictKind::HealthyWindow);
}

/// The discharge coefficient alone makes one sound tip in a hundred look so.
#[test]
fn a_tip_of_few_hours_is_not_thrown_away_for_a_little_more_flow() {
    let mut bench = sound();
    bench.orifice_ratio = 1.16;
    bench.tip_used_s = Some(5.0 * 3600.0);
    let v = check(&bench, VerdictKind::HealthyWindow);
    assert!(!v.advice.contains(&Advice::ReplaceTip));
    bench.tip_used_s = Some(90.0 * 3600.0);
    check(&bench, VerdictKind::WornTip);
}

#[test]
fn no_tails_but_runs_is_the_application_limit() {
    let mut bench = sound();
    bench.runs.n_ran = 3;
    let v = check(&bench, VerdictKind::ApplicationLimit);
    assert!(v.advice.contains(&Advice::FasterPass));
    assert!(v.advice_against.contains(&Advice::SecondPass));
    bench.runs.n_ran = 1;
    check(&bench, VerdictKind::HealthyWindow);
}

#[test]
fn a_colder_state_that_needs_more_pressure_is_the_temperature() {
    let mut bench = tails_to_the_top();
    bench.temperature_change_k = Some(-15.0);
    bench.baseline_grades = sound().grades;
    bench.flow_ratio = Some(0.85);
    let v = check(&bench, VerdictKind::ColdMaterial);
    assert_eq!(v.advice[0], Advice::WarmMaterial);
    assert!(v.advice_against.contains(&Advice::CleanTip));
    // The same fall of flow without a step of temperature is a restriction.
    bench.temperature_change_k = Some(-5.0);
    check(&bench, VerdictKind::RestrictionTip);
}

#[test]
fn readings_that_are_not_sound_come_before_everything() {
    for (defect, code, first) in [
        (
            DefectKind::PressureScaleChanged,
            "pressure_scale_changed",
            Advice::CheckUnits,
        ),
        (
            DefectKind::PressureBeyondSensor,
            "pressure_beyond_sensor",
            Advice::CheckUnits,
        ),
        (
            DefectKind::PressureSaturated,
            "pressure_saturated",
            Advice::CheckSensor,
        ),
        (
            DefectKind::PressureStuck,
            "pressure_stuck",
            Advice::CheckSensor,
        ),
    ] {
        let mut bench = sound();
        bench.defects = vec![defect];
        bench.flow_ratio = Some(0.5);
        let v = check(&bench, VerdictKind::InsufficientData);
        assert_eq!((v.because[0].as_str(), v.advice[0]), (code, first));
    }
}

#[test]
fn notes_without_a_place_are_not_used_silently() {
    let mut bench = sound();
    bench.ambiguous = true;
    let v = check(&bench, VerdictKind::InsufficientData);
    assert_eq!(v.next_trial, Some(NextTrial::TimeTheNotes));
}

#[test]
fn a_refused_curve_names_the_burst_that_is_missing() {
    let mut bench = sound();
    bench.curve = Err(CurveRefusal::TooFewPressures {
        distinct_pa: vec![1e7],
        needed: 3,
        suggest_pa: 6e6,
    });
    let v = check(&bench, VerdictKind::InsufficientData);
    assert_eq!(
        v.next_trial,
        Some(NextTrial::BurstAtPressure { pressure_pa: 6e6 })
    );
}

#[test]
fn ungraded_tails_and_an_untried_full_dial_ask_for_the_trial() {
    let mut bench = sound();
    bench.grades = vec![];
    let v = check(&bench, VerdictKind::Undetermined);
    assert_eq!(v.next_trial, Some(NextTrial::GradeTails));
    let mut bench = tails_to_the_top();
    bench.is_full_known = false;
    let v = check(&bench, VerdictKind::Undetermined);
    assert_eq!(v.next_trial, Some(NextTrial::BurstAtFullDial));
}

#[test]
fn thinning_is_not_advised_beyond_the_label() {
    let mut bench = tails_to_the_top();
    assert!(decide(&bench).advice.contains(&Advice::ThinMaterial));
    bench.is_thinner_at_limit = true;
    assert!(!decide(&bench).advice.contains(&Advice::ThinMaterial));
}

#[test]
fn no_verdict_ever_advises_more_pressure() {
    // The lowest rating and the coating's own limit are not known well enough to ask for more.
    for bench in [sound(), tails_to_the_top()] {
        assert!(!decide(&bench).advice.contains(&Advice::RaisePressure));
    }
}

#[test]
fn the_two_opposite_limits_never_advise_the_same_tip_change() {
    let (atomisation, _) = advice::advice_for(VerdictKind::AtomisationLimit);
    let (supply, _) = advice::advice_for(VerdictKind::SupplyLimit);
    assert!(!atomisation.contains(&Advice::SmallerTip));
    assert!(
        !supply.contains(&Advice::LargerOrificeSameFan) && !supply.contains(&Advice::LargerTip)
    );
}

#[test]
fn a_threshold_is_needed_for_a_window_but_not_its_bracket() {
    // No tails anywhere: open, and the answer says "below".
    let mut bench = sound();
    bench.grades = grades(&[(50.0, 0), (80.0, 0), (110.0, 0), (139.0, 0), (140.0, 0)]);
    assert!(matches!(
        find_tail_threshold(&bench.grades),
        TailThreshold::Below { .. }
    ));
    check(&bench, VerdictKind::HealthyWindow);
}
