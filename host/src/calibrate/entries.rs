//! What a person reads off while calibrating, with how well it could be read.

use serde::Deserialize;

use super::CalibrateError;
use crate::analysis::calibration::k_factor::{CatchConditions, TimedCatch};
use crate::analysis::calibration::pressure::{SpanPoint, ZeroReading};
use crate::analysis::calibration::water::water_density;
use crate::estimate::Estimate;
use crate::units::{Kelvin, Pascal};

/// Temperature of the liquid when nobody says, degrees Celsius, and its standard uncertainty when
/// somebody does not measure it, K.
const ROOM_C: f64 = 20.0;
const U_ROOM_K: f64 = 3.0;

/// Relative standard uncertainty of a density that is read off a sheet or weighed in a 100 mL cup
/// (common practice, no source).
const U_GIVEN_DENSITY_RATIO: f64 = 3.0e-3;

/// Mass that a catch gains or loses by a drop at the outlet or the rim, kg (common practice, no
/// source): six drops of a twentieth of a gram.
const U_DROPS_KG: f64 = 3.0e-4;

/// Relative standard uncertainty of a kitchen or bench scale's own calibration (common practice, no
/// source).
const U_SCALE_RATIO: f64 = 1.0e-3;

/// Standard uncertainty of a catch's duration, s: the flow begins and ends within a pulse.
const U_DURATION_S: f64 = 0.05;

/// Largest accuracy of a reference gauge that is believed, percent.
const MOST_ACCURACY_PCT: f64 = 10.0;

/// Largest division, bar, and largest step of scales, g.
const MOST_DIVISION_BAR: f64 = 50.0;
const MOST_STEP_G: f64 = 100.0;

/// A mean of the sensor's indication.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct Indication {
    /// Mean, Pa.
    pub indicated_pa: f64,
    /// Its standard uncertainty, Pa.
    pub u_indicated_pa: f64,
}

/// Gauge and sensor side by side.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct SpanEntry {
    /// What the reference gauge showed, Pa.
    pub reference_pa: f64,
    /// What the sensor showed, Pa.
    pub indicated_pa: f64,
    /// Standard uncertainty of that mean, Pa.
    pub u_indicated_pa: f64,
}

/// One catch.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct CatchEntry {
    /// Indication of the scales, vessel subtracted, kg.
    pub caught_kg: f64,
    /// Pulses.
    pub n_edges: u32,
    /// How long it flowed, s.
    pub duration_s: f64,
}

/// Everything that was entered. Fields that are not known are refused.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Entries {
    /// Who calibrates.
    pub operator: String,
    /// The person confirmed that pressure is relieved and the trigger locked.
    pub relieved: bool,
    /// Relieved, before.
    pub zero: Option<Indication>,
    /// Relieved, after.
    pub zero_after: Option<Indication>,
    /// Comparisons.
    pub span: Vec<SpanEntry>,
    /// Catches.
    pub catches: Vec<CatchEntry>,
    /// Temperature of the liquid, degrees Celsius.
    pub liquid_c: Option<f64>,
    /// Density of the liquid; without one it is water.
    pub density_kg_per_m3: Option<f64>,
    /// Limits of the gauge's certificate or class, percent of reading.
    pub gauge_accuracy_pct: Option<f64>,
    /// One division of the gauge, bar.
    pub gauge_division_bar: Option<f64>,
    /// Step of the scales, g.
    pub scale_step_g: Option<f64>,
}

/// Without a word about the gauge: class 1, divisions of 2 bar. Without one about the scales: steps of
/// a gram.
const GAUGE_ACCURACY_PCT: f64 = 1.0;
const GAUGE_DIVISION_BAR: f64 = 2.0;
const SCALE_STEP_G: f64 = 1.0;

