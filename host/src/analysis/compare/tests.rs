use super::*;
use crate::analysis::nozzle_curve::{CurveForm, PowerLaw};

fn curve(q_ref: f64, n: f64, low_bar: f64, high_bar: f64) -> NozzleCurve {
    NozzleCurve {
        points: vec![],
        outliers: vec![],
        power_law: PowerLaw {
            p_ref_pa: (low_bar * high_bar).sqrt() * 1e5,
            q_ref_m3_per_s: Estimate::new(q_ref, 0.005 * q_ref, 0.03 * q_ref),
            n: Estimate::new(n, 0.01, 0.0),
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
            low: low_bar * 1e5,
            high: high_bar * 1e5,
        },
    }
}

fn compare(before: &NozzleCurve, after: &NozzleCurve, calibration: Calibration) -> CurveComparison {
    compare_curves(before, after, calibration, &Margins::default()).unwrap()
}

#[test]
fn one_meter_cancels_its_deviation_and_two_do_not() {
    let (a, b) = (
        curve(1.0e-5, 0.55, 50.0, 150.0),
        curve(0.93e-5, 0.55, 50.0, 150.0),
    );
    let shared = compare(&a, &b, Calibration::Shared).flow;
    let separate = compare(&a, &b, Calibration::Separate).flow;
    assert!((shared.ratio.value - 0.93).abs() < 1e-9);
    assert!(shared.ln_ratio.u_common < 1e-12 && separate.ln_ratio.u_common > 0.04);
    assert_eq!(shared.change, Change::MovedDown);
    assert_eq!(separate.change, Change::CannotTell);
    let partly = compare(&a, &b, Calibration::Partly(0.5)).flow;
    assert!((partly.ln_ratio.u_common - 0.03).abs() < 1e-12);
}

#[test]
fn the_same_curve_twice_did_not_move() {
    let a = curve(1.0e-5, 0.55, 50.0, 150.0);
    let found = compare(&a, &a, Calibration::Shared);
    assert_eq!(found.flow.change, Change::DidNotMove);
    assert_eq!(found.exponent_change, Change::DidNotMove);
    assert!(found.flow.ratio.interval_95.contains(1.0));
}

#[test]
fn flows_are_compared_where_both_are_known_best() {
    let a = curve(1.0e-5, 0.55, 50.0, 150.0);
    let b = curve(1.2e-5, 0.55, 80.0, 200.0);
    let found = compare(&a, &b, Calibration::Shared);
    assert!(
        found.pressure_pa > 8.0e6 && found.pressure_pa < 1.5e7,
        "{found:?}"
    );
    // Between the two log-means, 86.6 and 126.5 bar, where neither exponent adds much.
    assert!((9.5e6..1.15e7).contains(&found.pressure_pa), "{found:?}");
}

#[test]
fn what_temperature_explains_is_taken_out_with_its_own_doubt() {
    let (a, b) = (
        curve(1.0e-5, 0.6, 50.0, 150.0),
        curve(0.88e-5, 0.6, 50.0, 150.0),
    );
    let found = compare(&a, &b, Calibration::Shared).flow;
    assert_eq!(found.change, Change::MovedDown);
    let left = found.without(Estimate::new(0.88, 0.0, 0.01)).unwrap();
    assert_eq!(left.change, Change::DidNotMove);
    let unsure = found.without(Estimate::new(0.93, 0.0, 0.05)).unwrap();
    assert_eq!(unsure.change, Change::CannotTell);
    assert!(found.without(Estimate::exact(0.0)).is_err());
}

