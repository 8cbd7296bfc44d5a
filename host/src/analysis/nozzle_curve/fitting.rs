//! The order of the steps from points to curve: check, name outliers, fit both forms, choose, test.

use super::distinct::{cluster_pressures, distinct_pressures};
use super::{
    CommonUncertainty, CurveConditions, CurveForm, CurvePoint, CurveRefusal, LackOfFit,
    NozzleCurve, PowerLaw, TwoTerm,
};
use crate::analysis::fit::choose::{SUPPORT_DIFFERENCE, aicc, minus_two_log_likelihood};
use crate::analysis::fit::lack_of_fit::{Residual, test_lack_of_fit};
use crate::analysis::fit::moments::lag_1_autocorrelation;
use crate::analysis::fit::outliers::{find_outliers, line_through};
use crate::analysis::fit::power_law::{
    CommonParts, Observation, PowerFit, PowerLawError, fit_power_law, on_logarithms,
};
use crate::analysis::fit::scatter::believed_dof;
use crate::analysis::fit::two_term::{TwoTermFit, fit_two_term, two_term_through};
use crate::estimate::{Estimate, Interval, coverage_factor_95};

/// Distinct pressures that a curve needs: two fix a power law, the third is the first that could
/// contradict it. With two the answer is a refusal that names a third.
pub const LEAST_PRESSURES: usize = 3;

/// Least ratio of highest to lowest pressure. At 1.25 the lever arm on logarithms is 0.22: flows good to
/// 0.5 % leave the exponent uncertain by about 0.03, below that it soon says nothing.
pub const LEAST_PRESSURE_RATIO: f64 = 1.25;

/// Most change of coating temperature inside one group, K. Viscosity falls by some 4 % per kelvin (common
/// practice, no source), flow by a tenth to a third of that: 4 K is 2 to 5 % of flow, as much as the
/// window can bear. Just below, the curve is an average over the change; just above, it is refused.
pub const MOST_TEMPERATURE_CHANGE_K: f64 = 4.0;

/// Relative scatter of flow about the curve, beside what the bursts' own uncertainties say, past which no curve is
/// given when it is also far beyond them: next tip size is 15 % of flow or more, so that 6 % of scatter already means
/// that two things were measured.
pub const INCONSISTENT_SCATTER_RATIO: f64 = 0.06;

/// Reduced chi-square that goes with [`INCONSISTENT_SCATTER_RATIO`]: scatter four times as large as stated.
pub const INCONSISTENT_CHI_SQUARE: f64 = 16.0;

/// Exponents of a real tip: 0.5 for a turbulent orifice, 1 for a laminar one, more for a shear-thinning
/// liquid in laminar flow. Refused only when the whole 95 % interval lies outside.
pub const PLAUSIBLE_N: (f64, f64) = (0.35, 1.6);

/// Pressures at which the two forms are compared inside the measured range.
const COMPARED_PRESSURES: usize = 21;

/// Ratio below the highest pressure at which a further burst helps most: far enough for the lever arm,
/// and never above what was already sprayed.
const SUGGESTED_SPREAD: f64 = 1.6;

/// Fit one group's nozzle curve.
///
/// *Shape*: points in any order; common parts of the points' own estimates are not used, `common` states
/// them once for the recording. *Errors*: a [`CurveRefusal`] naming the missing measurement; never a
/// panic, never a NaN. *Source*: see [`crate::analysis::fit`]. *Cost*: linear in the points but for sorting.
pub fn fit_nozzle_curve(
    points: &[CurvePoint],
    common: &CommonUncertainty,
    conditions: &CurveConditions,
) -> Result<NozzleCurve, CurveRefusal> {
    check_numbers(points)?;
    check_common(common)?;
    check_temperature(conditions)?;
    let distinct_pa = check_pressures(points)?;
    let (kept, outliers) = split_outliers(points)?;
    let parts = CommonParts {
        u_x_offset: common.u_pressure_zero_pa,
        u_x_ratio: common.u_pressure_span_ratio,
        u_y_offset: common.u_flow_offset_m3_per_s,
        u_y_ratio: common.u_flow_ratio,
    };
    let observations: Vec<Observation> = kept.iter().map(Observation::from).collect();
    let p_ref_pa = log_mean(&kept);
    let power = fit_power_law(&observations, p_ref_pa, &parts).map_err(|e| refuse(&e, &kept))?;
    check_scatter(&power)?;
    check_exponent(&power)?;
    let two = fit_two_term(&observations, &parts).ok();
    let delta_aicc = two.and_then(|two| compare_forms(&power, &two, kept.len()));
    let prefers_two = prefers_two_terms(delta_aicc);
    let mut curve = NozzleCurve {
        power_law: power_law(&power),
        two_term: two.map(|fit| two_term(&fit)),
        preferred: if prefers_two {
            CurveForm::TwoTerm
        } else {
            CurveForm::PowerLaw
        },
        delta_aicc,
        forms_disagree: false,
        lack_of_fit: lack_of_fit(&kept, &observations, &power),
        residual_lag_1: residual_lag_1(&kept, &power),
        range_pa: range(&kept),
        distinct_pa,
        points: kept,
        outliers,
    };
    curve.forms_disagree = forms_disagree(&curve);
    Ok(curve)
}

