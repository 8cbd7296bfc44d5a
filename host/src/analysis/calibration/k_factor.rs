//! Timed catches at several flows to the meter's K-factor against pulse frequency.
//!
//! A catch is a weighed vessel filled while the meter's pulses are counted: `K = N rho / m`. A
//! positive-displacement meter loses a little through its clearances, so K falls toward low
//! frequencies; with a constant slip flow `K = K_inf - c / f` (derived here from
//! `f = K_inf (q - q_slip)`, first order in the slip). Four catches or more over a frequency ratio
//! of 1.5 or more are fitted with slip; fewer, with a constant. Scatter beyond the stated
//! uncertainties of weighing and counting is the meter's own: a relative standard deviation, the
//! same for every catch, is added until the residuals are as likely larger as smaller (Paule and
//! Mandel, J. Res. NBS 87 (1982) 377, with the median in place of the mean, because a scatter found
//! too small by chance would also misplace the weights). Scaling the stated ones alike instead would blame the
//! slow catches, whose counting is coarse, for what the fast ones show.
//!
//! Density, scale and air buoyancy act on every catch alike: they are common. The budget has one
//! row a source. No recordings here, and no choice of catches: every catch that is given is used.
//! Coverage is counted in `tests/tests/checks_apply_calibration.rs`.

use serde::{Deserialize, Serialize};

use super::{CalibrationError, positive, uncertainty};
use crate::estimate::budget::{Budget, BudgetRow, Evaluation};
use crate::estimate::{Estimate, coverage_factor_95};

/// Fewest pulses of a catch: with 20 the counting of whole pulses alone is 2 % (standard).
const EDGES_MIN: u32 = 20;
/// Standard uncertainty of a count of whole pulses between two unsynchronised instants: the
/// difference of two rectangular parts is triangular with half-width one (JCGM 100:2008, 4.3.9).
const U_COUNT: f64 = 0.408_248_290_463_863;
/// Catches that a fit with slip needs: two parameters and two degrees of freedom.
const SLIP_CATCHES_MIN: usize = 4;
/// Ratio of highest to lowest frequency that a fit with slip needs; below it the two parameters
/// cannot be told apart.
const SLIP_FREQUENCY_RATIO_MIN: f64 = 1.5;
/// Lowest density accepted: light solvents are near 650 kg/m3.
const DENSITY_LOW: f64 = 500.0;
/// Highest density accepted: zinc-rich primers are near 3000 kg/m3.
const DENSITY_HIGH: f64 = 4000.0;
/// Density of the weights that scales are adjusted with (OIML D 28), kg/m3.
const WEIGHT_DENSITY: f64 = 8000.0;
/// Density of room air, kg/m3, and its standard uncertainty from weather and altitude.
const AIR_DENSITY: f64 = 1.2;
const U_AIR_DENSITY: f64 = 0.05;

/// One timed catch as the person enters it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TimedCatch {
    /// Indication of the scale, vessel subtracted, kg.
    pub caught_kg: f64,
    /// Standard uncertainty of one weighing (reading, drips, splash), kg; independent.
    pub u_caught_kg: f64,
    /// Duration, s.
    pub duration_s: f64,
    /// Standard uncertainty of the duration, s; independent.
    pub u_duration_s: f64,
    /// Pulses counted from begin to end.
    pub n_edges: u32,
}

/// What all catches of a calibration share.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CatchConditions {
    /// Density of the liquid at the meter, kg/m3; all of its uncertainty counts as common.
    pub density_kg_per_m3: Estimate,
    /// Relative standard uncertainty of the scale's own calibration.
    pub u_scale_ratio: f64,
}

/// Shape of K against frequency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum KFactorForm {
    /// One number.
    Constant,
    /// `K_inf - c / f`.
    Slip,
}

