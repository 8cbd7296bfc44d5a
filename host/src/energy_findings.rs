//! What a recording says of power and battery, and two batteries side by side. Types only.

use crate::analysis::answer::{Answer, Change};
use crate::analysis::energy::battery::ReachesLimit;
use crate::analysis::energy::{EnergyError, RunTime};
use crate::analysis::plan::{PlanError, PlanReason};
use crate::analysis::supply_curve::SupplyCurve;
use crate::estimate::bracketed::Bracketed;
use crate::estimate::{Estimate, Interval};

/// One burst with its electrical readings.
#[derive(Debug, Clone, PartialEq)]
pub struct EnergyPoint {
    /// Position of the recording among the battery's.
    pub recording_index: usize,
    /// Index of the burst.
    pub burst_index: usize,
    /// Tip.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Control position.
    pub dial: String,
    /// True at the highest control position used.
    pub is_full: bool,
    /// Charge drawn since the battery was put in, at the middle of the burst, A s.
    pub drawn_a_s: f64,
    /// Supply voltage under load, V.
    pub supply_v: f64,
    /// Supply current, A.
    pub supply_a: f64,
    /// Electrical power, W.
    pub electric_w: f64,
    /// Hydraulic power, W.
    pub hydraulic_w: f64,
    /// Spraying pressure, Pa.
    pub pressure_pa: Estimate,
    /// `1 - spraying / stalled`.
    pub sag_ratio: Option<f64>,
}

/// What is known of energy from one battery's recordings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EnergyFinding {
    /// Bursts with voltage and current, in order of time.
    pub points: Vec<EnergyPoint>,
    /// Charge drawn in all, A s, and the time that was not summed because readings were missing, s.
    pub drawn: Option<(f64, f64)>,
    /// Power with the trigger closed and the pump under pressure, W.
    pub stalled_w: Option<Estimate>,
    /// Resistance that a pull of some seconds sees, ohm: fall of voltage over rise of current.
    pub resistance_ohm: Option<Estimate>,
    /// Settings with their mean powers, in order of their first burst.
    pub settings: Vec<SettingEnergy>,
    /// What was not logged.
    pub missing: Vec<Missing>,
}

/// Mean powers of one tip, coating and control position.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingEnergy {
    /// Tip.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Control position.
    pub dial: String,
    /// True at the highest control position used.
    pub is_full: bool,
    /// Bursts.
    pub n_bursts: usize,
    /// Spraying pressure, Pa.
    pub pressure_pa: Estimate,
    /// Electrical power while spraying, W.
    pub electric_w: Estimate,
    /// Hydraulic power at the tap, W.
    pub hydraulic_w: Estimate,
    /// Hydraulic over electrical power.
    pub efficiency: Result<Estimate, EnergyError>,
}

/// A measurement that is missing, and what rests on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Missing {
    /// No supply voltage in the log.
    Voltage,
    /// No supply current in the log.
    Current,
    /// No burst with voltage, current, pressure and flow.
    Bursts,
    /// No battery in the session file.
    Battery,
    /// Fewer than two bursts of any setting.
    Replicates,
    /// Too little charge was drawn to say how anything falls with it.
    ChargeRange,
    /// No supply curve.
    Supply,
}

/// What becomes of sag and pressure held as the charge goes.
#[derive(Debug, Clone, PartialEq)]
pub struct ChargeFinding {
    /// Tip.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Bursts at full control.
    pub n_bursts: usize,
    /// Shares of the charge measured.
    pub range: Interval,
    /// Sag at the first and the last share measured.
    pub sag: (Estimate, Estimate),
    /// Change of sag over a whole charge.
    pub sag_slope: Estimate,
    /// The word for it.
    pub sag_change: Change,
    /// Lowest tail-free pressure, Pa, and where the pressure held falls to it.
    pub reaches: Option<(f64, ReachesLimit)>,
}

