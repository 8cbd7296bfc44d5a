use super::predict::{MeasuredTip, PlannedTip, U_ORIFICE_RATIO, predict_curve};
use super::*;
use crate::analysis::nozzle_curve::{CurveForm, NozzleCurve, PowerLaw};
use crate::analysis::similarity::SHEAR_INDEX_UNKNOWN;
use crate::estimate::Interval;

/// A curve of `q_ref` at 100 bar with exponent `n`, measured from 50 to 150 bar.
fn curve(q_ref: f64, n: f64, u_common: f64) -> NozzleCurve {
    NozzleCurve {
        points: vec![],
        outliers: vec![],
        power_law: PowerLaw {
            p_ref_pa: 1.0e7,
            q_ref_m3_per_s: Estimate::new(q_ref, 0.002 * q_ref, u_common * q_ref),
            n: Estimate::new(n, 0.005, 0.0),
            cov_ln_q_ref_n: 0.0,
            cov_ln_q_ref_n_common: 0.0,
            burst_scatter_ratio: 0.01,
            reduced_chi_square: 1.0,
        },
        two_term: None,
        preferred: CurveForm::PowerLaw,
        delta_aicc: None,
        forms_disagree: false,
        lack_of_fit: None,
        residual_lag_1: None,
        distinct_pa: vec![],
        range_pa: Interval {
            low: 5.0e6,
            high: 1.5e7,
        },
    }
}

fn tip(mm: f64, q_ref: f64, n: f64) -> MeasuredTip {
    MeasuredTip {
        curve: curve(q_ref, n, 0.01),
        orifice_m: mm / 1000.0,
        u_orifice_ratio: U_ORIFICE_RATIO,
    }
}

fn planned(mm: f64) -> PlannedTip {
    PlannedTip {
        orifice_m: mm / 1000.0,
        u_orifice_ratio: U_ORIFICE_RATIO,
    }
}

fn predicted(tips: &[MeasuredTip], mm: f64) -> PredictedCurve {
    predict_curve(tips, planned(mm), SHEAR_INDEX_UNKNOWN, None).unwrap()
}

/// 160 bar stalled, 80 W of hydraulic power.
fn supply(flow: f64) -> Option<Estimate> {
    let limit = if flow > 0.0 {
        80.0 / flow
    } else {
        f64::INFINITY
    };
    Some(Estimate::new(limit.min(1.6e7), 5.0e4, 1.0e5))
}

fn need(bar: f64, u_bar: f64) -> Need {
    Need {
        tail_free_pa: Some(Estimate::new(bar * 1e5, u_bar * 1e5, 0.0)),
        rated_pa: Some(2.0e7),
    }
}

#[test]
fn a_turbulent_tip_goes_with_the_area_and_the_same_tip_is_itself() {
    let tips = [tip(0.381, 1.0e-5, 0.5)];
    let same = predicted(&tips, 0.381).flow_at(1.0e7).unwrap();
    assert!((same.value / 1.0e-5 - 1.0).abs() < 1e-9);
    let smaller = predicted(&tips, 0.279).flow_at(8.0e6).unwrap();
    let expected = 1.0e-5 * (0.279f64 / 0.381).powi(2) * 0.8f64.sqrt();
    assert!((smaller.value / expected - 1.0).abs() < 1e-9);
    // Two stamping tolerances of 2 % on the diameter are about 5.7 % on the flow.
    let relative = smaller.u_independent / smaller.value;
    assert!((0.054..0.061).contains(&relative), "{relative}");
    assert!((smaller.u_common / smaller.value - 0.01).abs() < 1e-6);
}

#[test]
fn a_viscous_liquid_favours_the_larger_orifice_beyond_its_area() {
    let tips = [tip(0.381, 1.0e-5, 0.65)];
    let larger = predicted(&tips, 0.5).flow_at(1.0e7).unwrap();
    assert!(larger.value / 1.0e-5 > 1.05 * (0.5f64 / 0.381).powi(2));
    // And the predicted curve keeps the exponent of a power law.
    assert!((predicted(&tips, 0.5).exponent_at(1.0e7).unwrap() - 0.65).abs() < 1e-3);
}

