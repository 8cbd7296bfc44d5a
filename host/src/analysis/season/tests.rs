use super::*;

/// A nozzle row: `flow` L/min at 100 bar, day of the season.
fn nozzle(day: f64, flow_l_min: f64) -> SummaryRow {
    SummaryRow {
        recording: format!("day-{day}"),
        kind: RowKind::Nozzle,
        start_unix_s: Some(1.7e9 + day * 86_400.0),
        tip: Some("415".to_owned()),
        material: Some("cabin enamel".to_owned()),
        thinner_ratio: Some(0.0),
        material_k: Some(293.0),
        p_ref_pa: Some(1.0e7),
        q_ref_m3_per_s: Some(flow_l_min / 6e4),
        u_q_ref_ratio: Some(0.005),
        n: Some(0.55),
        u_n: Some(0.01),
        pressure_low_pa: Some(6e6),
        pressure_high_pa: Some(1.5e7),
        ..SummaryRow::default()
    }
}

fn volume(day: f64, litres: f64) -> SummaryRow {
    SummaryRow {
        recording: format!("day-{day}"),
        kind: RowKind::Volume,
        start_unix_s: Some(1.7e9 + day * 86_400.0),
        tip: Some("415".to_owned()),
        volume_m3: Some(litres * 1e-3),
        ..SummaryRow::default()
    }
}

fn supply(day: f64, watts: f64) -> SummaryRow {
    SummaryRow {
        recording: format!("day-{day}"),
        kind: RowKind::Supply,
        start_unix_s: Some(1.7e9 + day * 86_400.0),
        rig: Some("bench pump".to_owned()),
        dial: Some("10".to_owned()),
        p_max_pa: Some(2.0e7),
        power_w: Some(watts),
        u_held_ratio: Some(0.01),
        flow_low_m3_per_s: Some(0.5e-5),
        flow_high_m3_per_s: Some(2.0e-5),
        ..SummaryRow::default()
    }
}

/// A tip that gains 1 % of flow for each 10 L, over ten recordings of 20 L.
fn wearing() -> Vec<SummaryRow> {
    (0..10)
        .flat_map(|i| {
            let day = f64::from(i) * 10.0;
            let through = 20.0 * f64::from(i) + 10.0;
            let noise = 1.0 + 0.003 * f64::from(i % 3 - 1);
            [
                nozzle(day, 0.6 * (0.001 * through).exp() * noise),
                volume(day, 20.0),
            ]
        })
        .collect()
}

#[test]
fn wear_is_found_per_litre_with_its_interval_and_word() {
    let season = find_trends(&wearing());
    let tip = &season.tips[0];
    assert_eq!((season.n_recordings, season.n_without_curve), (10, 0));
    assert!((tip.volume_m3 - 0.2).abs() < 1e-12);
    let slope = tip.trend.line.unwrap().slope();
    let per_litre = slope.scaled(1e-3).interval_95();
    assert!(per_litre.contains(0.001), "{per_litre:?}");
    assert!(per_litre.low > 0.0005, "{per_litre:?}");
    assert_eq!(tip.trend.change, Change::MovedUp);
    let total = tip.trend.total.unwrap();
    assert!(total.interval_95.contains((0.18f64).exp()), "{total:?}");
    // The middle of the first recording has half of its own litres behind it.
    assert!((tip.trend.points[0].x - 0.01).abs() < 1e-12);
}

#[test]
fn a_steady_tip_is_shown_to_have_stayed_and_two_recordings_show_nothing() {
    let steady: Vec<SummaryRow> = (0..6)
        .flat_map(|i| [nozzle(f64::from(i), 0.6), volume(f64::from(i), 5.0)])
        .collect();
    assert_eq!(
        find_trends(&steady).tips[0].trend.change,
        Change::DidNotMove
    );
    let two = &steady[..4];
    let trend = &find_trends(two).tips[0].trend;
    assert_eq!((trend.line, trend.change), (None, Change::CannotTell));
    assert_eq!(find_trends(&[]).n_recordings, 0);
}

#[test]
fn what_does_not_belong_on_the_line_is_kept_and_named() {
    let mut rows = wearing();
    let mut odd = |day: f64, change: &dyn Fn(&mut SummaryRow)| {
        let mut row = nozzle(day, 2.0);
        change(&mut row);
        rows.push(row);
    };
    odd(200.0, &|r| r.start_unix_s = None);
    odd(201.0, &|r| r.instruments = "another meter".to_owned());
    odd(202.0, &|r| r.material_k = Some(280.0));
    odd(203.0, &|r| {
        r.p_ref_pa = Some(3e6);
        r.pressure_low_pa = Some(2e6);
        r.pressure_high_pa = Some(4e6);
    });
    let trend = find_trends(&rows).tips[0].trend.clone();
    let out: Vec<LeftOut> = trend.points.iter().filter_map(|p| p.left_out).collect();
    assert_eq!(
        out,
        [
            LeftOut::OtherInstruments,
            LeftOut::OtherTemperature,
            LeftOut::OtherPressures,
            LeftOut::NoDate,
        ]
    );
    assert_eq!(trend.line, find_trends(&wearing()).tips[0].trend.line);
}

#[test]
fn a_cold_day_is_brought_to_the_common_temperature_where_the_viscosity_is_known() {
    let mut rows = wearing();
    // 10 K colder, 1 % of flow less for each kelvin; wear as on its litres.
    let mut cold = nozzle(45.0, 0.6 * (0.001f64 * 100.0).exp() * (-0.1f64).exp());
    cold.material_k = Some(283.0);
    cold.flow_per_k_ratio = Some(0.01);
    cold.u_flow_per_k_ratio = Some(0.001);
    rows.push(cold);
    let trend = find_trends(&rows).tips[0].trend.clone();
    let point = trend
        .points
        .iter()
        .find(|p| p.recording == "day-45")
        .unwrap();
    assert_eq!(point.left_out, None);
    assert!((point.value * 6e4 / (0.6 * (0.1f64).exp()) - 1.0).abs() < 1e-9);
    assert!(point.u_ratio > 0.01, "{}", point.u_ratio);
}

#[test]
fn a_tiring_pump_is_found_over_the_months() {
    let rows: Vec<SummaryRow> = (0..12)
        .map(|i| supply(30.0 * f64::from(i), 100.0 * (1.0 - 0.02 * f64::from(i))))
        .collect();
    let season = find_trends(&rows);
    let pump = &season.pumps[0].trend;
    // The middle of the flows that all twelve have: there the power limits.
    assert!((pump.at - 1.0e-5).abs() < 1e-7, "{}", pump.at);
    assert_eq!(pump.change, Change::MovedDown);
    let total = pump.total.unwrap();
    assert!((total.value - 0.78).abs() < 0.01, "{total:?}");
    assert!((pump.points[11].x - 330.0 * 86_400.0).abs() < 1.0);
}

#[test]
fn the_common_flow_is_where_most_recordings_sprayed() {
    let mut rows: Vec<SummaryRow> = (0..5).map(|i| supply(f64::from(i), 100.0)).collect();
    for row in &mut rows {
        row.flow_low_m3_per_s = Some(1.5e-5);
    }
    let mut small = supply(9.0, 100.0);
    small.flow_high_m3_per_s = Some(0.6e-5);
    rows.push(small);
    let pump = find_trends(&rows).pumps[0].trend.clone();
    assert!(pump.at > 1.4e-5, "{}", pump.at);
    let left_out: Vec<_> = pump.points.iter().filter_map(|p| p.left_out).collect();
    assert_eq!(left_out, [LeftOut::OtherFlows]);
}
