//! Entries to zero, gain and K-factor, each with its uncertainty and where it comes from.

use super::CalibrateError;
use super::entries::Entries;
use crate::analysis::calibration::k_factor::{KFactor, fit_k_factor};
use crate::analysis::calibration::pressure::{
    PressureCalibration, PressureZero, SpanPoint, find_zero, fit_span,
};
use crate::estimate::budget::Budget;
use crate::estimate::{Estimate, coverage_factor_95};

/// Gain and zero that a session file takes; beyond, unit or full scale is wrong.
const GAIN: (f64, f64) = (0.5, 2.0);
const ZERO_BAR: (f64, f64) = (-50.0, 50.0);

/// A calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// Who calibrated.
    pub operator: String,
    /// The pressure sensor, where a zero was taken.
    pub pressure: Option<SensorResult>,
    /// The flow meter, where a catch was made.
    pub meter: Option<MeterResult>,
}

/// Zero and, where a gauge was at hand, gain.
#[derive(Debug, Clone, PartialEq)]
pub struct SensorResult {
    /// Zero, with the drift where it was taken twice.
    pub zero: PressureZero,
    /// Gain beside the gauge.
    pub span: Option<PressureCalibration>,
    /// The comparisons.
    pub points: Vec<SpanPoint>,
}

/// One constant for the meter, with what the whole calibrated range makes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct MeterResult {
    /// The fit.
    pub fit: KFactor,
    /// Pulse frequency that the constant holds at, Hz: the geometric middle of the range.
    pub frequency_hz: f64,
    /// K-factor there, pulses/m3; all of its uncertainty is common to a recording, the change of K over
    /// the range included.
    pub k_factor_per_m3: Estimate,
    /// Largest change of the fitted K over the range, relative.
    pub slip_ratio: f64,
    /// Where the uncertainty comes from.
    pub budget: Budget,
}

impl SensorResult {
    /// Zero, Pa, and its standard uncertainty as of unlimited freedom.
    #[must_use]
    pub fn zero_pa(&self) -> (f64, f64) {
        (self.zero.zero_pa.value, as_known(&self.zero.zero_pa))
    }

    /// Gain and its relative standard uncertainty.
    #[must_use]
    pub fn gain(&self) -> Option<(f64, f64)> {
        let gain = self.span.as_ref()?.gain;
        Some((gain.value, as_known(&gain) / gain.value))
    }
}

impl MeterResult {
    /// Relative standard uncertainty of the constant.
    #[must_use]
    pub fn u_ratio(&self) -> f64 {
        self.k_factor_per_m3.u_combined() / self.k_factor_per_m3.value
    }

    /// The row of the budget that weighs most.
    #[must_use]
    pub fn largest_source(&self) -> Option<(&str, f64)> {
        let rows = self.budget.rows.iter().enumerate();
        rows.map(|(i, row)| (row.code.as_str(), self.budget.share_of(i)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }
}

/// The standard uncertainty that, with unlimited freedom, gives the same 95 % interval.
fn as_known(estimate: &Estimate) -> f64 {
    estimate.expanded_95() / coverage_factor_95(f64::INFINITY)
}

/// Computes a calibration. `full_scale_pa` is that of the sensor; without one, the highest reference
/// pressure stands in.
///
/// # Errors
/// [`CalibrateError`]; each names what to mend.
pub fn compute(
    entries: &Entries,
    full_scale_pa: Option<f64>,
) -> Result<Calibration, CalibrateError> {
    entries.check()?;
    Ok(Calibration {
        operator: entries.operator.clone(),
        pressure: sensor(entries, full_scale_pa)?,
        meter: meter(entries)?,
    })
}

fn sensor(
    entries: &Entries,
    full_scale_pa: Option<f64>,
) -> Result<Option<SensorResult>, CalibrateError> {
    let Some((before, after)) = entries.zeros() else {
        return Ok(None);
    };
    let zero = find_zero(before, after)?;
    believed("zero, bar,", zero.zero_pa.value / 1.0e5, ZERO_BAR)?;
    let points = entries.span_points();
    let span = if points.is_empty() {
        None
    } else {
        let highest_pa = points.iter().map(|p| p.reference_pa).fold(0.0, f64::max);
        let full_scale_pa = full_scale_pa.unwrap_or(highest_pa);
        let span = fit_span(zero, &points, entries.u_gauge_ratio(), full_scale_pa)?;
        believed("gain", span.gain.value, GAIN)?;
        Some(span)
    };
    Ok(Some(SensorResult { zero, span, points }))
}

fn believed(what: &'static str, value: f64, (low, high): (f64, f64)) -> Result<(), CalibrateError> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(CalibrateError::Unbelievable {
        what,
        value,
        low,
        high,
    })
}

