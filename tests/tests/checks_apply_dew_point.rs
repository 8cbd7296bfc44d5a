//! Dew points against `psychrolib`, and the value that practice quotes.

use tipcurve::analysis::dew_point::find_dew_point;
use tipcurve::estimate::Estimate;
use tipcurve::units::{KELVIN_AT_0_C, Kelvin};
use tipcurve_tests::check_file::CheckFile;

fn dew_point_c(air_c: f64, humidity: f64) -> f64 {
    let air_k = Estimate::exact(Kelvin::from_celsius(air_c).si());
    let found = find_dew_point(air_k, Estimate::exact(humidity)).expect("inside the range");
    found.value - KELVIN_AT_0_C
}

/// The WMO equation is a fit to what ASHRAE tabulates: 0.035 K is the difference that its stated
/// uncertainty allows for; it is largest in hot dry air.
#[test]
fn dew_points_match_psychrolib() {
    let file = CheckFile::read("reference_dew_point.csv");
    let mut worst: f64 = 0.0;
    let mut n_rows = 0;
    for row in file.rows() {
        let found = dew_point_c(row.number("air_c"), row.number("rh_ratio"));
        worst = worst.max((found - row.number("dew_point_c")).abs());
        n_rows += 1;
    }
    println!("{n_rows} dew points, largest difference {worst:.4} K");
    assert!(n_rows == 20 && worst < 0.035, "{worst}");
}

/// 20 degrees Celsius and 50 % give 9.3 degrees (`tests/checks/README.md`), to its printed digit.
#[test]
fn twenty_degrees_and_half_saturated_air_have_their_dew_point_at_nine_point_three() {
    assert!((dew_point_c(20.0, 0.5) - 9.3).abs() < 0.05);
}
