//! Recording, instruments, settings, defects and the rules in force.

use serde::Serialize;

use super::{Value, finite, finite_or_none};
use crate::analysis::dew_point::MARGIN_K;
use crate::analysis::health::DefectKind;
use crate::analysis::thresholds as limit;
use crate::findings::Findings;
use crate::recording::settings::{Material as MaterialSetting, Tap, Tip as TipSetting};
use crate::report::Options;

#[derive(Debug, Serialize)]
pub(crate) struct Recording {
    name: String,
    is_simulated: bool,
    date: Option<String>,
    started_at_unix_s: Option<f64>,
    rig: Option<String>,
    tap: Tap,
    duration_s: Option<f64>,
    n_samples: usize,
    n_bursts: usize,
    n_bursts_used: usize,
    n_notes: usize,
    flow_meter: FlowMeter,
    pressure_sensor: PressureSensor,
    limits: Limits,
    materials: Vec<Material>,
    tips: Vec<Tip>,
    unknown_keys: Vec<UnknownKey>,
}

#[derive(Debug, Serialize)]
struct FlowMeter {
    pulse_volume_m3: Option<f64>,
    k_factor_per_m3: Option<f64>,
    u_pulse_volume_ratio: Option<f64>,
    expanded_95_pulse_volume_ratio: Option<f64>,
    is_nominal: bool,
    lowest_calibrated_hz: Option<f64>,
}

#[derive(Debug, Serialize)]
struct PressureSensor {
    full_scale_pa: Option<f64>,
    u_zero_pa: Option<f64>,
    u_span_ratio: Option<f64>,
    resolution_pa: Option<f64>,
    zero_pa: Value,
}

