//! Points of one group to its nozzle curve, or to a refusal that names the missing measurement.
//!
//! Nozzle curve: flow against pressure for one tip with one coating in one condition.

use serde::{Deserialize, Serialize};

use crate::estimate::{Estimate, Interval};

pub mod distinct;
mod fitting;
mod predict;

pub use fitting::{
    INCONSISTENT_CHI_SQUARE, INCONSISTENT_SCATTER_RATIO, LEAST_PRESSURE_RATIO, LEAST_PRESSURES,
    MOST_TEMPERATURE_CHANGE_K, PLAUSIBLE_N, fit_nozzle_curve,
};

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

/// Standard uncertainties of the instruments that shift every point of a recording alike.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct CommonUncertainty {
    /// Pressure zero, Pa: moves `q_ref` and bends `n`.
    pub u_pressure_zero_pa: f64,
    /// Pressure span, relative: moves `q_ref` by `n` times as much.
    pub u_pressure_span_ratio: f64,
    /// Pulse constant, relative: moves `q_ref`.
    pub u_flow_ratio: f64,
    /// Flow lost past the meter (slip), m3/s: moves `q_ref` and `n`. Zero when it is not known apart.
    pub u_flow_offset_m3_per_s: f64,
}

/// What else the caller knows of the group.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct CurveConditions {
    /// Lowest and highest coating temperature of the group's bursts, K; `None` when not logged.
    pub material_k: Option<Interval>,
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
    /// Covariance of `ln q_ref` and `n`, common parts (a zero shift moves both).
    pub cov_ln_q_ref_n_common: f64,
    /// Standard deviation of one burst's flow about the curve, relative: noise and what differs between
    /// bursts.
    pub burst_scatter_ratio: f64,
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
    /// Covariance of the two, common parts.
    pub cov_a_b_common: f64,
    /// True when a term came out negative and is held at zero (its uncertainty stays).
    pub is_at_bound: bool,
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
    /// True when the two forms differ, somewhere inside the measured range, by more than the curve's
    /// expanded uncertainty from noise there.
    pub forms_disagree: bool,
    /// Lack of fit, where replicates allow the test.
    pub lack_of_fit: Option<LackOfFit>,
    /// Lag-1 autocorrelation of the residuals in the order of the bursts; far above zero means that flow
    /// drifted while the group was sprayed. `None` when the points lie on the curve exactly.
    pub residual_lag_1: Option<f64>,
    /// Measured pressure range, Pa.
    pub range_pa: Interval,
    /// Distinct pressures, ascending, Pa.
    pub distinct_pa: Vec<f64>,
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
        /// Relative standard deviation of flow about the curve beside what the bursts' own uncertainties say.
        scatter_ratio: f64,
    },
    /// The exponent lies where no orifice can be, with 95 % confidence: a hidden change went with the
    /// pressure, or pressure and flow are mixed up.
    ImplausibleExponent {
        /// The exponent.
        n: f64,
        /// Least exponent of a real tip.
        low: f64,
        /// Greatest exponent of a real tip.
        high: f64,
    },
    /// A pressure or flow is zero, negative, NaN or infinite.
    NotPositive {
        /// Index of the burst.
        burst_index: usize,
    },
    /// The fit did not converge on these numbers.
    NotFitted {
        /// What the numerical routine said.
        what: String,
    },
}
