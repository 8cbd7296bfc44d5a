use super::*;
use crate::analysis::nozzle_curve::{CurveForm, NozzleCurve, PowerLaw};
use crate::analysis::plan::predict::{MeasuredTip, PlannedTip, U_ORIFICE_RATIO, predict_curve};
use crate::analysis::similarity::SHEAR_INDEX_UNKNOWN;
use crate::analysis::supply_curve::{SupplyPoint, fit_supply_curves};

/// A turbulent tip of 0.381 mm: 0.6 L/min at 100 bar, measured from `low` to `high` bar.
fn curve(orifice_mm: f64, low: f64, high: f64) -> PredictedCurve {
    let q_ref = 1.0e-5;
    let nozzle = NozzleCurve {
        points: vec![],
        outliers: vec![],
        power_law: PowerLaw {
            p_ref_pa: 1.0e7,
            q_ref_m3_per_s: Estimate::new(q_ref, 0.002 * q_ref, 0.0),
            n: Estimate::new(0.5, 0.005, 0.0),
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
            low: low * 1e5,
            high: high * 1e5,
        },
    };
    let tip = MeasuredTip {
        curve: nozzle,
        orifice_m: 0.381e-3,
        u_orifice_ratio: U_ORIFICE_RATIO,
    };
    let planned = PlannedTip {
        orifice_m: orifice_mm / 1e3,
        u_orifice_ratio: U_ORIFICE_RATIO,
    };
    predict_curve(&[tip], planned, SHEAR_INDEX_UNKNOWN, None).unwrap()
}

/// Points (flow in units of 1e-5 m3/s, bar held), stalled at 160 bar.
fn supply(points: &[(f64, f64)]) -> SupplyCurve {
    let list: Vec<(String, SupplyPoint)> = points
        .iter()
        .enumerate()
        .map(|(burst_index, (q, bar))| {
            let point = SupplyPoint {
                burst_index,
                tip: "415".to_owned(),
                flow_m3_per_s: Estimate::new(q * 1e-5, 1e-8, 0.0),
                pressure_pa: Estimate::new(bar * 1e5, 1e4, 0.0),
                stalled_pa: Some(1.6e7),
                supply_v: None,
                t_s: 0.0,
            };
            ("max".to_owned(), point)
        })
        .collect();
    fit_supply_curves(&list).remove(0)
}

/// 80 W: 160 bar up to 0.5e-5 m3/s, then power.
fn pump() -> SupplyCurve {
    supply(&[
        (0.4, 159.0),
        (0.4, 160.0),
        (0.8, 100.0),
        (0.8, 100.5),
        (1.0, 80.0),
        (1.0, 79.5),
    ])
}

fn ask(tail_free: TailFree) -> Ask {
    Ask {
        tail_free,
        rated_pa: Some(2.0e7),
        measured: None,
        recommended_pa: None,
        verdict: None,
    }
}

fn bracketed(bar: f64) -> TailFree {
    TailFree::Bracketed {
        pressure_pa: Estimate::new(bar * 1e5, 1e5, 0.0),
    }
}

fn plan(orifice_mm: f64, tail_free: TailFree) -> Outlook {
    let curve = curve(orifice_mm, 50.0, 150.0);
    judge_outlook(&curve, &pump(), Instruments::Same, &ask(tail_free)).unwrap()
}

#[test]
fn a_yes_says_what_to_set_and_never_above_what_is_held() {
    let yes = plan(0.381, bracketed(60.0));
    assert_eq!((yes.answer, yes.closes), (Answer::Yes, Closes::Nothing));
    assert!(yes.changes.is_empty());
    let set = yes.set_pa.unwrap();
    assert!((set - 60.0e5 * (1.0 + MARGIN_RATIO)).abs() < 1.0, "{set}");
    assert!(set <= yes.held.low_pa.unwrap());
    let flow = yes.flow_at_set_m3_per_s.unwrap().value;
    assert!((flow / (1.0e-5 * (set / 1e7).sqrt()) - 1.0).abs() < 1e-6);
}

#[test]
fn a_pressure_that_sags_is_a_supply_limit_and_asks_for_a_smaller_orifice() {
    let no = plan(0.45, bracketed(120.0));
    assert_eq!((no.answer, no.closes), (Answer::No, Closes::Supply));
    let has_orifice = |o: &Outlook| {
        o.changes
            .iter()
            .any(|c| matches!(c, Change::OrificeAtMost { .. }))
    };
    assert!(has_orifice(&no), "{:?}", no.changes);
    assert_eq!(no.set_pa, None);
    // The same rig with a fine tip holds all it has: a smaller one still would not help.
    let no = plan(0.21, bracketed(185.0));
    assert_eq!((no.answer, no.closes), (Answer::No, Closes::Atomisation));
    assert!(!has_orifice(&no), "{:?}", no.changes);
    let power = |c: &Change| matches!(c, Change::HydraulicPower { .. });
    assert!(!no.changes.iter().any(power));
}

#[test]
fn one_sided_grades_answer_where_they_can_and_only_there() {
    let held = plan(0.381, bracketed(60.0)).held;
    let (low, high) = (held.low_pa.unwrap(), held.high_pa);
    let answer = |t| plan(0.381, t).answer;
    assert_eq!(
        answer(TailFree::AtMost {
            pressure_pa: low * 0.9
        }),
        Answer::Yes
    );
    assert_eq!(
        answer(TailFree::AtMost {
            pressure_pa: low * 1.1
        }),
        Answer::CannotTell
    );
    assert_eq!(
        answer(TailFree::Above {
            pressure_pa: high * 1.1
        }),
        Answer::No
    );
    assert_eq!(
        answer(TailFree::Above {
            pressure_pa: high * 0.9
        }),
        Answer::CannotTell
    );
    let unknown = plan(0.381, TailFree::NotGraded);
    assert_eq!(unknown.reason, PlanReason::NeedUnknown);
    assert_eq!(unknown.changes, [Change::GradeTails]);
}

