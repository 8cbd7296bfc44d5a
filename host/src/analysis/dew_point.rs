//! Dew point of the air, and whether a surface is warm enough above it to be coated.
//!
//! Over water by the equation of WMO; the surface must be at least 3 K warmer (ISO 8502-4). The
//! coating's own data sheet may ask for more. In go air temperature, relative humidity and surface
//! temperature with their uncertainties; out come dew point and margin with an answer. Compared with
//! `psychrolib` in `tests/tests/checks_apply_dew_point.rs`.

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::analysis::answer::Answer;
use crate::estimate::Estimate;
use crate::estimate::propagate::propagate;
use crate::units::KELVIN_AT_0_C;

/// Least margin of the surface above the dew point, K (ISO 8502-4).
pub const MARGIN_K: f64 = 3.0;
/// Lowest air temperature of the equation, degrees Celsius above zero Celsius (WMO).
const LOW_C: f64 = -45.0;
/// Highest air temperature of the equation (WMO).
const HIGH_C: f64 = 60.0;
/// Coefficients of saturation vapour pressure over water, `exp(A t / (B + t))`, t in degrees Celsius.
const A: f64 = 17.62;
const B: f64 = 243.12;
/// Standard uncertainty of the equation itself, K: it stays within 0.035 K of the ASHRAE formulation
/// where the dew point is above freezing (rectangular; measured by the check against `psychrolib`).
const U_EQUATION_K: f64 = 0.02;

/// A surface against the dew point.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CondensationMargin {
    /// Dew point of the air, K.
    pub dew_point_k: Estimate,
    /// Surface minus dew point, K.
    pub margin_k: Estimate,
    /// Whether the margin is at least [`MARGIN_K`].
    pub is_wide_enough: Answer,
}

/// Why there is no dew point.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum DewPointError {
    /// The humidity is not between 0 and 1.
    #[error(
        "relative humidity {:.1} % is not above 0 and at most 100 %; read the hygrometer again",
        ratio * 100.0
    )]
    Humidity {
        /// Humidity as given, 0 to 1.
        ratio: f64,
    },
    /// The air temperature is outside the equation's range.
    #[error("air temperature {:.1} degrees Celsius is outside -45 to 60", temperature_k - KELVIN_AT_0_C)]
    Air {
        /// Temperature as given, K.
        temperature_k: f64,
    },
    /// The surface temperature is no usable number.
    #[error("surface temperature {temperature_k} K must be finite and above zero")]
    Surface {
        /// Temperature as given, K.
        temperature_k: f64,
    },
    /// An uncertainty is negative, not a number, or so large that it leaves the equation's range.
    #[error(
        "the uncertainties of air temperature and humidity leave the range of the dew point equation"
    )]
    Uncertainty,
}

/// Dew point over water from air temperature (K) and relative humidity (0 to 1), in K.
///
/// *Errors*: [`DewPointError`], each case named there.
///
/// *Source*: WMO-No. 8 (2018), annex 4.B, saturation over water inverted; the enhancement factor of moist
/// air cancels.
pub fn find_dew_point(air_k: Estimate, humidity: Estimate) -> Result<Estimate, DewPointError> {
    let air_c = air_k.value - KELVIN_AT_0_C;
    if !(LOW_C..=HIGH_C).contains(&air_c) {
        return Err(DewPointError::Air {
            temperature_k: air_k.value,
        });
    }
    let is_humid = humidity.value > 0.0 && humidity.value <= 1.0;
    if !is_humid {
        return Err(DewPointError::Humidity {
            ratio: humidity.value,
        });
    }
    let dew = |air_k: f64, humidity: f64| {
        let t = air_k - KELVIN_AT_0_C;
        let gamma = humidity.ln() + A * t / (B + t);
        KELVIN_AT_0_C + B * gamma / (A - gamma)
    };
    let found =
        propagate(&[air_k, humidity], |[t, h]| dew(*t, *h)).ok_or(DewPointError::Uncertainty)?;
    Ok(Estimate {
        u_common: found.u_common.hypot(U_EQUATION_K),
        ..found
    })
}

/// Whether a surface is at least [`MARGIN_K`] above the dew point of the air at it.
///
/// *Errors*: as [`find_dew_point`], and a surface temperature that is no usable number.
///
/// *Source*: ISO 8502-4.
pub fn judge_surface(
    surface_k: Estimate,
    air_k: Estimate,
    humidity: Estimate,
) -> Result<CondensationMargin, DewPointError> {
    if !(surface_k.value.is_finite() && surface_k.value > 0.0) {
        return Err(DewPointError::Surface {
            temperature_k: surface_k.value,
        });
    }
    let dew_point_k = find_dew_point(air_k, humidity)?;
    let margin_k = propagate(&[surface_k, dew_point_k], |[surface, dew]| surface - dew)
        .ok_or(DewPointError::Uncertainty)?;
    Ok(CondensationMargin {
        dew_point_k,
        margin_k,
        is_wide_enough: Answer::is_at_least(&margin_k, MARGIN_K),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn celsius(c: f64, u: f64) -> Estimate {
        Estimate::new(c + KELVIN_AT_0_C, u, 0.0)
    }

    #[test]
    fn saturated_air_is_at_its_dew_point() {
        for t in [-20.0, 0.0, 15.0, 50.0] {
            let dew = find_dew_point(celsius(t, 0.0), Estimate::exact(1.0)).unwrap();
            assert!((dew.value - KELVIN_AT_0_C - t).abs() < 1e-9);
        }
    }

    #[test]
    fn doubt_of_the_humidity_decides_near_the_margin() {
        // Dew point 9.27 degrees Celsius; 2 % of humidity are about 0.6 K.
        let judge = |surface: f64, u_humidity: f64| {
            let humidity = Estimate::new(0.5, u_humidity, 0.0);
            judge_surface(celsius(surface, 0.2), celsius(20.0, 0.3), humidity)
                .unwrap()
                .is_wide_enough
        };
        assert_eq!(judge(15.0, 0.02), Answer::Yes);
        assert_eq!(judge(10.0, 0.02), Answer::No);
        assert_eq!(judge(12.5, 0.02), Answer::CannotTell);
        assert_eq!(judge(13.5, 0.002), Answer::Yes);
        assert_eq!(judge(13.5, 0.05), Answer::CannotTell);
    }

    #[test]
    fn each_unusable_entry_is_refused_by_name() {
        #[track_caller]
        fn check(air: Estimate, humidity: Estimate, message: &str) {
            assert_eq!(
                find_dew_point(air, humidity).unwrap_err().to_string(),
                message
            );
        }
        let good = celsius(20.0, 0.0);
        let range = "is not above 0 and at most 100 %; read the hygrometer again";
        let bad = |text: &str| format!("relative humidity {text} % {range}");
        check(good, Estimate::exact(50.0), &bad("5000.0"));
        check(good, Estimate::exact(0.0), &bad("0.0"));
        check(good, Estimate::exact(f64::NAN), &bad("NaN"));
        check(
            celsius(80.0, 0.0),
            Estimate::exact(0.5),
            "air temperature 80.0 degrees Celsius is outside -45 to 60",
        );
        check(
            good,
            Estimate::new(0.05, 0.06, 0.0),
            "the uncertainties of air temperature and humidity leave the range of the dew point \
             equation",
        );
        assert_eq!(
            judge_surface(Estimate::exact(f64::NAN), good, Estimate::exact(0.5))
                .unwrap_err()
                .to_string(),
            "surface temperature NaN K must be finite and above zero"
        );
    }
}
