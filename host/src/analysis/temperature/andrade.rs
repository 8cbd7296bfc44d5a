//! The Andrade line: `ln viscosity = A + B / T` through two readings or more.
//!
//! Only readings at one shear rate belong on one line, because coatings thin under shear; readings
//! without a shear rate count as one more shear rate of their own. With two readings the stated uncertainty
//! carries; with more, scatter beyond it widens the line.

use serde::{Deserialize, Serialize};

use super::TemperatureError;
use crate::analysis::fit::line::{Line, Scatter, fit_line};
use crate::estimate::{Estimate, Interval};
use crate::recording::settings::ViscosityReading;
use crate::units::Kelvin;

/// Relative standard uncertainty of a viscosity reading where none is stated: a rotational viscometer
/// in a workshop, sample temperature included (common practice, no source).
pub const U_READING_RATIO: f64 = 0.05;
/// Least difference of temperature, K: below it the reading's uncertainty hides the slope.
const SPREAD_MIN_K: f64 = 2.0;
/// Shear rates within this ratio count as one.
const SAME_SHEAR_RATIO: f64 = 1.05;

/// Viscosity against temperature.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AndradeLine {
    /// Logarithm of viscosity in Pa s against inverse temperature in 1/K.
    line: Line,
    /// Shear rate of the readings, where given, 1/s.
    pub shear_rate_per_s: Option<f64>,
    /// Temperatures of the readings, K: outside, the line is carried on.
    pub range_k: Interval,
    /// Readings on the line.
    pub n_readings: usize,
    /// Readings at other shear rates, left out.
    pub n_left_out: usize,
}

impl AndradeLine {
    /// Dynamic viscosity at a temperature, Pa s, at the readings' shear rate.
    ///
    /// *Errors*: a temperature that is not finite and above zero, or so low that the viscosity is
    /// beyond any number.
    pub fn viscosity_at(&self, temperature: Kelvin) -> Result<Estimate, TemperatureError> {
        let ln = self.line.at(1.0 / check(temperature)?);
        let value = ln.value.exp();
        if !value.is_finite() {
            return Err(TemperatureError::BadTemperature {
                temperature_k: temperature.si(),
            });
        }
        Ok(Estimate::new(value, value * ln.u_independent, 0.0).with_dof(ln.dof))
    }

    /// Logarithm of viscosity after over viscosity before; the level of the line cancels.
    ///
    /// *Errors*: a temperature that is not finite and above zero.
    pub fn ln_ratio(&self, before: Kelvin, after: Kelvin) -> Result<Estimate, TemperatureError> {
        let step = 1.0 / check(after)? - 1.0 / check(before)?;
        Ok(self.line.slope().scaled(step))
    }

    /// The slope B of the line, K.
    #[must_use]
    pub fn slope_k(&self) -> Estimate {
        self.line.slope()
    }

    /// True when a temperature lies outside the readings, where the line is carried on.
    #[must_use]
    pub fn is_extrapolated(&self, temperature: Kelvin) -> bool {
        !self.range_k.contains(temperature.si())
    }
}

/// Draw the line through the readings of the shear rate that spans the widest temperatures.
///
/// *Shape*: two readings or more, any order; `u_reading_ratio` is the relative standard uncertainty of
/// each, independent.
///
/// *Errors*: [`TemperatureError`]: a reading that is not finite and above zero; no two readings of one
/// shear rate 2 K apart; an uncertainty outside 0 to 1.
///
/// *Source*: Andrade, Phil. Mag. 17 (1934) 497; line and widening as in
/// [`crate::analysis::fit::line`].
pub fn fit_andrade(
    readings: &[ViscosityReading],
    u_reading_ratio: f64,
) -> Result<AndradeLine, TemperatureError> {
    if !(u_reading_ratio > 0.0 && u_reading_ratio < 1.0) {
        return Err(TemperatureError::BadUncertainty {
            ratio: u_reading_ratio,
        });
    }
    for (index, reading) in readings.iter().enumerate() {
        let is_usable = |x: f64| x.is_finite() && x > 0.0;
        let (temperature_k, viscosity_pa_s) =
            (reading.temperature_k, reading.dynamic_viscosity_pa_s);
        if !(is_usable(temperature_k) && is_usable(viscosity_pa_s)) {
            return Err(TemperatureError::BadReading {
                index: index + 1,
                temperature_k,
                viscosity_pa_s,
            });
        }
    }
    let too_few = TemperatureError::TooFewReadings {
        n_readings: readings.len(),
        needed_k: SPREAD_MIN_K,
    };
    let chosen = widest_shear_group(readings).ok_or(too_few.clone())?;
    let range_k = temperatures(&chosen);
    if range_k.high - range_k.low < SPREAD_MIN_K {
        return Err(too_few);
    }
    let x: Vec<f64> = chosen.iter().map(|r| 1.0 / r.temperature_k).collect();
    let y: Vec<f64> = chosen
        .iter()
        .map(|r| r.dynamic_viscosity_pa_s.ln())
        .collect();
    let u = vec![u_reading_ratio; x.len()];
    let mean_x = x.iter().sum::<f64>() / x.len() as f64;
    let line = fit_line(&x, &y, &u, mean_x, Scatter::Larger).map_err(|_| too_few)?;
    Ok(AndradeLine {
        line,
        shear_rate_per_s: chosen[0].shear_rate_per_s,
        range_k,
        n_readings: chosen.len(),
        n_left_out: readings.len() - chosen.len(),
    })
}