#[test]
fn a_need_that_may_lie_above_the_rating_is_never_a_yes() {
    let curve = curve(0.21, 50.0, 150.0);
    let at = |rated_bar: f64| {
        let ask = Ask {
            rated_pa: Some(rated_bar * 1e5),
            ..ask(bracketed(120.0))
        };
        judge_outlook(&curve, &pump(), Instruments::Same, &ask).unwrap()
    };
    assert_eq!(at(200.0).answer, Answer::Yes);
    assert!(at(123.0).set_pa.unwrap() <= 123.0e5);
    assert_eq!(
        (at(121.0).answer, at(121.0).reason),
        (Answer::CannotTell, PlanReason::NearRating)
    );
    assert_eq!(
        (at(110.0).answer, at(110.0).closes),
        (Answer::No, Closes::Rating)
    );
}

#[test]
fn beyond_what_was_measured_there_is_a_bound_and_no_number() {
    // Measured up to 90 bar only; a fine tip would be held at 160.
    let short = curve(0.25, 40.0, 60.0);
    let out = judge_outlook(&short, &pump(), Instruments::Same, &ask(bracketed(40.0))).unwrap();
    assert_eq!(out.held.best, None);
    let low = out.held.low_pa.unwrap();
    let range = short.measured_range_pa();
    assert!((low - range.high).abs() < 1.0 && out.held.high_pa >= 1.6e7);
    // What was measured is enough for this need, and not for that one.
    assert_eq!(out.answer, Answer::Yes);
    let out = judge_outlook(&short, &pump(), Instruments::Same, &ask(bracketed(140.0))).unwrap();
    assert_eq!(out.answer, Answer::CannotTell);
    assert!(
        out.changes.iter().all(|c| *c == Change::BurstWithThisTip),
        "{:?}",
        out.changes
    );
    // A tip far larger than any the pump was tried with.
    let wide = curve(0.7, 10.0, 150.0);
    let out = judge_outlook(&wide, &pump(), Instruments::Same, &ask(bracketed(120.0))).unwrap();
    assert_eq!((out.held.best, out.held.low_pa), (None, None));
    assert!(out.held.high_pa < 95.0e5);
    assert_eq!((out.answer, out.closes), (Answer::No, Closes::Supply));
}

#[test]
fn one_point_of_supply_bounds_a_larger_tip_from_both_sides() {
    let one = supply(&[(0.8, 100.0), (0.8, 100.5)]);
    let larger = curve(0.43, 30.0, 150.0);
    let out = judge_outlook(&larger, &one, Instruments::Same, &ask(bracketed(120.0))).unwrap();
    assert_eq!(out.held.best, None);
    let (low, high) = (out.held.low_pa.unwrap(), out.held.high_pa);
    assert!(
        low > 30e5 && low < 70e5 && high > 100e5 && high < 108e5,
        "{low} {high}"
    );
    assert_eq!(out.answer, Answer::No);
}

#[test]
fn what_was_seen_with_this_very_tip_comes_before_what_is_computed() {
    use crate::estimate::bracketed::Bracketed;
    let seen = HeldPoint {
        pressure_pa: Bracketed {
            value: 9.0e6,
            interval_95: Interval {
                low: 8.8e6,
                high: 9.2e6,
            },
        },
        flow_m3_per_s: Bracketed {
            value: 1e-5,
            interval_95: Interval {
                low: 0.9e-5,
                high: 1.1e-5,
            },
        },
    };
    let ask = Ask {
        measured: Some(seen),
        ..ask(bracketed(60.0))
    };
    let curve = curve(0.381, 50.0, 150.0);
    let out = judge_outlook(&curve, &pump(), Instruments::Same, &ask).unwrap();
    assert_eq!(out.held.best, Some(seen));
}

#[test]
fn what_its_own_recording_decided_comes_first() {
    use crate::analysis::verdict::VerdictKind;
    let curve = curve(0.381, 50.0, 150.0);
    let at = |verdict, tail_free| {
        let ask = Ask {
            verdict: Some(verdict),
            ..ask(tail_free)
        };
        judge_outlook(&curve, &pump(), Instruments::Same, &ask).unwrap()
    };
    let held = plan(0.381, bracketed(60.0)).held.low_pa.unwrap();
    let above = TailFree::Above { pressure_pa: held };
    let no = at(VerdictKind::AtomisationLimit, above);
    assert_eq!((no.answer, no.closes), (Answer::No, Closes::Atomisation));
    assert_eq!(no.changes, [Change::TailFreeAtMost { pressure_pa: held }]);
    let no = at(VerdictKind::SupplyLimit, above);
    assert_eq!((no.answer, no.closes), (Answer::No, Closes::Supply));
    assert_eq!(
        at(VerdictKind::Undetermined, above).answer,
        Answer::CannotTell
    );
}

#[test]
fn a_pump_that_was_not_sound_says_no_to_nothing() {
    let no = plan(0.45, bracketed(120.0)).with_pump_not_sound();
    assert_eq!(
        (no.answer, no.reason, no.closes),
        (
            Answer::CannotTell,
            PlanReason::PumpNotSound,
            Closes::NotTold
        )
    );
    assert_eq!(no.changes, [Change::BurstWithThisTip]);
    let yes = plan(0.381, bracketed(60.0));
    assert_eq!(yes.clone().with_pump_not_sound(), yes);
    let unknown = plan(0.381, TailFree::NotGraded);
    assert_eq!(unknown.clone().with_pump_not_sound(), unknown);
}
