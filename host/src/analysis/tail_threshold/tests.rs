use super::*;

fn grades(pairs: &[(f64, u8)]) -> Vec<Grade> {
    pairs
        .iter()
        .enumerate()
        .map(|(burst_index, &(bar, tails))| Grade {
            burst_index,
            pressure_pa: bar * 1e5,
            tails,
        })
        .collect()
}

#[track_caller]
fn between(pairs: &[(f64, u8)]) -> (f64, Interval, f64, f64, bool) {
    match find_tail_threshold(&grades(pairs)) {
        TailThreshold::Between {
            estimate_pa,
            u_pa,
            interval_95_pa,
            highest_with_tails_pa,
            lowest_without_pa,
            overlap,
        } => {
            assert!(u_pa > 0.0 && u_pa.is_finite());
            (
                estimate_pa / 1e5,
                interval_95_pa.map(|p| p / 1e5),
                highest_with_tails_pa / 1e5,
                lowest_without_pa / 1e5,
                overlap,
            )
        }
        other => panic!("expected a bracket, got {other:?}"),
    }
}

#[test]
fn separated_grades_give_the_middle_of_their_bracket() {
    let (p, interval, with, without, overlap) =
        between(&[(52.0, 3), (77.0, 2), (113.0, 0), (140.0, 0)]);
    assert_eq!((with, without, overlap), (77.0, 113.0, false));
    assert!((p - (77.0f64 * 113.0).sqrt()).abs() < 3.0, "{p}");
    assert!(
        interval.low > 65.0
            && interval.low < 80.0
            && interval.high > 108.0
            && interval.high < 130.0
    );
}

#[test]
fn one_contradicting_grade_widens_the_interval() {
    let base = [
        (60.0, 3),
        (80.0, 1),
        (85.0, 1),
        (100.0, 0),
        (120.0, 0),
        (140.0, 0),
    ];
    let (_, calm, ..) = between(&base);
    let mut torn = base.to_vec();
    torn.push((121.0, 1));
    let (p, wide, _, _, overlap) = between(&torn);
    assert!(overlap && wide.high - wide.low > calm.high - calm.low);
    assert!(wide.contains(p) && p > 85.0 && p < 125.0);
}

#[test]
fn it_never_extrapolates() {
    assert_eq!(
        find_tail_threshold(&grades(&[(60.0, 3), (150.0, 1)])),
        TailThreshold::Above {
            highest_with_tails_pa: 150.0e5,
            n_grades: 2
        }
    );
    assert_eq!(
        find_tail_threshold(&grades(&[(60.0, 0), (150.0, 0)])),
        TailThreshold::Below {
            lowest_without_pa: 60.0e5,
            n_grades: 2
        }
    );
    assert_eq!(find_tail_threshold(&[]), TailThreshold::NoGrades);
}

#[test]
fn a_grade_without_a_pressure_is_left_out() {
    let bad = [(f64::NAN, 0), (f64::INFINITY, 0), (0.0, 0), (-3.0, 1)];
    assert_eq!(find_tail_threshold(&grades(&bad)), TailThreshold::NoGrades);
    let mut mixed = bad.to_vec();
    mixed.push((70.0, 2));
    assert_eq!(
        find_tail_threshold(&grades(&mixed)),
        TailThreshold::Above {
            highest_with_tails_pa: 70.0e5,
            n_grades: 1
        }
    );
}

#[test]
fn identical_pressures_and_reversed_grades_stay_finite() {
    let (p, interval, ..) = between(&[(80.0, 0), (80.0, 1)]);
    assert!((p - 80.0).abs() < 0.5 && interval.contains(80.0));
    let (p, interval, _, _, overlap) = between(&[(50.0, 0), (100.0, 2), (150.0, 0), (200.0, 3)]);
    assert!(overlap && interval.contains(p) && interval.low > 0.0 && interval.high.is_finite());
}

#[test]
fn grades_above_three_count_as_three_and_order_does_not_matter() {
    let a = find_tail_threshold(&grades(&[(60.0, 9), (80.0, 1), (100.0, 0)]));
    let b = find_tail_threshold(&grades(&[(100.0, 0), (60.0, 3), (80.0, 1)]));
    assert_eq!(a, b);
}

#[test]
fn a_million_grades_are_counted_together() {
    let many: Vec<(f64, u8)> = (0..1_000_000u32)
        .map(|i| {
            let bar = 60.0 + 80.0 * f64::from(i % 9973) / 9973.0;
            // A fixed sequence stands in for chance.
            let wobble = 8.0 * ((f64::from(i) * 0.618_034).fract() - 0.5);
            (bar, u8::from(bar + wobble < 95.0))
        })
        .collect();
    let (p, interval, ..) = between(&many);
    assert!(
        (p - 95.0).abs() < 0.5 && interval.high - interval.low < 1.0,
        "{p} {interval:?}"
    );
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(32))]
    #[test]
    fn any_grades_give_finite_numbers(
        list in proptest::collection::vec(
            (proptest::prop_oneof![8 => 1.0..300.0f64, 1 => proptest::num::f64::ANY], 0u8..6),
            0..25,
        ),
    ) {
        if let TailThreshold::Between { estimate_pa, u_pa, interval_95_pa, .. } =
            find_tail_threshold(&grades(&list))
        {
            let all = [estimate_pa, u_pa, interval_95_pa.low, interval_95_pa.high];
            assert!(all.iter().all(|v| v.is_finite() && *v > 0.0), "{all:?}");
            assert!(interval_95_pa.contains(estimate_pa), "{all:?}");
        }
    }
}