#[test]
fn supply_is_compared_at_one_flow() {
    let before = |q: f64| (q < 2.0e-5).then(|| Estimate::new(1.6e7, 5.0e4, 1.0e5));
    let after = |q: f64| (q < 2.0e-5).then(|| Estimate::new(1.3e7, 5.0e4, 1.0e5));
    let at = |q: f64| compare_supply(&before, &after, q, Calibration::Shared, &Margins::default());
    let found = at(1.0e-5).unwrap();
    assert!((found.ratio.value - 1.3 / 1.6).abs() < 1e-9);
    assert_eq!(found.change, Change::MovedDown);
    assert_eq!(
        at(3.0e-5).unwrap_err().to_string(),
        "no pressure is known for 1.80 L/min on both days; record a burst at full dial with the same tip"
    );
    let interval = |low, high| Interval { low, high };
    let common = common_flow(interval(1e-6, 4e-6), interval(2e-6, 8e-6)).unwrap();
    assert!((common - 8f64.sqrt() * 1e-6).abs() < 1e-12);
    assert_eq!(
        common_flow(interval(1e-6, 2e-6), interval(3e-6, 4e-6)),
        None
    );
}

#[test]
fn which_curve_moved_needs_a_word_for_both() {
    use Change::{CannotTell, DidNotMove, MovedDown, MovedUp};
    assert_eq!(WhichMoved::of(DidNotMove, DidNotMove), WhichMoved::Neither);
    assert_eq!(WhichMoved::of(MovedUp, DidNotMove), WhichMoved::NozzleCurve);
    assert_eq!(
        WhichMoved::of(DidNotMove, MovedDown),
        WhichMoved::SupplyCurve
    );
    assert_eq!(WhichMoved::of(MovedUp, MovedDown), WhichMoved::Both);
    assert_eq!(WhichMoved::of(MovedUp, CannotTell), WhichMoved::CannotTell);
    assert_eq!(
        WhichMoved::of(CannotTell, DidNotMove),
        WhichMoved::CannotTell
    );
}

#[test]
fn groups_that_are_not_the_same_condition_say_in_what_they_differ() {
    let group = Group {
        tip: "415".to_owned(),
        tip_family: None,
        material: "hull primer".to_owned(),
        thinner_ratio: 0.05,
        material_k: Some(293.0),
        phase: 0,
        burst_indices: vec![],
        flow_step_ratio: None,
    };
    assert!(find_differences(&group, &group).is_empty());
    let other = Group {
        tip: "413".to_owned(),
        material_k: Some(283.0),
        ..group.clone()
    };
    let expected = [Difference::Tip, Difference::Temperature { by_k: -10.0 }];
    assert_eq!(find_differences(&group, &other), expected);
    let unknown = Group {
        material_k: None,
        thinner_ratio: 0.1,
        ..group.clone()
    };
    let expected = [Difference::Thinner, Difference::TemperatureUnknown];
    assert_eq!(find_differences(&group, &unknown), expected);
}

#[test]
fn each_unusable_entry_is_refused_by_name() {
    #[track_caller]
    fn check(after: &NozzleCurve, calibration: Calibration, margins: &Margins, message: &str) {
        let before = curve(1.0e-5, 0.55, 50.0, 90.0);
        let error = compare_curves(&before, after, calibration, margins).unwrap_err();
        assert_eq!(error.to_string(), message);
    }
    let (good, usual) = (curve(1.0e-5, 0.55, 60.0, 150.0), Margins::default());
    check(
        &curve(1.0e-5, 0.55, 110.0, 150.0),
        Calibration::Shared,
        &usual,
        "the curves cover 50 to 90 bar and 110 to 150 bar, nothing in common; record one burst near \
         100 bar",
    );
    check(
        &good,
        Calibration::Partly(1.5),
        &usual,
        "correlation of the calibrations is 1.5; it must lie between 0 and 1",
    );
    let margins = Margins {
        flow_ratio: 0.0,
        ..usual
    };
    check(
        &good,
        Calibration::Shared,
        &margins,
        "the least change that matters is 0; it must be above 0 and below 1",
    );
    let broken = "one of the curves gives no flow or pressure above zero; fit it again";
    check(
        &curve(f64::NAN, 0.55, 60.0, 150.0),
        Calibration::Shared,
        &usual,
        broken,
    );
    check(
        &curve(-1.0, 0.55, 60.0, 150.0),
        Calibration::Shared,
        &usual,
        broken,
    );
}
