//! Viscosity against temperature and flow-cup seconds, and how much of a move they explain.
//!
//! [`andrade`] draws the line of the logarithm of viscosity against inverse temperature through two
//! readings or more; [`flow_cup`] turns the seconds of an ISO 2431 cup into kinematic viscosity;
//! [`explain_by_temperature`] says by how much a tip's flow should have moved when the coating became
//! warmer or colder, so that a comparison can tell weather from wear. No recordings here. Checked in
//! `tests/tests/checks_apply_temperature.rs`.

pub mod andrade;
pub mod flow_cup;

use thiserror::Error;

use crate::analysis::similarity;
use crate::estimate::Estimate;
use crate::estimate::propagate::propagate;
use crate::units::Kelvin;
use andrade::AndradeLine;

/// Why there is no viscosity or no explanation.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TemperatureError {
    /// A reading is no usable number.
    #[error(
        "viscosity reading {index}: {viscosity_pa_s} Pa s at {temperature_k} K; both must be finite and \
         above zero"
    )]
    BadReading {
        /// Position among the readings, from 1.
        index: usize,
        /// Temperature.
        temperature_k: f64,
        /// Dynamic viscosity.
        viscosity_pa_s: f64,
    },
    /// No two readings at one shear rate are at different temperatures.
    #[error(
        "{n_readings} viscosity readings, but no two at one shear rate are {needed_k} K or more apart; \
         measure once more with the coating warmer or colder"
    )]
    TooFewReadings {
        /// Readings there are.
        n_readings: usize,
        /// Least difference of temperature.
        needed_k: f64,
    },
    /// A relative uncertainty is no usable number.
    #[error(
        "relative standard uncertainty {ratio} of a viscosity reading; it must be above 0, below 1"
    )]
    BadUncertainty {
        /// As given.
        ratio: f64,
    },
    /// A temperature is no usable number.
    #[error("temperature {temperature_k} K must be finite and above zero")]
    BadTemperature {
        /// As given.
        temperature_k: f64,
    },
    /// The exponent or the shear index is no usable number.
    #[error(
        "exponent {exponent} with shear index {shear_index}; the index must lie above 0, below 1.5"
    )]
    BadExponent {
        /// Exponent of the nozzle curve.
        exponent: f64,
        /// Shear index.
        shear_index: f64,
    },
    /// A cup's flow time lies outside the range that the standard allows.
    #[error(
        "{seconds:.0} s through the {orifice_mm} mm cup is outside {low_s:.0} to {high_s:.0} s (ISO 2431); \
         {advice}"
    )]
    CupTime {
        /// Flow time.
        seconds: f64,
        /// The cup's orifice.
        orifice_mm: u8,
        /// Shortest allowed.
        low_s: f64,
        /// Longest allowed.
        high_s: f64,
        /// Which cup to take.
        advice: &'static str,
    },
    /// A viscosity has no flow time within the range of any cup.
    #[error(
        "{mm2_per_s:.0} mm2/s has no flow time from 30 to 100 s in the {orifice_mm} mm cup (ISO 2431)"
    )]
    CupViscosity {
        /// Kinematic viscosity.
        mm2_per_s: f64,
        /// The cup's orifice.
        orifice_mm: u8,
    },
}

/// Flow after over flow before that a change of coating temperature should make at one pressure.
///
/// `exponent` is the nozzle curve's, at the mean of the two states; `shear_index` the liquid's, or
/// [`similarity::SHEAR_INDEX_UNKNOWN`]. The share is that of viscosity: density changes by a few
/// parts in ten thousand a kelvin and is left out.
///
/// *Errors*: a temperature, exponent or shear index that is no usable number.
///
/// *Source*: dimensional argument of [`similarity`] with the Andrade line.
pub fn explain_by_temperature(
    exponent: Estimate,
    shear_index: Estimate,
    andrade: &AndradeLine,
    before: Kelvin,
    after: Kelvin,
) -> Result<Estimate, TemperatureError> {
    let ln_viscosity_ratio = andrade.ln_ratio(before, after)?;
    let answers = similarity::answers(exponent, shear_index);
    let bad = TemperatureError::BadExponent {
        exponent: exponent.value,
        shear_index: shear_index.value,
    };
    let to_viscosity = answers.ok_or(bad.clone())?.to_viscosity;
    propagate(&[to_viscosity, ln_viscosity_ratio], |[s, x]| (s * x).exp()).ok_or(bad)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recording::settings::ViscosityReading;

    fn line() -> AndradeLine {
        let reading = |celsius: f64, mpa_s: f64| ViscosityReading {
            temperature_k: Kelvin::from_celsius(celsius).si(),
            shear_rate_per_s: Some(100.0),
            dynamic_viscosity_pa_s: mpa_s / 1000.0,
        };
        andrade::fit_andrade(&[reading(10.0, 330.0), reading(20.0, 215.0)], 0.03).unwrap()
    }

    #[test]
    fn a_turbulent_tip_is_not_explained_by_temperature_and_a_viscous_one_is() {
        let at = |n: f64, after: f64| {
            let (before, after) = (Kelvin::from_celsius(25.0), Kelvin::from_celsius(after));
            explain_by_temperature(
                Estimate::exact(n),
                Estimate::exact(1.0),
                &line(),
                before,
                after,
            )
            .unwrap()
        };
        assert_eq!(at(0.5, 5.0).value, 1.0);
        let ratio = line()
            .ln_ratio(Kelvin::from_celsius(25.0), Kelvin::from_celsius(5.0))
            .unwrap();
        assert!((at(1.0, 5.0).value - (-ratio.value).exp()).abs() < 1e-12);
        assert!(at(0.65, 5.0).value < 1.0 && at(0.65, 40.0).value > 1.0);
        assert_eq!(at(0.65, 25.0).value, 1.0);
    }

    #[test]
    fn unusable_numbers_are_refused_by_name() {
        let t = Kelvin::from_celsius(20.0);
        let unknown = similarity::SHEAR_INDEX_UNKNOWN;
        let with = |n: f64, m: Estimate, after: Kelvin| {
            explain_by_temperature(Estimate::exact(n), m, &line(), t, after)
                .unwrap_err()
                .to_string()
        };
        assert_eq!(
            with(f64::NAN, unknown, t),
            "exponent NaN with shear index 0.75; the index must lie above 0, below 1.5"
        );
        assert_eq!(
            with(0.6, Estimate::exact(2.0), t),
            "exponent 0.6 with shear index 2; the index must lie above 0, below 1.5"
        );
        assert_eq!(
            with(0.6, unknown, Kelvin(0.0)),
            "temperature 0 K must be finite and above zero"
        );
    }
}