#[test]
fn several_tips_narrow_the_prediction() {
    let exponent = 2.0 + 0.75 / 1.25 * 0.2;
    let at = |mm: f64| tip(mm, 1.0e-5 * (mm / 0.381f64).powf(exponent), 0.6);
    let one = predicted(&[at(0.381)], 0.3).flow_at(1.0e7).unwrap();
    let many = predicted(&[at(0.254), at(0.33), at(0.381)], 0.3)
        .flow_at(1.0e7)
        .unwrap();
    assert!(many.u_independent < 0.9 * one.u_independent);
    assert!((many.value / one.value - 1.0).abs() < 0.01);
}

#[test]
fn the_hose_is_taken_off_the_measured_tip_and_put_on_the_planned_one() {
    let hose = hose::Hose {
        length_m: 15.0,
        bore_m: 4.8e-3,
        density_kg_per_m3: 1300.0,
        viscosity_pa_s: 0.4,
        shear_rate_per_s: 100.0,
        shear_index: 0.7,
    };
    let tips = [tip(0.381, 1.0e-5, 0.5)];
    let with = |mm: f64| {
        predict_curve(&tips, planned(mm), SHEAR_INDEX_UNKNOWN, Some(hose))
            .unwrap()
            .flow_at(1.0e7)
            .unwrap()
    };
    assert!((with(0.381).value / 1.0e-5 - 1.0).abs() < 1e-6);
    // A smaller tip takes less flow, loses less in the hose, and so gets more than its area's share.
    let area = 1.0e-5 * (0.254f64 / 0.381).powi(2);
    assert!(with(0.254).value > 1.05 * area && with(0.254).value < 1.4 * area);
}

#[test]
fn a_crossing_lies_where_the_pump_gives_what_the_tip_takes() {
    let curve = predicted(&[tip(0.381, 1.0e-5, 0.5)], 0.381);
    let held = cross_supply(&curve, &supply, Instruments::Same).unwrap();
    // p q = 80 W with q = 1e-5 sqrt(p / 1e7): p^(3/2) = 80 sqrt(1e7) / 1e-5.
    let expected = (80.0 * 1.0e7f64.sqrt() / 1.0e-5).powf(2.0 / 3.0);
    assert!((held.pressure_pa.value / expected - 1.0).abs() < 1e-9);
    let power = held.pressure_pa.value * held.flow_m3_per_s.value;
    assert!((power - 80.0).abs() < 1e-6);
    let interval = held.pressure_pa.interval_95;
    assert!(interval.contains(expected), "{held:?}");
    assert!(interval.high - interval.low < 0.17 * expected, "{held:?}");
}

#[test]
fn a_small_tip_is_held_at_the_stalled_pressure_with_a_lopsided_interval() {
    let curve = predicted(&[tip(0.381, 1.0e-5, 0.5)], 0.21);
    let steady = |flow: f64| supply(flow).map(|e| Estimate::new(e.value, 0.0, 0.0));
    let held = cross_supply(&curve, &steady, Instruments::Same).unwrap();
    assert!((held.pressure_pa.value - 1.6e7).abs() < 10.0);
    assert!(held.pressure_pa.interval_95.high <= 1.6e7 + 10.0);
}

#[test]
fn one_meter_for_both_curves_does_not_move_the_crossing_and_two_do() {
    let mut tips = [tip(0.381, 1.0e-5, 0.5)];
    tips[0].curve = curve(1.0e-5, 0.5, 0.10);
    let curve = predicted(&tips, 0.381);
    let width = |instruments| {
        let held = cross_supply(&curve, &supply, instruments).unwrap();
        held.pressure_pa.interval_95.high - held.pressure_pa.interval_95.low
    };
    assert!(width(Instruments::Different) > 1.5 * width(Instruments::Same));
}

