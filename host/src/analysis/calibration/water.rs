//! Density and dynamic viscosity of water near room temperature, at atmospheric pressure.
//!
//! For catches made with water, and for the orifice's Reynolds number in a water run. Tap water
//! differs from the pure water of the formulas by less than the stated uncertainty. Compared with
//! the reference library `iapws` in `tests/tests/checks_apply_calibration.rs`.

use super::CalibrationError;
use crate::estimate::Estimate;
use crate::units::{KELVIN_AT_0_C, Kelvin};

/// Lowest temperature of both formulas as used here: the freezing point.
const LOW_K: f64 = KELVIN_AT_0_C;
/// Highest temperature of the density formula, 40 degrees Celsius; warm tap water.
const HIGH_K: f64 = KELVIN_AT_0_C + 40.0;
/// Relative standard uncertainty given to the density of tap water: dissolved salts and air of
/// ordinary tap water shift it by up to about 0.05 % (common practice, no source).
const U_TAP_WATER_RATIO: f64 = 3.0e-4;
/// Relative standard uncertainty of the viscosity formula with tap water (IAPWS SR6-08 states 1 %
/// expanded for pure water).
const U_VISCOSITY_RATIO: f64 = 5.0e-3;

/// Density of tap water, kg/m3; its uncertainty is common.
///
/// *Errors*: a temperature outside 0 to 40 degrees Celsius.
///
/// *Source*: Tanaka et al., Metrologia 38 (2001) 301, equation 1 (CIPM formula).
pub fn water_density(temperature: Kelvin) -> Result<Estimate, CalibrationError> {
    let t_c = check(temperature)?;
    let density = 999.974_950
        * (1.0 - (t_c - 3.983_035).powi(2) * (t_c + 301.797) / (522_528.9 * (t_c + 69.348_81)));
    Ok(Estimate::new(density, 0.0, density * U_TAP_WATER_RATIO))
}

/// Dynamic viscosity of water, Pa s; its uncertainty is common.
///
/// *Errors*: a temperature outside 0 to 40 degrees Celsius.
///
/// *Source*: IAPWS SR6-08(2011), equation 6: supplementary release on liquid water at 0.1 MPa.
pub fn water_viscosity(temperature: Kelvin) -> Result<Estimate, CalibrationError> {
    check(temperature)?;
    let reduced = temperature.si() / 300.0;
    let viscosity = 1.0e-6
        * (280.68 * reduced.powf(-1.9)
            + 511.45 * reduced.powf(-7.7)
            + 61.131 * reduced.powf(-19.6)
            + 0.459_03 * reduced.powf(-40.0));
    Ok(Estimate::new(viscosity, 0.0, viscosity * U_VISCOSITY_RATIO))
}

fn check(temperature: Kelvin) -> Result<f64, CalibrationError> {
    let temperature_k = temperature.si();
    if (LOW_K..=HIGH_K).contains(&temperature_k) {
        Ok(temperature.as_celsius())
    } else {
        Err(CalibrationError::WaterTemperature {
            temperature_k,
            low_k: LOW_K,
            high_k: HIGH_K,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn water_outside_the_formulas_is_refused() {
        for t in [f64::NAN, f64::INFINITY, -5.0, 0.0, 271.0, 320.0] {
            assert!(water_density(Kelvin(t)).is_err() && water_viscosity(Kelvin(t)).is_err());
        }
        assert_eq!(
            water_density(Kelvin(371.0)).unwrap_err().to_string(),
            "water at 97.9 degrees Celsius is outside 0 to 40 where the formula holds"
        );
    }
}
