use super::*;

fn point(tip: &str, q_l_min: f64, p_bar: f64, stalled_bar: f64) -> (String, SupplyPoint) {
    (
        "10".to_owned(),
        SupplyPoint {
            burst_index: 0,
            tip: tip.to_owned(),
            flow_m3_per_s: Estimate::new(q_l_min / 6e4, 0.0, 0.0),
            pressure_pa: Estimate::new(p_bar * 1e5, 0.0, 0.0),
            stalled_pa: Some(stalled_bar * 1e5),
            supply_v: None,
            t_s: 0.0,
        },
    )
}

#[test]
fn small_tips_show_the_control_and_large_ones_the_power() {
    let points = [
        point("209", 0.2, 146.0, 150.0),
        point("311", 0.4, 145.0, 150.0),
        point("415", 0.8, 100.0, 150.0),
        point("521", 1.0, 80.0, 150.0),
    ];
    let curve = &fit_supply_curves(&points)[0];
    assert!(curve.is_full);
    let (p, regime) = curve.pressure_at(0.3 / 6e4).unwrap();
    assert!((p / 1e5 - 145.5).abs() < 0.1 && regime == SupplyRegime::Pressure);
    let (p, regime) = curve.pressure_at(0.9 / 6e4).unwrap();
    assert!((p / 1e5 - 80.0 / 0.9).abs() < 0.5 && regime == SupplyRegime::Power);
}

#[test]
fn one_flow_at_two_pressures_is_the_pumps_displacement() {
    let points = [
        point("209", 0.2, 146.0, 150.0),
        point("415", 0.8, 110.0, 150.0),
        point("521", 0.805, 80.0, 150.0),
    ];
    let curve = &fit_supply_curves(&points)[0];
    assert!(matches!(
        curve.form,
        SupplyForm::Shaped {
            q_max_m3_per_s: Some(_),
            power_w: None,
            ..
        }
    ));
    assert_eq!(curve.pressure_at(0.9 / 6e4), None);
}

#[test]
fn one_tip_gives_a_step_that_never_rises() {
    let points = [
        point("415", 0.8, 100.0, 150.0),
        point("415", 0.81, 102.0, 150.0),
    ];
    let curve = &fit_supply_curves(&points)[0];
    let SupplyForm::Step { pressure_pa, .. } = &curve.form else {
        panic!("{curve:?}")
    };
    assert!(pressure_pa.windows(2).all(|w| w[1] <= w[0]));
    assert_eq!(curve.pressure_at(2.0 / 6e4), None);
}

#[test]
fn the_position_that_stalls_highest_is_full_whatever_its_name() {
    let mut points = vec![point("415", 0.8, 100.0, 150.0)];
    points.push(("zz".to_owned(), point("415", 0.9, 120.0, 170.0).1));
    assert_eq!(fit_supply_curves(&points)[0].dial, "zz");
}

#[test]
fn a_measured_crossing_carries_the_scatter_from_pull_to_pull() {
    let points = [
        point("415", 0.8, 100.0, 150.0).1,
        point("415", 0.8, 104.0, 150.0).1,
    ];
    let refs: Vec<&SupplyPoint> = points.iter().collect();
    let c = measured_crossing(&refs, 0.0).unwrap();
    assert!((c.pressure_pa.value - 102e5).abs() < 1.0);
    assert!((c.pressure_pa.u_independent - 2e5).abs() < 1.0);
    assert_eq!(c.regime, SupplyRegime::Power);
    assert!(measured_crossing(&[], 0.0).is_none());
}