fn check_numbers(points: &[CurvePoint]) -> Result<(), CurveRefusal> {
    if points.is_empty() {
        return Err(CurveRefusal::NoPoints);
    }
    let is_good = |e: &Estimate| {
        let u_is_good = e.u_independent.is_finite() && e.u_independent >= 0.0;
        e.value.is_finite() && e.value > 0.0 && u_is_good && !e.dof.is_nan()
    };
    match points
        .iter()
        .find(|p| !is_good(&p.pressure_pa) || !is_good(&p.flow_m3_per_s))
    {
        Some(point) => Err(CurveRefusal::NotPositive {
            burst_index: point.burst_index,
        }),
        None => Ok(()),
    }
}

fn check_common(common: &CommonUncertainty) -> Result<(), CurveRefusal> {
    let all = [
        common.u_pressure_zero_pa,
        common.u_pressure_span_ratio,
        common.u_flow_ratio,
        common.u_flow_offset_m3_per_s,
    ];
    if all.iter().all(|u| u.is_finite() && *u >= 0.0) {
        return Ok(());
    }
    Err(CurveRefusal::NotFitted {
        what: "a common uncertainty of the instruments is negative or not finite".to_owned(),
    })
}

fn check_temperature(conditions: &CurveConditions) -> Result<(), CurveRefusal> {
    match conditions.material_k {
        Some(k) if k.high - k.low > MOST_TEMPERATURE_CHANGE_K => {
            Err(CurveRefusal::TemperatureChanged {
                low_k: k.low,
                high_k: k.high,
            })
        }
        _ => Ok(()),
    }
}

fn check_pressures(points: &[CurvePoint]) -> Result<Vec<f64>, CurveRefusal> {
    let distinct_pa = distinct_pressures(points);
    let range = range(points);
    let ratio = range.high / range.low;
    if distinct_pa.len() < LEAST_PRESSURES {
        return Err(CurveRefusal::TooFewPressures {
            suggest_pa: suggest_pressure(range),
            distinct_pa,
            needed: LEAST_PRESSURES,
        });
    }
    if ratio < LEAST_PRESSURE_RATIO {
        return Err(CurveRefusal::NarrowRange {
            ratio,
            needed: LEAST_PRESSURE_RATIO,
            suggest_pa: suggest_pressure(range),
        });
    }
    Ok(distinct_pa)
}

/// Where one more burst helps most: between two pressures far apart, else well below the highest. Never
/// above a pressure already sprayed: no rating is known here.
fn suggest_pressure(range: Interval) -> f64 {
    if range.high / range.low >= SUGGESTED_SPREAD {
        (range.high * range.low).sqrt()
    } else {
        range.high / SUGGESTED_SPREAD
    }
}

fn range(points: &[CurvePoint]) -> Interval {
    let start = Interval {
        low: f64::INFINITY,
        high: 0.0,
    };
    points.iter().fold(start, |range, p| Interval {
        low: range.low.min(p.pressure_pa.value),
        high: range.high.max(p.pressure_pa.value),
    })
}

fn log_mean(points: &[CurvePoint]) -> f64 {
    let n = points.len() as f64;
    let sum: f64 = points.iter().map(|p| p.pressure_pa.value.ln() / n).sum();
    sum.exp()
}

