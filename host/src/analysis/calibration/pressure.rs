//! Zero before and after, and gain against a reference gauge, of the pressure transducer.
//!
//! `true = gain * (indicated - zero)`. The zero comes from relieved readings at the operator's
//! word, before and after; between them it may have been anywhere on the way, which is a
//! rectangular part of its uncertainty (JCGM 100:2008, 4.3.7). The gain comes from readings
//! beside a reference gauge, forced through the zero. Everything found here is common to a
//! recording. A zero never proves that a line is safe: see the module above.

use serde::{Deserialize, Serialize};

use super::{CalibrationError, positive, uncertainty};
use crate::estimate::budget::{Budget, BudgetRow, Evaluation};
use crate::estimate::{Estimate, coverage_factor_95};

/// Least share of the full scale that a span point must reach to fix the gain.
const SPAN_SHARE_MIN: f64 = 0.1;

/// Mean of a relieved stretch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ZeroReading {
    /// Mean indication, Pa.
    pub indicated_pa: f64,
    /// Standard uncertainty of that mean, Pa.
    pub u_indicated_pa: f64,
}

/// The transducer's zero over a recording.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PressureZero {
    /// Indication at zero gauge pressure, Pa: subtract it.
    pub zero_pa: Estimate,
    /// After minus before, Pa; `None` when only one was taken.
    pub drift_pa: Option<Estimate>,
    /// True when the drift is more than its 95 % uncertainty.
    pub is_drifting: bool,
}

/// One comparison with the reference gauge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SpanPoint {
    /// Reading of the reference gauge, Pa.
    pub reference_pa: f64,
    /// Standard uncertainty of reading it, Pa; independent.
    pub u_reference_pa: f64,
    /// Indication of the transducer, Pa.
    pub indicated_pa: f64,
    /// Standard uncertainty of that mean, Pa; independent.
    pub u_indicated_pa: f64,
}

/// A transducer's calibration.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PressureCalibration {
    /// Zero.
    pub zero: PressureZero,
    /// Reference over (indicated minus zero).
    pub gain: Estimate,
    /// Largest deviation of a span point from the fitted line, Pa.
    pub greatest_residual_pa: f64,
    /// Weighted residual sum of squares over its degrees of freedom; `None` for one point.
    pub reduced_chi_square: Option<f64>,
    /// Where the uncertainty of the gain comes from.
    pub gain_budget: Budget,
}

impl PressureCalibration {
    /// Gauge pressure of an indication, Pa; all of its uncertainty is common.
    ///
    /// *Errors*: an indication that is not finite.
    pub fn correct(&self, indicated_pa: f64) -> Result<Estimate, CalibrationError> {
        if !indicated_pa.is_finite() {
            return Err(CalibrationError::NotFinite {
                what: "indication",
                place: "the transducer".to_owned(),
                value: indicated_pa,
            });
        }
        let above_zero = indicated_pa - self.zero.zero_pa.value;
        let u_gain = above_zero * as_known(&self.gain);
        let u_zero = self.gain.value * as_known(&self.zero.zero_pa);
        Ok(Estimate::new(
            self.gain.value * above_zero,
            0.0,
            u_gain.hypot(u_zero),
        ))
    }
}

/// The standard uncertainty that, with unlimited freedom, gives the same 95 % interval.
fn as_known(estimate: &Estimate) -> f64 {
    estimate.expanded_95() / coverage_factor_95(f64::INFINITY)
}

/// Zero and drift from relieved readings before and, where there is one, after.
///
/// With both, the zero is their mean and half the drift is the half-width of a rectangular part.
/// With one, the drift is unknown and the zero carries the reading's uncertainty only: say so.
///
/// *Errors*: a reading that is not finite, an uncertainty below zero.
///
/// *Source*: JCGM 100:2008, 4.3.7 (rectangular distribution).
pub fn find_zero(
    before: ZeroReading,
    after: Option<ZeroReading>,
) -> Result<PressureZero, CalibrationError> {
    check_zero(before, "the zero before")?;
    let Some(after) = after else {
        return Ok(PressureZero {
            zero_pa: Estimate::new(before.indicated_pa, 0.0, before.u_indicated_pa),
            drift_pa: None,
            is_drifting: false,
        });
    };
    check_zero(after, "the zero after")?;
    let drift = after.indicated_pa - before.indicated_pa;
    let u_drift = after.u_indicated_pa.hypot(before.u_indicated_pa);
    let u_rectangular = drift.abs() / 12f64.sqrt();
    Ok(PressureZero {
        zero_pa: Estimate::new(
            0.5 * (before.indicated_pa + after.indicated_pa),
            0.0,
            (0.5 * u_drift).hypot(u_rectangular),
        ),
        drift_pa: Some(Estimate::new(drift, u_drift, 0.0)),
        is_drifting: drift.abs() > coverage_factor_95(f64::INFINITY) * u_drift,
    })
}

