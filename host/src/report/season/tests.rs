use super::*;
use crate::analysis::season::{RowKind, SummaryRow, find_trends};

/// Eight recordings of one tip that gains 2 % each, 10 L between them, and a pump that stays.
fn rows() -> Vec<SummaryRow> {
    (0..8)
        .flat_map(|i| {
            let base = SummaryRow {
                recording: format!("week-{i}"),
                start_unix_s: Some(1.7e9 + 604_800.0 * f64::from(i)),
                rig: Some("bench <pump>".to_owned()),
                ..SummaryRow::default()
            };
            [
                SummaryRow {
                    kind: RowKind::Nozzle,
                    tip: Some("415".to_owned()),
                    material: Some("cabin enamel".to_owned()),
                    p_ref_pa: Some(1e7),
                    q_ref_m3_per_s: Some(1e-5 * (1.0 + 0.02 * f64::from(i))),
                    u_q_ref_ratio: Some(0.004),
                    n: Some(0.55),
                    u_n: Some(0.01),
                    pressure_low_pa: Some(6e6),
                    pressure_high_pa: Some(1.4e7),
                    ..base.clone()
                },
                SummaryRow {
                    kind: RowKind::Volume,
                    tip: Some("415".to_owned()),
                    volume_m3: Some(0.01),
                    ..base.clone()
                },
                SummaryRow {
                    kind: RowKind::Supply,
                    dial: Some("10".to_owned()),
                    held_pa: Some(1.9e7),
                    u_held_ratio: Some(0.01),
                    flow_low_m3_per_s: Some(1e-5),
                    flow_high_m3_per_s: Some(1.2e-5),
                    ..base
                },
            ]
        })
        .collect()
}

#[test]
fn wear_is_said_with_its_interval_and_a_sound_pump_is_called_so() {
    let text = text(&find_trends(&rows()), "yard", &UnitChoice::default());
    assert!(text.starts_with("Season: yard\n"), "{text}");
    assert!(text.contains("it is wearing. Flow rose by 1"), "{text}");
    assert!(text.contains("for each 10 L"), "{text}");
    assert!(text.contains("It holds what it held, within 5 %"), "{text}");
    assert!(text.contains("lock the trigger"), "{text}");
}

#[test]
fn two_recordings_are_not_a_trend() {
    let rows: Vec<SummaryRow> = rows().into_iter().take(6).collect();
    let text = text(&find_trends(&rows), "yard", &UnitChoice::default());
    assert!(text.contains("Not known yet: 2 of 2 recordings"), "{text}");
    assert!(
        !text.contains('%'),
        "no number that is not supported: {text}"
    );
}

#[test]
fn every_number_of_the_page_stands_in_the_result_and_user_words_are_escaped() {
    let season = find_trends(&rows());
    let files = render(&season, "yard", &UnitChoice::default(), &Options::default()).unwrap();
    let (page, result) = (&files[0].text, &files[1].text);
    let result: serde_json::Value = serde_json::from_str(result).unwrap();
    let mut n = 0;
    for part in page.split("<data value=\"").skip(1) {
        let (value, rest) = part.split_once('"').unwrap();
        let key = rest
            .split("data-key=\"")
            .nth(1)
            .unwrap()
            .split_once('"')
            .unwrap()
            .0;
        let kept = result
            .pointer(key)
            .and_then(|v| v.as_f64())
            .unwrap_or_else(|| panic!("{key}"));
        assert!(
            (value.parse::<f64>().unwrap() - kept).abs() <= 1e-12 * kept.abs(),
            "{key}"
        );
        n += 1;
    }
    assert!(n > 15, "{n}");
    assert_eq!(page.matches("<figure").count(), 2);
    assert!(page.contains("bench &lt;pump&gt;"));
}
