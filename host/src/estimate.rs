//! A value with its standard uncertainty in two parts, and how they combine.
//!
//! *Independent* uncertainty is noise that the data themselves show: it differs from burst to
//! burst and averages out. *Common* uncertainty is calibration: it shifts every point of a
//! recording alike and never averages out. They are kept apart to the end and combined once, in
//! quadrature (JCGM 100:2008, 5.1.2). No words of the trade here.

pub mod bracketed;
pub mod budget;
pub mod propagate;

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// A closed interval, in the unit of the value it belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Interval {
    /// True when `value` lies inside, ends included.
    #[must_use]
    pub fn contains(self, value: f64) -> bool {
        value >= self.low && value <= self.high
    }

    /// Both ends through a monotone map, put in order.
    #[must_use]
    pub fn map(self, f: impl Fn(f64) -> f64) -> Self {
        let (a, b) = (f(self.low), f(self.high));
        Self {
            low: a.min(b),
            high: a.max(b),
        }
    }
}

/// A value with standard uncertainty (coverage factor 1) in two parts.
///
/// *Units*: those of the value; the field that holds an `Estimate` names them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// Best value.
    pub value: f64,
    /// Standard uncertainty of the independent part (noise).
    pub u_independent: f64,
    /// Standard uncertainty of the common part (calibration).
    pub u_common: f64,
    /// Degrees of freedom of the independent part; infinite when it is known from the instrument.
    #[serde(with = "dof_as_null")]
    pub dof: f64,
}

/// JSON has no infinity: unlimited degrees of freedom are written as `null`.
mod dof_as_null {
    use serde::{Deserialize, Deserializer, Serializer};

    #[allow(clippy::trivially_copy_pass_by_ref)]
    pub(super) fn serialize<S: Serializer>(dof: &f64, s: S) -> Result<S::Ok, S::Error> {
        if dof.is_finite() {
            s.serialize_some(dof)
        } else {
            s.serialize_none()
        }
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
        Ok(Option::<f64>::deserialize(d)?.unwrap_or(f64::INFINITY))
    }
}

impl Estimate {
    /// A value known exactly, for constants and definitions.
    #[must_use]
    pub const fn exact(value: f64) -> Self {
        Self {
            value,
            u_independent: 0.0,
            u_common: 0.0,
            dof: f64::INFINITY,
        }
    }

    /// A value with both parts of its standard uncertainty and unlimited degrees of freedom.
    #[must_use]
    pub const fn new(value: f64, u_independent: f64, u_common: f64) -> Self {
        Self {
            value,
            u_independent,
            u_common,
            dof: f64::INFINITY,
        }
    }

    /// The same estimate with the degrees of freedom of its independent part.
    #[must_use]
    pub const fn with_dof(mut self, dof: f64) -> Self {
        self.dof = dof;
        self
    }

    /// Combined standard uncertainty (JCGM 100:2008, equation 10).
    #[must_use]
    pub fn u_combined(&self) -> f64 {
        self.u_independent.hypot(self.u_common)
    }

    /// Effective degrees of freedom of the combination (Welch-Satterthwaite, JCGM 100:2008, G.2b),
    /// the common part counting as known.
    #[must_use]
    pub fn effective_dof(&self) -> f64 {
        if !self.dof.is_finite() || self.u_independent == 0.0 {
            return f64::INFINITY;
        }
        self.dof * (self.u_combined() / self.u_independent).powi(4)
    }

    /// Expanded uncertainty for 95 % coverage, both parts.
    #[must_use]
    pub fn expanded_95(&self) -> f64 {
        coverage_factor_95(self.effective_dof()) * self.u_combined()
    }

    /// The interval of 95 % coverage, both parts.
    #[must_use]
    pub fn interval_95(&self) -> Interval {
        let half = self.expanded_95();
        Interval {
            low: self.value - half,
            high: self.value + half,
        }
    }

    /// The interval of 95 % coverage from noise alone, for comparing points of one recording.
    #[must_use]
    pub fn independent_interval_95(&self) -> Interval {
        let half = coverage_factor_95(self.dof) * self.u_independent;
        Interval {
            low: self.value - half,
            high: self.value + half,
        }
    }

    /// The estimate times an exact factor.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            u_independent: self.u_independent * factor.abs(),
            u_common: self.u_common * factor.abs(),
            dof: self.dof,
        }
    }
}

/// Coverage factor of a two-sided 95 % interval: Student's t with `dof` degrees of freedom
/// (JCGM 100:2008, table G.2); the normal value when they are unlimited.
///
/// Degrees of freedom below 1 are taken as 1: no honest factor exists below that.
#[must_use]
pub fn coverage_factor_95(dof: f64) -> f64 {
    if !dof.is_finite() || dof > 1.0e6 {
        return 1.959_963_984_540_054;
    }
    StudentsT::new(0.0, 1.0, dof.max(1.0)).map_or(12.706, |t| t.inverse_cdf(0.975))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 100:2008, table G.2, column 95 %.
    #[test]
    fn coverage_factors_match_gum_table_g2() {
        for (dof, k) in [
            (1.0, 12.71),
            (2.0, 4.30),
            (5.0, 2.57),
            (10.0, 2.23),
            (50.0, 2.01),
        ] {
            assert!((coverage_factor_95(dof) - k).abs() < 0.005, "dof {dof}");
        }
        assert!((coverage_factor_95(f64::INFINITY) - 1.960).abs() < 5e-4);
    }

    #[test]
    fn parts_combine_in_quadrature_and_noise_freedom_grows_with_the_common_part() {
        let e = Estimate::new(10.0, 0.3, 0.4).with_dof(4.0);
        assert!((e.u_combined() - 0.5).abs() < 1e-15);
        assert!((e.effective_dof() - 4.0 * (0.5f64 / 0.3).powi(4)).abs() < 1e-9);
        assert!(e.interval_95().contains(10.9) && !e.interval_95().contains(11.1));
    }

    #[test]
    fn unlimited_degrees_of_freedom_are_null_in_json_and_come_back() {
        let e = Estimate::new(1.0, 0.1, 0.0);
        let text = serde_json::to_string(&e).unwrap();
        assert!(text.contains("\"dof\":null"), "{text}");
        assert_eq!(serde_json::from_str::<Estimate>(&text).unwrap(), e);
    }
}