impl Entries {
    /// Checks what no formula checks.
    pub(super) fn check(&self) -> Result<(), CalibrateError> {
        if !self.relieved {
            return Err(CalibrateError::NotRelieved);
        }
        let plain = |c: char| c.is_alphanumeric() || c == '.' || c == '-';
        let length = self.operator.chars().count();
        if !(1..=12).contains(&length) || !self.operator.chars().all(plain) {
            return Err(CalibrateError::Operator);
        }
        for (what, value, most) in [
            (
                "the accuracy of the gauge, %,",
                self.gauge_accuracy_pct,
                MOST_ACCURACY_PCT,
            ),
            (
                "one division of the gauge, bar,",
                self.gauge_division_bar,
                MOST_DIVISION_BAR,
            ),
            ("the step of the scales, g,", self.scale_step_g, MOST_STEP_G),
        ] {
            if let Some(value) = value.filter(|v| !(*v > 0.0 && *v <= most)) {
                return Err(CalibrateError::Accuracy { what, value, most });
            }
        }
        if self.zero.is_none() && !self.span.is_empty() {
            return Err(CalibrateError::SpanWithoutZero);
        }
        if self.zero.is_none() && self.catches.is_empty() {
            return Err(CalibrateError::Nothing);
        }
        Ok(())
    }

    /// Relative standard uncertainty of the gauge: limits are rectangular (JCGM 100:2008, 4.3.7).
    pub(super) fn u_gauge_ratio(&self) -> f64 {
        self.gauge_accuracy_pct.unwrap_or(GAUGE_ACCURACY_PCT) / 100.0 / 3f64.sqrt()
    }

    pub(super) fn zeros(&self) -> Option<(ZeroReading, Option<ZeroReading>)> {
        let reading = |mean: Indication| ZeroReading {
            indicated_pa: mean.indicated_pa,
            u_indicated_pa: mean.u_indicated_pa,
        };
        Some((reading(self.zero?), self.zero_after.map(reading)))
    }

    /// Span points; a gauge is read to half a division either way.
    pub(super) fn span_points(&self) -> Vec<SpanPoint> {
        let division_bar = self.gauge_division_bar.unwrap_or(GAUGE_DIVISION_BAR);
        let u_reference_pa = Pascal::from_bar(division_bar).si() / 12f64.sqrt();
        self.span
            .iter()
            .map(|entry| SpanPoint {
                reference_pa: entry.reference_pa,
                u_reference_pa,
                indicated_pa: entry.indicated_pa,
                u_indicated_pa: entry.u_indicated_pa,
            })
            .collect()
    }

    /// Catches; each is two readings of the scales and a few drops.
    pub(super) fn timed_catches(&self) -> Vec<TimedCatch> {
        let step_kg = self.scale_step_g.unwrap_or(SCALE_STEP_G) * 1.0e-3;
        let u_caught_kg = (step_kg / 6f64.sqrt()).hypot(U_DROPS_KG);
        self.catches
            .iter()
            .map(|entry| TimedCatch {
                caught_kg: entry.caught_kg,
                u_caught_kg,
                duration_s: entry.duration_s,
                u_duration_s: U_DURATION_S,
                n_edges: entry.n_edges,
            })
            .collect()
    }

    /// Density of the liquid: as given, or that of water at its temperature.
    pub(super) fn conditions(&self) -> Result<CatchConditions, CalibrateError> {
        let density_kg_per_m3 = match self.density_kg_per_m3 {
            Some(given) => Estimate::new(given, 0.0, given * U_GIVEN_DENSITY_RATIO),
            None => self.water()?,
        };
        Ok(CatchConditions {
            density_kg_per_m3,
            u_scale_ratio: U_SCALE_RATIO,
        })
    }

    fn water(&self) -> Result<Estimate, CalibrateError> {
        let celsius = self.liquid_c.unwrap_or(ROOM_C);
        let at = water_density(Kelvin::from_celsius(celsius))?;
        if self.liquid_c.is_some() {
            return Ok(at);
        }
        let warmer = water_density(Kelvin::from_celsius(celsius + U_ROOM_K))?;
        let u_warmth = warmer.value - at.value;
        Ok(Estimate::new(at.value, 0.0, at.u_common.hypot(u_warmth)))
    }
}