/// One catch as the fit sees it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CatchPoint {
    /// Pulse frequency, Hz.
    pub frequency_hz: f64,
    /// Volume flow, m3/s.
    pub flow_m3_per_s: f64,
    /// K-factor of this catch, pulses per cubic metre.
    pub k_factor_per_m3: f64,
    /// Its standard uncertainty from weighing and counting; independent.
    pub u_k_factor_per_m3: f64,
    /// Measured minus fitted, pulses per cubic metre.
    pub residual_per_m3: f64,
}

/// A meter's K-factor over its calibrated range.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KFactor {
    /// Shape.
    pub form: KFactorForm,
    /// The catches, in the order given.
    pub points: Vec<CatchPoint>,
    /// Lowest and highest calibrated pulse frequency, Hz.
    pub range_hz: (f64, f64),
    /// Standard deviation of the meter's own scatter beyond weighing and counting, relative; `None`
    /// where no catch is left to find it from.
    pub scatter_ratio: Option<f64>,
    /// True when the slip differs from zero at the 5 % level.
    pub slip_is_significant: bool,
    /// Slip coefficient c, pulses per cubic metre times Hz; zero for a constant.
    pub slip_hz_per_m3: f64,
    catches: Vec<TimedCatch>,
    conditions: CatchConditions,
}

impl KFactor {
    /// True when the pulse frequency lies inside the calibrated range. Below it a flow is a bound.
    #[must_use]
    pub fn is_calibrated_at(&self, frequency_hz: f64) -> bool {
        (self.range_hz.0..=self.range_hz.1).contains(&frequency_hz)
    }

    /// K-factor at a pulse frequency, pulses per cubic metre.
    ///
    /// Everything in it is *common* to a recording made with this calibration: the noise of the
    /// catches, too, shifts every later flow alike. Use the budget to see the parts.
    ///
    /// *Errors*: a frequency that is not above zero, or so low that the fitted slip stops the meter.
    pub fn at(&self, frequency_hz: f64) -> Result<Estimate, CalibrationError> {
        let inner = self.budget_at(frequency_hz)?.to_estimate();
        let widened = inner.expanded_95() / coverage_factor_95(f64::INFINITY);
        Ok(Estimate::new(inner.value, 0.0, widened))
    }

    /// The uncertainty budget of the K-factor at a pulse frequency (JCGM 100:2008, 8).
    ///
    /// *Errors*: as [`KFactor::at`].
    pub fn budget_at(&self, frequency_hz: f64) -> Result<Budget, CalibrationError> {
        if !(frequency_hz.is_finite() && frequency_hz > 0.0) {
            return Err(CalibrationError::Frequency { frequency_hz });
        }
        let fit = self.influence(1.0 / frequency_hz);
        let k: f64 = fit
            .iter()
            .zip(&self.points)
            .map(|(c, p)| c * p.k_factor_per_m3)
            .sum();
        if !(k.is_finite() && k > 0.0) {
            return Err(CalibrationError::NoFlow { frequency_hz });
        }
        let mut rows = self.independent_rows(&fit, k);
        rows.extend(self.common_rows(k));
        Ok(Budget {
            measurand: "k_factor_per_m3".to_owned(),
            unit: "1/m3".to_owned(),
            value: k,
            rows,
            correlations: Vec::new(),
        })
    }

    /// Weight of each catch in the fitted value at an abscissa `1 / f`.
    fn influence(&self, x: f64) -> Vec<f64> {
        let w: Vec<f64> = self
            .points
            .iter()
            .map(|p| 1.0 / self.variance_of(p))
            .collect();
        let x_i: Vec<f64> = self.points.iter().map(|p| 1.0 / p.frequency_hz).collect();
        influence_of(&w, &x_i, x, self.form)
    }

    /// Variance of one catch: stated, and the meter's own scatter.
    fn variance_of(&self, point: &CatchPoint) -> f64 {
        let own = self.scatter_ratio.unwrap_or(0.0) * point.k_factor_per_m3;
        point.u_k_factor_per_m3.powi(2) + own.powi(2)
    }