impl From<&CurvePoint> for Observation {
    fn from(point: &CurvePoint) -> Self {
        Self {
            x: point.pressure_pa.value,
            y: point.flow_m3_per_s.value,
            u_x: point.pressure_pa.u_independent,
            u_y: point.flow_m3_per_s.u_independent,
            dof_x: point.pressure_pa.dof,
            dof_y: point.flow_m3_per_s.dof,
        }
    }
}

fn refuse(error: &PowerLawError, points: &[CurvePoint]) -> CurveRefusal {
    match error {
        PowerLawError::NotPositive { index } => CurveRefusal::NotPositive {
            burst_index: points.get(*index).map_or(0, |p| p.burst_index),
        },
        other => CurveRefusal::NotFitted {
            what: other.to_string(),
        },
    }
}

/// Points kept and outliers; none goes that would leave the pressures too few or too close.
///
/// They are outliers of the form that the points without them speak for. About a straight line a bent curve loses its
/// ends, and its bend hides a burst in which the tip was half blocked.
fn split_outliers(
    points: &[CurvePoint],
) -> Result<(Vec<CurvePoint>, Vec<CurvePoint>), CurveRefusal> {
    let observations: Vec<Observation> = points.iter().map(Observation::from).collect();
    let data = on_logarithms(&observations, log_mean(points)).map_err(|e| refuse(&e, points))?;
    let without = |gone: &[usize]| -> Vec<CurvePoint> {
        let mut is_kept = vec![true; points.len()];
        gone.iter().for_each(|&i| is_kept[i] = false);
        let kept = points.iter().zip(is_kept).filter(|(_, is_kept)| *is_kept);
        kept.map(|(p, _)| *p).collect()
    };
    let may_remove = |gone: &[usize]| check_pressures(&without(gone)).is_ok();
    let by_line = find_outliers(&data, line_through, may_remove);
    let mut gone = by_line.map_err(|e| refuse(&e.into(), points))?;
    // Where that form does not fit at all, the line has the last word.
    if let Ok(by_two_terms) = find_outliers(&data, two_term_through, may_remove)
        && by_two_terms != gone
        && speak_for_two_terms(&without(&by_two_terms))
    {
        gone = by_two_terms;
    }
    let outliers = gone.iter().map(|&i| points[i]).collect();
    Ok((without(&gone), outliers))
}

/// Whether points speak for the two-term form, whatever the instruments' common errors.
fn speak_for_two_terms(points: &[CurvePoint]) -> bool {
    let observations: Vec<Observation> = points.iter().map(Observation::from).collect();
    let common = CommonParts::default();
    let power = fit_power_law(&observations, log_mean(points), &common);
    let two = fit_two_term(&observations, &common);
    let forms = power.ok().zip(two.ok());
    prefers_two_terms(forms.and_then(|(power, two)| compare_forms(&power, &two, points.len())))
}

fn prefers_two_terms(delta_aicc: Option<f64>) -> bool {
    delta_aicc.is_some_and(|delta| delta < -SUPPORT_DIFFERENCE)
}

fn check_scatter(fit: &PowerFit) -> Result<(), CurveRefusal> {
    let scatter_ratio = fit.scatter.between_variance.sqrt();
    let is_beyond_stated = fit.scatter.reduced_chi_square > INCONSISTENT_CHI_SQUARE;
    if scatter_ratio > INCONSISTENT_SCATTER_RATIO && is_beyond_stated {
        return Err(CurveRefusal::Inconsistent { scatter_ratio });
    }
    Ok(())
}

fn check_exponent(fit: &PowerFit) -> Result<(), CurveRefusal> {
    let n = exponent(fit);
    let interval = n.interval_95();
    let (low, high) = PLAUSIBLE_N;
    if interval.high < low || interval.low > high {
        return Err(CurveRefusal::ImplausibleExponent {
            n: n.value,
            low,
            high,
        });
    }
    Ok(())
}

fn exponent(fit: &PowerFit) -> Estimate {
    Estimate::new(fit.n, fit.independent.var_1.sqrt(), fit.common.var_1.sqrt())
        .with_dof(fit.scatter.dof)
}