#[test]
fn each_answer_has_its_reason_and_what_would_change_it() {
    let curve = predicted(&[tip(0.381, 1.0e-5, 0.5)], 0.45);
    let plan = |need: &Need| judge_plan(&curve, &supply, Instruments::Same, need).unwrap();
    let held = plan(&need(60.0, 1.0));
    assert_eq!(
        (held.answer, held.reason),
        (Answer::Yes, PlanReason::PressureHeld)
    );
    assert!(held.changes.is_empty() && !held.is_extrapolated);
    let not = plan(&need(140.0, 2.0));
    assert_eq!(
        (not.answer, not.reason),
        (Answer::No, PlanReason::PressureNotHeld)
    );
    let orifice = not.changes.iter().find_map(|c| match c {
        Change::OrificeAtMost { orifice_m } => Some(*orifice_m),
        _ => None,
    });
    let smaller = curve.with_orifice(orifice.unwrap());
    let again = judge_plan(&smaller, &supply, Instruments::Same, &need(140.0, 2.0)).unwrap();
    assert_eq!(again.answer, Answer::Yes);
    assert!(orifice.unwrap() < 0.45e-3 && orifice.unwrap() > 0.225e-3);
    let power = not
        .changes
        .iter()
        .any(|c| matches!(c, Change::HydraulicPower { ratio, .. } if *ratio > 1.2));
    assert!(power, "{:?}", not.changes);
    let near = plan(&need(held.held.pressure_pa.value / 1e5, 2.0));
    assert_eq!(
        (near.answer, near.reason),
        (Answer::CannotTell, PlanReason::Overlap)
    );
    assert_eq!(near.changes[0], Change::BurstWithThisTip);
    let rated = plan(&need(230.0, 2.0));
    assert_eq!(
        (rated.answer, rated.reason),
        (Answer::No, PlanReason::AboveRating)
    );
    assert_eq!(
        rated.changes,
        [Change::TailFreeAtMost { pressure_pa: 2.0e7 }]
    );
    let unknown = Need {
        tail_free_pa: None,
        rated_pa: None,
    };
    let unknown = plan(&unknown);
    assert_eq!(
        (unknown.answer, unknown.reason),
        (Answer::CannotTell, PlanReason::NeedUnknown)
    );
    assert_eq!(unknown.changes, [Change::GradeTails]);
}

#[test]
fn a_plan_far_from_what_was_measured_is_refused_or_says_so() {
    let tips = [tip(0.381, 1.0e-5, 0.5)];
    let refused = |tips: &[MeasuredTip], mm: f64| {
        predict_curve(tips, planned(mm), SHEAR_INDEX_UNKNOWN, None)
            .unwrap_err()
            .to_string()
    };
    assert_eq!(
        refused(&[], 0.3),
        "no tip was measured with this coating; record one tip at three pressures"
    );
    assert_eq!(
        refused(&tips, 0.18),
        "orifice 0.180 mm is more than twice or less than half of 0.381 mm, the nearest one measured; \
         record a tip nearer to it"
    );
    assert_eq!(
        refused(&tips, f64::NAN),
        "orifice NaN mm with a relative uncertainty of 0.02; the first must be above zero, the second \
         between 0 and 0.5"
    );
    let curve = predicted(&tips, 0.381);
    assert!(curve.is_extrapolated(4.0e7) && !curve.is_extrapolated(1.0e7));
    assert_eq!(curve.flow_at(f64::NAN), None);
    assert_eq!(curve.flow_at(-1.0), None);
    let silent = |_: f64| None;
    let none = cross_supply(&curve, &silent, Instruments::Same).unwrap_err();
    assert_eq!(
        none.to_string(),
        "the supply curve gives no stalled pressure; record a burst at full dial"
    );
    let weak = |flow: f64| (flow < 1e-9).then(|| Estimate::exact(1.0e7));
    let none = cross_supply(&curve, &weak, Instruments::Same).unwrap_err();
    assert_eq!(none.to_string(), "the rig cannot hold 1 bar with this tip");
    assert!(predict_curve(&tips, planned(0.3), Estimate::exact(0.7), None).is_err());
}