    /// Degrees of freedom that the residuals leave.
    fn freedom(&self) -> usize {
        self.points.len() - parameters(self.form)
    }

    fn independent_rows(&self, fit: &[f64], k: f64) -> Vec<BudgetRow> {
        // Relative contribution of one source, added over the catches in quadrature.
        let sum = |part: &dyn Fn(&TimedCatch, &CatchPoint) -> f64| -> f64 {
            let terms = fit.iter().zip(&self.catches).zip(&self.points);
            terms
                .map(|((c, t), p)| (c * part(t, p)).powi(2))
                .sum::<f64>()
                .sqrt()
                / k
        };
        let weighing = sum(&|t, p| p.k_factor_per_m3 * t.u_caught_kg / t.caught_kg);
        let counting = sum(&|t, p| p.k_factor_per_m3 * U_COUNT / f64::from(t.n_edges));
        let timing =
            sum(&|t, p| self.slip_hz_per_m3 / p.frequency_hz * t.u_duration_s / t.duration_s);
        let scatter = sum(&|_, p| p.k_factor_per_m3 * self.scatter_ratio.unwrap_or(0.0));
        // The residuals show all scatter together, so their degrees of freedom belong to the sum of
        // the three; given to this row alone they must be scaled to come out so (G.2b).
        let total = weighing.hypot(counting).hypot(timing).hypot(scatter);
        let dof = self.freedom() as f64 * (scatter / total).powi(4);
        let row = |code: &str, u: f64, evaluation: Evaluation, dof: Option<f64>| BudgetRow {
            code: code.to_owned(),
            value: 1.0,
            u,
            unit: "1".to_owned(),
            sensitivity: k,
            evaluation,
            dof,
            is_common: false,
        };
        vec![
            row("weighing", weighing, Evaluation::B, None),
            row("pulse_count", counting, Evaluation::B, None),
            row("duration", timing, Evaluation::B, None),
            row(
                "scatter_of_catches",
                scatter,
                Evaluation::A,
                (dof > 0.0).then_some(dof),
            ),
        ]
    }

    fn common_rows(&self, k: f64) -> Vec<BudgetRow> {
        let density = self.conditions.density_kg_per_m3;
        let row = |code: &str, value: f64, u: f64, unit: &str, sensitivity: f64| BudgetRow {
            code: code.to_owned(),
            value,
            u,
            unit: unit.to_owned(),
            sensitivity,
            evaluation: Evaluation::B,
            dof: None,
            is_common: true,
        };
        let buoyancy = 1.0 / WEIGHT_DENSITY - 1.0 / density.value;
        vec![
            row(
                "density",
                density.value,
                density.u_combined(),
                "kg/m3",
                k / density.value,
            ),
            row("mass_scale", 1.0, self.conditions.u_scale_ratio, "1", k),
            row(
                "air_density",
                AIR_DENSITY,
                U_AIR_DENSITY,
                "kg/m3",
                k * buoyancy,
            ),
        ]
    }
}

/// Fit the K-factor of a meter from timed catches.
///
/// *Shape*: one catch or more, any order.
///
/// *Errors*: [`CalibrationError`]: no catch; a mass, duration or density that is not above zero or
/// out of range; an uncertainty below zero; fewer than 20 pulses in a catch.
///
/// *Source*: K-factor as in ISO 1998-6; weighing in air as in OIML D 28; scatter after Paule and
/// Mandel (1982).
pub fn fit_k_factor(
    catches: &[TimedCatch],
    conditions: &CatchConditions,
) -> Result<KFactor, CalibrationError> {
    check_conditions(conditions)?;
    if catches.is_empty() {
        return Err(CalibrationError::Nothing {
            what: "timed catch",
        });
    }
    let mut points = Vec::with_capacity(catches.len());
    for (index, one) in catches.iter().enumerate() {
        points.push(reduce_catch(index, one, conditions)?);
    }
    let low = points
        .iter()
        .map(|p| p.frequency_hz)
        .fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|p| p.frequency_hz).fold(0.0, f64::max);
    let has_range = points.len() >= SLIP_CATCHES_MIN && high / low >= SLIP_FREQUENCY_RATIO_MIN;
    let form = if has_range {
        KFactorForm::Slip
    } else {
        KFactorForm::Constant
    };
    let mut result = KFactor {
        form,
        points,
        range_hz: (low, high),
        scatter_ratio: None,
        slip_is_significant: false,
        slip_hz_per_m3: 0.0,
        catches: catches.to_vec(),
        conditions: *conditions,
    };
    find_scatter(&mut result);
    if form == KFactorForm::Slip {
        judge_slip(&mut result);
    }
    Ok(result)
}

