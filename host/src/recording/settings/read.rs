//! `session.toml`: text to [`Settings`] in SI, all or nothing.

use toml::de::{DeTable, DeValue};

use super::keys::{self, Gathered, Keys};
use super::{FlowMeter, Limits, Material, PressureSensor, Settings, Tap, Tip, ViscosityReading};
use crate::recording::cells::clip;
use crate::recording::fault::{Faults, Place, What};
use crate::recording::rows::{checked_utf8, line_of};
use crate::units::{Kelvin, M3_PER_L, Metre, Pascal};

/// Lowest and highest temperature that is believed, degrees Celsius.
const TEMPERATURE_C: (f64, f64) = (-60.0, 150.0);

/// Lowest and highest rating or range that is believed, bar: airless rigs are rated to 500 bar or so (common practice,
/// no source). Above it stands a number of psi, and a guard at 14.5 times the rating would guard nothing.
pub(crate) const RATING_BAR: (f64, f64) = (1.0, 1000.0);

/// Largest zero that is believed, bar: more is no zero but a line that was not relieved.
const ZERO_BAR: f64 = 50.0;

/// Lowest and highest gain that is believed: beyond, the unit or the full scale is wrong.
const GAIN: (f64, f64) = (0.5, 2.0);

/// How far two ways of giving one length may differ before they count as a contradiction.
const SAME_LENGTH_RATIO: f64 = 0.03;

/// Reads a whole `session.toml`. An empty text gives the default: nothing is known.
///
/// Unknown keys are kept in [`Settings::unknown_keys`].
///
/// # Errors
/// Everything that is wrong with the text, with line and key; nothing is read then.
pub fn read(bytes: &[u8]) -> Result<Settings, Faults> {
    let text = checked_utf8(bytes)?;
    let table = DeTable::parse(text).map_err(|e| {
        let line = line_of(text.as_bytes(), e.span().map_or(0, |s| s.start));
        let message = e.message().replace('\n', ", ");
        Faults::one(Place::Line(line), What::NotToml { message })
    })?;
    let mut g = Gathered {
        text,
        faults: Faults::default(),
        unknown: Vec::new(),
    };
    let mut settings = root(Keys::root(table), &mut g);
    g.unknown.sort();
    settings.unknown_keys = g.unknown.into_iter().map(|(_, k, v)| (k, v)).collect();
    g.faults.or(settings)
}

fn root(mut keys: Keys<'_>, g: &mut Gathered<'_>) -> Settings {
    let started = keys.take("started_at", g, moment);
    let settings = Settings {
        date: keys.take("date", g, date),
        started_at_unix_s: started.map(|(unix_s, _)| unix_s),
        utc_offset_s: started.map(|(_, offset_s)| offset_s),
        rig: keys.text("rig", g),
        tap: keys.take("tap", g, tap).unwrap_or_default(),
        is_simulated: keys.take("simulated", g, flag).unwrap_or_default(),
        flow_meter: keys
            .table("flow_meter", g)
            .map_or_else(FlowMeter::default, |k| flow_meter(k, g)),
        pressure_sensor: keys
            .table("pressure_sensor", g)
            .map_or_else(PressureSensor::default, |k| pressure_sensor(k, g)),
        materials: materials(&mut keys, g),
        tips: tips(&mut keys, g),
        limits: keys
            .table("limits", g)
            .map_or_else(Limits::default, |k| limits(k, g)),
        unknown_keys: Vec::new(),
    };
    keys.finish(g);
    settings
}

fn flow_meter(mut keys: Keys<'_>, g: &mut Gathered<'_>) -> FlowMeter {
    let meter = FlowMeter {
        k_factor_per_m3: keys.positive("pulses_per_litre", g).map(|k| k / M3_PER_L),
        u_k_factor_ratio: keys
            .within("std_uncertainty_pct", 0.0, 100.0, g)
            .map(|pct| pct / 100.0),
        lowest_calibrated_hz: keys.positive("lowest_calibrated_hz", g),
    };
    keys.finish(g);
    meter
}

