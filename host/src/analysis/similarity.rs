//! How a tip's flow answers to viscosity and orifice, from the exponent of its own nozzle curve.
//!
//! A dimensional argument, no model of the nozzle: for tips of one shape the flow can only be
//! `q = d^2 sqrt(p / rho) phi(X)`, with the Reynolds number of a power-law liquid
//! `X = rho (p / rho)^((2 - m) / 2) d^m / K` (Metzner and Reed, AIChE J. 1 (1955) 434, with
//! `sqrt(p / rho)` as velocity; `m` the shear index, 1 for a Newtonian liquid, `K` the
//! consistency). The slope `s = d ln phi / d ln X` fixes all four answers:
//!
//! ```text
//! d ln q / d ln p   = n = 1/2 + s (2 - m) / 2        hence s = (2 n - 1) / (2 - m)
//! d ln q / d ln K   = -s
//! d ln q / d ln d   = 2 + m s
//! d ln q / d ln rho = -1/2 + m s / 2
//! ```
//!
//! A turbulent orifice (n = 1/2) does not feel viscosity and goes with the area; a laminar bore
//! (n = 1, m = 1) goes with the inverse of viscosity and the cube of the diameter. In go the
//! exponent and, where known, the shear index; pressure loss in a hose must have been taken off
//! before. Checked against ISO 5167 orifices and laminar pipes of `fluids` in
//! `tests/tests/checks_apply_temperature.rs`.

use serde::{Deserialize, Serialize};

use crate::estimate::Estimate;
use crate::estimate::propagate::propagate;

/// Shear index where none is known, rectangular from 0.5 to 1: coatings thin under shear, and at
/// the shear rates of a tip they have done most of it (common practice, no source).
pub const SHEAR_INDEX_UNKNOWN: Estimate = Estimate::new(0.75, 0.0, 0.144);

/// Logarithmic derivatives of a tip's flow at constant pressure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Answers {
    /// Relative change of flow for a relative change of viscosity (consistency).
    pub to_viscosity: Estimate,
    /// Relative change of flow for a relative change of orifice diameter.
    pub to_diameter: Estimate,
    /// Relative change of flow for a relative change of density.
    pub to_density: Estimate,
}

/// The answers of a tip from the exponent of its curve and the liquid's shear index.
///
/// *Errors*: `None` when the exponent or the shear index is not a number, or the index does not lie
/// above 0 and below 1.5.
///
/// *Source*: derived above.
#[must_use]
pub fn answers(exponent: Estimate, shear_index: Estimate) -> Option<Answers> {
    if !(shear_index.value > 0.0 && shear_index.value < 1.5) {
        return None;
    }
    let inputs = [exponent, shear_index];
    let slope = |n: f64, m: f64| (2.0 * n - 1.0) / (2.0 - m);
    Some(Answers {
        to_viscosity: propagate(&inputs, |[n, m]| -slope(*n, *m))?,
        to_diameter: propagate(&inputs, |[n, m]| 2.0 + m * slope(*n, *m))?,
        to_density: propagate(&inputs, |[n, m]| 0.5 * (m * slope(*n, *m) - 1.0))?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(n: f64, m: f64, expected: [f64; 3]) {
        let a = answers(Estimate::exact(n), Estimate::exact(m)).unwrap();
        let found = [
            a.to_viscosity.value,
            a.to_diameter.value,
            a.to_density.value,
        ];
        for (found, expected) in found.iter().zip(expected) {
            assert!((found - expected).abs() < 1e-12, "{found} {expected}");
        }
    }

    #[test]
    fn the_limits_are_those_of_an_orifice_and_of_a_laminar_bore() {
        check(0.5, 1.0, [0.0, 2.0, -0.5]);
        check(0.5, 0.6, [0.0, 2.0, -0.5]);
        // Hagen-Poiseuille with length in proportion to the bore: q ~ d^3 p / mu, no density.
        check(1.0, 1.0, [-1.0, 3.0, 0.0]);
        // Laminar power-law liquid: q ~ d^3 (p / K)^(1/m).
        check(2.0, 0.5, [-2.0, 3.0, 0.0]);
    }

    #[test]
    fn doubt_of_the_shear_index_is_carried_as_common() {
        let a = answers(Estimate::new(0.6, 0.01, 0.0), SHEAR_INDEX_UNKNOWN).unwrap();
        assert!(a.to_viscosity.u_independent > 0.0 && a.to_viscosity.u_common > 0.0);
        assert!(a.to_viscosity.value < 0.0);
    }

    #[test]
    fn nonsense_has_no_answer() {
        assert_eq!(
            answers(Estimate::exact(f64::NAN), SHEAR_INDEX_UNKNOWN),
            None
        );
        assert_eq!(answers(Estimate::exact(0.6), Estimate::exact(0.0)), None);
        assert_eq!(
            answers(Estimate::exact(0.6), Estimate::exact(f64::NAN)),
            None
        );
    }
}