fn power_law(fit: &PowerFit) -> PowerLaw {
    let q_ref = fit.ln_y_ref.exp();
    PowerLaw {
        p_ref_pa: fit.x_ref,
        q_ref_m3_per_s: Estimate::new(
            q_ref,
            q_ref * fit.independent.var_0.sqrt(),
            q_ref * fit.common.var_0.sqrt(),
        )
        .with_dof(fit.scatter.dof),
        n: exponent(fit),
        cov_ln_q_ref_n: fit.independent.cov,
        cov_ln_q_ref_n_common: fit.common.cov,
        burst_scatter_ratio: fit.scatter.point_variance.sqrt(),
        reduced_chi_square: fit.scatter.reduced_chi_square,
    }
}

fn two_term(fit: &TwoTermFit) -> TwoTerm {
    let estimate = |value: f64, independent: f64, common: f64| {
        Estimate::new(value, independent.sqrt(), common.sqrt()).with_dof(fit.scatter.dof)
    };
    TwoTerm {
        a_pa_s_per_m3: estimate(fit.a, fit.independent.var_0, fit.common.var_0),
        b_pa_s2_per_m6: estimate(fit.b, fit.independent.var_1, fit.common.var_1),
        cov_a_b: fit.independent.cov,
        cov_a_b_common: fit.common.cov,
        is_at_bound: fit.bound.is_some(),
    }
}

/// AICc of the two-term form minus that of the power law; both have two parameters. The better of the two
/// decides how far the stated uncertainties are believed.
fn compare_forms(power: &PowerFit, two: &TwoTermFit, n_points: usize) -> Option<f64> {
    let dof = n_points as f64 - 2.0;
    let of_power = dof * power.scatter.reduced_chi_square;
    let of_two = dof * two.scatter.reduced_chi_square;
    let believed = believed_dof(of_power.min(of_two), dof);
    let criterion = |chi_square: f64| {
        aicc(
            minus_two_log_likelihood(chi_square, n_points, believed),
            2,
            n_points,
        )
    };
    Some(criterion(of_two)? - criterion(of_power)?)
}

fn lack_of_fit(
    points: &[CurvePoint],
    observations: &[Observation],
    fit: &PowerFit,
) -> Option<LackOfFit> {
    let data = on_logarithms(observations, fit.x_ref).ok()?;
    let residuals: Vec<Residual> = data
        .iter()
        .zip(cluster_pressures(points))
        .map(|(d, cluster)| Residual {
            cluster,
            value: d.y - fit.ln_y_ref - fit.n * d.x,
            weight: 1.0 / (d.u_y.powi(2) + (fit.n * d.u_x).powi(2)),
        })
        .collect();
    test_lack_of_fit(&residuals, 2).map(|test| LackOfFit {
        f: test.f,
        dof: (test.dof_lack, test.dof_pure),
        p_value: test.p_value,
    })
}

fn residual_lag_1(points: &[CurvePoint], fit: &PowerFit) -> Option<f64> {
    let mut ordered: Vec<&CurvePoint> = points.iter().collect();
    ordered.sort_by_key(|p| p.burst_index);
    let residual = |p: &&CurvePoint| {
        let ln_fit = fit.ln_y_ref + fit.n * (p.pressure_pa.value / fit.x_ref).ln();
        p.flow_m3_per_s.value.ln() - ln_fit
    };
    let residuals: Vec<f64> = ordered.iter().map(residual).collect();
    lag_1_autocorrelation(&residuals)
}

/// Compared from noise alone: a calibration error moves both forms alike.
fn forms_disagree(curve: &NozzleCurve) -> bool {
    let Interval { low, high } = curve.range_pa;
    // The curve has as many degrees of freedom everywhere.
    let factor = coverage_factor_95(curve.power_law.q_ref_m3_per_s.dof);
    (0..COMPARED_PRESSURES).any(|i| {
        let share = i as f64 / (COMPARED_PRESSURES - 1) as f64;
        let pressure_pa = low * (high / low).powf(share);
        let one = curve.flow_by(CurveForm::PowerLaw, pressure_pa);
        let other = curve.flow_by(CurveForm::TwoTerm, pressure_pa);
        other.is_some_and(|other| {
            one.is_some_and(|one| (one.value - other.value).abs() > factor * one.u_independent)
        })
    })
}

#[cfg(test)]
mod hostile_tests;
#[cfg(test)]
mod tests;