fn pressure_sensor(mut keys: Keys<'_>, g: &mut Gathered<'_>) -> PressureSensor {
    let sensor = PressureSensor {
        full_scale_pa: keys
            .within("full_scale_bar", RATING_BAR.0, RATING_BAR.1, g)
            .map(pa_from_bar),
        accuracy_ratio_of_full_scale: keys
            .within("accuracy_pct_of_full_scale", 0.0, 100.0, g)
            .map(|pct| pct / 100.0),
        zero_pa: keys
            .within("zero_bar", -ZERO_BAR, ZERO_BAR, g)
            .map(pa_from_bar),
        u_zero_pa: keys
            .within("zero_std_uncertainty_bar", 0.0, ZERO_BAR, g)
            .map(pa_from_bar),
        gain_ratio: keys.within("gain", GAIN.0, GAIN.1, g),
        u_gain_ratio: keys
            .within("gain_std_uncertainty_pct", 0.0, 100.0, g)
            .map(|pct| pct / 100.0),
    };
    keys.finish(g);
    sensor
}

fn materials(root: &mut Keys<'_>, g: &mut Gathered<'_>) -> Vec<Material> {
    let mut materials: Vec<Material> = Vec::new();
    for mut keys in root.list("material", g) {
        let name_at = keys.span_of("name");
        let (low, high) = TEMPERATURE_C;
        let material = Material {
            name: keys.needed_text("name", g),
            density_kg_per_m3: keys.positive("density_kg_m3", g),
            volume_solids_ratio: keys
                .within("volume_solids_pct", 0.0, 100.0, g)
                .map(|pct| pct / 100.0),
            max_thinner_ratio: keys
                .within("max_thinner_pct", 0.0, 100.0, g)
                .map(|pct| pct / 100.0),
            max_pressure_pa: keys.positive("max_pressure_bar", g).map(pa_from_bar),
            max_temperature_k: keys
                .within("max_temperature_c", low, high, g)
                .map(|c| Kelvin::from_celsius(c).si()),
            viscosity: viscosity(&mut keys, g),
        };
        if materials.iter().any(|m| m.name == material.name) && !material.name.is_empty() {
            let name = clip(&material.name);
            keys.fault("name", &name_at, What::DuplicateName { name }, g);
        }
        keys.finish(g);
        materials.push(material);
    }
    materials
}

fn viscosity(material: &mut Keys<'_>, g: &mut Gathered<'_>) -> Vec<ViscosityReading> {
    let (low, high) = TEMPERATURE_C;
    let mut readings = Vec::new();
    for mut keys in material.list("viscosity", g) {
        let celsius = keys.needed("temperature_c", g, |v| keys::within(v, low, high));
        let mpa_s = keys.needed("viscosity_mpa_s", g, keys::positive);
        let shear_rate_per_s = keys.positive("shear_rate_per_s", g);
        keys.finish(g);
        if let (Some(celsius), Some(mpa_s)) = (celsius, mpa_s) {
            readings.push(ViscosityReading {
                temperature_k: Kelvin::from_celsius(celsius).si(),
                shear_rate_per_s,
                dynamic_viscosity_pa_s: mpa_s * 1.0e-3,
            });
        }
    }
    readings
}

fn tips(root: &mut Keys<'_>, g: &mut Gathered<'_>) -> Vec<Tip> {
    let mut tips: Vec<Tip> = Vec::new();
    for mut keys in root.list("tip", g) {
        let code_at = keys.span_of("code");
        let tip = Tip {
            code: keys.needed_text("code", g),
            orifice_diameter_m: orifice_m(&mut keys, g),
            fan_width_m: keys.positive("fan_width_mm", g).map(m_from_mm),
            reference_distance_m: keys.positive("reference_distance_mm", g).map(m_from_mm),
            used_s: keys
                .within("hours_used_h", 0.0, 1.0e6, g)
                .map(|hours| hours * 3600.0),
            family: keys.text("family", g),
        };
        if tips.iter().any(|t| t.code == tip.code) && !tip.code.is_empty() {
            let name = clip(&tip.code);
            keys.fault("code", &code_at, What::DuplicateName { name }, g);
        }
        keys.finish(g);
        tips.push(tip);
    }
    tips
}