fn widest_shear_group(readings: &[ViscosityReading]) -> Option<Vec<ViscosityReading>> {
    let is_same = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => a.max(b) <= SAME_SHEAR_RATIO * a.min(b),
        (None, None) => true,
        _ => false,
    };
    let groups = readings.iter().map(|first| {
        let same = |r: &&ViscosityReading| is_same(first.shear_rate_per_s, r.shear_rate_per_s);
        readings.iter().filter(same).copied().collect::<Vec<_>>()
    });
    groups.max_by(|a, b| {
        let spread = |g: &[ViscosityReading]| {
            let range = temperatures(g);
            range.high - range.low
        };
        spread(a).total_cmp(&spread(b))
    })
}

fn temperatures(readings: &[ViscosityReading]) -> Interval {
    let start = Interval {
        low: f64::INFINITY,
        high: f64::NEG_INFINITY,
    };
    readings.iter().fold(start, |range, r| Interval {
        low: range.low.min(r.temperature_k),
        high: range.high.max(r.temperature_k),
    })
}

fn check(temperature: Kelvin) -> Result<f64, TemperatureError> {
    let temperature_k = temperature.si();
    if temperature_k.is_finite() && temperature_k > 0.0 {
        Ok(temperature_k)
    } else {
        Err(TemperatureError::BadTemperature { temperature_k })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(celsius: f64, shear: Option<f64>, pa_s: f64) -> ViscosityReading {
        ViscosityReading {
            temperature_k: Kelvin::from_celsius(celsius).si(),
            shear_rate_per_s: shear,
            dynamic_viscosity_pa_s: pa_s,
        }
    }

    #[test]
    fn two_readings_give_back_themselves_with_their_stated_uncertainty() {
        let readings = [reading(10.0, None, 0.5), reading(20.0, None, 0.35)];
        let line = fit_andrade(&readings, 0.05).unwrap();
        let at_10 = line.viscosity_at(Kelvin::from_celsius(10.0)).unwrap();
        assert!((at_10.value - 0.5).abs() < 1e-12);
        assert!((at_10.u_independent / at_10.value - 0.05).abs() < 1e-9);
        let far = line.viscosity_at(Kelvin::from_celsius(35.0)).unwrap();
        assert!(far.u_independent / far.value > 0.1);
        assert!(line.is_extrapolated(Kelvin::from_celsius(35.0)));
        assert!(!line.is_extrapolated(Kelvin::from_celsius(15.0)));
    }

    #[test]
    fn scatter_beyond_the_stated_uncertainty_widens_the_line() {
        let readings = [10.0, 15.0, 20.0, 25.0].map(|c| {
            let odd = if c == 15.0 || c == 25.0 { 1.3 } else { 1.0 };
            reading(c, Some(100.0), odd * (0.05 * (20.0 - c)).exp())
        });
        let line = fit_andrade(&readings, 0.01).unwrap();
        let u = line.slope_k();
        assert!(u.u_independent / u.value > 0.2 && u.dof == 2.0, "{u:?}");
    }

    #[test]
    fn readings_at_other_shear_rates_are_left_out_and_counted() {
        let readings = [
            reading(10.0, Some(100.0), 0.5),
            reading(20.0, Some(102.0), 0.35),
            reading(20.0, Some(1000.0), 0.1),
            reading(21.0, None, 0.3),
        ];
        let line = fit_andrade(&readings, 0.05).unwrap();
        assert_eq!((line.n_readings, line.n_left_out), (2, 2));
        assert_eq!(line.shear_rate_per_s, Some(100.0));
    }

    #[test]
    fn each_unusable_entry_is_refused_by_name() {
        #[track_caller]
        fn check(readings: &[ViscosityReading], ratio: f64, message: &str) {
            let error = fit_andrade(readings, ratio).unwrap_err();
            assert_eq!(error.to_string(), message);
        }
        let good = [reading(10.0, None, 0.5), reading(20.0, None, 0.35)];
        let none = "0 viscosity readings, but no two at one shear rate are 2 K or more apart; measure \
                    once more with the coating warmer or colder";
        check(&[], 0.05, none);
        let twice = [good[0], good[0]];
        check(&twice, 0.05, &none.replace("0 viscosity", "2 viscosity"));
        let apart = [
            reading(10.0, Some(1.0), 0.5),
            reading(20.0, Some(100.0), 0.35),
        ];
        check(&apart, 0.05, &none.replace("0 viscosity", "2 viscosity"));
        check(
            &[good[0], reading(20.0, None, -0.1)],
            0.05,
            "viscosity reading 2: -0.1 Pa s at 293.15 K; both must be finite and above zero",
        );
        check(
            &good,
            0.0,
            "relative standard uncertainty 0 of a viscosity reading; it must be above 0, below 1",
        );
        let line = fit_andrade(&good, 0.05).unwrap();
        for t in [f64::NAN, 0.0, -3.0, 1e-300] {
            assert!(line.viscosity_at(Kelvin(t)).is_err());
        }
    }
}
