//! Flow cups by ISO 2431, and the dimensional argument against devices of other people's making.

use tipcurve::analysis::similarity::answers;
use tipcurve::analysis::temperature::flow_cup::FlowCup;
use tipcurve::estimate::Estimate;
use tipcurve_tests::check_file::CheckFile;

/// Values by hand from the equations that `tests/checks/README.md` quotes for the 4 and 6 mm cups.
#[test]
fn flow_cups_follow_iso_2431() {
    #[track_caller]
    fn check(cup: FlowCup, seconds: f64, mm2_per_s: f64, tolerance: f64) {
        let found = cup
            .viscosity_m2_per_s(Estimate::exact(seconds))
            .expect("in range")
            .value
            * 1e6;
        assert!(
            (found - mm2_per_s).abs() <= tolerance,
            "{cup:?} {seconds} s: {found}"
        );
    }
    check(FlowCup::Mm4, 50.0, 1.37 * 50.0 - 200.0 / 50.0, 1e-9);
    check(FlowCup::Mm6, 50.0, 6.90 * 50.0 - 570.0 / 50.0, 1e-9);
    // Ends of the ranges that the standard prints with each cup, from memory, to their whole digits.
    for (cup, low, high) in [
        (FlowCup::Mm3, 7.0, 42.0),
        (FlowCup::Mm4, 34.0, 135.0),
        (FlowCup::Mm5, 91.0, 326.0),
        (FlowCup::Mm6, 188.0, 684.0),
    ] {
        check(cup, 30.0, low, 0.5);
        check(cup, 100.0, high, 0.5);
    }
}

/// Orifices by ISO 5167 and pipes by Hagen-Poiseuille or an integrated profile know nothing of our
/// argument: from their own exponent alone it must foretell how they answer to the rest. Tolerance:
/// the curvature that the finite steps of the reference see.
#[test]
fn the_exponent_foretells_the_answers_of_iso_5167_orifices_and_laminar_pipes() {
    let file = CheckFile::read("reference_similarity.csv");
    let mut n_rows = 0;
    for row in file.rows() {
        let exponent = Estimate::exact(row.number("to_pressure"));
        let shear_index = Estimate::exact(row.number("shear_index"));
        let found = answers(exponent, shear_index).expect("usable numbers");
        for (found, column) in [
            (found.to_viscosity.value, "to_viscosity"),
            (found.to_diameter.value, "to_diameter"),
            (found.to_density.value, "to_density"),
        ] {
            let off = (found - row.number(column)).abs();
            assert!(off < 2e-5, "{}, {column}: off by {off}", row.text("device"));
        }
        n_rows += 1;
    }
    assert_eq!(n_rows, 6);
}
