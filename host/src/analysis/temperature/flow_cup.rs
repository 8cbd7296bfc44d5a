//! Seconds through an ISO 2431 flow cup to kinematic viscosity, and back.
//!
//! The standard's equations hold for flow times of 30 to 100 s and for liquids that are nearly
//! Newtonian; a coating that thins under shear gives the viscosity of a Newtonian liquid with the same
//! flow time, not its own. The 4 and 6 mm cups are quoted in `tests/checks/README.md`; the 3 and 5 mm cups are from
//! memory of the standard, and their ends agree with its printed ranges.

use serde::{Deserialize, Serialize};

use super::TemperatureError;
use crate::estimate::Estimate;
use crate::estimate::propagate::propagate;

/// Shortest flow time that the standard allows, s.
const LOW_S: f64 = 30.0;
/// Longest flow time that the standard allows, s.
const HIGH_S: f64 = 100.0;
/// Square metres in one square millimetre.
const M2_PER_MM2: f64 = 1e-6;

/// The cups of ISO 2431, by orifice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FlowCup {
    /// 3 mm: 7 to 42 mm2/s.
    Mm3,
    /// 4 mm: 34 to 135 mm2/s.
    Mm4,
    /// 5 mm: 91 to 326 mm2/s.
    Mm5,
    /// 6 mm: 188 to 684 mm2/s.
    Mm6,
}

impl FlowCup {
    /// All of them, smallest first.
    pub const ALL: [Self; 4] = [Self::Mm3, Self::Mm4, Self::Mm5, Self::Mm6];

    /// Orifice in millimetres.
    #[must_use]
    pub const fn orifice_mm(self) -> u8 {
        match self {
            Self::Mm3 => 3,
            Self::Mm4 => 4,
            Self::Mm5 => 5,
            Self::Mm6 => 6,
        }
    }

    /// The two coefficients of `viscosity = a t - b / t`, in mm2/s and s.
    const fn coefficients(self) -> (f64, f64) {
        match self {
            Self::Mm3 => (0.443, 200.0),
            Self::Mm4 => (1.37, 200.0),
            Self::Mm5 => (3.28, 220.0),
            Self::Mm6 => (6.90, 570.0),
        }
    }

    /// Kinematic viscosity from a flow time, m2/s.
    ///
    /// *Errors*: a flow time outside 30 to 100 s, or not a number.
    ///
    /// *Source*: ISO 2431.
    pub fn viscosity_m2_per_s(self, flow_time_s: Estimate) -> Result<Estimate, TemperatureError> {
        let seconds = flow_time_s.value;
        let out_of_range = TemperatureError::CupTime {
            seconds,
            orifice_mm: self.orifice_mm(),
            low_s: LOW_S,
            high_s: HIGH_S,
            advice: self.advice(seconds),
        };
        if !(LOW_S..=HIGH_S).contains(&seconds) {
            return Err(out_of_range);
        }
        let (a, b) = self.coefficients();
        propagate(&[flow_time_s], |[t]| (a * t - b / t) * M2_PER_MM2).ok_or(out_of_range)
    }

    /// Flow time of a kinematic viscosity, s.
    ///
    /// *Errors*: a viscosity whose flow time in this cup lies outside 30 to 100 s, or no number.
    ///
    /// *Source*: ISO 2431, solved for the time.
    pub fn flow_time_s(self, viscosity_m2_per_s: Estimate) -> Result<Estimate, TemperatureError> {
        let (a, b) = self.coefficients();
        let seconds = |viscosity: f64| {
            let v = viscosity / M2_PER_MM2;
            (v + (v * v + 4.0 * a * b).sqrt()) / (2.0 * a)
        };
        let no_time = TemperatureError::CupViscosity {
            mm2_per_s: viscosity_m2_per_s.value / M2_PER_MM2,
            orifice_mm: self.orifice_mm(),
        };
        let found = propagate(&[viscosity_m2_per_s], |[v]| seconds(*v)).ok_or(no_time.clone())?;
        if (LOW_S..=HIGH_S).contains(&found.value) {
            Ok(found)
        } else {
            Err(no_time)
        }
    }

    const fn advice(self, seconds: f64) -> &'static str {
        match self {
            Self::Mm3 if seconds < LOW_S => "the coating is too thin for these cups",
            Self::Mm6 if seconds > HIGH_S => "the coating is too thick for these cups",
            _ if seconds < LOW_S => "take a smaller cup",
            _ if seconds > HIGH_S => "take a larger cup",
            _ => "time it again",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seconds_and_viscosity_are_inverse_to_each_other() {
        for cup in FlowCup::ALL {
            for seconds in [30.0, 55.0, 100.0] {
                let v = cup
                    .viscosity_m2_per_s(Estimate::new(seconds, 0.5, 0.0))
                    .unwrap();
                let back = cup.flow_time_s(v).unwrap();
                assert!(
                    (back.value - seconds).abs() < 1e-9 * seconds,
                    "{cup:?} {back:?}"
                );
                assert!((back.u_independent - 0.5).abs() < 1e-3, "{cup:?} {back:?}");
            }
        }
    }

    #[test]
    fn a_flow_time_outside_the_standard_is_refused_with_the_cup_to_take() {
        #[track_caller]
        fn check(cup: FlowCup, seconds: f64, message: &str) {
            let error = cup
                .viscosity_m2_per_s(Estimate::exact(seconds))
                .unwrap_err();
            assert_eq!(error.to_string(), message);
        }
        let range = "is outside 30 to 100 s (ISO 2431);";
        let text = |start: &str, advice: &str| format!("{start} {range} {advice}");
        check(
            FlowCup::Mm4,
            12.0,
            &text("12 s through the 4 mm cup", "take a smaller cup"),
        );
        check(
            FlowCup::Mm4,
            130.0,
            &text("130 s through the 4 mm cup", "take a larger cup"),
        );
        let thin = "the coating is too thin for these cups";
        check(FlowCup::Mm3, -1.0, &text("-1 s through the 3 mm cup", thin));
        let thick = "the coating is too thick for these cups";
        check(
            FlowCup::Mm6,
            300.0,
            &text("300 s through the 6 mm cup", thick),
        );
        check(
            FlowCup::Mm5,
            f64::NAN,
            &text("NaN s through the 5 mm cup", "time it again"),
        );
        assert_eq!(
            FlowCup::Mm3
                .flow_time_s(Estimate::exact(500e-6))
                .unwrap_err()
                .to_string(),
            "500 mm2/s has no flow time from 30 to 100 s in the 3 mm cup (ISO 2431)"
        );
    }
}
