//! Health before meaning: named defects with time range and consequence. Never drops data itself.

use serde::{Deserialize, Serialize};

/// The kinds of defect.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DefectKind {
    /// Pressure at the top of its range while spraying or stalled.
    PressureSaturated,
    /// Pressure does not change although flow starts and stops.
    PressureStuck,
    /// Pressure readings change scale within the recording (as when a unit was switched).
    PressureScaleChanged,
    /// Samples lost.
    Gap,
    /// Flow edges closer than the pump can make them.
    EdgeBounce,
    /// Relieved readings before and after differ.
    ZeroDrift,
    /// No relieved stretch to take the zero from.
    ZeroUnknown,
    /// Host clock or logger clock jumped.
    ClockJump,
    /// The device restarted.
    DeviceRestart,
    /// Sample rate is not the declared one.
    SampleRate,
    /// Supply voltage fell below what the electronics need.
    SupplyBrownOut,
    /// The flow meter's constant is the maker's nominal.
    NominalMeter,
    /// Caught mass and metered volume disagree.
    MeterDisagreesWithCatch,
    /// Trigger pulls are seen in pressure while no flow edge comes.
    FlowMissing,
}

/// One defect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Defect {
    /// What.
    pub kind: DefectKind,
    /// Where, logger time.
    pub from_s: f64,
    /// Where, logger time.
    pub to_s: f64,
    /// How much, in the unit that the kind implies (Pa, s, V, ratio); `NaN`-free.
    pub magnitude: Option<f64>,
    /// True when results that rest on this stretch cannot be trusted.
    pub is_fatal: bool,
    /// What it means for the results, one plain sentence without units to convert.
    pub consequence: String,
}
