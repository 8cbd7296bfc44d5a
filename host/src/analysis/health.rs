//! Health before meaning: named defects with time range and consequence. Never drops data itself.
//!
//! Goes in: the signal and its bursts. Comes out: the zero to take off, and defects. What a defect
//! does to a burst is decided by the caller from `is_fatal` and the time range.

mod meter;
mod sensor;
mod zero;

use serde::{Deserialize, Serialize};

use super::burst::Burst;
use super::extent::extent;
use super::signal::Signal;

pub use zero::{ZeroReading, read_zero};

/// The kinds of defect.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DefectKind {
    /// Pressure at the top of its range while spraying or stalled.
    PressureSaturated,
    /// Pressure does not change although flow starts and stops.
    PressureStuck,
    /// Pressure reads far above what the sensor, or any rig, can show: psi or kPa taken for bar.
    PressureBeyondSensor,
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
    /// Flow far beyond or far below what any hole of the tip's size can pass: the meter's constant is wrong.
    FlowImplausible,
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

impl Defect {
    /// True when the defect's time range and a stretch have something in common.
    #[must_use]
    pub fn overlaps(&self, from_s: f64, to_s: f64) -> bool {
        self.from_s <= to_s && self.to_s >= from_s
    }
}

/// Finds what is wrong with the sensors, in the order of [`DefectKind`].
///
/// *Shape*: `bursts` in order of time, as `detect_bursts` gives them.
#[must_use]
pub fn find_defects(signal: &Signal, bursts: &[Burst], zero: &ZeroReading) -> Vec<Defect> {
    let mut defects = Vec::new();
    let highest_pa = extent(&signal.pressure_pa).map_or(0.0, |range| range.high);
    let saturated = sensor::find_saturation(signal, highest_pa);
    // A clipped reading does not move either: it is one defect, not two.
    defects.extend(
        sensor::find_stuck(signal, highest_pa, bursts)
            .into_iter()
            .filter(|stuck| {
                saturated.iter().all(|top| {
                    !top.overlaps(stuck.from_s, stuck.to_s) || top.magnitude > stuck.magnitude
                })
            }),
    );
    defects.splice(0..0, saturated);
    defects.extend(sensor::find_beyond(signal, highest_pa));
    defects.extend(zero.defects(signal));
    defects.extend(find_gaps(signal));
    if signal.flow_meter.is_nominal {
        defects.push(Defect {
            kind: DefectKind::NominalMeter,
            from_s: signal.t_s.first().copied().unwrap_or(0.0),
            to_s: signal.t_s.last().copied().unwrap_or(0.0),
            magnitude: Some(signal.flow_meter.u_pulse_volume_ratio),
            is_fatal: false,
            consequence: "the flow meter was never calibrated: every flow carries the maker's \
                          nominal constant and its large uncertainty"
                .to_owned(),
        });
    }
    defects
}

pub use meter::{FlowPoint, find_implausible_flow};

fn find_gaps(signal: &Signal) -> Vec<Defect> {
    signal
        .gaps
        .iter()
        .map(|gap| Defect {
            kind: DefectKind::Gap,
            from_s: gap.from_s,
            to_s: gap.to_s,
            magnitude: Some(gap.to_s - gap.from_s),
            is_fatal: false,
            consequence: "samples were lost here: a burst across it is measured in its longest \
                          complete part, or not used"
                .to_owned(),
        })
        .collect()
}

#[cfg(test)]
mod tests;