/// Gain from comparisons with a reference gauge.
///
/// *Shape*: one span point or more, at least one above a tenth of the full scale.
/// `u_reference_ratio` is the relative standard uncertainty of the gauge's own certificate.
///
/// *Errors*: no point, a pressure or scale that is not above zero, an uncertainty below zero, an
/// indication not above the zero, points too low to fix a gain.
///
/// *Source*: weighted least squares through the zero; widening by the Birge ratio as in
/// [`crate::analysis::fit::line`].
pub fn fit_span(
    zero: PressureZero,
    points: &[SpanPoint],
    u_reference_ratio: f64,
    full_scale_pa: f64,
) -> Result<PressureCalibration, CalibrationError> {
    positive("full scale", "the transducer", full_scale_pa)?;
    uncertainty("certificate", "the reference gauge", u_reference_ratio)?;
    let pairs = check_span(&zero, points, full_scale_pa)?;
    let sum = |f: &dyn Fn(&Pair) -> f64| pairs.iter().map(f).sum::<f64>();
    // The weights need a gain: one from the sums is near enough, since gains are near one.
    let rough = sum(&|p| p.reference) / sum(&|p| p.above_zero);
    let variance = |p: &Pair| p.u_reference.powi(2) + (rough * p.u_above_zero).powi(2);
    let s_xx = sum(&|p| p.above_zero.powi(2) / variance(p));
    // Readings that are above zero each may still be beyond all numbers together.
    let gain = positive(
        "gain",
        "the transducer",
        sum(&|p| p.above_zero * p.reference / variance(p)) / s_xx,
    )?;
    let residual = |p: &Pair| p.reference - gain * p.above_zero;
    let dof = (points.len() - 1) as f64;
    let reduced_chi_square = (dof > 0.0).then(|| sum(&|p| residual(p).powi(2) / variance(p)) / dof);
    let scale = reduced_chi_square.unwrap_or(1.0).max(1.0);
    let u_readings = uncertainty("gain", "the transducer", (scale / s_xx).sqrt())?;
    // A common error of the zero tilts the line: its weight is the mean of gain over pressure.
    let to_zero = gain * sum(&|p| p.above_zero / variance(p)) / s_xx;
    let readings_dof = (scale > 1.0).then_some(dof);
    let gain_budget = budget_of_gain(
        gain,
        (u_readings, readings_dof),
        (zero.zero_pa.value, zero.zero_pa.u_combined(), to_zero),
        u_reference_ratio,
    );
    Ok(PressureCalibration {
        zero,
        gain: gain_budget.to_estimate(),
        greatest_residual_pa: pairs.iter().map(|p| residual(p).abs()).fold(0.0, f64::max),
        reduced_chi_square,
        gain_budget,
    })
}

/// One span point relative to the zero.
struct Pair {
    reference: f64,
    u_reference: f64,
    above_zero: f64,
    u_above_zero: f64,
}

fn check_zero(reading: ZeroReading, place: &str) -> Result<(), CalibrationError> {
    if !reading.indicated_pa.is_finite() {
        return Err(CalibrationError::NotFinite {
            what: "indication",
            place: place.to_owned(),
            value: reading.indicated_pa,
        });
    }
    uncertainty("indication", place, reading.u_indicated_pa).map(|_| ())
}

fn check_span(
    zero: &PressureZero,
    points: &[SpanPoint],
    full_scale_pa: f64,
) -> Result<Vec<Pair>, CalibrationError> {
    if points.is_empty() {
        return Err(CalibrationError::Nothing { what: "span point" });
    }
    let mut pairs = Vec::with_capacity(points.len());
    for (index, point) in points.iter().enumerate() {
        let place = format!("span point {}", index + 1);
        let u_reference = uncertainty("reference", &place, point.u_reference_pa)?;
        let u_above_zero = uncertainty("indication", &place, point.u_indicated_pa)?;
        positive(
            "uncertainty of reading",
            &place,
            u_reference.hypot(u_above_zero),
        )?;
        pairs.push(Pair {
            reference: positive("reference pressure", &place, point.reference_pa)?,
            u_reference,
            above_zero: positive(
                "indication above the zero",
                &place,
                point.indicated_pa - zero.zero_pa.value,
            )?,
            u_above_zero,
        });
    }
    let highest_pa = pairs.iter().map(|p| p.reference).fold(0.0, f64::max);
    if highest_pa < SPAN_SHARE_MIN * full_scale_pa {
        return Err(CalibrationError::SpanTooLow {
            highest_pa,
            full_scale_pa,
        });
    }
    Ok(pairs)
}

