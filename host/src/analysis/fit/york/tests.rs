use super::*;

/// Pearson (1901) with the weights of York (1966).
fn pearson_york() -> Vec<Datum> {
    let x = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4];
    let y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5];
    let wx = [
        1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0f64,
    ];
    let wy = [1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0f64];
    (0..10)
        .map(|i| Datum {
            x: x[i],
            y: y[i],
            u_x: wx[i].powf(-0.5),
            u_y: wy[i].powf(-0.5),
            r: 0.0,
        })
        .collect()
}

fn exact_line(n: usize) -> Vec<Datum> {
    (0..n)
        .map(|i| Datum {
            x: i as f64,
            y: 2.0 + 3.0 * i as f64,
            u_x: 0.1,
            u_y: 0.2,
            r: 0.0,
        })
        .collect()
}

/// York et al. 2004, table II (digits from memory; an independent routine confirms them in
/// `tests/reference/`).
#[test]
fn pearson_data_with_york_weights_give_the_published_line() {
    let line = fit_line(&pearson_york()).unwrap();
    assert!(
        (line.intercept - 5.479_910_224_03).abs() < 5e-11,
        "{line:?}"
    );
    assert!((line.slope + 0.480_533_407_45).abs() < 5e-12, "{line:?}");
    assert!((line.u_intercept - 0.294_970_735).abs() < 5e-9, "{line:?}");
    assert!((line.u_slope - 0.057_985_009_0).abs() < 5e-10, "{line:?}");
    assert!(
        (line.chi_square - 11.866_353_194_1).abs() < 5e-10,
        "{line:?}"
    );
}

#[test]
fn without_uncertainty_in_x_it_is_weighted_least_squares() {
    let data: Vec<Datum> = pearson_york()
        .into_iter()
        .map(|d| Datum { u_x: 0.0, ..d })
        .collect();
    let line = fit_line(&data).unwrap();
    let w = |d: &Datum| d.u_y.powi(-2);
    let sw: f64 = data.iter().map(w).sum();
    let xm = data.iter().map(|d| w(d) * d.x).sum::<f64>() / sw;
    let ym = data.iter().map(|d| w(d) * d.y).sum::<f64>() / sw;
    let sxx: f64 = data.iter().map(|d| w(d) * (d.x - xm).powi(2)).sum();
    let sxy: f64 = data.iter().map(|d| w(d) * (d.x - xm) * (d.y - ym)).sum();
    assert!((line.slope - sxy / sxx).abs() < 1e-13);
    assert!((line.intercept - (ym - sxy / sxx * xm)).abs() < 1e-12);
    assert!((line.u_slope - sxx.powf(-0.5)).abs() < 1e-13);
    assert!((line.cov + xm / sxx).abs() < 1e-12);
}

#[test]
fn exchanging_the_axes_inverts_the_line() {
    let forward = fit_line(&pearson_york()).unwrap();
    let swapped: Vec<Datum> = pearson_york()
        .into_iter()
        .map(|d| Datum {
            x: d.y,
            y: d.x,
            u_x: d.u_y,
            u_y: d.u_x,
            r: d.r,
        })
        .collect();
    let back = fit_line(&swapped).unwrap();
    assert!((back.slope - 1.0 / forward.slope).abs() < 1e-10);
    assert!((back.chi_square - forward.chi_square).abs() < 1e-9);
}

/// With perfectly correlated errors along the direction (1, 3), a point can only slide along a line of
/// slope 3: points on such a line stay there with no residual, whatever the size of their errors.
#[test]
fn correlated_errors_change_the_line_as_the_likelihood_says() {
    let mut data = pearson_york();
    for d in &mut data {
        d.r = 0.5;
    }
    let line = fit_line(&data).unwrap();
    let chi = |b: f64| {
        let w: Vec<f64> = data
            .iter()
            .map(|d| 1.0 / (d.u_y.powi(2) + (b * d.u_x).powi(2) - 2.0 * b * d.r * d.u_x * d.u_y))
            .collect();
        let sw: f64 = w.iter().sum();
        let a = w
            .iter()
            .zip(&data)
            .map(|(w, d)| w * (d.y - b * d.x))
            .sum::<f64>()
            / sw;
        w.iter()
            .zip(&data)
            .map(|(w, d)| w * (d.y - a - b * d.x).powi(2))
            .sum::<f64>()
    };
    assert!((chi(line.slope) - line.chi_square).abs() < 1e-9);
    assert!(chi(line.slope + 1e-4) > line.chi_square);
    assert!(chi(line.slope - 1e-4) > line.chi_square);
}

#[test]
fn a_large_offset_costs_no_digits() {
    let shifted: Vec<Datum> = exact_line(5)
        .into_iter()
        .map(|d| Datum { x: d.x + 1e9, ..d })
        .collect();
    let line = fit_line(&shifted).unwrap();
    assert!((line.slope - 3.0).abs() < 1e-12);
}

#[test]
fn a_million_points_fit() {
    let line = fit_line(&exact_line(1_000_000)).unwrap();
    assert!((line.slope - 3.0).abs() < 1e-9 && (line.intercept - 2.0).abs() < 1e-3);
}

#[test]
fn bad_input_is_a_typed_error() {
    let good = exact_line(4);
    let with = |f: &dyn Fn(&mut Datum)| {
        let mut d = good.clone();
        f(&mut d[2]);
        fit_line(&d)
    };
    assert_eq!(fit_line(&good[..1]), Err(YorkError::TooFew { n: 1 }));
    assert_eq!(fit_line(&[]), Err(YorkError::TooFew { n: 0 }));
    for bad in [f64::NAN, f64::INFINITY] {
        assert_eq!(with(&|d| d.x = bad), Err(YorkError::NotFinite { index: 2 }));
        assert_eq!(with(&|d| d.y = bad), Err(YorkError::NotFinite { index: 2 }));
        assert_eq!(
            with(&|d| d.u_y = bad),
            Err(YorkError::NotFinite { index: 2 })
        );
    }
    assert_eq!(
        with(&|d| d.u_x = -1.0),
        Err(YorkError::BadUncertainty { index: 2 })
    );
    assert_eq!(
        with(&|d| d.r = 1.5),
        Err(YorkError::BadUncertainty { index: 2 })
    );
    assert_eq!(
        with(&|d| (d.u_x, d.u_y) = (0.0, 0.0)),
        Err(YorkError::BadUncertainty { index: 2 })
    );
    let same = vec![Datum { x: 7.0, ..good[0] }; 4];
    assert_eq!(fit_line(&same), Err(YorkError::NoSpread));
}
