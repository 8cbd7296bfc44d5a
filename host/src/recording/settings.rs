//! `session.toml` as a value: what does not change during a recording, in SI.

mod keys;
mod read;
mod write;

use serde::{Deserialize, Serialize};

pub(crate) use read::RATING_BAR;
pub use read::read;
pub use write::write;

/// Where the pressure transducer is tapped in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tap {
    /// At the pump outlet: the hose lies between the tap and the gun.
    #[default]
    PumpOutlet,
    /// At the gun inlet.
    GunInlet,
}

/// The session's settings in SI. A field that the file did not give is `None`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Settings {
    /// `date`, `YYYY-MM-DD`.
    pub date: Option<String>,
    /// `started_at`: Unix seconds when logger time was zero.
    pub started_at_unix_s: Option<f64>,
    /// Offset of local time from UTC in seconds, from `started_at`.
    pub utc_offset_s: Option<f64>,
    /// Rig, in the user's words.
    pub rig: Option<String>,
    /// Where the pressure tap is.
    pub tap: Tap,
    /// `simulated`: true when the data were made by the simulated rig.
    pub is_simulated: bool,
    /// Flow meter.
    pub flow_meter: FlowMeter,
    /// Pressure sensor.
    pub pressure_sensor: PressureSensor,
    /// Coatings, by name.
    pub materials: Vec<Material>,
    /// Tips, by code.
    pub tips: Vec<Tip>,
    /// What the rig may and can do.
    pub limits: Limits,
    /// Keys this program does not know, dotted, with their text; kept and reported.
    pub unknown_keys: Vec<(String, String)>,
}

/// The flow meter's constant.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FlowMeter {
    /// K-factor, pulses per cubic metre.
    pub k_factor_per_m3: Option<f64>,
    /// Relative standard uncertainty of the K-factor, 0 to 1; `None` when never calibrated.
    pub u_k_factor_ratio: Option<f64>,
    /// Lowest pulse frequency that was calibrated.
    pub lowest_calibrated_hz: Option<f64>,
}

/// The pressure sensor's range and accuracy.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PressureSensor {
    /// Full scale.
    pub full_scale_pa: Option<f64>,
    /// Accuracy as a fraction of full scale: two standard deviations, of zero and of span each.
    pub accuracy_ratio_of_full_scale: Option<f64>,
    /// Indication with the line relieved, from a calibration; taken off before the gain.
    pub zero_pa: Option<f64>,
    /// Standard uncertainty of that zero.
    pub u_zero_pa: Option<f64>,
    /// Reference over indication above the zero, from a calibration.
    pub gain_ratio: Option<f64>,
    /// Relative standard uncertainty of that gain, 0 to 1.
    pub u_gain_ratio: Option<f64>,
}

impl PressureSensor {
    /// The pressure behind an indication, by the calibration that was taken over; without one, the
    /// indication.
    #[must_use]
    pub fn corrected_pa(&self, indicated_pa: f64) -> f64 {
        self.gain_ratio.unwrap_or(1.0) * (indicated_pa - self.zero_pa.unwrap_or(0.0))
    }
}

/// A coating.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Material {
    /// As the notes name it.
    pub name: String,
    /// Density.
    pub density_kg_per_m3: Option<f64>,
    /// Volume solids, 0 to 1.
    pub volume_solids_ratio: Option<f64>,
    /// Most thinner that the label allows, 0 to 1 by volume of coating.
    pub max_thinner_ratio: Option<f64>,
    /// Highest pressure that the coating's maker allows.
    pub max_pressure_pa: Option<f64>,
    /// Highest coating temperature that the label allows.
    pub max_temperature_k: Option<f64>,
    /// Viscosity readings.
    pub viscosity: Vec<ViscosityReading>,
}

/// One viscosity reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ViscosityReading {
    /// Temperature of the reading.
    pub temperature_k: f64,
    /// Shear rate of the reading, where given.
    pub shear_rate_per_s: Option<f64>,
    /// Dynamic viscosity.
    pub dynamic_viscosity_pa_s: f64,
}

/// A tip.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tip {
    /// As stamped.
    pub code: String,
    /// Nominal equivalent orifice.
    pub orifice_diameter_m: Option<f64>,
    /// Fan width at the reference distance.
    pub fan_width_m: Option<f64>,
    /// Distance at which the fan width holds.
    pub reference_distance_m: Option<f64>,
    /// Hours sprayed with it.
    pub used_s: Option<f64>,
    /// The user's own family word.
    pub family: Option<String>,
}

/// What the rig may and can do.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limits {
    /// Lowest rated working pressure of pump, hose, gun and fittings.
    pub working_pressure_pa: Option<f64>,
    /// Electrical power.
    pub power_w: Option<f64>,
    /// Nominal battery voltage; `None` for a corded rig.
    pub battery_v: Option<f64>,
    /// Battery charge, A s.
    pub battery_a_s: Option<f64>,
    /// Hose length.
    pub hose_length_m: Option<f64>,
    /// Hose bore.
    pub hose_bore_m: Option<f64>,
}