/// A tip held against the supply.
#[derive(Debug, Clone, PartialEq)]
pub struct TipHeld {
    /// Tip.
    pub tip: String,
    /// Orifice, m.
    pub orifice_m: f64,
    /// True when the answer is from its own bursts at full control.
    pub is_measured: bool,
    /// What the rig does with it, or why that is not known.
    pub held: Result<Held, PlanError>,
}

/// What a rig does with one tip at full control.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Whether the pressure held is above the lowest tail-free one.
    pub answer: Answer,
    /// Why.
    pub reason: PlanReason,
    /// Pressure held, Pa.
    pub pressure_pa: Bracketed,
    /// Flow there, m3/s; `None` without a curve of the tip.
    pub flow_m3_per_s: Option<Bracketed>,
    /// True when a measured curve had to be carried beyond its range.
    pub is_extrapolated: bool,
}

/// How long a setting runs.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingRunTime {
    /// Position in [`EnergyFinding::settings`].
    pub setting_index: usize,
    /// Run time, or why there is none.
    pub run_time: Result<RunTime, EnergyError>,
}

/// One battery on one pump.
#[derive(Debug, Clone, PartialEq)]
pub struct BatteryFindings {
    /// Recordings, in order.
    pub recordings: Vec<String>,
    /// Rig, in the owner's words.
    pub rig: Option<String>,
    /// Made by the simulated rig.
    pub is_simulated: bool,
    /// Meter never calibrated.
    pub is_nominal_meter: bool,
    /// Lowest rated working pressure, Pa.
    pub rated_pa: Option<f64>,
    /// Nominal voltage, V.
    pub nominal_v: Option<f64>,
    /// Nominal charge, A s.
    pub nominal_a_s: Option<f64>,
    /// Voltage that run times are reckoned with, V, and whether it was measured under load.
    pub mean_v: Option<(Estimate, bool)>,
    /// Energy.
    pub energy: EnergyFinding,
    /// The supply curve at full control.
    pub supply: Option<SupplyCurve>,
    /// Coating that the tips are judged in.
    pub material: Option<String>,
    /// Tips of the session, by orifice.
    pub tips: Vec<TipHeld>,
    /// Run times, one a setting with two bursts or more.
    pub run_times: Vec<SettingRunTime>,
    /// The setting that the answer speaks of: most bursts at full control.
    pub main: Option<usize>,
    /// Sag and pressure against charge.
    pub charge: Option<ChargeFinding>,
}

/// What two batteries are compared in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ComparedWhat {
    /// Pressure held at full control with one tip.
    Pressure,
    /// Resistance.
    Resistance,
    /// Run time of one setting.
    RunTime,
}

/// One line of a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// What.
    pub what: ComparedWhat,
    /// The first battery's, SI.
    pub first: Bracketed,
    /// The other's.
    pub other: Bracketed,
    /// Other over first.
    pub ratio: Bracketed,
    /// The word.
    pub change: Change,
    /// Least relative change that matters.
    pub margin_ratio: f64,
}

/// Why two batteries cannot be compared.
#[derive(Debug, Clone, PartialEq)]
pub enum CompareRefusal {
    /// They drove different rigs.
    Rigs {
        /// The first's.
        first: String,
        /// The other's.
        other: String,
    },
    /// No tip and coating was sprayed at full control with both.
    NoCommonSetting,
    /// Nothing is known of both.
    NothingInCommon,
}

/// An endurance check: one battery, perhaps another.
#[derive(Debug, Clone, PartialEq)]
pub struct EnduranceFindings {
    /// Share of the time that the trigger is open.
    pub spraying_ratio: f64,
    /// The battery.
    pub first: BatteryFindings,
    /// Another on the same pump.
    pub other: Option<BatteryFindings>,
    /// Both compared: tip and coating that it was done with, and its lines. `None` without another.
    pub comparison: Option<Result<(String, String, Vec<Compared>), CompareRefusal>>,
}