#[derive(Debug, Serialize)]
struct Limits {
    working_pressure_pa: Option<f64>,
    power_w: Option<f64>,
    battery_v: Option<f64>,
    battery_a_s: Option<f64>,
    hose_length_m: Option<f64>,
    hose_bore_m: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Material {
    name: String,
    density_kg_per_m3: Option<f64>,
    volume_solids_ratio: Option<f64>,
    max_thinner_ratio: Option<f64>,
    max_pressure_pa: Option<f64>,
    max_temperature_k: Option<f64>,
    viscosity: Vec<Viscosity>,
}

#[derive(Debug, Serialize)]
struct Viscosity {
    temperature_k: Option<f64>,
    shear_rate_per_s: Option<f64>,
    dynamic_viscosity_pa_s: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Tip {
    code: String,
    orifice_diameter_m: Option<f64>,
    fan_width_m: Option<f64>,
    reference_distance_m: Option<f64>,
    used_s: Option<f64>,
    family: Option<String>,
}

#[derive(Debug, Serialize)]
struct UnknownKey {
    key: String,
    text: String,
}

#[derive(Debug, Serialize)]
pub(crate) struct Defect {
    kind: DefectKind,
    from_s: Option<f64>,
    to_s: Option<f64>,
    magnitude: Option<f64>,
    is_fatal: bool,
    consequence: String,
}

#[derive(Debug, Serialize)]
pub(crate) struct LoadDefect {
    code: String,
    from_s: Option<f64>,
    to_s: Option<f64>,
    message: String,
}

/// The decision limits and assumptions that the verdicts and cards rest on.
#[derive(Debug, Serialize)]
pub(crate) struct Rules {
    decide_probability: f64,
    sag_holds_ratio: f64,
    sag_fails_ratio: f64,
    margin_ratio: f64,
    restricted_flow_ratio: f64,
    risen_flow_ratio: f64,
    supply_fell_ratio: f64,
    weak_battery_ratio: f64,
    worn_orifice_ratio: f64,
    temperature_step_k: f64,
    condensation_margin_k: f64,
    discharge_coefficient: f64,
    expanded_95_discharge_coefficient_ratio: f64,
    least_pressures: usize,
    least_pressure_ratio: f64,
    card_hand_speed_m_per_s: Option<f64>,
    card_overlap_ratio: Option<f64>,
    coverage_ratio: f64,
}

impl Rules {
    pub(crate) fn new(options: &Options) -> Self {
        use crate::analysis::nozzle_curve::{LEAST_PRESSURE_RATIO, LEAST_PRESSURES};
        Self {
            decide_probability: limit::DECIDE_PROBABILITY,
            sag_holds_ratio: limit::SAG_HOLDS_RATIO,
            sag_fails_ratio: limit::SAG_FAILS_RATIO,
            margin_ratio: limit::MARGIN_RATIO,
            restricted_flow_ratio: limit::RESTRICTED_FLOW_RATIO,
            risen_flow_ratio: limit::RISEN_FLOW_RATIO,
            supply_fell_ratio: limit::SUPPLY_FELL_RATIO,
            weak_battery_ratio: limit::WEAK_BATTERY_RATIO,
            worn_orifice_ratio: limit::WORN_ORIFICE_RATIO,
            temperature_step_k: limit::TEMPERATURE_STEP_K,
            condensation_margin_k: MARGIN_K,
            discharge_coefficient: limit::DISCHARGE_COEFFICIENT,
            expanded_95_discharge_coefficient_ratio: 2.0 * limit::U_DISCHARGE_COEFFICIENT_RATIO,
            least_pressures: LEAST_PRESSURES,
            least_pressure_ratio: LEAST_PRESSURE_RATIO,
            card_hand_speed_m_per_s: finite(options.hand_speed_m_per_s),
            card_overlap_ratio: finite(options.overlap_ratio),
            coverage_ratio: 0.95,
        }
    }
}

impl Recording {
    pub(crate) fn new(f: &Findings) -> Self {
        let s = &f.settings;
        let meter = &f.signal.flow_meter;
        let sensor = &f.signal.pressure_sensor;
        let ends = f.signal.t_s.first().zip(f.signal.t_s.last());
        Self {
            name: f.name.clone(),
            is_simulated: f.is_simulated,
            date: s.date.clone(),
            started_at_unix_s: finite_or_none(s.started_at_unix_s),
            rig: s.rig.clone(),
            tap: s.tap,
            duration_s: finite_or_none(ends.map(|(a, b)| b - a)),
            n_samples: f.signal.t_s.len(),
            n_bursts: f.bursts.len(),
            n_bursts_used: f
                .bursts
                .iter()
                .filter(|b| b.steady.exclusion.is_none())
                .count(),
            n_notes: f.notes.len(),
            flow_meter: FlowMeter {
                pulse_volume_m3: finite(meter.pulse_volume_m3),
                k_factor_per_m3: finite(1.0 / meter.pulse_volume_m3),
                u_pulse_volume_ratio: finite(meter.u_pulse_volume_ratio),
                expanded_95_pulse_volume_ratio: finite(2.0 * meter.u_pulse_volume_ratio),
                is_nominal: meter.is_nominal,
                lowest_calibrated_hz: finite_or_none(meter.lowest_calibrated_hz),
            },
            pressure_sensor: PressureSensor {
                full_scale_pa: finite_or_none(sensor.full_scale_pa),
                u_zero_pa: finite(sensor.u_zero_pa),
                u_span_ratio: finite(sensor.u_span_ratio),
                resolution_pa: finite_or_none(sensor.resolution_pa),
                zero_pa: Value::from(&f.zero_pa),
            },
            limits: Limits {
                working_pressure_pa: finite_or_none(s.limits.working_pressure_pa),
                power_w: finite_or_none(s.limits.power_w),
                battery_v: finite_or_none(s.limits.battery_v),
                battery_a_s: finite_or_none(s.limits.battery_a_s),
                hose_length_m: finite_or_none(s.limits.hose_length_m),
                hose_bore_m: finite_or_none(s.limits.hose_bore_m),
            },
            materials: s.materials.iter().map(Material::new).collect(),
            tips: s.tips.iter().map(Tip::new).collect(),
            unknown_keys: s
                .unknown_keys
                .iter()
                .map(|(key, text)| UnknownKey {
                    key: key.clone(),
                    text: text.clone(),
                })
                .collect(),
        }
    }
}

impl Material {
    fn new(m: &MaterialSetting) -> Self {
        Self {
            name: m.name.clone(),
            density_kg_per_m3: finite_or_none(m.density_kg_per_m3),
            volume_solids_ratio: finite_or_none(m.volume_solids_ratio),
            max_thinner_ratio: finite_or_none(m.max_thinner_ratio),
            max_pressure_pa: finite_or_none(m.max_pressure_pa),
            max_temperature_k: finite_or_none(m.max_temperature_k),
            viscosity: m
                .viscosity
                .iter()
                .map(|v| Viscosity {
                    temperature_k: finite(v.temperature_k),
                    shear_rate_per_s: finite_or_none(v.shear_rate_per_s),
                    dynamic_viscosity_pa_s: finite(v.dynamic_viscosity_pa_s),
                })
                .collect(),
        }
    }
}

impl Tip {
    fn new(t: &TipSetting) -> Self {
        Self {
            code: t.code.clone(),
            orifice_diameter_m: finite_or_none(t.orifice_diameter_m),
            fan_width_m: finite_or_none(t.fan_width_m),
            reference_distance_m: finite_or_none(t.reference_distance_m),
            used_s: finite_or_none(t.used_s),
            family: t.family.clone(),
        }
    }
}

/// Health defects, in the order of the findings.
pub(crate) fn mirror_defects(f: &Findings) -> Vec<Defect> {
    f.defects
        .iter()
        .map(|d| Defect {
            kind: d.kind,
            from_s: finite(d.from_s),
            to_s: finite(d.to_s),
            magnitude: finite_or_none(d.magnitude),
            is_fatal: d.is_fatal,
            consequence: d.consequence.clone(),
        })
        .collect()
}

/// What was lost on loading.
pub(crate) fn mirror_load_defects(f: &Findings) -> Vec<LoadDefect> {
    f.load_defects
        .iter()
        .map(|d| LoadDefect {
            code: d.code.clone(),
            from_s: d.range_s.and_then(|r| finite(r.0)),
            to_s: d.range_s.and_then(|r| finite(r.1)),
            message: d.message.clone(),
        })
        .collect()
}
