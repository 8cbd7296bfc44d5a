//! A recording's data to one signal in SI.

use crate::analysis::convert::{
    EdgeTimes, edges_from_counts, find_gaps, pressure_from_codes, reject_bounce,
};
use crate::analysis::extent::extent;
use crate::analysis::health::{Defect, DefectKind};
use crate::analysis::signal::{FlowMeter, FlowSignal, Gap, PressureSensor, Series, Signal, Slow};
use crate::recording::settings::Settings;
use crate::recording::{
    Data, DeviceLog, FlowColumn, Recording, SampleTable, SlowChannels, SlowSeries,
};
use std::mem::take;

/// Relative standard uncertainty of a meter's nominal constant that was never calibrated with the
/// coating at hand (common practice, no source).
const U_NOMINAL_METER_RATIO: f64 = 0.05;
/// The same where `session.toml` has no constant at all: the one that stands in says nothing of the flow, only
/// ratios of flows are known. Meters of this size make 1000 to 5000 pulses a litre (common practice, no source).
pub(super) const U_UNKNOWN_METER_RATIO: f64 = 1.0;
/// Standard uncertainty of zero and span of a sensor of which nothing is known, as a ratio of full
/// scale: a class 1 gauge.
const U_UNKNOWN_SENSOR_RATIO: f64 = 0.01;
/// Standard uncertainty of an edge time captured to a microsecond.
const U_CAPTURE_S: f64 = 1.0e-6 / 3.464;

/// The signal, and what was taken out of it as contact bounce.
///
/// Takes the columns out of the recording, so that codes and pressures of a logger's long one need not stand in memory
/// side by side; its gaps, its arrivals and the times of a table's rows stay.
pub(super) fn signal_of(recording: &mut Recording) -> (Signal, Option<Defect>) {
    let settings = &recording.settings;
    let (mut signal, bounce) = match &mut recording.data {
        Data::Samples(table) => from_samples(table),
        Data::Device(log) => from_device(log),
    };
    for pressure_pa in &mut signal.pressure_pa {
        *pressure_pa = settings.pressure_sensor.corrected_pa(*pressure_pa);
    }
    signal.flow_meter = flow_meter(settings);
    let is_unknown = settings.flow_meter.k_factor_per_m3.is_none();
    if is_unknown && matches!(signal.flow, FlowSignal::Edges { .. }) {
        signal.flow_meter.u_pulse_volume_ratio = U_UNKNOWN_METER_RATIO;
    }
    let highest = extent(&signal.pressure_pa).map_or(0.0, |range| range.high.max(0.0));
    signal.pressure_sensor = pressure_sensor(settings, highest);
    (signal, bounce)
}

fn from_samples(table: &mut SampleTable) -> (Signal, Option<Defect>) {
    let gaps = find_gaps(&table.t_s, 3.5, 0.05);
    let (flow, bounce) = match &mut table.flow {
        FlowColumn::Pulses(counts) => {
            let edges = edges_from_counts(&table.t_s, counts, &table.pulse_t_s, &gaps);
            clean(&edges)
        }
        FlowColumn::Rate(rate) => (
            FlowSignal::Rate {
                flow_m3_per_s: take(rate),
            },
            None,
        ),
    };
    (
        Signal {
            t_s: table.t_s.clone(),
            pressure_pa: take(&mut table.pressure_pa),
            flow,
            slow: slow_of(&mut table.slow),
            gaps,
            ..Signal::default()
        },
        bounce,
    )
}

fn from_device(log: &mut DeviceLog) -> (Signal, Option<Defect>) {
    let scale = log.pressure_scale;
    let edges = EdgeTimes {
        u_t_s: vec![U_CAPTURE_S; log.edge_t_s.len()],
        t_s: take(&mut log.edge_t_s),
    };
    let (flow, bounce) = clean(&edges);
    // The codes are given back before the times are written out.
    let codes = take(&mut log.pressure_code);
    let pressure_pa = pressure_from_codes(&codes, scale.zero_pa, scale.pa_per_code);
    drop(codes);
    (
        Signal {
            t_s: log.t_s.to_vec(),
            pressure_pa,
            flow,
            slow: slow_of(&mut log.slow),
            gaps: log
                .gaps
                .iter()
                .map(|g| Gap {
                    from_s: g.from_s,
                    to_s: g.to_s,
                })
                .collect(),
            ..Signal::default()
        },
        bounce,
    )
}

fn clean(edges: &EdgeTimes) -> (FlowSignal, Option<Defect>) {
    let (kept, report) = reject_bounce(edges);
    #[allow(clippy::cast_precision_loss)]
    let defect = (report.n_rejected > 0).then(|| Defect {
        kind: DefectKind::EdgeBounce,
        from_s: report.first_s,
        to_s: report.last_s,
        magnitude: Some(report.n_rejected as f64),
        is_fatal: false,
        consequence:
            "edges that came sooner than the pump can make them were taken out; check the \
                      meter's contact and its filter"
                .to_owned(),
    });
    (
        FlowSignal::Edges {
            t_s: kept.t_s,
            u_t_s: kept.u_t_s,
        },
        defect,
    )
}

fn slow_of(slow: &mut SlowChannels) -> Slow {
    let series = |s: &mut SlowSeries| Series {
        t_s: take(&mut s.t_s),
        value: take(&mut s.value),
    };
    Slow {
        supply_v: series(&mut slow.supply_v),
        supply_a: series(&mut slow.supply_a),
        material_k: series(&mut slow.material_k),
        air_k: series(&mut slow.air_k),
        rh_ratio: series(&mut slow.rh_ratio),
    }
}

/// The flow meter as the settings describe it.
pub(crate) fn flow_meter(settings: &Settings) -> FlowMeter {
    let meter = settings.flow_meter;
    FlowMeter {
        pulse_volume_m3: meter
            .k_factor_per_m3
            .filter(|k| *k > 0.0)
            .map_or(FlowMeter::default().pulse_volume_m3, |k| 1.0 / k),
        u_pulse_volume_ratio: meter.u_k_factor_ratio.unwrap_or(U_NOMINAL_METER_RATIO),
        is_nominal: meter.u_k_factor_ratio.is_none(),
        lowest_calibrated_hz: meter.lowest_calibrated_hz,
    }
}

/// The pressure sensor as the settings describe it; `highest_pa` stands in for an unknown range.
pub(crate) fn pressure_sensor(settings: &Settings, highest_pa: f64) -> PressureSensor {
    let sensor = settings.pressure_sensor;
    let full_scale = sensor.full_scale_pa.unwrap_or(highest_pa);
    // The accuracy is two standard deviations, of zero and of span each.
    let u_ratio = sensor
        .accuracy_ratio_of_full_scale
        .map_or(U_UNKNOWN_SENSOR_RATIO, |a| 0.5 * a);
    PressureSensor {
        full_scale_pa: sensor.full_scale_pa,
        u_zero_pa: sensor.u_zero_pa.unwrap_or(u_ratio * full_scale),
        u_span_ratio: sensor.u_gain_ratio.unwrap_or(u_ratio),
        resolution_pa: None,
    }
}
