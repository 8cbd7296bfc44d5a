//! `tipcurve calibrate`: guided beside the logger, or from readings given as options; a dated file at
//! the end.

mod guide;
mod logger;

use std::io::{BufReader, IsTerminal, stdin, stdout};

use serde_json::json;

use super::Stop;
use super::args::CalibrateArgs;
use crate::calibrate::entries::{CatchEntry, Entries, Indication, SpanEntry};
use crate::calibrate::file::{self, Moment};
use crate::calibrate::result::{Calibration, compute};
use crate::calibrate::{CAUTION, CalibrateError};
use crate::live::calibrating::say;
use crate::record::host_clock::system_unix_s;
use crate::units::{Pascal, UnitChoice};

pub(super) fn run(args: &CalibrateArgs) -> Result<(), Stop> {
    if args
        .full_scale
        .is_some_and(|bar| !(bar > 0.0 && bar.is_finite()))
    {
        return Err(Stop::bad_input(
            "--full-scale must be a number above zero; nothing was written",
        ));
    }
    let mut device_id = None;
    let entries = if args.has_readings() {
        given(args)?
    } else {
        let logger = logger::Logger::open(args)?;
        device_id = logger.device_id();
        let start = blank(args);
        guide::ask_all(
            start,
            &logger,
            &mut BufReader::new(stdin()),
            &mut stdout(),
            stdout().is_terminal(),
        )?
    };
    let full_scale_pa = args.full_scale.map(|bar| Pascal::from_bar(bar).si());
    let calibration = compute(&entries, full_scale_pa).map_err(Stop::bad_input)?;
    let unix_s = system_unix_s();
    let moment = Moment {
        unix_s,
        utc_offset_s: super::local::utc_offset_s(unix_s),
    };
    let path =
        file::write(&calibration, device_id, moment, &args.output).map_err(Stop::bad_input)?;
    show(&calibration, &path, args.json);
    Ok(())
}

/// Options without readings.
fn blank(args: &CalibrateArgs) -> Entries {
    Entries {
        operator: args.operator.clone().unwrap_or_default(),
        liquid_c: args.liquid_temperature,
        density_kg_per_m3: args.density,
        gauge_accuracy_pct: Some(args.gauge_accuracy),
        gauge_division_bar: Some(args.gauge_division),
        scale_step_g: Some(args.scale_step),
        ..Entries::default()
    }
}

/// Readings as options; the caution is shown all the same.
fn given(args: &CalibrateArgs) -> Result<Entries, Stop> {
    if !args.relieved {
        return Err(Stop::bad_input(format!(
            "{CAUTION} {}: give --relieved",
            CalibrateError::NotRelieved
        )));
    }
    let indication = |bar: f64, u_bar: f64| Indication {
        indicated_pa: Pascal::from_bar(bar).si(),
        u_indicated_pa: Pascal::from_bar(u_bar).si(),
    };
    let span = args.span.iter().map(|one| SpanEntry {
        reference_pa: Pascal::from_bar(one.gauge_bar).si(),
        indicated_pa: Pascal::from_bar(one.sensor.bar).si(),
        u_indicated_pa: Pascal::from_bar(one.sensor.u_bar).si(),
    });
    let catches = args.catches.iter().map(|one| CatchEntry {
        caught_kg: one.grams * 1.0e-3,
        n_edges: one.pulses,
        duration_s: one.seconds,
    });
    Ok(Entries {
        relieved: true,
        zero: args.zero.map(|zero| indication(zero.bar, zero.u_bar)),
        zero_after: args.zero_after.map(|zero| indication(zero.bar, zero.u_bar)),
        span: span.collect(),
        catches: catches.collect(),
        ..blank(args)
    })
}

fn show(calibration: &Calibration, path: &std::path::Path, as_json: bool) {
    if as_json {
        println!("{}", to_json(calibration, path));
        return;
    }
    for phrase in say(calibration) {
        println!("{}", phrase.in_units(UnitChoice::default()));
    }
    println!(
        "written: {}; to use it: tipcurve new RECORDING --calibration {}",
        path.display(),
        path.display()
    );
}

fn to_json(calibration: &Calibration, path: &std::path::Path) -> serde_json::Value {
    let sensor = calibration.pressure.as_ref().map(|sensor| {
        let (zero_pa, u_zero_pa) = sensor.zero_pa();
        let span = sensor.span.as_ref();
        json!({
            "zero_pa": zero_pa,
            "u_zero_pa": u_zero_pa,
            "drift_pa": sensor.zero.drift_pa.map(|drift| drift.value),
            "is_drifting": sensor.zero.is_drifting,
            "gain_ratio": sensor.gain().map(|(gain, _)| gain),
            "u_gain_ratio": sensor.gain().map(|(_, u)| u),
            "greatest_residual_pa": span.map(|s| s.greatest_residual_pa),
            "gain_budget": span.map(|s| &s.gain_budget),
        })
    });
    let meter = calibration.meter.as_ref().map(|meter| {
        json!({
            "k_factor_per_m3": meter.k_factor_per_m3.value,
            "u_k_factor_ratio": meter.u_ratio(),
            "range_hz": [meter.fit.range_hz.0, meter.fit.range_hz.1],
            "slip_ratio": meter.slip_ratio,
            "slip_is_significant": meter.fit.slip_is_significant,
            "catches": meter.fit.points,
            "budget": meter.budget,
        })
    });
    json!({
        "file": path.display().to_string(),
        "operator": calibration.operator,
        "pressure_sensor": sensor,
        "flow_meter": meter,
    })
}