/// The orifice from either key; both may stand there when they agree.
fn orifice_m(keys: &mut Keys<'_>, g: &mut Gathered<'_>) -> Option<f64> {
    let thou_at = keys.span_of("orifice_thou");
    let from_mm = keys.positive("orifice_mm", g).map(Metre::from_mm);
    let from_thou = keys.positive("orifice_thou", g).map(Metre::from_thou);
    if let (Some(a), Some(b)) = (from_mm, from_thou)
        && (a.si() / b.si() - 1.0).abs() > SAME_LENGTH_RATIO
    {
        let what = What::Disagrees {
            other: "orifice_mm",
            value: b.as_thou(),
            other_value: (a.as_thou() * 10.0).round() / 10.0,
        };
        keys.fault("orifice_thou", &thou_at, what, g);
    }
    from_mm.or(from_thou).map(Metre::si)
}

fn limits(mut keys: Keys<'_>, g: &mut Gathered<'_>) -> Limits {
    let limits = Limits {
        working_pressure_pa: keys
            .within("working_pressure_bar", RATING_BAR.0, RATING_BAR.1, g)
            .map(pa_from_bar),
        power_w: keys.positive("power_w", g),
        battery_v: keys.positive("battery_v", g),
        battery_a_s: keys.positive("battery_ah", g).map(|ah| ah * 3600.0),
        hose_length_m: keys.positive("hose_length_m", g),
        hose_bore_m: keys.positive("hose_bore_mm", g).map(m_from_mm),
    };
    keys.finish(g);
    limits
}

fn pa_from_bar(bar: f64) -> f64 {
    Pascal::from_bar(bar).si()
}

fn m_from_mm(mm: f64) -> f64 {
    Metre::from_mm(mm).si()
}

fn tap(value: &DeValue<'_>) -> Result<Tap, What> {
    match keys::text(value)? {
        "pump_outlet" => Ok(Tap::PumpOutlet),
        "gun_inlet" => Ok(Tap::GunInlet),
        other => Err(What::NotOneOf {
            cell: clip(other),
            allowed: "pump_outlet, gun_inlet",
        }),
    }
}

fn flag(value: &DeValue<'_>) -> Result<bool, What> {
    value
        .as_bool()
        .ok_or_else(|| keys::wrong_type(value, "true or false"))
}

/// A calendar date, as a text or as TOML's own date.
fn date(value: &DeValue<'_>) -> Result<String, What> {
    let text = date_text(value)?;
    let date = text
        .parse::<jiff::civil::Date>()
        .ok()
        .filter(|_| text.len() == 10);
    let date = date.ok_or_else(|| What::NotADate { cell: clip(&text) })?;
    Ok(date.to_string())
}

/// A date-time with its offset, as Unix seconds and offset in seconds.
fn moment(value: &DeValue<'_>) -> Result<(f64, f64), What> {
    let text = date_text(value)?;
    let read = || {
        let moment: jiff::Timestamp = text.parse().ok()?;
        let offset = jiff::fmt::temporal::Pieces::parse(&text)
            .ok()?
            .to_numeric_offset()?;
        let unix_s = moment.as_duration().as_secs_f64();
        Some((unix_s, f64::from(offset.seconds())))
    };
    read().ok_or_else(|| What::NotADateTime { cell: clip(&text) })
}

fn date_text(value: &DeValue<'_>) -> Result<String, What> {
    match value {
        DeValue::String(text) => Ok(text.clone().into_owned()),
        DeValue::Datetime(moment) => Ok(moment.to_string()),
        _ => Err(keys::wrong_type(value, "a date")),
    }
}

#[cfg(test)]
mod tests;