fn budget_of_gain(
    gain: f64,
    (u_readings, readings_dof): (f64, Option<f64>),
    (zero_pa, u_zero_pa, to_zero): (f64, f64, f64),
    u_reference_ratio: f64,
) -> Budget {
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
    let readings = BudgetRow {
        evaluation: if readings_dof.is_some() {
            Evaluation::A
        } else {
            Evaluation::B
        },
        dof: readings_dof,
        is_common: false,
        ..row("readings", gain, u_readings, "1", 1.0)
    };
    Budget {
        measurand: "pressure_gain_ratio".to_owned(),
        unit: "1".to_owned(),
        value: gain,
        rows: vec![
            readings,
            row("zero", zero_pa, u_zero_pa, "Pa", to_zero),
            row("reference_gauge", 1.0, u_reference_ratio, "1", gain),
        ],
        correlations: Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zero(indicated_pa: f64) -> ZeroReading {
        ZeroReading {
            indicated_pa,
            u_indicated_pa: 500.0,
        }
    }

    fn point(reference_pa: f64, indicated_pa: f64) -> SpanPoint {
        SpanPoint {
            reference_pa,
            u_reference_pa: 2.0e4,
            indicated_pa,
            u_indicated_pa: 1.0e4,
        }
    }

    #[test]
    fn drift_between_zeros_widens_the_zero_and_is_reported() {
        let found = find_zero(zero(10_000.0), Some(zero(40_000.0))).unwrap();
        assert_eq!(found.zero_pa.value, 25_000.0);
        assert!((found.drift_pa.unwrap().value - 30_000.0).abs() < 1e-9 && found.is_drifting);
        let rectangular = 30_000.0 / 12f64.sqrt();
        assert!((found.zero_pa.u_common / rectangular - 1.0).abs() < 1e-3);
        assert!(!find_zero(zero(0.0), Some(zero(900.0))).unwrap().is_drifting);
        assert_eq!(find_zero(zero(7.0), None).unwrap().drift_pa, None);
    }

    #[test]
    fn a_gain_is_found_through_the_zero_and_corrects_an_indication() {
        let zero = find_zero(zero(1.0e5), Some(zero(1.0e5))).unwrap();
        let points = [5.0e6, 1.0e7, 2.0e7].map(|p| point(p, 1.0e5 + p / 1.02));
        let found = fit_span(zero, &points, 0.002, 2.5e7).unwrap();
        assert!((found.gain.value - 1.02).abs() < 1e-12);
        assert!(found.greatest_residual_pa < 1e-6);
        let corrected = found.correct(1.0e5 + 1.0e7 / 1.02).unwrap();
        assert!((corrected.value - 1.0e7).abs() < 1e-3);
        // The gauge's certificate dominates: 0.2 % of 100 bar, readings and zero add a little.
        assert!(
            corrected.u_common > 2.0e4 && corrected.u_common < 3.0e4,
            "{corrected:?}"
        );
    }

    #[test]
    fn an_error_of_the_zero_moves_the_gain_as_the_budget_says() {
        let shifted = |zero_pa: f64| {
            let zero = find_zero(zero(zero_pa), None).unwrap();
            let points = [5.0e6, 1.0e7, 2.0e7].map(|p| point(p, p));
            fit_span(zero, &points, 0.0, 2.5e7).unwrap()
        };
        let (at, above) = (shifted(0.0), shifted(100.0));
        let row = at
            .gain_budget
            .rows
            .iter()
            .find(|r| r.code == "zero")
            .unwrap();
        let slope = (above.gain.value - at.gain.value) / 100.0;
        assert!(
            (row.sensitivity / slope - 1.0).abs() < 1e-4,
            "{} {slope}",
            row.sensitivity
        );
    }

    #[test]
    fn each_unusable_entry_is_refused_by_name() {
        let good = find_zero(zero(0.0), None).unwrap();
        #[track_caller]
        fn check<T: std::fmt::Debug>(result: Result<T, CalibrationError>, message: &str) {
            assert_eq!(result.unwrap_err().to_string(), message);
        }
        check(
            find_zero(zero(f64::NAN), None),
            "indication of the zero before is NaN; it must be a finite number",
        );
        check(
            fit_span(good, &[], 0.0, 2.5e7),
            "no span point was given; at least one is needed",
        );
        check(
            fit_span(good, &[point(1.0e6, 1.0e6)], 0.0, 2.5e7),
            "the highest reference pressure, 10.0 bar, is below a tenth of the full scale \
             250 bar; compare with the reference gauge at a working pressure",
        );
        check(
            fit_span(good, &[point(1.0e7, -5.0)], 0.0, 2.5e7),
            "indication above the zero of span point 1 is -5; it must be a finite number above \
             zero: correct the entry or leave it out",
        );
        assert!(fit_span(good, &[point(1.0e7, 1.0e7)], 0.0, f64::NAN).is_err());
        let calibration = fit_span(good, &[point(1.0e7, 1.0e7)], 0.0, 2.5e7).unwrap();
        check(
            calibration.correct(f64::INFINITY),
            "indication of the transducer is inf; it must be a finite number",
        );
    }
}
