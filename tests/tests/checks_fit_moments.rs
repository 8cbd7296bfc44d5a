//! Certified mean, standard deviation and lag-1 autocorrelation (NIST StRD, univariate summary
//! statistics; `checks/nist_*.csv`), through our own [`tipcurve::analysis::fit::moments`].
//!
//! Certified to 15 digits, or exact. `numacc3` and `numacc4` are decimal numbers near 1e6 and 1e7 with a deviation of
//! 0.1: reading them as doubles already costs 8 and 9 digits of the deviation, so that 9 and 8 are all
//! that exist; `mavro` (2.0015, deviation 4e-4) loses 3 the same way. Of the rest 14 are asked for, 13 of the
//! autocorrelation.

// Unwrapping is how a test fails.
#![allow(clippy::unwrap_used)]

mod nist;

use nist::{DataSet, assert_digits};
use tipcurve::analysis::fit::moments::{lag_1_autocorrelation, mean, standard_deviation};

#[track_caller]
fn check(name: &str, deviation_digits: f64) {
    let set = DataSet::read(name);
    assert_eq!(set.certified["n"], set.y.len() as f64);
    assert_digits("mean", mean(&set.y).unwrap(), set.certified["mean"], 14.0);
    let sd = standard_deviation(&set.y).unwrap();
    assert_digits(
        "deviation",
        sd,
        set.certified["standard_deviation"],
        deviation_digits,
    );
    let r1 = lag_1_autocorrelation(&set.y).unwrap();
    assert_digits(
        "autocorrelation",
        r1,
        set.certified["lag_1_autocorrelation"],
        13.0,
    );
}

/// NIST StRD `Lew`: beam deflection, strongly periodic.
#[test]
fn lew() {
    check("lew", 14.0);
}

/// NIST StRD `Lottery`: random integers.
#[test]
fn lottery() {
    check("lottery", 14.0);
}

/// NIST StRD `Mavro`: filter transmittance, drifting in steps.
#[test]
fn mavro() {
    check("mavro", 12.5);
}

/// NIST StRD `NumAcc3`.
#[test]
fn numacc3() {
    check("numacc3", 9.0);
}

/// NIST StRD `NumAcc4`.
#[test]
fn numacc4() {
    check("numacc4", 8.0);
}
