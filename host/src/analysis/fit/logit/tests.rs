use super::*;

const BELIEF: ScaleBelief = ScaleBelief {
    median: 0.0276,
    sd_ln: 0.4,
};

fn cells(pairs: &[(f64, usize)]) -> Vec<Cell> {
    let make = |&(x, category): &(f64, usize)| Cell {
        x,
        category,
        count: 1.0,
    };
    pairs.iter().map(make).collect()
}

#[test]
fn two_categories_are_plain_logistic_regression() {
    let c = cells(&[(0.0, 1), (0.1, 0), (0.05, 1)]);
    let (theta, s) = (0.06, 0.03);
    let f = |z: f64| 1.0 / (1.0 + (-z).exp());
    let by_hand =
        f((theta - 0.0) / s).ln() + f((theta - 0.05) / s).ln() + f((0.1 - theta) / s).ln();
    assert!((log_likelihood(&c, theta, s).unwrap() - by_hand).abs() < 1e-12);
}

/// Four categories against the definition, with the upper cuts searched by brute force.
#[test]
fn upper_cuts_are_at_their_best() {
    let c = cells(&[
        (0.0, 3),
        (0.02, 3),
        (0.05, 2),
        (0.04, 1),
        (0.08, 2),
        (0.12, 1),
        (0.1, 0),
        (0.2, 0),
        (0.07, 3),
    ]);
    let (theta, s) = (0.11, 0.03);
    let f = |z: f64| 1.0 / (1.0 + (-z).exp());
    let direct = |t2: f64, t3: f64| -> f64 {
        c.iter()
            .map(|c| {
                let at = |t: f64| f((t - c.x) / s);
                let p = match c.category {
                    0 => 1.0 - at(theta),
                    1 => at(theta) - at(t2),
                    2 => at(t2) - at(t3),
                    _ => at(t3),
                };
                if p > 0.0 { p.ln() } else { f64::NEG_INFINITY }
            })
            .sum()
    };
    let mut best = f64::NEG_INFINITY;
    for i in 1..600 {
        for j in 1..600 {
            best = best.max(direct(
                theta - 0.0003 * f64::from(i),
                theta - 0.0003 * f64::from(i + j),
            ));
        }
    }
    let found = log_likelihood(&c, theta, s).unwrap();
    assert!(
        found >= best - 1e-12 && found < best + 1e-4,
        "{found} {best}"
    );
}

#[test]
fn an_unused_category_is_closed_up() {
    let a = cells(&[(0.0, 3), (0.05, 1), (0.1, 0)]);
    let b = cells(&[(0.0, 2), (0.05, 1), (0.1, 0)]);
    assert_eq!(
        log_likelihood(&a, 0.07, 0.03),
        log_likelihood(&b, 0.07, 0.03)
    );
}

#[test]
fn perfect_separation_has_a_finite_threshold_inside_its_bracket() {
    let t = estimate_threshold(&cells(&[(0.0, 2), (0.1, 1), (0.3, 0), (0.4, 0)]), BELIEF).unwrap();
    assert!((t.median - 0.2).abs() < 0.02, "{t:?}");
    assert!(
        t.low < 0.115 && t.low > 0.0 && t.high > 0.285 && t.high < 0.4,
        "{t:?}"
    );
    assert!(t.sd > 0.05 && t.sd < 0.1);
}

#[test]
fn a_contradiction_widens_and_does_not_break() {
    let base = [(0.0, 2), (0.1, 1), (0.2, 1), (0.3, 0), (0.4, 0), (0.5, 0)];
    let calm = estimate_threshold(&cells(&base), BELIEF).unwrap();
    let mut with = base.to_vec();
    with.push((0.42, 1));
    let torn = estimate_threshold(&cells(&with), BELIEF).unwrap();
    assert!(
        torn.high - torn.low > calm.high - calm.low,
        "{calm:?} {torn:?}"
    );
    assert!(torn.median > calm.median && torn.median < 0.45);
    // Fully reversed grades: still finite.
    let t = estimate_threshold(&cells(&[(0.0, 0), (1.0, 1)]), BELIEF).unwrap();
    assert!(t.low.is_finite() && t.high > t.low && t.median > t.low && t.median < t.high);
}

#[test]
fn shifting_the_abscissa_shifts_the_threshold() {
    let base = [(0.0, 2), (0.1, 1), (0.3, 0), (0.25, 1), (0.4, 0)];
    let moved: Vec<(f64, usize)> = base.iter().map(|&(x, c)| (x + 16.0, c)).collect();
    let a = estimate_threshold(&cells(&base), BELIEF).unwrap();
    let b = estimate_threshold(&cells(&moved), BELIEF).unwrap();
    for (a, b) in [(a.median, b.median), (a.low, b.low), (a.high, b.high)] {
        assert!((a + 16.0 - b).abs() < 1e-9);
    }
}

#[test]
fn a_million_observations_give_a_narrow_threshold() {
    let c: Vec<Cell> = (0..400)
        .flat_map(|i| {
            let x = f64::from(i) * 0.001;
            let p = 1.0 / (1.0 + ((x - 0.2) / 0.03).exp());
            [(x, 1, 2500.0 * p), (x, 0, 2500.0 * (1.0 - p))]
        })
        .map(|(x, category, count)| Cell { x, category, count })
        .collect();
    let t = estimate_threshold(&c, BELIEF).unwrap();
    assert!(
        (t.median - 0.2).abs() < 1e-4 && t.high - t.low < 1e-3 && t.sd > 0.0,
        "{t:?}"
    );
}

#[test]
fn the_usual_profile_peaks_where_the_data_say() {
    let c = cells(&[(0.0, 1), (0.1, 1), (0.12, 0), (0.3, 0)]);
    let at = |t: f64| penalised_profile(&c, BELIEF, t).unwrap();
    assert!(at(0.11) > at(0.0) && at(0.11) > at(0.25));
}

#[test]
fn bad_input_is_a_typed_error() {
    let est = |c: &[Cell]| estimate_threshold(c, BELIEF).map(|_| ());
    assert_eq!(est(&[]), Err(LogitError::OneSided));
    assert_eq!(
        est(&cells(&[(0.0, 1), (1.0, 2)])),
        Err(LogitError::OneSided)
    );
    assert_eq!(est(&cells(&[(0.0, 0)])), Err(LogitError::OneSided));
    assert_eq!(
        est(&cells(&[(0.0, 1), (f64::NAN, 0)])),
        Err(LogitError::BadCell { index: 1 })
    );
    let zero = [Cell {
        x: 0.0,
        category: 1,
        count: 0.0,
    }];
    assert_eq!(est(&zero), Err(LogitError::BadCell { index: 0 }));
    let c = cells(&[(0.0, 1), (1.0, 0)]);
    let bad = ScaleBelief {
        median: 0.0,
        sd_ln: 0.4,
    };
    assert_eq!(estimate_threshold(&c, bad), Err(LogitError::BadBelief));
}
