//! The settings of a session as its owner would have written them: stamped, stated and rounded, never true.

use crate::recording::settings::{
    FlowMeter, Limits, Material, PressureSensor, Settings, Tip, ViscosityReading,
};
use crate::units::Metre;

use super::liquid::Liquid;
use super::rig::Supply;
use super::scenario::{Scenario, TipPiece};

/// The settings beside the recording of a scenario.
#[must_use]
pub fn settings_of(scenario: &Scenario) -> Settings {
    let start = &scenario.start;
    let instruments = &scenario.instruments;
    Settings {
        date: date_of(start.unix_s + start.utc_offset_s),
        started_at_unix_s: start.is_told.then_some(start.unix_s),
        utc_offset_s: start.is_told.then_some(start.utc_offset_s),
        rig: Some(scenario.rig.name.clone()),
        tap: scenario.rig.tap,
        is_simulated: true,
        flow_meter: FlowMeter {
            k_factor_per_m3: Some(instruments.meter.nominal_k_per_m3),
            u_k_factor_ratio: Some(instruments.meter.stated_u_ratio),
            lowest_calibrated_hz: None,
        },
        pressure_sensor: PressureSensor {
            full_scale_pa: Some(instruments.transducer.full_scale_pa),
            accuracy_ratio_of_full_scale: Some(instruments.transducer.stated_accuracy_ratio),
            ..PressureSensor::default()
        },
        materials: scenario.liquids.iter().map(material_of).collect(),
        tips: scenario
            .tips
            .iter()
            .chain(&scenario.expected.asked_tip)
            .map(tip_of)
            .collect(),
        limits: limits_of(scenario),
        unknown_keys: Vec::new(),
    }
}

/// `YYYY-MM-DD` of local seconds since 1970.
fn date_of(local_unix_s: f64) -> Option<String> {
    let whole = super::index::position(local_unix_s);
    let second = jiff::Timestamp::from_second(i64::try_from(whole).ok()?).ok()?;
    Some(jiff::tz::Offset::UTC.to_datetime(second).date().to_string())
}

fn rounded(number: f64, parts: f64) -> f64 {
    (number * parts).round() / parts
}

/// A coating as its data sheet gives it: viscosity at 100 1/s at 20 C and 10 K lower.
fn material_of(liquid: &Liquid) -> Material {
    let reading = |celsius: f64| {
        let viscosity = liquid.at(273.15 + celsius, 0.0).viscosity_pa_s(100.0);
        ViscosityReading {
            temperature_k: 273.15 + celsius,
            shear_rate_per_s: Some(100.0),
            dynamic_viscosity_pa_s: rounded(viscosity, 1.0e4),
        }
    };
    Material {
        name: liquid.name.clone(),
        density_kg_per_m3: Some(liquid.density_kg_per_m3),
        volume_solids_ratio: Some(liquid.volume_solids_ratio),
        max_thinner_ratio: Some(liquid.max_thinner_ratio),
        max_pressure_pa: None,
        max_temperature_k: None,
        viscosity: vec![reading(20.0), reading(10.0)],
    }
}

fn tip_of(tip: &TipPiece) -> Tip {
    Tip {
        code: tip.code.clone(),
        orifice_diameter_m: Some(Metre::from_thou(tip.stamped_thou).si()),
        fan_width_m: Some(rounded(tip.fan_width_m, 1.0e3)),
        reference_distance_m: Some(0.3),
        used_s: Some(tip.used_h * 3600.0),
        family: Some(tip.family.clone()),
    }
}

fn limits_of(scenario: &Scenario) -> Limits {
    let rig = &scenario.rig;
    let (battery_v, battery_a_s) = match &rig.supply {
        Supply::Mains { .. } => (None, None),
        Supply::Battery { pack, .. } => (
            Some(pack.nominal_v()),
            Some(rounded(pack.capacity_a_s, 0.1)),
        ),
    };
    Limits {
        working_pressure_pa: Some(rounded(rig.working_pressure_pa, 1.0e-5)),
        power_w: Some(rounded(rig.motor.power_limit_w, 1.0)),
        battery_v,
        battery_a_s,
        hose_length_m: Some(rig.hose.length_m),
        hose_bore_m: Some(rig.hose.bore_m),
    }
}