/// Ratio of a metered flow to the flow of one timed catch, as a check inside a recording.
///
/// *Errors*: as [`fit_k_factor`] for the catch and the conditions, the count of pulses left out.
pub fn metered_over_caught(
    metered_m3_per_s: Estimate,
    one: &TimedCatch,
    conditions: &CatchConditions,
) -> Result<Estimate, CalibrationError> {
    check_conditions(conditions)?;
    let counted = TimedCatch {
        n_edges: EDGES_MIN,
        ..*one
    };
    let point = reduce_catch(0, &counted, conditions)?;
    positive("metered flow", "catch 1", metered_m3_per_s.value)?;
    let ratio = metered_m3_per_s.value / point.flow_m3_per_s;
    let relative = |part: f64, whole: f64| part / whole;
    let independent = relative(metered_m3_per_s.u_independent, metered_m3_per_s.value)
        .hypot(relative(one.u_caught_kg, one.caught_kg))
        .hypot(relative(one.u_duration_s, one.duration_s));
    let density = conditions.density_kg_per_m3;
    let common = relative(metered_m3_per_s.u_common, metered_m3_per_s.value)
        .hypot(relative(density.u_combined(), density.value))
        .hypot(conditions.u_scale_ratio);
    Ok(Estimate::new(ratio, ratio * independent, ratio * common).with_dof(metered_m3_per_s.dof))
}

fn check_conditions(conditions: &CatchConditions) -> Result<(), CalibrationError> {
    let density = conditions.density_kg_per_m3;
    if !(DENSITY_LOW..=DENSITY_HIGH).contains(&density.value) {
        return Err(CalibrationError::Density {
            density_kg_per_m3: density.value,
            low: DENSITY_LOW,
            high: DENSITY_HIGH,
        });
    }
    uncertainty("density", "the liquid", density.u_combined())?;
    uncertainty("calibration", "the scale", conditions.u_scale_ratio)?;
    Ok(())
}

/// One catch to frequency, flow and K-factor, its mass corrected for the buoyancy of air.
fn reduce_catch(
    index: usize,
    one: &TimedCatch,
    conditions: &CatchConditions,
) -> Result<CatchPoint, CalibrationError> {
    let place = format!("catch {}", index + 1);
    let indicated_kg = positive("mass", &place, one.caught_kg)?;
    let duration_s = positive("duration", &place, one.duration_s)?;
    uncertainty("mass", &place, one.u_caught_kg)?;
    uncertainty("duration", &place, one.u_duration_s)?;
    if one.n_edges < EDGES_MIN {
        return Err(CalibrationError::TooFewEdges {
            place,
            n_edges: one.n_edges,
            needed: EDGES_MIN,
        });
    }
    let density = conditions.density_kg_per_m3.value;
    let mass_kg =
        indicated_kg * (1.0 - AIR_DENSITY / WEIGHT_DENSITY) / (1.0 - AIR_DENSITY / density);
    let volume_m3 = mass_kg / density;
    let n = f64::from(one.n_edges);
    // Entries that are above zero each may still be beyond all numbers together.
    let k = positive("K-factor", &place, n / volume_m3)?;
    Ok(CatchPoint {
        frequency_hz: positive("pulse frequency", &place, n / duration_s)?,
        flow_m3_per_s: positive("flow", &place, volume_m3 / duration_s)?,
        k_factor_per_m3: k,
        u_k_factor_per_m3: k * (one.u_caught_kg / indicated_kg).hypot(U_COUNT / n),
        residual_per_m3: 0.0,
    })
}