fn meter(entries: &Entries) -> Result<Option<MeterResult>, CalibrateError> {
    if entries.catches.is_empty() {
        return Ok(None);
    }
    let fit = fit_k_factor(&entries.timed_catches(), &entries.conditions()?)?;
    let (low_hz, high_hz) = fit.range_hz;
    let frequency_hz = (low_hz * high_hz).sqrt();
    let at = fit.at(frequency_hz)?;
    let ends = [fit.at(low_hz)?.value, fit.at(high_hz)?.value];
    let furthest = ends.map(|k| (k / at.value - 1.0).abs());
    let slip_ratio = furthest[0].max(furthest[1]);
    // One constant stands for the whole range: what K changes over it is rectangular (JCGM 100:2008,
    // 4.3.7).
    let u_slip = at.value * slip_ratio / 3f64.sqrt();
    Ok(Some(MeterResult {
        budget: fit.budget_at(frequency_hz)?,
        k_factor_per_m3: Estimate::new(at.value, 0.0, at.u_combined().hypot(u_slip)),
        fit,
        frequency_hz,
        slip_ratio,
    }))
}

#[cfg(test)]
mod tests {
    use super::super::entries::{CatchEntry, Indication, SpanEntry};
    use super::*;

    /// A sensor that reads 0.1 bar at rest and 2 % low, a meter of 2500 pulses/L, water.
    pub(crate) fn entries() -> Entries {
        let zero = Indication {
            indicated_pa: 1.0e4,
            u_indicated_pa: 300.0,
        };
        let catch = |litres: f64, seconds: f64| CatchEntry {
            caught_kg: litres * 0.9972,
            n_edges: {
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "a few thousand"
                )]
                let n = (litres * 2_500.0).round() as u32;
                n
            },
            duration_s: seconds,
        };
        Entries {
            operator: "AB".to_owned(),
            relieved: true,
            zero: Some(zero),
            zero_after: Some(zero),
            span: [5.0e6, 1.0e7, 2.0e7]
                .map(|reference_pa| SpanEntry {
                    reference_pa,
                    indicated_pa: 1.0e4 + reference_pa / 1.02,
                    u_indicated_pa: 2.0e3,
                })
                .to_vec(),
            catches: vec![
                catch(1.0, 40.0),
                catch(0.8, 60.0),
                catch(0.5, 60.0),
                catch(1.2, 45.0),
            ],
            ..Entries::default()
        }
    }

    #[test]
    fn a_known_sensor_and_meter_are_found_again() {
        let found = compute(&entries(), Some(4.0e7)).unwrap();
        let sensor = found.pressure.unwrap();
        assert!((sensor.zero_pa().0 - 1.0e4).abs() < 1.0);
        let (gain, u_gain) = sensor.gain().unwrap();
        assert!((gain - 1.02).abs() < 1e-9);
        // A gauge of class 1 gives 1 % / sqrt 3, reading it a little more.
        assert!(u_gain > 0.0057 && u_gain < 0.008, "{u_gain}");
        let meter = found.meter.unwrap();
        let k = meter.k_factor_per_m3;
        assert!(k.interval_95().contains(2.5e6), "{k:?}");
        // Scales of 0.1 %, and a gram in 500.
        assert!(
            meter.u_ratio() > 0.001 && meter.u_ratio() < 0.006,
            "{}",
            meter.u_ratio()
        );
        assert!(meter.largest_source().is_some());
    }

    #[test]
    fn each_refusal_says_what_to_mend_and_that_nothing_was_written() {
        #[track_caller]
        fn check(change: impl FnOnce(&mut Entries), message: &str) {
            let mut entries = entries();
            change(&mut entries);
            let error = compute(&entries, Some(4.0e7)).unwrap_err().to_string();
            assert!(error.starts_with(message), "{error}");
            assert!(error.contains("nothing was written"), "{error}");
        }
        check(
            |e| e.relieved = false,
            "pressure must be relieved and the trigger locked",
        );
        check(
            |e| e.operator.clear(),
            "the operator's initials are 1 to 12",
        );
        check(
            |e| e.operator = "a\"b".to_owned(),
            "the operator's initials",
        );
        check(|e| e.zero = None, "a span point needs a zero");
        check(
            |e| {
                e.zero = None;
                e.span.clear();
                e.catches.clear();
            },
            "neither a zero nor a catch was taken",
        );
        check(
            |e| e.gauge_accuracy_pct = Some(0.0),
            "the accuracy of the gauge, %, is 0; it must be above 0 and at most 10",
        );
        check(
            |e| e.catches[1].n_edges = 3,
            "catch 2 has 3 pulses, 20 are needed",
        );
        check(
            |e| e.span.iter_mut().for_each(|s| s.reference_pa *= 14.5),
            "the gain comes out as 14.79",
        );
        check(
            |e| e.density_kg_per_m3 = Some(1.2),
            "density 1.2 kg/m3 is outside",
        );
    }

    #[test]
    fn a_zero_alone_and_a_catch_alone_are_calibrations() {
        let mut zero = entries();
        zero.span.clear();
        zero.catches.clear();
        let found = compute(&zero, None).unwrap();
        assert!(found.meter.is_none() && found.pressure.unwrap().gain().is_none());
        let mut one = entries();
        one.zero = None;
        one.zero_after = None;
        one.span.clear();
        one.catches.truncate(1);
        let found = compute(&one, None).unwrap();
        assert!(found.pressure.is_none() && found.meter.is_some());
    }
}
