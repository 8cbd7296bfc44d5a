//! The simulated rig's hydraulics against a library that is not ours: `tests/reference/apply_hydraulics.py`
//! computes the values with fluids.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use tipcurve::simulate::hose::Hose;
use tipcurve::simulate::liquid::{Liquid, LiquidState};
use tipcurve::simulate::orifice::discharge_coefficient;
use tipcurve_tests::check_file::CheckFile;

/// A liquid of one viscosity.
fn newtonian(density_kg_per_m3: f64, dynamic_viscosity_pa_s: f64) -> LiquidState {
    let mut liquid = Liquid::water();
    liquid.density_kg_per_m3 = density_kg_per_m3;
    liquid.rest_viscosity_pa_s = dynamic_viscosity_pa_s;
    liquid.high_shear_viscosity_pa_s = dynamic_viscosity_pa_s;
    liquid.at(293.15, 0.0)
}

/// Hagen-Poiseuille and Blasius as fluids has them (its Blasius constant is 0.3164, ours 0.316).
#[test]
fn hose_loses_what_the_library_says_laminar_and_turbulent() {
    for row in CheckFile::read("reference_pipe_loss.csv").rows() {
        let hose = Hose {
            length_m: row.number("length_m"),
            bore_m: row.number("bore_m"),
            stiffness_pa: 2.0e8,
        };
        let state = newtonian(
            row.number("density_kg_per_m3"),
            row.number("dynamic_viscosity_pa_s"),
        );
        let got = hose.pressure_drop_pa(&state, row.number("flow_m3_per_s"));
        let expected = row.number("pressure_drop_pa");
        let allowed = if row.number("reynolds") < 2300.0 {
            1e-9
        } else {
            2e-3
        };
        assert!((got / expected - 1.0).abs() < allowed, "{got} {expected}");
    }
}

/// A land of a tip's length lies between the standard's thin plate and its rounded nozzle.
#[test]
fn tip_coefficient_lies_between_thin_plate_and_nozzle_of_the_standard() {
    let file = CheckFile::read("reference_orifice_limits.csv");
    let limit = |device| {
        let row = file.rows_where("device", device).next().unwrap();
        row.number("coefficient")
    };
    for land_ratio in [1.5, 2.0, 2.5, 3.0, 4.0] {
        let coefficient = discharge_coefficient(1.0e6, land_ratio);
        assert!(coefficient > limit("thin_plate"), "{land_ratio}");
        assert!(coefficient < limit("nozzle"), "{land_ratio}");
    }
}