fn parameters(form: KFactorForm) -> usize {
    match form {
        KFactorForm::Constant => 1,
        KFactorForm::Slip => 2,
    }
}

/// Weights of the ordinates in the least-squares value at abscissa `x`.
fn influence_of(w: &[f64], x_i: &[f64], x: f64, form: KFactorForm) -> Vec<f64> {
    let sum_w: f64 = w.iter().sum();
    let x_mean = w.iter().zip(x_i).map(|(w, x)| w * x).sum::<f64>() / sum_w;
    let s_xx: f64 = w
        .iter()
        .zip(x_i)
        .map(|(w, x)| w * (x - x_mean).powi(2))
        .sum();
    let tilt = match form {
        KFactorForm::Constant => 0.0,
        KFactorForm::Slip => (x - x_mean) / s_xx,
    };
    let pairs = w.iter().zip(x_i);
    pairs
        .map(|(w, x)| w / sum_w + tilt * w * (x - x_mean))
        .collect()
}

/// Fill in the meter's own scatter and the residuals.
fn find_scatter(result: &mut KFactor) {
    let freedom = result.freedom();
    if freedom > 0 {
        let mut excess = |scatter: f64| {
            result.scatter_ratio = Some(scatter);
            refresh_residuals(result);
            let terms = result.points.iter();
            let chi_square: f64 = terms
                .map(|p| p.residual_per_m3.powi(2) / result.variance_of(p))
                .sum();
            chi_square > median_chi_square(freedom as f64)
        };
        // Bisection on a decreasing function; a scatter above 1 is no meter.
        let (mut low, mut high) = (0.0, 1.0);
        if excess(0.0) {
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if excess(middle) {
                    low = middle
                } else {
                    high = middle
                }
            }
            result.scatter_ratio = Some(high);
        }
    }
    refresh_residuals(result);
}

/// Median of chi-square, good to 1 % from one degree of freedom on (Wilson and Hilferty, Proc. Natl.
/// Acad. Sci. 17 (1931) 684).
fn median_chi_square(dof: f64) -> f64 {
    dof * (1.0 - 2.0 / (9.0 * dof)).powi(3)
}

fn refresh_residuals(result: &mut KFactor) {
    let fitted: Vec<f64> = result
        .points
        .iter()
        .map(|p| {
            let fit = result.influence(1.0 / p.frequency_hz);
            fit.iter()
                .zip(&result.points)
                .map(|(c, p)| c * p.k_factor_per_m3)
                .sum()
        })
        .collect();
    for (point, fitted) in result.points.iter_mut().zip(fitted) {
        point.residual_per_m3 = point.k_factor_per_m3 - fitted;
    }
}

/// Fill in the slip and whether it differs from zero.
fn judge_slip(result: &mut KFactor) {
    // The slope is the change of the fitted value over one unit of 1/f.
    let (near, far) = (result.influence(0.0), result.influence(1.0));
    let tilt: Vec<f64> = far.iter().zip(&near).map(|(a, b)| a - b).collect();
    let slope: f64 = tilt
        .iter()
        .zip(&result.points)
        .map(|(c, p)| c * p.k_factor_per_m3)
        .sum();
    let terms = tilt.iter().zip(&result.points);
    let variance: f64 = terms.map(|(c, p)| c * c * result.variance_of(p)).sum();
    let found_from_scatter = result.scatter_ratio.is_some_and(|s| s > 0.0);
    let dof = if found_from_scatter {
        result.freedom() as f64
    } else {
        f64::INFINITY
    };
    result.slip_hz_per_m3 = -slope;
    result.slip_is_significant = slope.abs() > coverage_factor_95(dof) * variance.sqrt();
}

#[cfg(test)]
mod tests;
