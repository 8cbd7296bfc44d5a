//! Analysis of variance against NIST's certified data sets, and components of variance against
//! `statsmodels`.

use std::collections::BTreeMap;

use tipcurve::analysis::fit::anova::{OneWay, one_way};
use tipcurve::analysis::fit::reml::fit_components;
use tipcurve_tests::check_file::CheckFile;

/// Groups of a NIST file in its order.
fn groups(file: &CheckFile) -> Vec<Vec<f64>> {
    let mut groups: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
    for row in file.rows_where("kind", "data") {
        let group = row.text("group").parse().expect("group number");
        groups.entry(group).or_default().push(row.number("y"));
    }
    groups.into_values().collect()
}

/// Correct digits: minus the decimal logarithm of the relative error, 15 when it is none.
fn digits(found: f64, certified: f64) -> f64 {
    let relative = (found / certified - 1.0).abs();
    if relative == 0.0 {
        15.0
    } else {
        (-relative.log10()).min(15.0)
    }
}

/// Check one file to `needed` digits: what an exact computation with the values as doubles reaches, by
/// rational arithmetic, rounded down to a tenth. The values of the larger sets agree in up to 13
/// leading digits, and reading them as doubles cuts the digits that differ.
#[track_caller]
fn check(name: &str, needed: f64) {
    let file = CheckFile::read(name);
    let table: OneWay = one_way(&groups(&file)).expect("usable groups");
    for (found, certified) in [
        (table.dof_between, "between_degrees_of_freedom"),
        (table.dof_within, "within_degrees_of_freedom"),
    ] {
        assert_eq!(found, file.named(certified), "{name}");
    }
    for (found, certified) in [
        (table.ss_between, "between_sum_of_squares"),
        (table.ss_between / table.dof_between, "between_mean_square"),
        (table.ss_within, "within_sum_of_squares"),
        (table.variance_within, "within_mean_square"),
        (table.f, "f_statistic"),
        (table.r_squared, "r_squared"),
        (table.residual_sd(), "residual_standard_deviation"),
    ] {
        let reached = digits(found, file.named(certified));
        assert!(
            reached >= needed,
            "{name}, {certified}: {reached:.1} digits"
        );
    }
    // Derived in the file with 8 to 15 digits from the certified mean squares.
    let between = digits(
        table.variance_between,
        file.named("between_group_variance_component"),
    );
    assert!(between >= needed.min(8.0) - 0.5, "{name}: {between}");
}

#[test]
fn nist_sirstv_is_met() {
    check("nist_sirstv.csv", 13.0);
}

#[test]
fn nist_smls01_is_met() {
    check("nist_smls01.csv", 14.0);
}

#[test]
fn nist_smls04_is_met() {
    check("nist_smls04.csv", 10.0);
}

#[test]
fn nist_smls07_is_met() {
    check("nist_smls07.csv", 4.0);
}

#[test]
fn nist_atmwtag_is_met() {
    check("nist_atmwtag.csv", 10.1);
}

/// For balanced data restricted likelihood is the analysis of variance: the certified components again.
#[test]
fn restricted_likelihood_meets_the_certified_components_too() {
    for name in ["nist_sirstv.csv", "nist_smls01.csv", "nist_atmwtag.csv"] {
        let file = CheckFile::read(name);
        let groups = groups(&file);
        let values: Vec<f64> = groups.iter().flatten().copied().collect();
        let levels = groups
            .iter()
            .enumerate()
            .flat_map(|(i, g)| vec![i; g.len()])
            .collect();
        let found = fit_components(&values, &[levels]).expect("usable values");
        for (found, certified) in [
            (found.variances[0], "between_group_variance_component"),
            (found.variances[1], "within_group_variance"),
        ] {
            let reached = digits(found, file.named(certified));
            println!("{name}, {certified}: {reached:.1} digits");
            assert!(reached >= 6.0, "{name}, {certified}: {reached:.1} digits");
        }
    }
}

/// Crossed with gaps and nested, unequal numbers: `statsmodels` stops its search at about three digits.
#[test]
fn two_way_components_match_statsmodels() {
    let data = CheckFile::read("reference_class_data.csv");
    let results = CheckFile::read("reference_class.csv");
    let mut n_cases = 0;
    for result in results.rows() {
        let rows: Vec<_> = data.rows_where("case", result.text("case")).collect();
        let values: Vec<f64> = rows.iter().map(|r| r.number("value")).collect();
        let level = |column: &str| -> Vec<usize> {
            rows.iter()
                .map(|r| r.text(column).parse().expect("level"))
                .collect()
        };
        let found = fit_components(&values, &[level("student"), level("bench")]).expect("usable");
        for (found, column) in
            found
                .variances
                .iter()
                .zip(["variance_student", "variance_bench", "variance_residual"])
        {
            let ratio = found / result.number(column);
            println!(
                "{}, {column}: {found:.6}, ratio {ratio:.5}",
                result.text("case")
            );
            assert!(
                (ratio - 1.0).abs() < 5e-3,
                "{}, {column}: {ratio}",
                result.text("case")
            );
        }
        n_cases += 1;
    }
    assert_eq!(n_cases, 2);
}
