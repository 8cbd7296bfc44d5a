//! Points of one group to its nozzle curve, or to a refusal that names the missing measurement.
//!
//! Nozzle curve: flow against pressure for one tip with one coating in one condition.

use serde::{Deserialize, Serialize};

use crate::estimate::{Estimate, Interval};

/// One burst's steady means, as the curve sees it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CurvePoint {
    /// Index of the burst in the recording.
    pub burst_index: usize,
    /// Spraying pressure, Pa.
    pub pressure_pa: Estimate,
    /// Volume flow, m3/s.
    pub flow_m3_per_s: Estimate,
}

/// `q = q_ref * (p / p_ref)^n`, fitted on logarithms with errors in both coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PowerLaw {
    /// Reference pressure: log-mean of the group, Pa.
    pub p_ref_pa: f64,
    /// Flow at the reference pressure, m3/s; both parts of its uncertainty.
    pub q_ref_m3_per_s: Estimate,
    /// Exponent; its common part comes from pressure zero only.
    pub n: Estimate,
    /// Covariance of `ln q_ref` and `n`, independent parts.
    pub cov_ln_q_ref_n: f64,
    /// Reduced chi-square of the fit (1 when the points scatter as their uncertainties say).
    pub reduced_chi_square: f64,
}

/// `p = a q + b q^2`: linear viscous plus quadratic inertial.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TwoTerm {
    /// Linear term, Pa s/m3.
    pub a_pa_s_per_m3: Estimate,
    /// Quadratic term, Pa s2/m6.
    pub b_pa_s2_per_m6: Estimate,
    /// Covariance of the two, independent parts.
    pub cov_a_b: f64,
}

/// Which form the data prefer, by AICc.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CurveForm {
    /// The power law.
    PowerLaw,
    /// The two-term form.
    TwoTerm,
}

/// Lack-of-fit test from replicates: mean square of lack of fit over pure error.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LackOfFit {
    /// F statistic.
    pub f: f64,
    /// Degrees of freedom: lack of fit, pure error.
    pub dof: (f64, f64),
    /// Probability of a larger F when the form is right.
    pub p_value: f64,
}

/// A group's nozzle curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NozzleCurve {
    /// The points that the fit used.
    pub points: Vec<CurvePoint>,
    /// Points named as outliers and left out by the stated rule.
    pub outliers: Vec<CurvePoint>,
    /// Power law.
    pub power_law: PowerLaw,
    /// Two-term form, where it could be fitted.
    pub two_term: Option<TwoTerm>,
    /// The form that the data prefer.
    pub preferred: CurveForm,
    /// AICc of the two-term form minus AICc of the power law; negative prefers two terms.
    pub delta_aicc: Option<f64>,
    /// Largest relative difference of the two forms inside the measured range, over its uncertainty.
    pub forms_disagree: bool,
    /// Lack of fit, where replicates allow the test.
    pub lack_of_fit: Option<LackOfFit>,
    /// Measured pressure range, Pa.
    pub range_pa: Interval,
}

/// Why there is no curve; each names the measurement that is missing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "reason", rename_all = "snake_case")]
pub enum CurveRefusal {
    /// No usable burst at all.
    NoPoints,
    /// Fewer than three distinct pressures.
    TooFewPressures {
        /// The distinct pressures there are, Pa.
        distinct_pa: Vec<f64>,
        /// How many are needed.
        needed: usize,
        /// A pressure whose burst would help most, Pa.
        suggest_pa: f64,
    },
    /// Highest over lowest pressure below the least ratio.
    NarrowRange {
        /// The ratio there is.
        ratio: f64,
        /// The ratio that is needed.
        needed: f64,
        /// A pressure whose burst would help most, Pa.
        suggest_pa: f64,
    },
    /// The coating's temperature changed inside the group.
    TemperatureChanged {
        /// Lowest coating temperature, K.
        low_k: f64,
        /// Highest coating temperature, K.
        high_k: f64,
    },
    /// The data scatter far more than any curve allows (a hidden change of tip, unit or coating).
    Inconsistent {
        /// Relative residual standard deviation.
        scatter_ratio: f64,
    },
    /// The fit did not converge on these numbers.
    NotFitted {
        /// What the numerical routine said.
        what: String,
    },
}

impl NozzleCurve {
    /// Flow at a pressure by the preferred form, with both parts of its uncertainty.
    #[must_use]
    pub fn flow_at(&self, pressure_pa: f64) -> Estimate {
        let law = &self.power_law;
        let x = (pressure_pa / law.p_ref_pa).ln();
        let q = law.q_ref_m3_per_s.value * (law.n.value * x).exp();
        let rel_q = law.q_ref_m3_per_s.u_independent / law.q_ref_m3_per_s.value;
        let variance =
            rel_q.powi(2) + (x * law.n.u_independent).powi(2) + 2.0 * x * law.cov_ln_q_ref_n;
        let common =
            (law.q_ref_m3_per_s.u_common / law.q_ref_m3_per_s.value).hypot(x * law.n.u_common);
        Estimate::new(q, q * variance.max(0.0).sqrt(), q * common).with_dof(law.q_ref_m3_per_s.dof)
    }
}
